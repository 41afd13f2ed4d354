//! When the strings of an attack came in: the lines that ring afterwards are followed back to where
//! each of them began. A scrape or a touch of the hand just before has no share in them.

use super::history::History;
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
pub(super) struct Entry {
    rate_hz: f64,
    window: Vec<f32>,
    levels: Vec<f64>,
}

impl Entry {
    pub fn new(rate_hz: u32) -> Self {
        let rate_hz = f64::from(rate_hz);
        let window = hann((WINDOW_S * rate_hz) as usize);
        Entry {
            rate_hz,
            window,
            levels: Vec::new(),
        }
    }

    /// When the first of the lines (frequency in Hz, power; strongest first) came in. `first` is
    /// the first onset heard, `main` the one that stands out. `None` where no line rose enough.
    pub fn first(
        &mut self,
        history: &History,
        lines: &[(f64, f64)],
        first: u64,
        main: u64,
    ) -> Option<u64> {
        let samples = |seconds: f64| (seconds * self.rate_hz) as u64;
        let half = self.window.len() as u64 / 2;
        let from = first.checked_sub(samples(BEFORE_S + GUARD_S) + half)?;
        if history.clamp(from) != from {
            return None;
        }
        let step = samples(STEP_S).max(1);
        let count = |until: u64| (until.saturating_sub(from + half) / step) as usize;
        let (quiet, attack) = (count(first - samples(GUARD_S)).max(1), count(main));
        let end = count(main + samples(REACHED_S));
        let strongest = lines.first()?.1;
        let mut earliest = None;
        for &(hz, power) in lines.iter().take(MOST_LINES) {
            if power < WEAKEST * strongest {
                break;
            }
            self.levels.clear();
            for i in 0..end as u64 {
                let level = self.level(history, from + i * step, hz);
                self.levels.push(level);
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

    /// Power at a frequency in the window that begins at a position.
    fn level(&self, history: &History, from: u64, hz: f64) -> f64 {
        let turn = std::f64::consts::TAU * hz / self.rate_hz;
        let (step_sin, step_cos) = turn.sin_cos();
        let (mut cos, mut sin) = (1.0, 0.0);
        let (mut re, mut im) = (0.0, 0.0);
        let sound = history.slice(from, from + self.window.len() as u64);
        for (s, w) in sound.iter().zip(&self.window) {
            let value = f64::from(s * w);
            re += value * cos;
            im += value * sin;
            (cos, sin) = (
                cos * step_cos - sin * step_sin,
                cos * step_sin + sin * step_cos,
            );
        }
        re * re + im * im
    }
}
