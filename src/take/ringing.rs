//! What an attack leaves ringing: narrow, steady lines in the spectrum that were not there before.

use std::sync::Arc;

use realfft::{RealFftPlanner, RealToComplex};
use rustfft::num_complex::Complex;

use super::history::History;

/// Length of the windows compared; tells lines 22 Hz apart, and fits between strums 0.3 s apart.
const WINDOW_S: f64 = 0.09;
/// The attack itself is left out.
const AFTER_ATTACK_S: f64 = 0.015;
/// The windows stand as late as the next attack lets them, and end at most this long after the
/// last onset: knocks have died by then, and onsets too soft to be found are over.
const LATEST_S: f64 = 0.35;
/// Time from the early to the late window, where the next attack leaves room for it.
const APART_S: f64 = 0.06;
const LEAST_APART_S: f64 = 0.02;
/// Lines are sought between these, in Hz: fundamentals of a guitar and their lower partials.
const LOWEST_HZ: f64 = 65.0;
const HIGHEST_HZ: f64 = 2_000.0;
/// Lines this far below the strongest are left out.
const WEAKEST_DB: f64 = -40.0;
/// A line stands this far above the valleys on both sides of it.
const VALLEY_DB: f64 = 6.0;
/// A line is new where it is this much stronger than what was there.
const NEW_DB: f64 = 4.0;
/// A line is steady where it moves no further than this between the windows.
const STEADY_HZ: f64 = 1.5;
/// ... and loses no more than this; T60 of 0.36 s.
const STEADY_LOSS_DB: f64 = 10.0;
const STEADY_GAIN_DB: f64 = 3.0;
/// A partial lies this near to a multiple of its fundamental: stiffness and the window's error.
const PARTIAL_TOLERANCE: f64 = 0.012;
const PARTIAL_TOLERANCE_HZ: f64 = 3.0;
/// Mains hum stands this near to multiples of 50 or 60 Hz.
const HUM_TOLERANCE_HZ: f64 = 0.8;

/// One line of a spectrum.
#[derive(Debug, Clone, Copy)]
struct Line {
    hz: f64,
    power: f64,
    steady: bool,
}

/// What was measured after an attack.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Hearing {
    /// New steady lines.
    pub lines: usize,
    /// Their share of the amplitude of all new lines.
    pub steady_share: f64,
    /// Their power against that of all sound in the window, in dB.
    pub tonal_db: f64,
    /// Their power against what sounded before, in dB.
    pub lift_db: f64,
    /// Share of their amplitude that one harmonic series explains, and its fundamental.
    pub one_series: f64,
    pub fundamental_hz: f64,
    /// Share of their amplitude that is mains hum.
    pub hum: f64,
    /// Loss of all sound from the early to the late window, in dB per 60 ms.
    pub loss_db: f64,
}

/// Three windows around an attack, planned once.
pub(super) struct Ringing {
    rate_hz: f64,
    length: usize,
    fft: Arc<dyn RealToComplex<f32>>,
    window: Vec<f32>,
    input: Vec<f32>,
    spectrum: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    before: Vec<f64>,
    early: Vec<f64>,
    late: Vec<f64>,
    lines: Vec<Line>,
}

impl Ringing {
    pub fn new(rate_hz: u32) -> Self {
        let rate = f64::from(rate_hz);
        let length = (WINDOW_S * rate).round() as usize;
        let size = (3 * length).next_power_of_two();
        let fft = RealFftPlanner::<f32>::new().plan_fft_forward(size);
        let bins = size / 2 + 1;
        Ringing {
            rate_hz: rate,
            length,
            window: super::hann(length),
            input: fft.make_input_vec(),
            spectrum: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            fft,
            before: vec![0.0; bins],
            early: vec![0.0; bins],
            late: vec![0.0; bins],
            lines: Vec::new(),
        }
    }

    /// Sound needed after the last onset of an attack for a full hearing, in samples.
    pub fn reach(&self) -> u64 {
        self.samples(LATEST_S)
    }

