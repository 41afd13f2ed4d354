//! Pulses of the treble at each string's pitch.
//!
//! A string that strikes a fret does so once a period, each time with a burst of high frequencies in all
//! bands at once. A clean string's treble pulses too, by beating of its partials, but these are stretched,
//! so that it pulses a little faster.

use std::sync::Arc;

use fourier::num_complex::Complex32;
use fourier::{Fft, FftDirection, Planner};
use multiversion::multiversion;

use super::level;
use super::spectrum::{FftPlan, Hann};
use crate::strings::Moments;

/// Windows in which the pulse is read, in seconds from the last onset; half of one still tells.
pub const WINDOWS_S: [(f64, f64); 10] = [
    (0.03, 0.18),
    (0.13, 0.28),
    (0.28, 0.43),
    (0.43, 0.63),
    (0.63, 0.83),
    (0.05, 0.75),
    (0.83, 1.08),
    (1.08, 1.4),
    (1.4, 1.8),
    (1.8, 2.4),
];
/// Bands whose envelopes are read in half octaves, the lowest one's lower edge in Hz, and how many.
pub const FROM_HZ: f32 = 1_000.0;
/// Number of bands in which pulses are sought, the sampling rate permitting.
pub const BANDS: usize = 8;
/// Samples of an envelope over the padded stretch, which begins this long before the first onset, in
/// seconds, and is at most so long.
const ENVELOPE: usize = 16_384;
const LEAD_S: f64 = 0.05;
const LONGEST_S: f64 = 2.6;
/// Pulses are followed up to this many a second: above lies the bands' own width.
const FASTEST_HZ: f32 = 2_400.0;
/// Multiples of the string's pitch, and ratios beside its first and second one.
const MULTIPLES: usize = 8;
const BESIDE: [f32; 7] = [0.97, 0.988, 1.012, 1.03, 1.06, 1.1, 1.16];
/// Numbers of one band in one window: real and imaginary part at each multiple, size beside, level,
/// spread, share of the spread that lies at the multiples.
pub const NUMBERS: usize = 2 * MULTIPLES + 2 * BESIDE.len() + 3;
/// Numbers of one band.
pub const WIDTH: usize = WINDOWS_S.len() * NUMBERS;
/// Added to a spread before its logarithm. The network was fitted with it.
const LEAST_SPREAD: f32 = 1e-4;
/// Steps in which the moment of the bursts within a period is looked for.
const TURNS: usize = 32;
/// Samples of an envelope that are taken together: as many as keep the table of one line small.
const BLOCK: usize = 64;

/// Bounds of a band in Hz.
fn band_hz(k: usize) -> (f32, f32) {
    let edge = |k: usize| FROM_HZ * (k as f32 / 2.0).exp2();
    (edge(k), edge(k + 1))
}

/// The bands' envelopes in all windows: planned once, filled strum by strum.
pub struct Pulses {
    rate_hz: f64,
    whole: FftPlan,
    /// Of each band that the rate has.
    inverse: Vec<Arc<dyn Fft<f32>>>,
    work: Vec<Complex32>,
    scratch: Vec<Complex32>,
    /// Power of all bands, moment by moment.
    envelopes: Vec<[f32; BANDS]>,
    windows: [Window; WINDOWS_S.len()],
}

/// The envelopes in one window.
#[derive(Debug, Clone, Default)]
struct Window {
    /// Over the mean, under a Hann window; empty where there is no sound.
    values: Vec<[f32; BANDS]>,
    mean: [f32; BANDS],
    /// Mean square of what [`Window::values`] were before the Hann window.
    spread: [f32; BANDS],
    hann: Hann,
}

impl Pulses {
    /// Plans for samples at `rate_hz`.
    pub fn new(rate_hz: f64) -> Self {
        let size = ((LONGEST_S * rate_hz) as usize).next_power_of_two();
        let mut planner = Planner::new();
        let inverse: Vec<Arc<dyn Fft<f32>>> = (0..BANDS)
            .map(band_hz)
            .take_while(|(_, to_hz)| f64::from(2.0 * to_hz) <= rate_hz)
            .map(|(from_hz, to_hz)| {
                let bins = (f64::from(to_hz - from_hz) * size as f64 / rate_hz) as usize + 2;
                let size = bins.next_power_of_two().max(ENVELOPE);
                planner.plan(size, FftDirection::Inverse)
            })
            .collect();
        let most = |of: fn(&Arc<dyn Fft<f32>>) -> usize| inverse.iter().map(of).max().unwrap_or(0);
        Pulses {
            rate_hz,
            whole: FftPlan::new(size, rate_hz),
            work: vec![Complex32::default(); most(|f| f.len())],
            scratch: vec![Complex32::default(); most(|f| f.get_inplace_scratch_len())],
            envelopes: vec![[0.0; BANDS]; ENVELOPE],
            windows: Default::default(),
            inverse,
        }
    }

    /// Samples of an envelope per second.
    fn envelope_hz(&self) -> f64 {
        self.rate_hz * ENVELOPE as f64 / self.whole.size() as f64
    }

