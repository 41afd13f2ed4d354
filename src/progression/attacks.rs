//! Strums that were not found as takes: the same chord struck again while it rings changes its sound
//! little. Among strums that were found, onsets that bring about as much that is new are taken for
//! strums too, and takes that bring much less are not; outside of playing along, where nobody says when
//! a strum is due, that would be rash.

use super::span::Span;
use crate::audio::{Mono, PIECE};
use crate::decibels;
use crate::spectrum::prediction::{Predictor, Products, Thinner, thinned, thinned_by};
use crate::take::{Finder, Manner, Onset, Onsets, Take};

/// What is new is read at about this rate, in Hz.
const RATE_HZ: f64 = 11_025.0;
/// Coefficients that foretell what rang before, learned from this long before, in seconds.
const ORDER: usize = 40;
const LEARNED_S: f64 = 0.11;
/// ... which ends this long before an onset, in seconds.
const BEFORE_S: f64 = 0.005;
/// What they do not foretell within this long is new, in seconds: the time of a slow strum.
const NEW_S: f64 = 0.1;
/// An onset is a strum unless it brings less that is new than the middle one of the strums found by
/// this, in dB: in 16 composed performances no strum that was found brought less by more than 9.3, other onsets
/// less by 16.5 to 26, but for one.
const LESS_NEW_DB: f64 = 16.0;
/// What a backing's strokes bring is this share of what it brings at all moments looked at, the strums' own among them: of
/// the others every second may lie between its strokes.
const LEFT_SHARE: f64 = 0.9;
/// Nearer than this after a strum's first stroke it is the same strum, in seconds, and nearer than
/// this to any of its onsets.
const APART_S: f64 = 0.2;
const NEAR_ONSET_S: f64 = 0.1;
/// A take ends this long before the next one's first onset, in seconds.
const MARGIN_S: f64 = 0.003;

/// The strums of a recording as they are found first: the takes, the onsets, of which some may be strums too, and
/// what foretells most of its sound.
pub struct Sought {
    takes: Vec<Span>,
    onsets: Vec<Onset>,
    all: Predictor,
}

impl Sought {
    /// Hears a recording from beginning to end, once.
    pub fn of(sound: &dyn Mono, rate_hz: u32) -> Sought {
        let mut finder = Finder::new(rate_hz);
        let mut detector = Onsets::new(rate_hz);
        let mut thinner = Thinner::new(thinned_by(f64::from(rate_hz), RATE_HZ));
        let mut products = Products::new(ORDER);
        let (mut takes, mut onsets) = (Vec::new(), Vec::new());
        let (mut found, mut thin) = (Vec::new(), Vec::new());
        sound.pieces(0..sound.len(), PIECE, &mut |piece| {
            finder.push(piece, &mut found);
            takes.extend(found.drain(..).map(Span::of));
            detector.push(piece, &mut onsets);
            thin.clear();
            thinner.push(piece, &mut thin);
            products.push(&thin);
        });
        finder.finish(&mut found);
        takes.extend(found.drain(..).map(Span::of));
        detector.finish(&mut onsets);
        Sought {
            takes,
            onsets,
            all: Predictor::of(&products),
        }
    }

    /// Tells how much more that is new a moment brings in `sound` than in the backing that was taken out of it, in dB.
    pub fn more_new_db(
        &self,
        sound: &dyn Mono,
        rate_hz: u32,
        taken_out: &dyn Mono,
        at_s: f64,
    ) -> f64 {
        let [left, taken] = [sound, taken_out]
            .map(|sound| Newness::new(sound, f64::from(rate_hz), self.all.clone()).db(at_s));
        left - taken
    }

    /// The strums among the takes of `sound`, and the onsets between them that bring as much. `taken_out`: the backing that
    /// was heard with them. Of a room's echo and of a microphone that turns itself down something of it is left; nobody
    /// struck what brings no more than the backing itself.
    pub fn strums(self, sound: &dyn Mono, rate_hz: u32, taken_out: Option<&dyn Mono>) -> Vec<Span> {
        let rate = f64::from(rate_hz);
        let mut strums = self.takes;
        let mut newness = Newness::new(sound, rate, self.all);
        let left_db = taken_out.map(|backing| {
            let mut taken = Newness::new(backing, rate, newness.all.clone());
            let takes = strums.iter().map(|s| s.start_s(rate_hz));
            let onsets = self.onsets.iter().map(|o| o.at as f64 / rate);
            let new = takes.chain(onsets).map(|at_s| taken.db(at_s));
            super::timing::quantile(new.collect(), LEFT_SHARE).unwrap_or(f64::NEG_INFINITY)
        });
        let left_db = left_db.unwrap_or(f64::NEG_INFINITY);
        let struck = strums.iter().map(|s| newness.db(s.start_s(rate_hz)));
        let struck: Vec<f64> = struck.collect();
        let played: Vec<f64> = struck.iter().copied().filter(|db| *db > left_db).collect();
        let Some(usual_db) = super::timing::quantile(played, 0.5) else {
            return Vec::new();
        };
        let least_db = left_db.max(usual_db - LESS_NEW_DB);
        let mut struck = struck.into_iter();
        strums.retain(|_| struck.next().is_some_and(|db| db > least_db));
        for onset in self.onsets {
            let at_s = onset.at as f64 / rate;
            let alone = strums.iter().all(|strum| {
                let away_s = at_s - strum.start_s(rate_hz);
                let last = strum.onsets[strum.onsets.len() - 1];
                let after_s = at_s - (strum.first + last) as f64 / rate;
                if away_s < 0.0 {
                    -away_s > NEAR_ONSET_S
                } else {
                    away_s > APART_S && after_s > NEAR_ONSET_S
                }
            });
            if alone && newness.db(at_s) > least_db {
                insert(&mut strums, sound.len(), rate, onset.at as usize);
            }
        }
        strums
    }
}

