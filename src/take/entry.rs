//! Entry of an attack's strings: the lines that ring afterwards are followed back to where
//! each of them began. A scrape or a touch of the hand just before has no share in them.

use multiversion::multiversion;

use super::around::Around;
use crate::spectrum::hann;

/// Window in which a line's level is read, and the step between windows.
const WINDOW_S: f64 = 0.02;
const STEP_S: f64 = 0.0025;
/// Levels before the attack are read over this long, which ends this long before the first onset.
const BEFORE_S: f64 = 0.04;
const GUARD_S: f64 = 0.06;
/// The level that a line reaches is read up to this long after the onset that stands out.
const REACHED_S: f64 = 0.06;
/// A line has come in once its power stays above this share of what it reaches: a window half over
/// the onset reads a quarter.
const CAME_IN: f64 = 0.15;
/// A line says when it came in if it rose by this factor in power.
const ROSE: f64 = 5.0;
/// Weaker lines than this share of the strongest (20 dB) drown in other sounds of the attack.
const WEAKEST: f64 = 0.01;
/// Strongest lines looked at.
const MOST_LINES: usize = 16;

/// Buffers for one attack after another.
#[derive(Debug)]
pub(super) struct EntryBuffers {
    rate_hz: f64,
    window: Vec<f32>,
    /// One line's turning under the window.
    cos: Vec<f64>,
    sin: Vec<f64>,
    levels: Vec<f64>,
}

impl EntryBuffers {
    /// Plans for what `around` reads.
    pub fn new(around: &Around) -> Self {
        let rate_hz = around.rate_hz();
        let window = hann((WINDOW_S * rate_hz) as usize);
        EntryBuffers {
            rate_hz,
            window,
            cos: Vec::new(),
            sin: Vec::new(),
            levels: Vec::new(),
        }
    }

    /// Moment at which the first of the lines (frequency in Hz, power; strongest first) came in, as a position in the recording.
    /// `first` is the first onset heard, `main` the one that stands out. `None` where no line rose enough, or too
    /// little is known of what was before.
    pub fn first(
        &mut self,
        around: &Around,
        lines: &[(f64, f64)],
        first: u64,
        main: u64,
    ) -> Option<u64> {
        let factor = around.factor();
        let samples = |seconds: f64| (seconds * self.rate_hz) as u64 * factor;
        let half = self.window.len() as u64 / 2 * factor;
        let from = first.checked_sub(samples(BEFORE_S + GUARD_S) + half)?;
        let step = samples(STEP_S).max(factor);
        let count = |until: u64| (until.saturating_sub(from + half) / step) as usize;
        let (quiet, attack) = (count(first - samples(GUARD_S)).max(1), count(main));
        let end = count(main + samples(REACHED_S));
        let strongest = lines.first()?.1;
        let mut earliest = None;
        for &(hz, power) in lines.iter().take(MOST_LINES) {
            if power < WEAKEST * strongest {
                break;
            }
            self.turn(hz);
            self.levels.clear();
            for i in 0..end as u64 {
                let sound = around.from(from + i * step);
                let sound = &sound[..sound.len().min(self.window.len())];
                self.levels.push(level(sound, &self.cos, &self.sin));
            }
            let before = self.levels[..quiet].iter().fold(0.0f64, |m, l| m.max(*l));
            let reached = self.levels[attack..].iter().fold(0.0f64, |m, l| m.max(*l));
            if reached < ROSE * before {
                continue;
            }
            let enough = (CAME_IN * reached).max(2.0 * before);
            let late = self
                .levels
                .iter()
                .rposition(|l| *l == reached)
                .unwrap_or(attack);
            let came = late
                - self.levels[..late]
                    .iter()
                    .rev()
                    .take_while(|l| **l > enough)
                    .count();
            if earliest.is_none_or(|e| came < e) {
                earliest = Some(came);
            }
        }
        earliest.map(|i| from + i as u64 * step + half)
    }

    /// Gets ready for a line at `hz`.
    fn turn(&mut self, hz: f64) {
        let turn = std::f64::consts::TAU * hz / self.rate_hz;
        let (step_sin, step_cos) = turn.sin_cos();
        let (mut cos, mut sin) = (1.0, 0.0);
        self.cos.clear();
        self.sin.clear();
        for w in &self.window {
            self.cos.push(f64::from(*w) * cos);
            self.sin.push(f64::from(*w) * sin);
            (cos, sin) = (
                cos * step_cos - sin * step_sin,
                cos * step_sin + sin * step_cos,
            );
        }
    }
}

/// Products that are summed side by side, so that vectors can be used.
const LANES: usize = 8;

/// Power of what a line's turning under the window finds in `sound`, which is no longer.
#[multiversion(targets("x86_64+avx2"))]
fn level(sound: &[f32], cos: &[f64], sin: &[f64]) -> f64 {
    let (mut re, mut im) = ([0.0; LANES], [0.0; LANES]);
    let (parts, rest) = sound.as_chunks::<LANES>();
    let (cos, sin) = (&cos[..sound.len()], &sin[..sound.len()]);
    let (cos, cos_rest) = cos.as_chunks::<LANES>();
    let (sin, sin_rest) = sin.as_chunks::<LANES>();
    for ((sound, cos), sin) in parts.iter().zip(cos).zip(sin) {
        for i in 0..LANES {
            re[i] += f64::from(sound[i]) * cos[i];
            im[i] += f64::from(sound[i]) * sin[i];
        }
    }
    for (i, sound) in rest.iter().enumerate() {
        re[i] += f64::from(*sound) * cos_rest[i];
        im[i] += f64::from(*sound) * sin_rest[i];
    }
    re.iter().sum::<f64>().powi(2) + im.iter().sum::<f64>().powi(2)
}
