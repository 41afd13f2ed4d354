//! Many channels to one.
//!
//! A plain mean is wrong three times: a silent channel costs 6 dB, channels in opposite phase
//! cancel, and two microphones some centimetres apart cancel single partials (15 cm of path take
//! out 1.1 kHz), which reads as a string that does not ring. So the mean is taken only over
//! channels that say the same; else the loudest one stands for all. What is kept is decided per
//! second of sound, before that second is given out. A channel that was dropped comes back only
//! when those kept have fallen far behind it, so a recording settles instead of flickering.
//!
//! A file with one string in each channel is no single microphone: only the loudest is heard.

use crate::decibels;

/// Length of sound that one decision looks at, and so the longest that is held back, in seconds:
/// long enough to hold several periods of any rumble beside the sound.
const WINDOW_S: f64 = 1.0;

/// Under this peak in every channel a window decides nothing, dBFS: 25 dB under the peaks of the
/// quietest recordings that are judged.
const DECIDING_PEAK_DB: f32 = -60.0;

/// A channel this far under the loudest adds nothing to a mean but takes level from it, dB.
const QUIETER_DB: f64 = 12.0;

/// Least correlation with the loudest channel for a share in the mean. cos(2 pi f t) = 0.98 at
/// 200 Hz, where a guitar is strongest, is a path difference t of 0.16 ms: the mean then loses less
/// than 3 dB up to 1.5 kHz. Equal channels with independent noise 20 dB down reach 0.99.
const ALIKE: f64 = 0.98;

/// Cross-fade where the choice changes, in seconds, against clicks.
const FADE_S: f64 = 0.01;

pub(super) struct Mixer {
    channels: usize,
    window_frames: usize,
    fade_frames: usize,
    /// Interleaved samples that wait for the decision.
    held: Vec<f32>,
    /// Share of each channel: 0 or 1 / number of channels kept.
    shares: Vec<f32>,
    shares_before: Vec<f32>,
    started: bool,
    energies: Vec<f64>,
    means: Vec<f64>,
}

impl Mixer {
    pub(super) fn new(channels: usize, rate_hz: u32) -> Self {
        let frames = |seconds: f64| (seconds * f64::from(rate_hz)) as usize;
        let window_frames = frames(WINDOW_S);
        Self {
            channels,
            window_frames,
            fade_frames: frames(FADE_S),
            held: Vec::with_capacity(if channels == 1 {
                0
            } else {
                window_frames * channels
            }),
            shares: vec![1.0 / channels as f32; channels],
            shares_before: vec![0.0; channels],
            started: false,
            energies: vec![0.0; channels],
            means: vec![0.0; channels],
        }
    }

    /// Takes interleaved samples, appends the mono frames that are decided to `mono`.
    pub(super) fn push(&mut self, mut interleaved: &[f32], mono: &mut Vec<f32>) {
        if self.channels == 1 {
            mono.extend_from_slice(interleaved);
            return;
        }
        let full = self.window_frames * self.channels;
        while !interleaved.is_empty() {
            let taken = interleaved.len().min(full - self.held.len());
            self.held.extend_from_slice(&interleaved[..taken]);
            interleaved = &interleaved[taken..];
            if self.held.len() == full {
                self.release(mono);
            }
        }
    }

    /// Appends what is still held to `mono`.
    pub(super) fn finish(&mut self, mono: &mut Vec<f32>) {
        if !self.held.is_empty() {
            self.release(mono);
        }
    }

