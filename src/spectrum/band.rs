//! Narrow bands of a stretch of sound: how one partial's complex amplitude runs over time.

use std::sync::Arc;

use realfft::{RealFftPlanner, RealToComplex, num_complex::Complex32};
use rustfft::{Fft, FftPlanner};

/// Points of one track: one every 1/43 s or so.
const POINTS: usize = 64;
/// Longest stretch read, in seconds.
const LONGEST_S: f64 = 1.3;
/// Taper at both ends of the stretch, in seconds: lets the edges leak no farther than a band is wide.
const TAPER_S: f64 = 0.05;
/// What a track leaves out at both ends, in seconds: the taper and what the band's own width smears.
const MARGIN_S: f64 = 0.11;
/// A band passes whole up to this distance from its centre, in Hz,
const FLAT_HZ: f64 = 5.0;
/// and nothing from this one on.
const EDGE_HZ: f64 = 15.0;

/// The bands of one stretch: planned once, filled stretch by stretch.
pub struct Bands {
    forward: Arc<dyn RealToComplex<f32>>,
    backward: Arc<dyn Fft<f32>>,
    rate_hz: f64,
    input: Vec<f32>,
    bins: Vec<Complex32>,
    scratch: Vec<Complex32>,
    /// Pass of each of the bins around a band's centre, lowest first.
    pass: [f32; POINTS],
    taper: usize,
    length: usize,
}

/// One partial's complex amplitude, point by point; only points clear of the ends.
#[derive(Debug, Clone, Copy)]
pub struct Track {
    points: [Complex32; POINTS],
    from: usize,
    to: usize,
}

impl Track {
    /// The amplitudes, [`Bands::step_s`] apart.
    pub fn points(&self) -> &[Complex32] {
        &self.points[self.from..self.to]
    }
}

impl Bands {
    /// For samples at `rate_hz`.
    pub fn new(rate_hz: f64) -> Self {
        let size = ((rate_hz * LONGEST_S) as usize)
            .next_power_of_two()
            .max(POINTS * 4);
        let forward = RealFftPlanner::new().plan_fft_forward(size);
        let bin_hz = rate_hz / size as f64;
        let pass = std::array::from_fn(|i| {
            let off = (i as f64 - (POINTS / 2) as f64).abs() * bin_hz;
            let t = ((off - FLAT_HZ) / (EDGE_HZ - FLAT_HZ)).clamp(0.0, 1.0);
            (0.5 + 0.5 * (std::f64::consts::PI * t).cos()) as f32
        });
        Bands {
            backward: FftPlanner::new().plan_fft_inverse(POINTS),
            rate_hz,
            input: forward.make_input_vec(),
            bins: forward.make_output_vec(),
            scratch: forward.make_scratch_vec(),
            pass,
            taper: (TAPER_S * rate_hz) as usize,
            length: 0,
            forward,
        }
    }

    /// Reads `samples`, at most 1.3 s of them.
    pub fn fill(&mut self, samples: &[f32]) {
        let length = samples.len().min((LONGEST_S * self.rate_hz) as usize);
        self.length = length;
        self.input.fill(0.0);
        self.input[..length].copy_from_slice(&samples[..length]);
        let taper = self.taper.min(length / 2);
        for i in 0..taper {
            let turn = std::f64::consts::PI * (i as f64 + 0.5) / taper as f64;
            let w = (0.5 - 0.5 * turn.cos()) as f32;
            self.input[i] *= w;
            self.input[length - 1 - i] *= w;
        }
        self.forward
            .process_with_scratch(&mut self.input, &mut self.bins, &mut self.scratch)
            .expect("buffers come from this plan");
    }

    /// Seconds from one point of a track to the next.
    pub fn step_s(&self) -> f32 {
        (self.forward.len() as f64 / self.rate_hz / POINTS as f64) as f32
    }

    /// The band around `hz`; its points turn at the distance of the line from the nearest bin.
    pub fn track(&self, hz: f32) -> Track {
        let bin = (f64::from(hz) * self.forward.len() as f64 / self.rate_hz).round() as usize;
        let mut points = [Complex32::default(); POINTS];
        let half = POINTS / 2;
        for (i, pass) in self.pass.iter().enumerate() {
            if let Some(b) = (bin + i).checked_sub(half).and_then(|b| self.bins.get(b)) {
                // Lower half of the band goes to negative frequencies.
                points[(i + half) % POINTS] = b * pass;
            }
        }
        let mut scratch = [Complex32::default(); POINTS];
        debug_assert!(self.backward.get_inplace_scratch_len() <= POINTS);
        self.backward
            .process_with_scratch(&mut points, &mut scratch);
        let step = f64::from(self.step_s());
        let from = ((MARGIN_S / step).ceil() as usize).min(POINTS);
        let to =
            (((self.length as f64 / self.rate_hz - MARGIN_S) / step) as usize).clamp(from, POINTS);
        Track { points, from, to }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_decaying_sinusoid_falls_at_its_own_rate_and_a_neighbour_outside_the_band_is_not_seen() {
        let rate = 11_025.0;
        let mut bands = Bands::new(rate);
        let samples: Vec<f32> = (0..15_000)
            .map(|i| {
                let t = f64::from(i) / rate;
                let turn = std::f64::consts::TAU * t;
                ((-3.0 * t).exp() * (turn * 440.3).sin() + (turn * 460.0).sin()) as f32
            })
            .collect();
        bands.fill(&samples);
        let track = bands.track(440.0);
        let points = track.points();
        assert!(points.len() > 38);
        let (a, b) = (points[2].norm(), points[32].norm());
        let fall = (a / b).ln() / (30.0 * bands.step_s());
        assert!((fall - 3.0).abs() < 0.1, "{fall}");
    }
}
