//! Places of strums in a recording: of a long one their samples are read only when they are needed.

use crate::audio::Mono;
use crate::take::{Manner, Take};

/// Place of a strum in a recording: a [`Take`] without its samples.
#[derive(Debug, Clone, PartialEq)]
pub struct Span {
    /// Position of its first sample, and how many there are.
    pub first: usize,
    /// Samples in all.
    pub length: usize,
    /// Onsets found, as indices into its samples, ascending, at least one.
    pub onsets: Vec<usize>,
    /// Strummed or picked.
    pub manner: Manner,
    /// True where another one begins right where this one ends.
    pub cut_by_next: bool,
}

impl Span {
    /// Tells where `strum` lies.
    pub fn of(strum: Take) -> Span {
        Span {
            first: strum.first as usize,
            length: strum.samples.len(),
            onsets: strum.onsets,
            manner: strum.manner,
            cut_by_next: strum.cut_by_next,
        }
    }

    /// One past its last sample.
    pub fn end(&self) -> usize {
        self.first + self.length
    }

    /// Position of its first onset.
    pub fn onset(&self) -> usize {
        self.first + self.onsets[0]
    }

    /// Moment of its first stroke as the finder heard it, in seconds from the start of the recording.
    pub fn start_s(&self, rate_hz: u32) -> f64 {
        self.onset() as f64 / f64::from(rate_hz)
    }

    /// The strum with all the samples that its verdict depends on.
    pub fn read(&self, sound: &dyn Mono, rate_hz: u32) -> Take {
        let mut strum = Take {
            samples: Vec::new(),
            rate_hz,
            first: self.first as u64,
            onsets: self.onsets.clone(),
            manner: self.manner,
            middle: None,
            cut_by_next: self.cut_by_next,
        };
        let judged = strum.judged_length().min(self.length);
        strum.samples = sound.part(self.first..self.first + judged);
        // A microphone may hand over a NaN, which the finder has taken for silence.
        let bad = strum.samples.iter_mut().filter(|s| !s.is_finite());
        bad.for_each(|s| *s = 0.0);
        strum
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_a_long_strum_no_more_is_read_than_it_is_judged_by() {
        const RATE_HZ: u32 = 8_000;
        let mut samples: Vec<f32> = (0..10 * RATE_HZ).map(|i| (i % 7) as f32).collect();
        samples[12_000] = f32::NAN;
        let whole = Take::with_onset(&samples, RATE_HZ, 10_000);
        let read = Span::of(whole.clone()).read(&samples, RATE_HZ);
        assert_eq!(read.judged_end(), whole.judged_end());
        assert_eq!(read.samples.len(), whole.judged_end());
        samples[12_000] = 0.0;
        let first = read.first as usize;
        assert_eq!(read.samples, samples[first..first + read.samples.len()]);
        assert_eq!(read.start_s(), Span::of(whole).start_s(RATE_HZ));
    }
}
