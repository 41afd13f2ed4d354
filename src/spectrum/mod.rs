//! Windows, FFT plans, line spectra, partials of a stiff string. Knows no guitar.

use fourier::num_traits::{Float, cast};

use crate::decibels;

pub mod chroma;
mod decimate;
pub mod explained;
mod frames;
mod line;
pub mod partials;
pub mod prediction;
mod rank;

pub use decimate::Decimator;
pub use explained::WeighedLines;
pub use frames::Frames;
pub use line::{LinePlan, LineSpectrum};
pub use rank::{median, quantile};

/// Weight of a Hann window at an angle, of which a turn goes from its start to its end.
pub fn hann_at(angle: f64) -> f64 {
    0.5 - 0.5 * angle.cos()
}

/// A Hann window.
pub fn hann(length: usize) -> Vec<f32> {
    let angle = |i: usize| std::f64::consts::TAU * (i as f64 + 0.5) / length as f64;
    (0..length).map(|i| hann_at(angle(i)) as f32).collect()
}

/// Weight of a Blackman window at an angle, of which a turn goes from its start to its end.
pub fn blackman_at(angle: f64) -> f64 {
    // The cosine of twice the angle is 2 cos^2 - 1.
    let cos = angle.cos();
    0.34 - 0.5 * cos + 0.16 * cos * cos
}

/// Finds how far a maximum lies beside its highest bin, in bins: by a parabola through its level in decibels, or in any other
/// logarithm, and the levels of the bins before and behind.
pub fn peak_shift<F: Float>([before, highest, behind]: [F; 3]) -> F {
    let [tiny, half, two]: [F; 3] = [1e-12, 0.5, 2.0].map(|n: f64| cast(n).expect("a float"));
    let bend = before - two * highest + behind;
    match bend < -tiny {
        true => (half * (before - behind) / bend).max(-half).min(half),
        false => F::zero(),
    }
}

/// Added to the power of each line: 160 dB under full scale, far below what 24 bits hold, so that no partial is changed.
const LINE_FLOOR: f32 = 1e-16;

/// Power to dB, with a floor that keeps digital silence finite.
pub fn db(power: f32) -> f32 {
    decibels::of_power(power + LINE_FLOOR)
}
