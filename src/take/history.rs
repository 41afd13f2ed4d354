//! The last stretch of the recording, addressed by position in the whole of it.

/// Samples kept, from position `first` on.
#[derive(Debug, Default)]
pub(super) struct RecentSamples {
    samples: Vec<f32>,
    first: u64,
}

impl RecentSamples {
    pub fn push(&mut self, samples: &[f32]) {
        // A decoder may hand over a NaN; one would poison every sum after it.
        self.samples
            .extend(samples.iter().map(|s| if s.is_finite() { *s } else { 0.0 }));
    }

    /// One past the last sample.
    pub fn end(&self) -> u64 {
        self.first + self.samples.len() as u64
    }

    /// Samples from one position to another, as far as they are kept.
    pub fn slice(&self, from: u64, to: u64) -> &[f32] {
        let index = |at: u64| (at.saturating_sub(self.first) as usize).min(self.samples.len());
        let (from, to) = (index(from), index(to));
        &self.samples[from..to.max(from)]
    }

    /// The kept position nearest to this one.
    pub fn clamp(&self, at: u64) -> u64 {
        at.clamp(self.first, self.end())
    }

    /// Copies from a position on; zeros stand where there is no sound.
    pub fn copy(&self, from: u64, into: &mut [f32]) {
        into.fill(0.0);
        let sound = self.slice(from, from + into.len() as u64);
        let skipped = (self.first.saturating_sub(from) as usize).min(into.len());
        into[skipped..skipped + sound.len()].copy_from_slice(sound);
    }

    /// Energy of the sample-to-sample differences, which favours the click of an attack over what
    /// rings below it.
    pub fn edge_energy(&self, from: u64, to: u64) -> f64 {
        let before = if from > self.first { from - 1 } else { from };
        self.slice(before, to)
            .windows(2)
            .map(|pair| f64::from(pair[1] - pair[0]).powi(2))
            .sum()
    }

    /// Mean power from one position to another.
    pub fn power(&self, from: u64, to: u64) -> f64 {
        let sound = self.slice(from, to);
        let sum: f64 = sound.iter().map(|s| f64::from(*s).powi(2)).sum();
        sum / sound.len().max(1) as f64
    }

    /// Forgets what lies before a position, once that is worth the move.
    pub fn forget(&mut self, before: u64) {
        let old = (before.saturating_sub(self.first) as usize).min(self.samples.len());
        if old > self.samples.len() / 2 && old > 4096 {
            self.samples.drain(..old);
            self.first += old as u64;
        }
    }
}
