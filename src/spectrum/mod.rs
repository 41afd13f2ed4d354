//! Windows, FFT plans, line spectra, partials of a stiff string. Knows no guitar.

pub mod chroma;
mod decimate;
pub mod explained;
mod frames;
mod line;
pub mod partials;
pub mod prediction;

pub use decimate::Decimator;
pub use explained::WeighedLines;
pub use frames::Frames;
pub use line::{LinePlan, LineSpectrum};

/// A Hann window.
pub fn hann(length: usize) -> Vec<f32> {
    (0..length)
        .map(|i| {
            let phase = std::f64::consts::TAU * (i as f64 + 0.5) / length as f64;
            (0.5 - 0.5 * phase.cos()) as f32
        })
        .collect()
}

/// Power to dB, with a floor that keeps digital silence finite.
pub fn db(power: f32) -> f32 {
    10.0 * (power + 1e-16).log10()
}