    /// The channels in use, counted from 0.
    pub(super) fn kept(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.channels).filter(|&c| self.shares[c] > 0.0)
    }

    fn release(&mut self, mono: &mut Vec<f32>) {
        self.shares_before.copy_from_slice(&self.shares);
        // The last window may be too short to decide on, unless it is the only one.
        let frames = self.held.len() / self.channels;
        if !self.started || frames * 2 >= self.window_frames {
            self.decide();
        }
        if !self.started {
            self.shares_before.copy_from_slice(&self.shares);
            self.started = true;
        }
        let dot = |frame: &[f32], shares: &[f32]| -> f32 {
            frame.iter().zip(shares).map(|(x, share)| x * share).sum()
        };
        let changed = self.shares != self.shares_before;
        mono.extend(
            self.held
                .chunks_exact(self.channels)
                .enumerate()
                .map(|(i, frame)| {
                    let new = dot(frame, &self.shares);
                    if !changed || i >= self.fade_frames {
                        return new;
                    }
                    let old = dot(frame, &self.shares_before);
                    old + (new - old) * i as f32 / self.fade_frames as f32
                }),
        );
        self.held.clear();
    }

    fn decide(&mut self) {
        let peak = self.held.iter().fold(0.0f32, |peak, x| peak.max(x.abs()));
        if peak < decibels::to_amplitude(DECIDING_PEAK_DB) {
            return;
        }
        let frames = (self.held.len() / self.channels) as f64;
        let louder = |energies: &[f64], a: usize, b: usize| energies[a].total_cmp(&energies[b]);
        for c in 0..self.channels {
            let samples = || self.held.iter().skip(c).step_by(self.channels);
            let mean = samples().map(|&x| f64::from(x)).sum::<f64>() / frames;
            self.means[c] = mean;
            // Without the mean: a converter's offset is no sound.
            self.energies[c] = samples().map(|&x| (f64::from(x) - mean).powi(2)).sum();
        }
        let far_quieter = decibels::to_power(-QUIETER_DB);
        let Some(loudest) = (0..self.channels).max_by(|&a, &b| louder(&self.energies, a, b)) else {
            return;
        };
        let mut reference = self
            .kept()
            .max_by(|&a, &b| louder(&self.energies, a, b))
            .unwrap_or(loudest);
        if self.energies[reference] < self.energies[loudest] * far_quieter {
            self.shares.fill(0.0);
            reference = loudest;
            self.shares[reference] = 1.0;
        }
        for c in 0..self.channels {
            if c == reference || self.shares[c] == 0.0 {
                continue;
            }
            let (energy, own) = (self.energies[reference], self.energies[c]);
            if own < energy * far_quieter
                || self.product(reference, c) < ALIKE * (energy * own).sqrt()
            {
                self.shares[c] = 0.0;
            }
        }
        let kept = self.kept().count() as f32;
        for share in &mut self.shares {
            *share = if *share > 0.0 { 1.0 / kept } else { 0.0 };
        }
    }

    fn product(&self, a: usize, b: usize) -> f64 {
        self.held
            .chunks_exact(self.channels)
            .map(|frame| {
                (f64::from(frame[a]) - self.means[a]) * (f64::from(frame[b]) - self.means[b])
            })
            .sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f32::consts::TAU;

    const RATE_HZ: u32 = 8000;

    fn tone(hz: f32, delay_s: f32) -> impl Fn(usize) -> f32 {
        move |i| 0.5 * (TAU * hz * (i as f32 / RATE_HZ as f32 - delay_s)).sin()
    }

    fn mix(channels: &[&dyn Fn(usize) -> f32], seconds: f32) -> (Vec<f32>, Vec<usize>) {
        let mut mixer = Mixer::new(channels.len(), RATE_HZ);
        let mut mono = Vec::new();
        let frames = (seconds * RATE_HZ as f32) as usize;
        let interleaved: Vec<f32> = (0..frames)
            .flat_map(|i| channels.iter().map(move |channel| channel(i)))
            .collect();
        // Uneven packets, as decoders give them.
        for packet in interleaved.chunks(channels.len() * 777) {
            mixer.push(packet, &mut mono);
        }
        mixer.finish(&mut mono);
        assert_eq!(mono.len(), frames);
        let kept = mixer.kept().collect();
        (mono, kept)
    }

    fn rms(samples: &[f32]) -> f32 {
        (samples.iter().map(|x| x * x).sum::<f32>() / samples.len() as f32).sqrt()
    }

    #[test]
    fn equal_channels_are_averaged() {
        let (mono, kept) = mix(&[&tone(200.0, 0.0), &tone(200.0, 0.0)], 2.3);
        assert_eq!(kept, [0, 1]);
        assert!((rms(&mono) - 0.5 / 2f32.sqrt()).abs() < 1e-3);
    }

    #[test]
    fn a_silent_channel_costs_no_level() {
        let (mono, kept) = mix(&[&|_| 0.0, &tone(200.0, 0.0)], 2.3);
        assert_eq!(kept, [1]);
        assert!((rms(&mono) - 0.5 / 2f32.sqrt()).abs() < 1e-3);
    }

    #[test]
    fn a_channel_with_nothing_but_an_offset_counts_as_silent() {
        let (_, kept) = mix(&[&|_| 0.9, &tone(200.0, 0.0)], 1.5);
        assert_eq!(kept, [1]);
    }

    #[test]
    fn channels_in_opposite_phase_do_not_cancel() {
        let turned = tone(200.0, 0.0);
        let (mono, kept) = mix(&[&tone(200.0, 0.0), &move |i| -0.9 * turned(i)], 2.3);
        assert_eq!(kept, [0]);
        assert!((rms(&mono) - 0.5 / 2f32.sqrt()).abs() < 1e-3);
    }

    #[test]
    fn microphones_apart_are_not_averaged() {
        // 15 cm at 343 m/s, the 1.14 kHz that a mean would cancel beside a strong 200 Hz.
        let path = |delay: f32| {
            let (low, high) = (tone(200.0, delay), tone(1143.0, delay));
            move |i: usize| low(i) + 0.2 * high(i)
        };
        let (_, kept) = mix(&[&path(0.0), &path(0.15 / 343.0)], 2.0);
        assert_eq!(kept.len(), 1);
    }

    #[test]
    fn of_six_channels_the_alike_ones_are_kept() {
        let rumble = tone(60.0, 0.0);
        let (_, kept) = mix(
            &[
                &tone(200.0, 0.0),
                &tone(200.0, 0.0),
                &|_| 0.0,
                &|i| 0.9 * rumble(i),
                &|_| 0.0,
                &|_| 0.0,
            ],
            2.0,
        );
        assert_eq!(kept, [0, 1]);
    }

    #[test]
    fn a_pop_on_a_dead_channel_does_not_decide_for_good() {
        let pop = |i: usize| if i == 100 { 0.8 } else { 0.0 };
        let live = tone(200.0, 0.0);
        let late = move |i: usize| if i < 8000 { 0.0 } else { live(i) };
        let (mono, kept) = mix(&[&pop, &late], 3.0);
        assert_eq!(kept, [1]);
        assert!((rms(&mono[9000..]) - 0.5 / 2f32.sqrt()).abs() < 1e-3);
    }

    #[test]
    fn near_silence_decides_nothing() {
        let (_, kept) = mix(&[&|_| 0.0, &|i| 1e-4 * (i % 2) as f32], 2.0);
        assert_eq!(kept, [0, 1]);
    }
}
