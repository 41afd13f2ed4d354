//! Power by frequency of short frames and long windows.

use std::sync::Arc;

use fourier::RealToComplex;
use fourier::num_complex::Complex32;

use crate::spectrum::hann;

/// Nothing above this is asked for, in Hz.
const TOP_HZ: f64 = 11_400.0;

/// A Hann window, computed when another length is asked for.
#[derive(Debug, Clone, Default)]
pub struct Hann(Vec<f32>);

impl Hann {
    pub fn of(&mut self, length: usize) -> &[f32] {
        if self.0.len() != length {
            self.0 = hann(length);
        }
        &self.0
    }
}

/// A planned transform.
pub struct FftPlan {
    forward: Arc<dyn RealToComplex<f32>>,
    input: Vec<f32>,
    output: Vec<Complex32>,
    scratch: Vec<Complex32>,
    pub bin_hz: f32,
    /// Bins that are read.
    bins: usize,
}

impl FftPlan {
    pub fn new(size: usize, rate_hz: f64) -> Self {
        let forward = fourier::forward(size);
        let bin_hz = rate_hz / size as f64;
        FftPlan {
            input: forward.make_input_vec(),
            output: forward.make_output_vec(),
            scratch: forward.make_scratch_vec(),
            bin_hz: bin_hz as f32,
            bins: ((TOP_HZ / bin_hz) as usize).min(size / 2 + 1),
            forward,
        }
    }

    /// Number of samples that are transformed.
    pub fn size(&self) -> usize {
        self.input.len()
    }

    /// Transforms what fits of `part`, zeros after it.
    pub fn transform(&mut self, part: impl Iterator<Item = f32>) -> &[Complex32] {
        self.input.fill(0.0);
        self.input
            .iter_mut()
            .zip(part)
            .for_each(|(into, s)| *into = s);
        self.forward
            .process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch)
            .expect("buffers come from this plan");
        &self.output
    }

    /// Reads `part` under a Hann window.
    pub fn read(&mut self, part: &[f32], hann: &mut Hann, into: &mut Spectrum) {
        let part = &part[..part.len().min(self.size())];
        let window = hann.of(part.len());
        self.transform(part.iter().zip(window).map(|(s, w)| s * w));
        // A Hann window's mean is a half, a line's amplitude is in two bins.
        let scale = (4.0 / part.len().max(1) as f32).powi(2);
        into.bin_hz = self.bin_hz;
        into.power.clear();
        let read = &self.output[..self.bins];
        into.power.extend(read.iter().map(|z| z.norm_sqr() * scale));
    }
}

/// Power of a stretch by frequency, a line of amplitude 1 reading 1; empty where there is no sound.
#[derive(Debug, Clone, Default)]
pub struct Spectrum {
    pub power: Vec<f32>,
    pub bin_hz: f32,
}

impl Spectrum {
    pub fn is_filled(&self) -> bool {
        !self.power.is_empty()
    }

    fn bin(&self, hz: f32) -> usize {
        ((hz / self.bin_hz + 0.5) as usize).min(self.power.len() - 1)
    }

    /// The bins from one frequency to another.
    pub fn between(&self, from_hz: f32, to_hz: f32) -> &[f32] {
        &self.power[self.bin(from_hz)..=self.bin(to_hz)]
    }

    pub fn highest(&self, from_hz: f32, to_hz: f32) -> f32 {
        let part = self.between(from_hz, to_hz);
        part.iter().copied().fold(0.0, f32::max)
    }

    pub fn mean(&self, from_hz: f32, to_hz: f32) -> f32 {
        let part = self.between(from_hz, to_hz);
        part.iter().sum::<f32>() / part.len() as f32
    }

    /// Power at a frequency, between the bins on both sides.
    pub fn at(&self, hz: f32) -> f32 {
        let at = (hz / self.bin_hz).min(self.power.len() as f32 - 2.0);
        let (i, t) = (at as usize, at.fract());
        self.power[i] * (1.0 - t) + self.power[i + 1] * t
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_reads_its_power_wherever_it_lies_and_nothing_lies_beside_it() {
        let mut plan = FftPlan::new(8192, 44_100.0);
        let (mut hann, mut spectrum) = (Hann::default(), Spectrum::default());
        for hz in [1_000.0f32, 3_003.0] {
            let step = std::f32::consts::TAU * hz / 44_100.0;
            let samples: Vec<f32> = (0..2_646).map(|i| 0.5 * (step * i as f32).sin()).collect();
            plan.read(&samples, &mut hann, &mut spectrum);
            let highest = spectrum.highest(hz - 10.0, hz + 10.0);
            assert!((highest / 0.25 - 1.0).abs() < 0.05, "{highest} at {hz}");
            assert!(spectrum.mean(hz + 100.0, hz + 300.0) < 1e-4);
        }
    }
}
