//! Plans of Fourier transforms and resamplers for `f32`.
//!
//! A crate of its own, since generic code is compiled where its numbers are named. Here that is once and always
//! optimised; within Ringtrue it was once more for each of its builds and tests, and a fifth of what they compiled.

#![warn(missing_docs)]

use std::sync::Arc;

use realfft::RealFftPlanner;
use rubato::{FixedSync, WindowFunction};
use rustfft::FftPlanner;

pub use realfft::{ComplexToReal, RealToComplex};
pub use rubato::{Indexing, Resampler, audioadapter_buffers};
pub use rustfft::{Fft, FftDirection, num_complex, num_traits};

/// Plan from so many samples to their spectrum.
pub fn forward(size: usize) -> Arc<dyn RealToComplex<f32>> {
    RealFftPlanner::new().plan_fft_forward(size)
}

/// Plan from a spectrum back to so many samples.
pub fn inverse(size: usize) -> Arc<dyn ComplexToReal<f32>> {
    RealFftPlanner::new().plan_fft_inverse(size)
}

/// Plans transforms of complex numbers, each size and direction once.
pub struct Planner(FftPlanner<f32>);

impl Planner {
    /// A planner with no plans yet.
    #[allow(
        clippy::new_without_default,
        reason = "nobody asks for a default planner"
    )]
    pub fn new() -> Self {
        Planner(FftPlanner::new())
    }

    /// Plan of so many numbers.
    pub fn plan(&mut self, size: usize, direction: FftDirection) -> Arc<dyn Fft<f32>> {
        self.0.plan_fft(size, direction)
    }
}

/// Resampler of one channel from one rate to another, `step` frames at a time.
///
/// # Panics
/// If a rate or the step is 0.
pub fn resampler(from_hz: usize, to_hz: usize, step: usize) -> Box<dyn Resampler<f32>> {
    let window = WindowFunction::BlackmanHarris2;
    let fft = rubato::Fft::new_custom(from_hz, to_hz, step, 1, 1, window, FixedSync::Both);
    Box::new(fft.expect("rates and step are not 0"))
}