    /// Reads the strum in `samples`.
    pub fn fill(&mut self, samples: &[f32], moments: Moments) {
        let rate = self.rate_hz;
        let begin = moments.first.saturating_sub((LEAD_S * rate) as usize);
        let begin = begin.min(samples.len());
        let end = samples.len().min(begin + (LONGEST_S * rate) as usize);
        self.follow(&samples[begin..end]);
        let last_s = (moments.last.clamp(begin, end) - begin) as f64 / rate;
        let length_s = (end - begin) as f64 / rate;
        let envelope_hz = self.envelope_hz();
        for (window, (from_s, to_s)) in self.windows.iter_mut().zip(WINDOWS_S) {
            let cut_s = (last_s + to_s).min(length_s);
            let at = |s: f64| ((s * envelope_hz) as usize).min(ENVELOPE);
            if cut_s - (last_s + from_s) < 0.5 * (to_s - from_s) {
                window.values.clear();
            } else {
                window.fill(&self.envelopes[at(last_s + from_s)..at(cut_s)]);
            }
        }
    }

    /// Follows the power of the bands, of lines of amplitude 1.
    fn follow(&mut self, part: &[f32]) {
        let (size, bin_hz) = (self.whole.size(), self.whole.bin_hz);
        let scale = (2.0 / size as f32).powi(2);
        let spectrum = self.whole.transform(part.iter().copied());
        for (k, inverse) in self.inverse.iter().enumerate() {
            let (from_hz, to_hz) = band_hz(k);
            let (from, to) = ((from_hz / bin_hz) as usize, (to_hz / bin_hz) as usize);
            let work = &mut self.work[..inverse.len()];
            work[..to - from].copy_from_slice(&spectrum[from..to]);
            work[to - from..].fill(Complex32::default());
            inverse.process_with_scratch(work, &mut self.scratch);
            let each = work.len() / ENVELOPE;
            for (into, z) in self.envelopes.iter_mut().zip(work.chunks_exact(each)) {
                into[k] = scale * z.iter().map(|z| z.norm_sqr()).sum::<f32>() / each as f32;
            }
        }
    }

    /// [`WIDTH`] numbers for each band that the rate has, of a string whose pitch is `f1_hz`; levels against
    /// `low`. Phases are turned so that the bursts of all bands together come at phase 0.
    pub fn at_pitch(&self, f1_hz: f32, low: f32) -> Vec<f32> {
        let mut numbers = vec![0.0; self.inverse.len() * WIDTH];
        let multiples = (1..=MULTIPLES).map(|k| k as f32 * f1_hz);
        let beside = [1.0, 2.0].map(|k| BESIDE.map(|ratio| k * ratio * f1_hz));
        let turns: Vec<Turning> = multiples
            .chain(beside.into_iter().flatten())
            .map(|hz| Turning::new(hz, self.envelope_hz() as f32))
            .collect();
        for (w, window) in self.windows.iter().enumerate() {
            if window.values.is_empty() {
                continue;
            }
            let lines: Vec<[Complex32; BANDS]> = turns.iter().map(|t| t.line(window)).collect();
            let bursts = bursts_at(&lines);
            for (b, into) in numbers.chunks_exact_mut(WIDTH).enumerate() {
                let into = &mut into[w * NUMBERS..(w + 1) * NUMBERS];
                for k in 0..MULTIPLES {
                    let turned = lines[k][b] * bursts[k];
                    let compressed = turned / (turned.norm() + 1e-6).sqrt();
                    (into[k], into[MULTIPLES + k]) = (compressed.re, compressed.im);
                }
                for (into, line) in into[2 * MULTIPLES..].iter_mut().zip(&lines[MULTIPLES..]) {
                    *into = line[b].norm().sqrt();
                }
                let periodic = lines[..MULTIPLES].iter().map(|z| z[b].norm_sqr() * 0.5);
                into[NUMBERS - 3..].copy_from_slice(&[
                    level(window.mean[b], low),
                    (window.spread[b] + LEAST_SPREAD).log10(),
                    (periodic.sum::<f32>() / (window.spread[b] + 1e-6)).min(2.0),
                ]);
            }
        }
        numbers
    }
}

/// By what to turn each multiple's line so that the bursts of all bands together come at phase 0.
fn bursts_at(lines: &[[Complex32; BANDS]]) -> [Complex32; MULTIPLES] {
    let together: [Complex32; MULTIPLES] = std::array::from_fn(|k| lines[k].iter().sum());
    let turn = |t: usize| {
        let turn = std::f32::consts::TAU * t as f32 / TURNS as f32;
        std::array::from_fn(|k| Complex32::cis(turn * (k + 1) as f32))
    };
    let sum = |turn: &[Complex32; MULTIPLES]| -> f32 {
        together.iter().zip(turn).map(|(z, t)| (z * t).re).sum()
    };
    (0..TURNS)
        .map(turn)
        .max_by(|a, b| sum(a).total_cmp(&sum(b)))
        .expect("some turns")
}

