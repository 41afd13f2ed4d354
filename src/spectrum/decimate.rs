//! Bringing the rate down by a whole factor: what a string says about ringing lies below 5 kHz.

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
}

impl Decimator {
    /// For input at `rate_hz`; the factor is the largest that keeps 10.6 kHz or more.
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
                let t = std::f64::consts::PI * x / half as f64;
                (sinc * (0.42 + 0.5 * t.cos() + 0.08 * (2.0 * t).cos())) as f32
            })
            .collect();
        let sum: f32 = taps.iter().sum();
        taps.iter_mut().for_each(|t| *t /= sum);
        Decimator {
            factor,
            taps,
            rate_hz: f64::from(rate_hz) / factor as f64,
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
    pub fn run(&self, input: &[f32], output: &mut Vec<f32>) {
        output.clear();
        if self.factor == 1 {
            output.extend_from_slice(input);
            return;
        }
        let half = self.taps.len() / 2;
        for centre in (0..input.len()).step_by(self.factor) {
            let sum = if centre >= half && centre + half < input.len() {
                let part = &input[centre - half..=centre + half];
                part.iter().zip(&self.taps).map(|(s, t)| s * t).sum()
            } else {
                let first = half.saturating_sub(centre);
                let start = centre.saturating_sub(half);
                input[start..input.len().min(centre + half + 1)]
                    .iter()
                    .zip(&self.taps[first..])
                    .map(|(s, t)| s * t)
                    .sum()
            };
            output.push(sum);
        }
    }
}
