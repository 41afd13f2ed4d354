/// From here a sample counts as full scale: 0.01 dB under it, so that 16-bit rails (32767/32768)
/// and slightly scaled ones count.
pub(super) const RAIL: f32 = 0.9988;

/// Samples in a row at full scale that make clipping. One or two are a peak that a loudness
/// normaliser put there; three are a flat top (common practice).
pub(super) const RAIL_RUN: u32 = 3;

/// Beyond this (120 dB over full scale) a sample is no sound, and its square may leave `f32`.
const ABSURD: f32 = 1e6;

/// Findings of the reading about a recording so far; complete once the reader has given its last
/// block. Counted on the file's own channels, before mixing and resampling.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Health {
    /// Frames (one sample of every channel each) decoded.
    pub frames: u64,
    /// Largest absolute sample of any channel, full scale 1; float and MP3 files may exceed it.
    pub peak: f32,
    /// Samples within flat tops: three or more in a row at full scale in one channel.
    pub clipped_samples: u64,
    /// Samples that were not numbers, infinite or beyond ±1e6; each was replaced by 0.
    pub unusable_samples: u64,
    /// Frames that are missing: in damaged packets (left out, not filled with silence), or after
    /// the point where a file breaks off, as far as its header tells (a damaged header may claim
    /// absurdly many).
    pub lost_frames: u64,
    /// The file breaks off before its proper end.
    pub cut_off: bool,
}

impl Health {
    /// Tells whether every sample so far was exactly zero: no microphone gives that; a muted input or a
    /// missing permission does. False before the first sample.
    pub fn is_all_zero(&self) -> bool {
        self.frames > 0 && self.peak == 0.0
    }
}

/// Counts into a [`Health`]; remembers runs across packets.
pub(super) struct Examiner {
    pub(super) health: Health,
    rail_runs: Vec<u32>,
}

impl Examiner {
    pub(super) fn new(channels: usize) -> Self {
        Self {
            health: Health::default(),
            rail_runs: vec![0; channels],
        }
    }

    /// Examines interleaved samples and replaces the unusable ones by 0.
    pub(super) fn examine(&mut self, interleaved: &mut [f32]) {
        let health = &mut self.health;
        let channels = self.rail_runs.len();
        health.frames += (interleaved.len() / channels) as u64;
        for frame in interleaved.chunks_exact_mut(channels) {
            for (sample, run) in frame.iter_mut().zip(&mut self.rail_runs) {
                let size = sample.abs();
                if size.is_nan() || size > ABSURD {
                    *sample = 0.0;
                    *run = 0;
                    health.unusable_samples += 1;
                    continue;
                }
                health.peak = health.peak.max(size);
                if size < RAIL {
                    *run = 0;
                    continue;
                }
                *run += 1;
                if *run == RAIL_RUN {
                    health.clipped_samples += u64::from(RAIL_RUN);
                } else if *run > RAIL_RUN {
                    health.clipped_samples += 1;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flat_tops_are_counted_across_packets_and_lone_peaks_are_not() {
        let mut examiner = Examiner::new(2);
        // Left: a lone peak, then a flat top of four over the packet border. Right: quiet.
        let (mut first, mut second) = (
            [1.0, 0.1, 0.0, 0.1, 1.0, 0.1, 1.0, 0.1],
            [1.0, 0.1, 1.0, 0.1, 0.0, 0.1],
        );
        examiner.examine(&mut first);
        examiner.examine(&mut second);
        assert_eq!(examiner.health.clipped_samples, 4);
        assert_eq!(examiner.health.frames, 7);
        assert_eq!(examiner.health.peak, 1.0);
    }

    #[test]
    fn samples_that_are_no_sound_become_zero_and_are_counted() {
        let mut examiner = Examiner::new(1);
        let mut samples = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, 1e30, -0.5];
        examiner.examine(&mut samples);
        assert_eq!(samples, [0.0, 0.0, 0.0, 0.0, -0.5]);
        assert_eq!(examiner.health.unusable_samples, 4);
        assert_eq!(examiner.health.peak, 0.5);
    }

    #[test]
    fn only_exact_zeros_count_as_all_zero() {
        let mut examiner = Examiner::new(1);
        assert!(!examiner.health.is_all_zero());
        examiner.examine(&mut [0.0, -0.0]);
        assert!(examiner.health.is_all_zero());
        examiner.examine(&mut [1e-9]);
        assert!(!examiner.health.is_all_zero());
    }
}
