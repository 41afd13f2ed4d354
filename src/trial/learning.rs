//! An offset learnt of one guitar from its own trial: how readily a string is said to ring.
//!
//! Of the offsets of [`Learnt`] `rings` alone is learnt, in two steps. The first finds the most probable one: each string of the
//! trial that rings or does not says how probable it makes that (logistic likelihood), some labels taken for wrong, and a normal
//! law about zero holds it to what is built in. In the second every take is left out in turn and told with the offset that the
//! others teach: where that makes fewer strings right than what is built in, nothing is learnt. What this brings on simulated
//! players, and what else was tried, is in `fixtures/measured/trial.md`.

use super::hearing::hear;
use super::range::ToldTake;
use super::{Deed, Score, Set};
use crate::audio::AudioError;
use crate::fretboard::{STRINGS, Tuning};
use crate::strings::{Learnt, Networks};
use crate::verdict::Evidence;

/// Offsets that are tried: so many steps of so much on each side of zero.
const STEPS: usize = 12;
const STEP: f32 = 0.25;
/// Standard deviation of the offset of a guitar, before its trial. Of 0.25, 0.5, 0.75, 1 and 1.5 the largest with which no trial on
/// the guitars to develop on came near a loss of 0.005 (`fixtures/measured/trial.md`).
pub const SPREAD: f32 = 0.75;
/// Share of the labels that are taken for wrong: a player who is asked back still overlooks some. A choice; 0.02 and 0.1 taught
/// the same.
const MISTAKEN: f32 = 0.05;
/// Fewest takes from which something is learnt.
pub const FEWEST: usize = 12;

/// A take whose strings are known.
#[derive(Debug, Clone)]
pub struct KnownTake {
    /// Deeds done to the strings, 6 to 1.
    pub deeds: [Deed; STRINGS],
    /// Evidence that was heard; `None` where no strum was found.
    pub evidence: Option<Evidence>,
}

impl KnownTake {
    /// Strings that are told right with these offsets.
    pub fn right(&self, learnt: &Learnt) -> i32 {
        let Some(take) = self.evidence.as_ref().map(|e| e.take(learnt)) else {
            return 0;
        };
        let told = |(deed, said): (&Deed, _)| take.judged() && deed.told_in(said);
        self.deeds
            .iter()
            .zip(&take.strings)
            .filter(|s| told(*s))
            .count() as i32
    }

    /// Counts what was told right of its strings, and of it as a whole, with these offsets.
    pub fn told(&self, learnt: &Learnt) -> (ToldTake, ToldTake) {
        let done = self.deeds.iter().find(|deed| deed.is_fault());
        let (right, of) = (self.right(learnt) as u32, self.counted());
        let told = |right, of| ToldTake {
            kind: done.copied().unwrap_or(Deed::Clean),
            right,
            of,
        };
        (told(right, of), told(u32::from(right == of), 1))
    }

    /// Strings that are counted.
    pub fn counted(&self) -> u32 {
        let known = self.deeds.iter().filter(|deed| **deed != Deed::Unknown);
        known.count() as u32
    }
}

/// Listens to the takes of a set.
///
/// # Errors
/// As [`hear`].
pub fn known(set: &Set, tuning: &Tuning) -> Result<Vec<KnownTake>, AudioError> {
    let heard = hear(
        set,
        tuning,
        &Networks::built_in(),
        |analyser, strum, expected| {
            let frets = expected.named().expect("a take has one voicing").frets;
            analyser.evidence(strum, &frets)
        },
    )?;
    let known = heard.into_iter().map(|(row, heard)| KnownTake {
        deeds: row.deeds,
        evidence: heard.said,
    });
    Ok(known.collect())
}

/// Counts what is said of these takes with these offsets.
pub fn score(takes: &[KnownTake], learnt: &Learnt) -> Score {
    let mut score = Score::default();
    for take in takes {
        let said = take.evidence.as_ref().map(|evidence| evidence.take(learnt));
        score.add(&take.deeds, said.as_ref());
    }
    score
}

/// Lesson of a trial, and how that was seen to help.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Learning {
    /// The offsets; nothing where none helps.
    pub learnt: Learnt,
    /// Strings right by what is built in.
    pub built_in: u32,
    /// Strings right in takes left out in turn, each by what the others teach.
    pub left_out: u32,
    /// Strings that are counted.
    pub of: u32,
}

/// The offset at a place of the row that is tried.
fn at(place: usize) -> Learnt {
    Learnt {
        rings: (place as f32 - STEPS as f32) * STEP,
        ..Learnt::default()
    }
}

