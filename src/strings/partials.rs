//! What the network sees of each partial of each note: its complex amplitude, frame by frame.

use realfft::num_complex::{Complex32, Complex64};

use super::fit::Fit;
use super::spectra::Spectra;
use super::traces::dot;

/// Frames around the attack: length of one in seconds, the first one's centre after the first onset,
/// the step, and how many. They show when a string is struck and how fast it dies.
const SHORT: Stretch = Stretch { length_s: 0.06, from_s: -0.05, step_s: 0.02, count: 24 };
/// Longer ones, after the last onset: they tell nearer partials apart, by their beating too.
const LONG: Stretch = Stretch { length_s: 0.3, from_s: 0.19, step_s: 0.15, count: 6 };
const FRAMES: usize = SHORT.count + LONG.count;
/// Line spectra in which a partial's standing is read.
const WINDOWS: usize = 4;

/// Numbers a partial is described by: level in every frame, the short ones' over their highest, real
/// and imaginary part, standing and peak in every line spectrum, place, fit.
pub const WIDTH: usize = 3 * FRAMES + SHORT.count + 2 * WINDOWS + 3 + 4;

/// Amplitudes are raised to this power, phases kept: quiet frames are seen beside loud ones.
const COMPRESSED: f32 = 0.3;
/// What is lower than this part of the loudest counts as nothing.
const LEAST: f32 = 1e-5;

#[derive(Clone, Copy)]
struct Stretch {
    length_s: f64,
    from_s: f64,
    step_s: f64,
    count: usize,
}

/// The windowed frames of one strum.
pub struct Framed {
    frames: Vec<Frame>,
    rate_hz: f64,
}

struct Frame {
    /// Samples under the window, scaled so that a line's amplitude comes out; empty where the strum
    /// does not reach.
    samples: Vec<f32>,
    /// First sample, counted from the first onset.
    begin: f64,
}

/// One partial as the network sees it.
#[derive(Debug, Clone)]
pub struct Partial {
    pub hz: f32,
    /// Complex amplitude in every frame.
    amplitudes: [Complex32; FRAMES],
    /// 1 is the fundamental.
    n: usize,
}

impl Framed {
    /// Windows the strum that `spectra` holds.
    pub fn new(spectra: &Spectra) -> Framed {
        let rate_hz = spectra.rate_hz();
        let (first, last) = spectra.onsets;
        let mut frames = Vec::with_capacity(FRAMES);
        for (stretch, onset) in [(SHORT, first), (LONG, last)] {
            let window = hann((stretch.length_s * rate_hz) as usize);
            for k in 0..stretch.count {
                let centre = onset as f64 + (stretch.from_s + stretch.step_s * k as f64) * rate_hz;
                let begin = centre as isize - (window.len() / 2) as isize;
                let samples = usize::try_from(begin)
                    .ok()
                    .and_then(|b| spectra.low.get(b..b + window.len()))
                    .map(|part| part.iter().zip(&window).map(|(s, w)| s * w).collect())
                    .unwrap_or_default();
                frames.push(Frame {
                    samples,
                    begin: begin as f64 - first as f64,
                });
            }
        }
        Framed { frames, rate_hz }
    }

    /// The first `most` partials of a note.
    pub fn partials(&self, fit: &Fit, most: usize) -> Vec<Partial> {
        (1..=fit.count.min(most))
            .map(|n| Partial {
                hz: fit.hz(n),
                amplitudes: self.amplitudes(f64::from(fit.hz(n))),
                n,
            })
            .collect()
    }

    fn amplitudes(&self, hz: f64) -> [Complex32; FRAMES] {
        let turn = -std::f64::consts::TAU * hz / self.rate_hz;
        let (mut re, mut im) = ([0.0f32; BLOCK], [0.0f32; BLOCK]);
        let step = Complex64::cis(turn);
        let mut z = Complex64::new(1.0, 0.0);
        for (re, im) in re.iter_mut().zip(&mut im) {
            (*re, *im) = (z.re as f32, z.im as f32);
            z *= step;
        }
        std::array::from_fn(|k| {
            let frame = &self.frames[k];
            let mut ahead = Complex64::cis(turn * frame.begin);
            let mut sum = Complex64::default();
            for part in frame.samples.chunks(BLOCK) {
                let on = Complex64::new(
                    f64::from(dot(part, &re[..part.len()])),
                    f64::from(dot(part, &im[..part.len()])),
                );
                sum += on * ahead;
                ahead *= z;
            }
            Complex32::new(sum.re as f32, sum.im as f32)
        })
    }
}

/// Samples that are taken together: as many as keep the table of one line small.
const BLOCK: usize = 64;

/// A Hann window under which a line of amplitude 1 sums to 1.
fn hann(count: usize) -> Vec<f32> {
    let window: Vec<f64> = (0..count)
        .map(|i| 0.5 - 0.5 * (std::f64::consts::TAU * (i as f64 + 0.5) / count as f64).cos())
        .collect();
    let sum: f64 = window.iter().sum();
    window.iter().map(|w| (2.0 * w / sum) as f32).collect()
}

impl Partial {
    /// Highest magnitude in any frame.
    pub fn highest(&self) -> f32 {
        self.amplitudes.iter().map(|a| a.norm()).fold(0.0, f32::max)
    }

    /// Appends [`WIDTH`] numbers to `row`, levels against `loudest`, the loudest partial's highest magnitude.
    pub fn describe(&self, spectra: &Spectra, fit: &Fit, loudest: f32, row: &mut Vec<f32>) {
        let magnitudes = self.amplitudes.map(|a| a.norm() / loudest);
        let level = |m: f32| if m > 0.0 { (m + LEAST).log10() + 2.0 } else { 0.0 };
        let levels = magnitudes.map(level);
        row.extend(levels);
        let top = levels[..SHORT.count].iter().copied().fold(f32::MIN, f32::max);
        row.extend(magnitudes[..SHORT.count].iter().zip(&levels).map(|(&m, l)| {
            if m > 0.0 { (l - top).max(-4.0) } else { 0.0 }
        }));
        // Phases against the mean one, which depends on when the string was struck.
        let mean: Complex32 = (self.amplitudes[..SHORT.count].iter().zip(&magnitudes))
            .map(|(a, m)| a * *m)
            .sum();
        let turned = self.amplitudes.iter().zip(&magnitudes).map(|(a, m)| {
            a * mean.conj() / (mean.norm() + 1e-12 * loudest) / loudest * (m + LEAST).powf(COMPRESSED - 1.0)
        });
        row.extend(turned.clone().map(|c| c.re));
        row.extend(turned.map(|c| c.im));
        let windows = [&spectra.early, &spectra.mid, &spectra.long, &spectra.late];
        let reference_db = 20.0 * loudest.log10();
        row.extend(windows.map(|s| match s.is_filled() {
            true => s.standing_near_db(self.hz, super::evidence::reach_hz(s)) / 20.0,
            false => 0.0,
        }));
        row.extend(windows.map(|s| match s.is_filled() {
            true => ((s.peak_db(self.hz, super::evidence::reach_hz(s)) - reference_db) / 20.0).clamp(-6.0, 2.0),
            false => 0.0,
        }));
        row.extend([(self.hz / 440.0).log2(), self.n as f32 / 8.0, 1.0 / self.n as f32]);
        row.extend([
            fit.cents / 25.0,
            fit.decades,
            fit.score / 100.0,
            fit.used as f32 / 28.0,
        ]);
    }
}
