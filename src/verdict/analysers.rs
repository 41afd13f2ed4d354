use std::collections::HashMap;

use super::{Analyser, Settings};
use crate::fretboard::Tuning;

/// An analyser for every rate that comes, each planned once.
pub struct Analysers {
    tuning: Tuning,
    by_rate: HashMap<u32, Analyser>,
}

impl Analysers {
    /// For guitars in this tuning.
    pub fn new(tuning: Tuning) -> Self {
        Analysers {
            tuning,
            by_rate: HashMap::new(),
        }
    }

    /// The analyser for this rate, in Hz.
    pub fn at(&mut self, rate_hz: u32) -> &mut Analyser {
        let tuning = self.tuning;
        self.by_rate
            .entry(rate_hz)
            .or_insert_with(|| Analyser::new(Settings { tuning, rate_hz }))
    }
}