impl Window {
    fn fill(&mut self, part: &[[f32; BANDS]]) {
        let count = part.len() as f32;
        let sum = |of: &dyn Fn(usize, &[f32; BANDS]) -> f32| -> [f32; BANDS] {
            std::array::from_fn(|b| part.iter().map(|p| of(b, p)).sum())
        };
        self.mean = sum(&|b, p| p[b]).map(|sum| sum / count + 1e-20);
        self.values.clear();
        for (p, window) in part.iter().zip(self.hann.of(part.len())) {
            let value = |b: usize| (p[b] / self.mean[b] - 1.0) * window;
            self.values.push(std::array::from_fn(value));
        }
        // Under a Hann window three eighths of a square are left.
        let mut spread = [0f32; BANDS];
        for values in &self.values {
            (spread.iter_mut().zip(values)).for_each(|(s, v)| *s += v * v);
        }
        self.spread = spread.map(|s| s * 8.0 / (3.0 * count));
    }
}

/// A line's turning from sample to sample, for a block, and from block to block; nothing where it is too fast.
struct Turning {
    within: [Complex32; BLOCK],
    ahead: Complex32,
}

impl Turning {
    fn new(hz: f32, rate_hz: f32) -> Self {
        let step = -std::f32::consts::TAU * hz / rate_hz;
        let at = |i: usize| match hz <= FASTEST_HZ {
            true => Complex32::cis(step * i as f32),
            false => Complex32::default(),
        };
        Turning {
            within: std::array::from_fn(at),
            ahead: at(BLOCK),
        }
    }

    /// Complex amplitude of each band.
    fn line(&self, window: &Window) -> [Complex32; BANDS] {
        let mut sums = [Complex32::default(); BANDS];
        let mut turned = Complex32::new(4.0 / window.values.len() as f32, 0.0);
        for part in window.values.chunks(BLOCK) {
            let (re, im) = turned_sums(&self.within, part);
            for b in 0..BANDS {
                sums[b] += turned * Complex32::new(re[b], im[b]);
            }
            turned *= self.ahead;
        }
        sums
    }
}

/// Real and imaginary part of each band's sum under a line's turning.
#[multiversion(targets("x86_64+avx2"))]
fn turned_sums(turns: &[Complex32], part: &[[f32; BANDS]]) -> ([f32; BANDS], [f32; BANDS]) {
    let (mut re, mut im) = ([0f32; BANDS], [0f32; BANDS]);
    for (turn, values) in turns.iter().zip(part) {
        for b in 0..BANDS {
            re[b] += turn.re * values[b];
            im[b] += turn.im * values[b];
        }
    }
    (re, im)
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 44_100.0;

    /// A band of treble that pulses 110 times a second.
    fn pulsing() -> Pulses {
        let samples: Vec<f32> = (0..44_100)
            .map(|i| {
                let turn = std::f64::consts::TAU * f64::from(i) / RATE_HZ;
                let pulse = (0.5 + 0.5 * (turn * 110.0).cos()).powi(6);
                (0.1 * pulse * (turn * 3_013.0).sin()) as f32
            })
            .collect();
        let mut pulses = Pulses::new(RATE_HZ);
        let moments = Moments {
            first: 4_410,
            last: 4_500,
            end: samples.len(),
        };
        pulses.fill(&samples, moments);
        pulses
    }

    /// Numbers of the band from 2.8 to 4 kHz in the window from 0.05 to 0.75 s.
    const AT: usize = 3 * WIDTH + 5 * NUMBERS;

    #[test]
    fn bursts_lie_at_multiples_of_their_own_pitch_and_at_no_others() {
        let pulses = pulsing();
        let own = pulses.at_pitch(110.0, 1.0);
        let other = pulses.at_pitch(147.0, 1.0);
        assert_eq!(own.len(), BANDS * WIDTH);
        assert!(own[AT] > 0.9 && own[AT + 1] > 0.7, "{:?}", &own[AT..][..8]);
        // Nearly all that pulses is at the multiples.
        assert!(own[AT + NUMBERS - 1] > 0.9, "{}", own[AT + NUMBERS - 1]);
        assert!(other[AT].abs() < 0.2 && other[AT + NUMBERS - 1] < 0.05);
    }

    #[test]
    fn lines_are_those_of_the_plain_sum() {
        let pulses = pulsing();
        let window = &pulses.windows[0];
        let rate_hz = pulses.envelope_hz();
        let line = Turning::new(217.0, rate_hz as f32).line(window)[3];
        let mut plain = fourier::num_complex::Complex64::default();
        for (i, values) in window.values.iter().enumerate() {
            let turn = -std::f64::consts::TAU * 217.0 * i as f64 / rate_hz;
            plain += fourier::num_complex::Complex64::cis(turn) * f64::from(values[3]);
        }
        plain *= 4.0 / window.values.len() as f64;
        let off = (f64::from(line.re) - plain.re).hypot(f64::from(line.im) - plain.im);
        assert!(off < 1e-4, "{line} instead of {plain}");
    }

    #[test]
    fn a_low_rate_has_fewer_bands() {
        let pulses = Pulses::new(22_050.0);
        assert_eq!(pulses.at_pitch(110.0, 1.0).len(), 6 * WIDTH);
    }
}