/// Strums whose first strokes fell at `strums_s`, in seconds; what follows one of them within
/// `longest_s` is its own later string and not another strum.
pub fn joined(strums: Vec<Span>, strums_s: Vec<f64>, longest_s: f64) -> (Vec<Span>, Vec<f64>) {
    let mut kept: (Vec<Span>, Vec<f64>) = (Vec::new(), Vec::new());
    for (strum, at_s) in strums.into_iter().zip(strums_s) {
        match (kept.0.last_mut(), kept.1.last()) {
            (Some(before), Some(before_s)) if at_s - before_s < longest_s => {
                before.length = before.end().max(strum.end()) - before.first;
                before.cut_by_next = strum.cut_by_next;
            }
            _ => {
                kept.0.push(strum);
                kept.1.push(at_s);
            }
        }
    }
    kept
}

/// Puts a strum with one onset between the others; the one before ends there. The recording has `length` samples.
fn insert(strums: &mut Vec<Span>, length: usize, rate: f64, onset: usize) {
    let margin = (MARGIN_S * rate) as usize;
    let index = strums.partition_point(|s| s.onset() < onset);
    let next = strums.get(index).map(Span::onset);
    let end = next.map_or(length, |n| n.saturating_sub(margin));
    if let Some(before) = index.checked_sub(1).map(|i| &mut strums[i]) {
        let keep = onset.saturating_sub(margin + before.first);
        if keep < before.length {
            before.length = keep;
            before.onsets.retain(|o| *o < keep);
            before.cut_by_next = true;
        }
    }
    let first = onset.saturating_sub((Take::PRE_ROLL_S * rate) as usize);
    let strum = Span {
        first,
        length: end.max(onset) - first,
        onsets: vec![onset - first],
        manner: Manner::Strummed,
        cut_by_next: next.is_some(),
    };
    strums.insert(index, strum);
}

/// How much of a recording is new at a moment. Only what is read is thinned.
struct Newness<'a> {
    sound: &'a dyn Mono,
    every: usize,
    rate: f64,
    /// What all of the recording does not foretell of a sample is unusual: after silence nothing foretells the
    /// bass of a strum, which would make it newer than one into a chord that rings.
    all: Predictor,
    predictor: Predictor,
}

impl<'a> Newness<'a> {
    fn new(sound: &'a dyn Mono, rate: f64, all: Predictor) -> Self {
        let every = thinned_by(rate, RATE_HZ);
        Newness {
            sound,
            every,
            rate: rate / every as f64,
            all,
            predictor: Predictor::default(),
        }
    }

    /// Energy that neither what rang before nor all of the recording foretells, in dB; none where there is
    /// too little before.
    fn db(&mut self, at_s: f64) -> f64 {
        let count = |seconds: f64| (seconds * self.rate) as usize;
        let length = self.sound.len() / self.every;
        let from = count((at_s - BEFORE_S).max(0.0)).min(length);
        let to = (from + count(NEW_S)).min(length);
        let Some(learned) = from.checked_sub(count(LEARNED_S)) else {
            return f64::NEG_INFINITY;
        };
        let samples = (self.sound).part(learned * self.every..to * self.every);
        let sound = thinned(&samples, self.every);
        let (before, after) = (from - learned, to - learned);
        self.predictor.learn(&sound[..before], ORDER);
        let new: f64 = (before..after)
            .map(|i| {
                self.predictor
                    .error(&sound, i)
                    .min(self.all.error(&sound, i))
            })
            .sum();
        decibels::level(new)
    }
}

#[cfg(test)]
mod tests {
    use super::{Manner, Newness, Sought, Span, joined};
    use crate::progression::examples::{RATE_HZ, sound};

    #[test]
    fn a_strum_after_silence_is_no_newer_than_one_into_a_chord_that_rings() {
        let strings = [82.4, 123.5, 164.8].map(|hz| (hz, 0.5, 1.0));
        let again = [110.0, 164.8, 220.0].map(|hz| (hz, 1.2, 1.0));
        let samples = sound(&[strings, again].concat(), f64::INFINITY);
        let all = Sought::of(&samples, RATE_HZ).all;
        let mut newness = Newness::new(&samples, f64::from(RATE_HZ), all);
        let (silence, rings) = (newness.db(0.5), newness.db(1.2));
        assert!((silence - rings).abs() < 6.0, "{silence} {rings}");
    }

    #[test]
    fn a_later_string_of_a_slow_strum_is_joined_to_it_and_a_strum_of_its_own_is_not() {
        let strum = |from: usize, to: usize, cut_by_next| Span {
            first: from,
            length: to - from,
            onsets: vec![10],
            manner: Manner::Strummed,
            cut_by_next,
        };
        let strums = vec![
            strum(0, 147, true),
            strum(100, 400, true),
            strum(390, 800, false),
        ];
        let times = vec![0.01, 0.15, 0.4];
        let (strums, times) = joined(strums, times, 0.2);
        assert_eq!(times, [0.01, 0.4]);
        assert_eq!(strums, [strum(0, 400, true), strum(390, 800, false)]);
    }
}
