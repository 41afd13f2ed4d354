//! Windows, FFT plans, line spectra, partials of a stiff string. Knows no guitar.

pub mod chroma;
mod decimate;
mod frames;
mod line;
pub mod partials;
pub mod prediction;

pub use decimate::Decimator;
pub use frames::Frames;
pub use line::{LinePlan, LineSpectrum};

/// Power to dB, with a floor that keeps digital silence finite.
pub fn db(power: f32) -> f32 {
    10.0 * (power + 1e-16).log10()
}