/// Log-likelihood of what is known of one take at each offset that is tried.
type Row = [f32; 2 * STEPS + 1];

/// Tells how probable each offset makes what is known of a take; nothing where it was not found or not judged.
fn row(take: &KnownTake) -> Row {
    let Some(evidence) = &take.evidence else {
        return Row::default();
    };
    std::array::from_fn(|place| {
        let said = evidence.take(&at(place));
        let strings = take.deeds.iter().zip(&said.strings);
        let known = strings.filter(|(_, said)| said.expected_fret.is_some());
        let known = known.filter_map(|(deed, said)| Some((deed.rings()?, said.rings)));
        let likely = known.map(|(rings, p)| {
            let right = if rings { p } else { 1.0 - p };
            (MISTAKEN + (1.0 - 2.0 * MISTAKEN) * right).ln()
        });
        likely.sum()
    })
}

/// The most probable offset by these likelihoods, summed over takes.
fn best(sum: &Row, spread: f32) -> Learnt {
    let worth = |place: usize| sum[place] - (at(place).rings / spread).powi(2) / 2.0;
    // Zero first, then outwards: what is no better than what is built in does not win.
    let outwards = (1..=STEPS).flat_map(|step| [STEPS + step, STEPS - step]);
    let better = |found, place| match worth(place) > worth(found) {
        true => place,
        false => found,
    };
    at(outwards.fold(STEPS, better))
}

/// Learns from the takes of a trial.
pub fn learn(takes: &[KnownTake]) -> Learning {
    learn_within(takes, SPREAD)
}

/// Does [`learn`] with another spread of the guitars, as measuring needs.
pub fn learn_within(takes: &[KnownTake], spread: f32) -> Learning {
    let nothing = Learnt::default();
    let built_in: i32 = takes.iter().map(|take| take.right(&nothing)).sum();
    let mut lesson = Learning {
        learnt: nothing,
        built_in: built_in as u32,
        left_out: built_in as u32,
        of: takes.iter().map(KnownTake::counted).sum(),
    };
    if takes.len() < FEWEST {
        return lesson;
    }
    let rows: Vec<Row> = takes.iter().map(row).collect();
    let sum: Row = std::array::from_fn(|place| rows.iter().map(|row| row[place]).sum());
    let without = |row: &Row| std::array::from_fn(|place| sum[place] - row[place]);
    let left_out: i32 = (takes.iter().zip(&rows))
        .map(|(take, row)| take.right(&best(&without(row), spread)))
        .sum();
    if left_out >= built_in {
        lesson.learnt = best(&sum, spread);
        lesson.left_out = left_out as u32;
    }
    lesson
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Likelihoods that rise by `gain` from zero down to `to`, and stay.
    fn falling(to: f32, gain: f32) -> Row {
        std::array::from_fn(|place| gain * (at(place).rings / to).clamp(0.0, 1.0))
    }

    #[test]
    fn an_offset_is_taken_where_it_gains_more_than_it_costs() {
        assert_eq!(best(&Row::default(), SPREAD), Learnt::default());
        assert_eq!(best(&falling(-1.0, 4.0), SPREAD), at(STEPS - 4));
        // A little is not worth going so far, and the less the more strongly it is held.
        let little = best(&falling(-2.0, 1.0), SPREAD).rings;
        assert!((-0.5..0.0).contains(&little), "{little}");
        assert_eq!(best(&falling(-2.0, 1.0), SPREAD / 4.0), Learnt::default());
    }

    #[test]
    fn from_few_takes_and_from_takes_that_were_not_found_nothing_is_learnt() {
        let take = KnownTake {
            deeds: [Deed::Touched; STRINGS],
            evidence: None,
        };
        for count in [1, FEWEST, 40] {
            let lesson = learn(&vec![take.clone(); count]);
            assert!(lesson.learnt.is_nothing());
            assert_eq!((lesson.built_in, lesson.left_out), (0, 0));
            assert_eq!(lesson.of as usize, 6 * count);
        }
    }

    proptest! {
        #[test]
        fn an_offset_is_never_less_probable_than_none(row in prop::collection::vec(-50.0f32..0.0, 2 * STEPS + 1)) {
            let row: Row = row.try_into().unwrap();
            let found = best(&row, SPREAD);
            let place = (found.rings / STEP) as isize + STEPS as isize;
            prop_assert!(row[place as usize] >= row[STEPS]);
        }
    }
}
