//! Notes of one guitar made into notes of another: plucked elsewhere, on older strings, with other strings that
//! sound along. It widens the variety that is learned from; nothing is measured on it.

use fourier::num_complex::Complex32;
use rand::Rng;
use rand::rngs::SmallRng;

use super::notes::NOTE_RATE_HZ;
use super::random::gauss;
use crate::decibels;
use crate::fretboard::OPEN_B;
use crate::fretboard::Tuning;
use crate::spectrum::partials::{flexible_hz, partial_hz};

/// Changes that are the same for all strings of a take.
#[derive(Debug, Clone, Copy)]
pub struct Disguise {
    /// Where the strings are plucked, as a part of the open string's length from the bridge, and how sharply.
    pluck: Option<(f64, f32)>,
    /// From which frequency in Hz the treble dies sooner, and in how many seconds by 60 dB.
    age: Option<(f64, f64)>,
}

impl Disguise {
    /// Draws one.
    pub fn draw(rng: &mut SmallRng) -> Self {
        Disguise {
            pluck: rng
                .random_bool(0.6)
                .then(|| (rng.random_range(0.04..0.35), rng.random_range(0.2..0.9))),
            age: rng
                .random_bool(0.4)
                .then(|| (rng.random_range(700.0..3_000.0), rng.random_range(0.5..3.0))),
        }
    }

    /// Changes a note of `hz`, fingered at `fret`.
    pub fn put_on(&self, voice: &mut [f32], hz: f64, fret: u8) {
        let rate = f64::from(NOTE_RATE_HZ);
        if let Some((place, depth)) = self.pluck {
            // The wave that goes to the bridge first comes back upside down; the pluck is where it was,
            // the string shorter.
            let part = place * 2f64.powf(f64::from(fret) / 12.0);
            let delay = ((part * rate / hz) as usize).max(1);
            for i in (delay..voice.len()).rev() {
                voice[i] -= depth * voice[i - delay];
            }
        }
        if let Some((from_hz, t60_s)) = self.age {
            let pole = (-std::f64::consts::TAU * from_hz / rate).exp() as f32;
            let step = (-6.9078 / (t60_s * rate)).exp();
            let (mut low, mut gain) = (0f32, 1f64);
            for s in voice {
                low = (1.0 - pole) * *s + pole * low;
                *s = low + (*s - low) * gain as f32;
                gain *= step;
            }
        }
    }
}

/// Partials of a string that sound along.
const PARTIALS: usize = 14;

/// Adds what open strings that nobody strikes or stops give back of a strum from sample `first` on: each
/// of their partials rings with what is near it.
pub fn sound_along(
    samples: &mut [f32],
    tuning: &Tuning,
    cents: f64,
    first: usize,
    rng: &mut SmallRng,
) {
    let rate = f64::from(NOTE_RATE_HZ);
    let all = rng.random_bool(0.5);
    let mut answer = vec![0f32; samples.len()];
    for (string, usual_b) in OPEN_B.into_iter().enumerate() {
        if !all && rng.random_bool(0.5) {
            continue;
        }
        let b = usual_b * 10f64.powf(0.2 * gauss(rng));
        let hz = tuning.hz(string, 0) * 2f64.powf((cents + 4.0 * gauss(rng)) / 1200.0);
        let f0_hz = flexible_hz(hz, b);
        let t60_s = rng.random_range(1.5..5.0);
        let level = decibels::to_amplitude(gauss(rng) * 3.0);
        for n in 1..=PARTIALS {
            let turn = std::f64::consts::TAU * partial_hz(f0_hz, b, n) / rate;
            let fall = 6.9078 * (1.0 + 0.15 * n as f64) / (t60_s * rate);
            let step = Complex32::new((-fall).exp() as f32, 0.0) * Complex32::cis(turn as f32);
            let gain = (level / n as f64) as f32;
            let mut state = Complex32::default();
            for (a, s) in answer[first..].iter_mut().zip(&samples[first..]) {
                state = state * step + s;
                *a += gain * state.re;
            }
        }
    }
    let end = samples.len().min(first + (0.6 * rate) as usize);
    let power = |part: &[f32]| part.iter().map(|s| s * s).sum::<f32>();
    let (loud, heard) = (power(&samples[first..end]), power(&answer[first..end]));
    if heard > 0.0 {
        let below_db = rng.random_range(16.0f32..34.0);
        let gain = (loud / heard).sqrt() * decibels::to_amplitude(-below_db);
        samples
            .iter_mut()
            .zip(&answer)
            .for_each(|(s, a)| *s += gain * a);
    }
}
