//! Moment at which the sound stops going on as it did: a linear predictor learns what rang before an attack;
//! the first stroke is where it first fails. Ringing strings are predictable, however loud,
//! so this finds a soft first stroke under them.

use super::history::RecentSamples;
use crate::spectrum::prediction::{Predictor, thinned, thinned_by};

/// The predictor works at about this rate, in Hz: above half of it soft strings have little.
const RATE_HZ: f64 = 8_000.0;
/// Enough for the stronger partials of six strings, two coefficients each.
const ORDER: usize = 40;
/// Length of sound learned from.
const LEARN_S: f64 = 0.09;
/// The first stroke is sought from this long before the first onset heard.
const SEARCH_S: f64 = 0.06;
/// Sound of the attack itself, whose error the others are held against.
const ATTACK_S: f64 = 0.006;
/// Stretch over which the error is averaged.
const STRETCH_S: f64 = 0.002;
/// The predictor has failed where its error exceeds the largest in the learned sound this many
/// times, in power ...
const FAILED: f64 = 2.5;
/// ... and this share of the error at the attack.
const FAILED_SHARE: f64 = 0.02;
/// A string struck goes on failing it; the touch of a hand is over sooner than this.
const PAUSE_S: f64 = 0.008;

/// Buffers for one prediction after another.
#[derive(Debug)]
pub(super) struct Departure {
    /// Samples of the sound in one of the predictor, and the predictor's rate in Hz.
    every: u64,
    sub_hz: f64,
    predictor: Predictor,
    error: Vec<f64>,
}

impl Departure {
    pub fn new(rate_hz: u32) -> Self {
        let every = thinned_by(f64::from(rate_hz), RATE_HZ);
        Departure {
            every: every as u64,
            sub_hz: f64::from(rate_hz) / every as f64,
            predictor: Predictor::default(),
            error: Vec::new(),
        }
    }

    /// The position from which on prediction fails without a pause up to `main`, the onset that
    /// stands out. `first` is the first onset heard; nothing before `bound` is looked at. `None`
    /// where there is too little sound to learn from.
    pub fn find(
        &mut self,
        history: &RecentSamples,
        bound: u64,
        first: u64,
        main: u64,
    ) -> Option<u64> {
        let (every, sub_hz) = (self.every, self.sub_hz);
        let span = |seconds: f64| (seconds * sub_hz) as usize;
        let learn = span(LEARN_S);
        let search = span(SEARCH_S) + ((main - first) / every) as usize;
        let from = main.checked_sub((learn + search) as u64 * every)?;
        if history.clamp(from) != from {
            return None;
        }
        let sound = history.slice(from, main + (ATTACK_S * sub_hz) as u64 * every);
        let sound = thinned(sound, every as usize);
        self.predictor.learn(&sound[..learn], ORDER);
        self.error.clear();
        let errors = (ORDER..sound.len()).map(|i| self.predictor.error(&sound, i));
        self.error.extend(errors);
        let stretch = span(STRETCH_S).max(1);
        let mean = |i: usize| self.error[i..i + stretch].iter().sum::<f64>() / stretch as f64;
        let learned = learn - ORDER;
        let usual = (learned / 2..learned - stretch)
            .map(mean)
            .fold(1e-16, f64::max);
        let attack = learned + search;
        let last = self.error.len().checked_sub(stretch)?;
        let loudest = (attack.min(last)..=last).map(mean).fold(0.0, f64::max);
        let failed = (FAILED * usual).max(FAILED_SHARE * loudest);
        let bound = (bound.saturating_sub(from) / every) as usize;
        let lowest = learned.max(bound.saturating_sub(ORDER));
        let (mut start, mut at) = (attack.min(last), attack.min(last));
        while at > lowest && start - at <= span(PAUSE_S) {
            at -= 1;
            if mean(at) > failed {
                start = at;
            }
        }
        // The stretch reaches ahead of the failure: it lies where a single error is large.
        let exact = (start..start + stretch)
            .find(|&i| self.error[i] > failed)
            .unwrap_or(start);
        Some((from + (exact + ORDER) as u64 * every).min(main))
    }
}