    fn samples(&self, seconds: f64) -> u64 {
        (seconds * self.rate_hz).round() as u64
    }

    /// Compares the sound after the attack with the sound before it. The attack's onsets lie
    /// between `first` and `last`; `until` is where the next attack or the end of the sound is.
    pub fn hear(&mut self, history: &History, first: u64, last: u64, until: u64) -> Hearing {
        let length = self.length as u64;
        let guard = self.samples(0.004);
        let soonest = last + self.samples(AFTER_ATTACK_S);
        let latest = until.saturating_sub(guard).min(last + self.reach());
        let room = latest.saturating_sub(soonest + length);
        let apart = room.clamp(self.samples(LEAST_APART_S), self.samples(APART_S));
        let early = soonest.max(latest.saturating_sub(length + apart));
        let mut before = std::mem::take(&mut self.before);
        let mut now = std::mem::take(&mut self.early);
        let mut late = std::mem::take(&mut self.late);
        // Before the recording began there was silence.
        let from = first.checked_sub(guard + length);
        match from {
            Some(from) => self.powers(history, from, &mut before),
            None => before.fill(0.0),
        }
        self.powers(history, early, &mut now);
        self.powers(history, early + apart, &mut late);
        let hearing = self.compare(&before, &now, &late, apart as f64 / self.rate_hz);
        self.before = before;
        self.early = now;
        self.late = late;
        hearing
    }

    fn powers(&mut self, history: &History, from: u64, into: &mut [f64]) {
        self.input.fill(0.0);
        history.copy(from, &mut self.input[..self.length]);
        for (s, w) in self.input.iter_mut().zip(&self.window) {
            *s *= w;
        }
        // The lengths are the plan's own, so this cannot fail.
        let _ = self.fft.process_with_scratch(
            &mut self.input,
            &mut self.spectrum,
            &mut self.scratch,
        );
        // A full-scale sine reads 1.
        let norm = (4.0 / self.length as f64).powi(2);
        for (p, c) in into.iter_mut().zip(&self.spectrum) {
            *p = f64::from(c.norm_sqr()) * norm;
        }
    }

    fn compare(&mut self, before: &[f64], early: &[f64], late: &[f64], apart_s: f64) -> Hearing {
        let bin_hz = self.rate_hz / ((self.spectrum.len() - 1) * 2) as f64;
        let bin = |hz: f64| (hz / bin_hz).round() as usize;
        let range = bin(LOWEST_HZ)..bin(HIGHEST_HZ.min(0.45 * self.rate_hz));
        let strongest = early[range.clone()].iter().fold(0.0, |m: f64, p| m.max(*p));
        if strongest <= 1e-12 {
            return Hearing::default();
        }
        let db = |db: f64| 10f64.powf(db / 10.0);
        let valley = bin(25.0);
        // Losses are judged over the time that really lies between the windows.
        let loss = db(-STEADY_LOSS_DB * apart_s / APART_S);
        self.lines.clear();
        for b in range.clone() {
            if !is_line(early, b, valley, strongest * db(WEAKEST_DB)) {
                continue;
            }
            let was = before[b - 1].max(before[b]).max(before[b + 1]);
            if early[b] < was * db(NEW_DB) {
                continue;
            }
            let hz = interpolate(early, b) * bin_hz;
            let reach = (STEADY_HZ / bin_hz).ceil() as usize + 1;
            let then = (b - reach..=b + reach)
                .filter(|&c| late[c] >= late[c - 1] && late[c] > late[c + 1])
                .max_by(|&c, &d| late[c].total_cmp(&late[d]));
            let steady = then.is_some_and(|c| {
                let moved = (interpolate(late, c) * bin_hz - hz).abs();
                moved < STEADY_HZ
                    && late[c] > early[b] * loss
                    && late[c] < early[b] * db(STEADY_GAIN_DB)
            });
            self.lines.push(Line { hz, power: early[b], steady });
        }
        let sum = |f: &dyn Fn(&Line) -> f64| self.lines.iter().map(f).sum::<f64>();
        let all = sum(&|l| l.power.sqrt());
        self.lines.retain(|l| l.steady);
        let sum = |f: &dyn Fn(&Line) -> f64| self.lines.iter().map(f).sum::<f64>();
        let amplitude = sum(&|l| l.power.sqrt());
        let power = sum(&|l| l.power);
        let total = |s: &[f64]| {
            let lobe = 1.5 * self.rate_hz / self.length as f64 / bin_hz;
            s[range.clone()].iter().sum::<f64>() / lobe + 1e-15
        };
        let (one_series, fundamental_hz) = best_series(&self.lines);
        let hum = [50.0, 60.0]
            .map(|mains| {
                sum(&|l| {
                    let off = (l.hz - mains * (l.hz / mains).round()).abs();
                    if off < HUM_TOLERANCE_HZ { l.power.sqrt() } else { 0.0 }
                })
            })
            .into_iter()
            .fold(0.0, f64::max);
        Hearing {
            lines: self.lines.len(),
            steady_share: amplitude / all.max(1e-12),
            tonal_db: 10.0 * (power / total(early) + 1e-9).log10(),
            lift_db: 10.0 * (power / total(before) + 1e-9).log10(),
            one_series,
            fundamental_hz,
            hum: hum / amplitude.max(1e-12),
            loss_db: 10.0 * (total(early) / total(late)).log10() * APART_S / apart_s,
        }
    }
}

