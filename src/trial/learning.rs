//! Offsets learnt of one guitar from its own trial: a few, held to what is built in, and none that does not help.
//!
//! Each offset of [`Learnt`] is looked for by itself: the one that makes most strings of the trial right, those near it
//! counted too, less what it costs to leave zero. Then every take is left out in turn: an offset found on the others is
//! tried on it. Only an offset that makes enough strings of takes left out right is kept. What that brings on simulated
//! players, and where it loses, is in `fixtures/measured/trial.md`.

use std::collections::HashMap;

use super::hearing::find_all;
use super::range::Told;
use super::{Deed, Score, Set};
use crate::audio::AudioError;
use crate::fretboard::{STRINGS, Tuning};
use crate::listening::FoundTakes;
use crate::strings::Learnt;
use crate::verdict::{Analyser, AnalyserSettings, Evidence, Expected, ExpectedVoicing};

/// Offsets that are tried: so many steps of so much on each side of zero.
const STEPS: usize = 12;
const STEP: f32 = 0.25;
/// Offsets so many steps around one count as much as it does: what just reaches is not held to.
const AROUND: usize = 2;
/// Force that holds offsets to what is built in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Holding {
    /// Cost of an offset of 1, in strings; it grows with the square.
    pub pull: f32,
    /// An offset is kept where it makes so many strings more right in takes left out.
    pub least_gain: i32,
}

