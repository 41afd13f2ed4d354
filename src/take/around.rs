//! The sound around an attack, at the rate at which its lines are read.

use super::history::RecentSamples;
use crate::spectrum::Decimator;

/// A stretch of the recording brought down to about 11 kHz: the lines that are looked for lie below 2 kHz.
#[derive(Debug)]
pub(super) struct Around {
    decimator: Decimator,
    sound: Vec<f32>,
    low: Vec<f32>,
    from: u64,
}

impl Around {
    /// Plans for recordings at `rate_hz`.
    pub fn new(rate_hz: u32) -> Self {
        Around {
            decimator: Decimator::new(rate_hz),
            sound: Vec::new(),
            low: Vec::new(),
            from: 0,
        }
    }

    /// Samples of the recording to one here.
    pub fn factor(&self) -> u64 {
        self.decimator.factor() as u64
    }

    /// Rate in Hz of what [`from`](Around::from) gives.
    pub fn rate_hz(&self) -> f64 {
        self.decimator.rate_hz()
    }

    /// Reads the stretch between two positions of the recording; silence stands where there is no sound.
    pub fn fill(&mut self, history: &RecentSamples, from: u64, to: u64) {
        self.from = from;
        self.sound.resize(to.saturating_sub(from) as usize, 0.0);
        history.copy(from, &mut self.sound);
        self.decimator.run(&self.sound, &mut self.low);
    }

    /// Samples of the recording between the sound that [`from`](Around::from) gives for two positions.
    pub fn between(&self, from: u64, to: u64) -> u64 {
        let index = |at: u64| at.saturating_sub(self.from) / self.factor();
        (index(to) - index(from)) * self.factor()
    }

    /// The sound from a position of the recording on, as far as the stretch goes.
    pub fn from(&self, at: u64) -> &[f32] {
        let first = (at.saturating_sub(self.from) / self.factor()) as usize;
        &self.low[first.min(self.low.len())..]
    }
}
