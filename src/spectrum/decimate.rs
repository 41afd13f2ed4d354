//! Bringing the rate down by a whole factor: what a string says about ringing lies below 5 kHz.

use multiversion::multiversion;

use super::blackman_at;

/// Lowest rate in Hz that decimation may lead to.
const LOWEST_RATE_HZ: u32 = 10_600;
/// Filter taps on each side, per factor: stop band below -70 dB from 0.55 of the new rate on (measured
/// on the Blackman-windowed sinc used here).
const TAPS_PER_FACTOR: usize = 12;
/// Pass band edge as a share of the new rate.
const CUTOFF: f64 = 0.46;

/// A low-pass filter and sample dropper, planned once.
#[derive(Debug, Clone)]
pub struct Decimator {
    factor: usize,
    taps: Vec<f32>,
    rate_hz: f64,
    /// What is filtered, between silence, and of that every factor-th sample, from each of the first ones on.
    padded: Vec<f32>,
    phases: Vec<Vec<f32>>,
}

impl Decimator {
    /// Plans for input at `rate_hz`; the factor is the largest that keeps 10.6 kHz or more.
    pub fn new(rate_hz: u32) -> Self {
        let factor = (rate_hz / LOWEST_RATE_HZ).max(1) as usize;
        let half = (TAPS_PER_FACTOR * factor) as isize;
        let cutoff = CUTOFF / factor as f64;
        let mut taps: Vec<f32> = (-half..=half)
            .map(|i| {
                let x = i as f64;
                let sinc = if i == 0 {
                    2.0 * cutoff
                } else {
                    (std::f64::consts::TAU * cutoff * x).sin() / (std::f64::consts::PI * x)
                };
                let angle = std::f64::consts::PI * (1.0 + x / half as f64);
                (sinc * blackman_at(angle)) as f32
            })
            .collect();
        let sum: f32 = taps.iter().sum();
        taps.iter_mut().for_each(|t| *t /= sum);
        Decimator {
            factor,
            taps,
            rate_hz: f64::from(rate_hz) / factor as f64,
            padded: Vec::new(),
            phases: vec![Vec::new(); factor],
        }
    }

    /// Samples in per sample out.
    pub fn factor(&self) -> usize {
        self.factor
    }

    /// Rate of the output in Hz.
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// Replaces `output` by the decimated `input`; output sample `i` stands at input sample `i · factor`.
    pub fn run(&mut self, input: &[f32], output: &mut Vec<f32>) {
        output.clear();
        if self.factor == 1 {
            output.extend_from_slice(input);
            return;
        }
        let half = self.taps.len() / 2;
        self.padded.clear();
        self.padded.resize(half, 0.0);
        self.padded.extend_from_slice(input);
        self.padded.resize(input.len() + 2 * half, 0.0);
        for (first, phase) in self.phases.iter_mut().enumerate() {
            phase.clear();
            phase.extend(self.padded.iter().skip(first).step_by(self.factor));
        }
        output.resize(input.len().div_ceil(self.factor), 0.0);
        // Tap by tap for all outputs, whose sums then grow side by side.
        for (k, tap) in self.taps.iter().enumerate() {
            let phase = &self.phases[k % self.factor];
            add_times(*tap, &phase[k / self.factor..], output);
        }
    }
}

/// Adds `factor` times `more` to `onto`, number by number.
#[multiversion(targets("x86_64+avx2"))]
fn add_times(factor: f32, more: &[f32], onto: &mut [f32]) {
    for (onto, more) in onto.iter_mut().zip(more) {
        *onto += more * factor;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_comes_out_is_the_plain_weighted_sum() {
        let mut decimator = Decimator::new(44_100);
        let input: Vec<f32> = (0..300).map(|i| (i * i % 37) as f32 / 37.0 - 0.5).collect();
        let mut output = Vec::new();
        decimator.run(&input, &mut output);
        assert_eq!(output.len(), input.len().div_ceil(decimator.factor()));
        let half = decimator.taps.len() / 2;
        for (i, out) in output.iter().enumerate() {
            let taps = decimator.taps.iter().enumerate();
            let sum: f64 = taps
                .filter_map(|(k, tap)| {
                    let at = (i * decimator.factor() + k).checked_sub(half)?;
                    Some(f64::from(*tap) * f64::from(*input.get(at)?))
                })
                .sum();
            assert!(
                (f64::from(*out) - sum).abs() < 1e-6,
                "{out} instead of {sum} at {i}"
            );
        }
    }
}