/// Best of four ways that were tried on one simulated guitar, with which no trial lost more than 0.005
/// (`fixtures/measured/trial.md`).
pub const HOLDING: Holding = Holding {
    pull: 2.0,
    least_gain: 3,
};
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
    pub fn told(&self, learnt: &Learnt) -> (Told, Told) {
        let done = self.deeds.iter().find(|deed| deed.is_fault());
        let (right, of) = (self.right(learnt) as u32, self.counted());
        let told = |right, of| Told {
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

/// Listens to the takes of a set: a file by its first strum, as [`hear`](super::hear) does, or one that takes share by the strum
/// of each, as [`hear_all`](super::hear_all) does.
///
/// # Errors
/// As [`FoundTakes::open`] and [`hear_all`](super::hear_all).
pub fn known(set: &Set, tuning: &Tuning) -> Result<Vec<KnownTake>, AudioError> {
    let mut analysers: HashMap<u32, Analyser> = HashMap::new();
    let mut takes = Vec::with_capacity(set.rows().len());
    for (file, rows) in set.by_file() {
        let strums = match rows.as_slice() {
            [only] if only.at_s.is_none() => {
                let voicing = ExpectedVoicing::usual(only.frets, only.chord.clone(), tuning);
                let mut strums = FoundTakes::open(&file, tuning, &Expected::Named(voicing))?;
                vec![strums.next()]
            }
            rows => find_all(&file, tuning, rows)?,
        };
        for (row, strum) in rows.iter().zip(strums) {
            let evidence = strum.map(|strum| {
                let rate_hz = strum.rate_hz;
                let settings = AnalyserSettings {
                    tuning: *tuning,
                    rate_hz,
                };
                let analyser = analysers
                    .entry(rate_hz)
                    .or_insert_with(|| Analyser::new(settings));
                analyser.evidence(&strum, &row.frets)
            });
            takes.push(KnownTake {
                deeds: row.deeds,
                evidence,
            });
        }
    }
    Ok(takes)
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

/// Lesson of a trial: what was learnt, and how that was seen to help.
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

/// One of the offsets.
#[derive(Debug, Clone, Copy)]
enum Offset {
    Rings,
    Unwanted,
    Buzzes,
}

const OFFSETS: [Offset; 3] = [Offset::Rings, Offset::Unwanted, Offset::Buzzes];

impl Offset {
    fn set(self, learnt: &mut Learnt, to: f32) {
        match self {
            Offset::Rings => learnt.rings = to,
            Offset::Unwanted => learnt.unwanted = to,
            Offset::Buzzes => learnt.buzzes = to,
        }
    }
}

/// The offset at a place of the row that is tried.
fn at(place: usize) -> f32 {
    (place as f32 - STEPS as f32) * STEP
}

/// Right strings of one take at each offset that is tried.
type Row = [i32; 2 * STEPS + 1];

/// The offset that these counts, summed over takes, speak for.
fn best(sum: &Row, pull: f32) -> f32 {
    let worth = |place: usize| {
        let near = place.saturating_sub(AROUND)..=(place + AROUND).min(2 * STEPS);
        let count = near.clone().count() as f32;
        let right: i32 = sum[near].iter().sum();
        right as f32 / count - pull * at(place) * at(place)
    };
    // Zero first, then outwards: what is no better than what is built in does not win.
    let outwards = (0..=STEPS).flat_map(|step| [STEPS + step, STEPS - step]);
    let mut found = (STEPS, worth(STEPS));
    for place in outwards {
        let worth = worth(place);
        if worth > found.1 + 1e-6 {
            found = (place, worth);
        }
    }
    at(found.0)
}

/// Learns from the takes of a trial.
pub fn learn(takes: &[KnownTake]) -> Learning {
    learn_holding(takes, HOLDING)
}

/// Does [`learn`] while holding otherwise to what is built in, as measuring needs.
pub fn learn_holding(takes: &[KnownTake], Holding { pull, least_gain }: Holding) -> Learning {
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
    // What each take teaches when it is left out, of offsets that help.
    let mut left_out = vec![nothing; takes.len()];
    for offset in OFFSETS {
        let with = |to: f32| {
            let mut learnt = Learnt::default();
            offset.set(&mut learnt, to);
            learnt
        };
        let rows: Vec<Row> = (takes.iter())
            .map(|take| std::array::from_fn(|place| take.right(&with(at(place)))))
            .collect();
        let mut sum = [0; 2 * STEPS + 1];
        for row in &rows {
            sum.iter_mut()
                .zip(row)
                .for_each(|(sum, right)| *sum += right);
        }
        let without = |row: &Row| {
            let mut rest = sum;
            rest.iter_mut()
                .zip(row)
                .for_each(|(rest, right)| *rest -= right);
            best(&rest, pull)
        };
        let others: Vec<f32> = rows.iter().map(without).collect();
        let gain: i32 = (takes.iter().zip(&others).zip(&rows))
            .map(|((take, to), row)| take.right(&with(*to)) - row[STEPS])
            .sum();
        if gain >= least_gain {
            offset.set(&mut lesson.learnt, best(&sum, pull));
            for (learnt, to) in left_out.iter_mut().zip(&others) {
                offset.set(learnt, *to);
            }
        }
    }
    let together: i32 = (takes.iter().zip(&left_out))
        .map(|(take, learnt)| take.right(learnt))
        .sum();
    if together < built_in + least_gain {
        lesson.learnt = nothing;
    } else {
        lesson.left_out = together as u32;
    }
    lesson
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// So many strings right where the offset lies in a range, and `elsewhere` right else.
    fn row(right: std::ops::RangeInclusive<f32>, elsewhere: i32, gain: i32) -> Row {
        std::array::from_fn(|place| match right.contains(&at(place)) {
            true => elsewhere + gain,
            false => elsewhere,
        })
    }

    #[test]
    fn an_offset_is_taken_where_it_gains_more_than_it_costs_and_not_at_the_edge() {
        let pull = 0.5;
        assert_eq!(best(&row(-3.0..=3.0, 100, 0), pull), 0.0);
        // Five strings more from -1 on downwards.
        let found = best(&row(-3.0..=-1.0, 100, 5), pull);
        assert!((-2.0..=-1.25).contains(&found), "{found}");
        // One string is not worth so much.
        assert_eq!(best(&row(-3.0..=-2.0, 100, 1), pull), 0.0);
        // What is held to more strongly is left less.
        let strongly = best(&row(-3.0..=-1.0, 100, 5), 2.0);
        assert!(strongly > found, "{strongly}");
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
        fn an_offset_never_makes_fewer_strings_right_around_it(
            right in prop::collection::vec(0i32..200, 2 * STEPS + 1),
        ) {
            let row: Row = right.try_into().unwrap();
            let near = |offset: f32| {
                let place = (offset / STEP).round() as isize + STEPS as isize;
                let places = (place - AROUND as isize).max(0)..=(place + AROUND as isize).min(2 * STEPS as isize);
                let all: Vec<i32> = places.map(|p| row[p as usize]).collect();
                all.iter().sum::<i32>() as f32 / all.len() as f32
            };
            prop_assert!(near(best(&row, 0.5)) >= near(0.0) - 1e-3);
        }
    }
}
