use fourier::audioadapter_buffers::direct::InterleavedSlice;
use fourier::{Indexing, Resampler};

/// Frames per step of the resampler. Its anti-alias filter is as long as the step, so a long one is
/// steep: flat to over 20 kHz at 44.1 kHz.
const STEP_FRAMES: usize = 4096;

/// Mono samples of one rate at another, of the same length in seconds.
///
/// # Panics
/// If a rate is 0.
pub fn at_rate(samples: &[f32], from_hz: u32, to_hz: u32) -> Vec<f32> {
    let Some(mut resampler) = Downsampler::between(from_hz, to_hz) else {
        return samples.to_vec();
    };
    let mut out = Vec::new();
    resampler.push(samples, &mut out);
    resampler.finish(&mut out);
    out
}

/// Brings a stream of mono samples to another rate, mostly down to a lower one: no delay, no lost end.
pub(crate) struct Downsampler {
    fft: Box<dyn Resampler<f32>>,
    waiting: Vec<f32>,
    made: Vec<f32>,
    /// Frames of the filter's delay that are still to be thrown away.
    skip: usize,
    ratio: f64,
    taken: u64,
    given: u64,
}

/// Sound at up to this rate is given as it is, Hz; nothing above 24 kHz says anything of a string, so
/// what is faster is brought down.
const MAX_GIVEN_RATE_HZ: u32 = 50_000;

impl Downsampler {
    /// The rate at which sound of `rate_hz` is given, and what brings it there where that is another:
    /// 44.1 kHz for its multiples, else 48 kHz.
    ///
    /// # Panics
    /// If the rate is 0.
    pub(super) fn given_at(rate_hz: u32) -> (u32, Option<Self>) {
        let given_hz = match rate_hz {
            _ if rate_hz <= MAX_GIVEN_RATE_HZ => return (rate_hz, None),
            _ if rate_hz.is_multiple_of(44_100) => 44_100,
            _ => 48_000,
        };
        (given_hz, Some(Self::new(rate_hz, given_hz)))
    }

    /// Resampler from one rate to another; `None` where they are the same.
    ///
    /// # Panics
    /// If a rate is 0.
    pub(crate) fn between(from_hz: u32, to_hz: u32) -> Option<Self> {
        (from_hz != to_hz).then(|| Self::new(from_hz, to_hz))
    }

    /// # Panics
    /// If a rate is 0.
    fn new(from_hz: u32, to_hz: u32) -> Self {
        let (from, to) = (from_hz as usize, to_hz as usize);
        let fft = fourier::resampler(from, to, STEP_FRAMES);
        Self {
            waiting: Vec::with_capacity(fft.input_frames_max()),
            made: vec![0.0; fft.output_frames_max()],
            skip: fft.output_delay(),
            ratio: f64::from(to_hz) / f64::from(from_hz),
            taken: 0,
            given: 0,
            fft,
        }
    }

    /// Takes samples at the old rate, appends those that are ready at the new rate to `out`.
    pub(crate) fn push(&mut self, mut samples: &[f32], out: &mut Vec<f32>) {
        self.taken += samples.len() as u64;
        let need = self.fft.input_frames_next();
        while !samples.is_empty() {
            let step = samples.len().min(need - self.waiting.len());
            self.waiting.extend_from_slice(&samples[..step]);
            samples = &samples[step..];
            if self.waiting.len() == need {
                self.step(need, u64::MAX, out);
            }
        }
    }

    /// Appends what is left; afterwards out is as long as in, in seconds, to the nearest sample.
    pub(crate) fn finish(&mut self, out: &mut Vec<f32>) {
        let due = (self.taken as f64 * self.ratio).round() as u64;
        let need = self.fft.input_frames_next();
        while self.given < due {
            let held = self.waiting.len();
            self.waiting.resize(need, 0.0);
            self.step(held, due - self.given, out);
        }
    }

    fn step(&mut self, frames: usize, at_most: u64, out: &mut Vec<f32>) {
        let indexing = Indexing::new().partial_len(frames);
        let made = self.made.len();
        let (Ok(input), Ok(mut output)) = (
            InterleavedSlice::new(&self.waiting[..], 1, self.waiting.len()),
            InterleavedSlice::new_mut(&mut self.made[..], 1, made),
        ) else {
            unreachable!("one channel as long as its slice");
        };
        let (_, made) = self
            .fft
            .process_into_buffer(&input, &mut output, Some(&indexing))
            .expect("buffers have the sizes that the resampler asked for");
        self.waiting.clear();
        let skipped = self.skip.min(made);
        self.skip -= skipped;
        let fresh = &self.made[skipped..made];
        let fresh = &fresh[..fresh
            .len()
            .min(usize::try_from(at_most).unwrap_or(usize::MAX))];
        self.given += fresh.len() as u64;
        out.extend_from_slice(fresh);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn tone(hz: f64, rate_hz: u32, frames: usize) -> Vec<f32> {
        (0..frames)
            .map(|i| (0.5 * (TAU * hz * i as f64 / f64::from(rate_hz)).sin()) as f32)
            .collect()
    }

    fn resampled(from_hz: u32, to_hz: u32, samples: &[f32]) -> Vec<f32> {
        let mut down = Downsampler::new(from_hz, to_hz);
        let mut out = Vec::new();
        for packet in samples.chunks(1000) {
            down.push(packet, &mut out);
        }
        down.finish(&mut out);
        out
    }

    #[test]
    fn tones_to_18_khz_keep_level_and_place_in_time() {
        for (from, to) in [
            (192_000, 48_000),
            (96_000, 48_000),
            (88_200, 44_100),
            (64_000, 48_000),
        ] {
            for hz in [82.4, 440.0, 5000.0, 18_000.0] {
                let out = resampled(from, to, &tone(hz, from, from as usize / 2));
                assert_eq!(out.len(), to as usize / 2);
                let ideal = tone(hz, to, out.len());
                // The ends ring, as the tone starts and stops abruptly there.
                let middle = out.len() / 4..out.len() * 3 / 4;
                let worst = middle
                    .map(|i| (out[i] - ideal[i]).abs())
                    .fold(0.0, f32::max);
                assert!(worst < 5e-4, "{from} to {to}, {hz} Hz: off by {worst}");
            }
        }
    }

    #[test]
    fn what_lies_over_half_the_new_rate_does_not_fold_down() {
        let out = resampled(96_000, 48_000, &tone(30_000.0, 96_000, 48_000));
        let worst = out[6000..18_000].iter().fold(0.0f32, |m, x| m.max(x.abs()));
        assert!(worst < 1e-4, "left over {worst}");
    }

    #[test]
    fn the_shortest_input_comes_out() {
        assert_eq!(resampled(96_000, 48_000, &[0.5]).len(), 1);
        assert_eq!(resampled(192_000, 48_000, &[]).len(), 0);
    }
}
