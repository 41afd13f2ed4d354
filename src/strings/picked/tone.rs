//! Strength of one frequency in a short stretch of sound.

use crate::spectrum::hann_at;

/// Frames in which a partial is followed over time and the step between them, in seconds.
pub const FRAME_S: f64 = 0.04;
pub const HOP_S: f64 = 0.01;

/// A windowed tone to compare a stretch of sound with.
pub struct Tone {
    re: Vec<f32>,
    im: Vec<f32>,
}

impl Tone {
    /// Plans for so many samples at `rate_hz`.
    pub fn new(hz: f64, rate_hz: f64, length: usize) -> Self {
        let turn = std::f64::consts::TAU / length as f64;
        let wave = |i: usize| {
            let window = hann_at(turn * (i as f64 + 0.5));
            let phase = std::f64::consts::TAU * hz * i as f64 / rate_hz;
            (
                (window * phase.cos() / length as f64) as f32,
                (window * phase.sin() / length as f64) as f32,
            )
        };
        let (re, im) = (0..length).map(wave).unzip();
        Tone { re, im }
    }

    /// Power in a stretch of that length; a tone of amplitude 1 gives 1/16.
    pub fn power(&self, samples: &[f32]) -> f32 {
        let dot = |wave: &[f32]| -> f32 { wave.iter().zip(samples).map(|(w, s)| w * s).sum() };
        dot(&self.re).powi(2) + dot(&self.im).powi(2)
    }
}