/// A local maximum above `least` with valleys on both sides.
fn is_line(power: &[f64], b: usize, valley: usize, least: f64) -> bool {
    if power[b] < least || power[b] < power[b - 1] || power[b] <= power[b + 1] {
        return false;
    }
    let deep = power[b] * 10f64.powf(-VALLEY_DB / 10.0);
    let side = |mut bins: Box<dyn Iterator<Item = usize>>| {
        bins.find_map(|c| {
            if power[c] > power[b] {
                Some(false)
            } else if power[c] < deep {
                Some(true)
            } else {
                None
            }
        })
        .unwrap_or(false)
    };
    side(Box::new((b.saturating_sub(valley)..b).rev())) && side(Box::new(b + 1..b + valley + 1))
}

/// Position of a maximum between bins, from a parabola through the decibels.
fn interpolate(power: &[f64], b: usize) -> f64 {
    let [l, m, r] = [power[b - 1], power[b], power[b + 1]].map(|p| (p + 1e-30).ln());
    let bend = l - 2.0 * m + r;
    let shift = if bend.abs() < 1e-12 { 0.0 } else { 0.5 * (l - r) / bend };
    b as f64 + shift.clamp(-0.5, 0.5)
}

/// The harmonic series that explains most of the lines' amplitude: its share and fundamental.
fn best_series(lines: &[Line]) -> (f64, f64) {
    let all: f64 = lines.iter().map(|l| l.power.sqrt()).sum();
    let mut best = (0.0, 0.0);
    for line in lines {
        for part in 1..=3 {
            let f0 = line.hz / f64::from(part);
            // Among equals the highest fundamental is the right one, so each partial that the
            // series expects and that is not there costs a little.
            if !(LOWEST_HZ..=1_000.0).contains(&f0) {
                continue;
            }
            let explained: f64 = lines
                .iter()
                .filter(|l| {
                    let n = (l.hz / f0).round().max(1.0);
                    let off = (l.hz - n * f0).abs();
                    off < (PARTIAL_TOLERANCE * l.hz).min(0.25 * f0).min(PARTIAL_TOLERANCE_HZ + 0.15 * n)
                })
                .map(|l| l.power.sqrt())
                .sum();
            let score = explained / all * (1.0 - 0.02 * f64::from(part)) + 1e-5 * f0.log2();
            if score > best.0 {
                best = (score, f0);
            }
        }
    }
    best
}
