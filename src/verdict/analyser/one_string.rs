//! A single string that is meant: the smallest exercise there is, a finger laid down and the string plucked.
//!
//! Of a chord most strings are right, and tell how far the guitar is off. One string has no other beside it: plucked a
//! fret off it looks like another chord, or like a guitar out of tune. So it is held against the frets beside it.

use super::{AS_IT_SHOULD, Analyser, fit, well};
use crate::fretboard::Frets;
use crate::strings::{Estimate, NoteOutcome};
use crate::verdict::string::{CLEAN, not_judged};
use crate::verdict::{StringVerdict, Verdict};

/// A finger lands at most so many frets off. A choice.
const REACH: u8 = 4;
/// Further than this from in tune, in cents, it may as well be another fret: half-way to the next one lie 50.
const NEAR_CENTS: f64 = 30.0;

/// The string that alone is meant to sound, and its fret.
pub(super) fn only(frets: &Frets) -> Option<(usize, u8)> {
    let mut sounding = frets.sounding();
    let first = sounding.next()?;
    sounding.next().is_none().then_some(first)
}

/// A string heard at another fret than the one that is meant.
#[derive(Debug, Clone)]
pub(super) struct Elsewhere {
    /// The fret where it sounds.
    pub fret: u8,
    /// Evidence of the strum held against that fret.
    pub heard: Estimate,
}

impl Elsewhere {
    /// Gives what is said of the string.
    pub fn verdict(&self, string: usize, meant: u8) -> StringVerdict {
        let sure = well(fit(&self.heard));
        StringVerdict {
            verdict: Verdict::WrongFret,
            heard_fret: Some(self.fret),
            rings: 1.0 - sure,
            confidence: sure,
            level_db: self.heard.levels_db[string],
            reason: None,
            ..not_judged(string, Some(meant))
        }
    }
}

/// Looks for the fret at which the one string that is meant sounds, where it is not the one of `expected`; `heard` is the
/// strum, which the analyser has read, held against `expected`. `None` where several strings are meant, too.
pub(super) fn elsewhere(
    analyser: &mut Analyser,
    expected: &Frets,
    heard: &Estimate,
) -> Option<Elsewhere> {
    let (string, meant) = only(expected)?;
    let rings = heard.outcomes[string].is_some_and(|of| of[NoteOutcome::Rings as usize] >= CLEAN);
    let off_cents = match rings {
        true => heard.notes.tuning_cents.abs(),
        false => f64::INFINITY,
    };
    if off_cents <= NEAR_CENTS {
        return None;
    }
    let tuning = analyser.settings().tuning;
    let near = meant.saturating_sub(REACH)..=meant + REACH;
    let others = std::iter::once(0).filter(|open| !near.contains(open));
    let at = |fret: u8| {
        let mut frets = *expected;
        frets.0[string] = Some(fret);
        frets
    };
    let frets: Vec<u8> = others
        .chain(near.clone().filter(|fret| *fret != meant))
        .filter(|fret| tuning.reaches(&at(*fret)).is_ok())
        .collect();
    let voicings: Vec<Frets> = frets.iter().map(|fret| at(*fret)).collect();
    let cents = |heard: &Estimate| heard.notes.tuning_cents.abs();
    let (place, heard) = (analyser.look_closely(&voicings).into_iter())
        .filter(|(_, heard)| well(fit(heard)) >= AS_IT_SHOULD && cents(heard) < off_cents)
        .min_by(|(_, a), (_, b)| cents(a).total_cmp(&cents(b)))?;
    Some(Elsewhere {
        fret: frets[place],
        heard,
    })
}
