//! Short overlapping spectra: how partials rise and fall.

use std::sync::Arc;

use fourier::{RealToComplex, num_complex::Complex32};

use super::{db, hann};

/// Length of a frame in seconds: parts neighbours 40 Hz apart.
const FRAME_S: f64 = 0.093;
/// Step between frames in seconds.
const STEP_S: f64 = 0.023;

/// Levels in dB by frame and frequency.
pub struct Frames {
    fft: Arc<dyn RealToComplex<f32>>,
    window: Vec<f32>,
    rate_hz: f64,
    step: usize,
    input: Vec<f32>,
    output: Vec<Complex32>,
    scratch: Vec<Complex32>,
    levels_db: Vec<f32>,
    count: usize,
}

impl Frames {
    /// Plans for samples at `rate_hz`.
    pub fn new(rate_hz: f64) -> Self {
        let length = (FRAME_S * rate_hz) as usize;
        let fft = fourier::forward((2 * length).next_power_of_two());
        let window = hann(length);
        Frames {
            window,
            rate_hz,
            step: (STEP_S * rate_hz) as usize,
            input: fft.make_input_vec(),
            output: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            levels_db: Vec::new(),
            count: 0,
            fft,
        }
    }

    /// Reads frames from `samples`, the first one beginning at its start, at most `most`.
    pub fn fill(&mut self, samples: &[f32], most: usize) {
        self.levels_db.clear();
        self.count = 0;
        let scale = 2.0 / self.window.iter().sum::<f32>();
        for frame in samples
            .windows(self.window.len())
            .step_by(self.step)
            .take(most)
        {
            self.input.fill(0.0);
            self.input
                .iter_mut()
                .zip(frame.iter().zip(&self.window))
                .for_each(|(i, (s, w))| *i = s * w);
            self.fft
                .process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch)
                .expect("buffers come from this plan");
            self.levels_db
                .extend(self.output.iter().map(|b| db((b * scale).norm_sqr())));
            self.count += 1;
        }
    }

    /// Number of frames.
    pub fn count(&self) -> usize {
        self.count
    }

    /// Length of a frame in seconds.
    pub fn length_s(&self) -> f32 {
        (self.window.len() as f64 / self.rate_hz) as f32
    }

    /// Seconds from one frame to the next.
    pub fn step_s(&self) -> f32 {
        (self.step as f64 / self.rate_hz) as f32
    }

    /// Level in dB of frame `frame` at `hz`, interpolated between bins.
    pub fn at_db(&self, frame: usize, hz: f32) -> f32 {
        let width = self.output.len();
        let at = (f64::from(hz) * self.fft.len() as f64 / self.rate_hz) as f32;
        let i = (at as usize).min(width - 2);
        let row = &self.levels_db[frame * width..(frame + 1) * width];
        row[i] + (row[i + 1] - row[i]) * (at - i as f32).min(1.0)
    }
}
