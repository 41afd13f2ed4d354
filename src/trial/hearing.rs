//! Takes of a set, judged as `check` judges a recording whose chord is named.

use std::path::Path;

use rayon::prelude::*;

use super::LabelledTake;
use crate::audio::{AudioError, Reader};
use crate::fretboard::{Frets, Tuning};
use crate::listening::Judge;
use crate::listening::saved::SAME_TAKE_S;
use crate::take::{Finder, Take};
use crate::verdict::{Expected, ExpectedVoicing, JudgedTake};

/// So many samples are read before strums are looked for in them: some seconds, so that chords are looked for side by side.
const READ_AT_ONCE: usize = 1 << 18;

/// Result of one take of a set.
#[derive(Debug, Clone, PartialEq)]
pub struct TakeResult {
    /// Verdicts on it; `None` where no strum was found.
    pub take: Option<JudgedTake>,
    /// Further strums that were found in a file that holds one.
    pub further: usize,
}

/// Listens to a file of a set for its only take: the first strum counts.
///
/// # Errors
/// As [`Judge::recording`].
pub fn hear(
    judge: &mut Judge,
    path: &Path,
    labelled: &LabelledTake,
) -> Result<TakeResult, AudioError> {
    let expected = meant(judge.tuning(), labelled);
    let mut takes = judge.recording(path, &expected)?;
    let first = takes.next().map(|judged| judged.take);
    Ok(TakeResult {
        further: takes.count(),
        take: first,
    })
}

/// Listens to a file of a set for all its takes, and reads it once. Each is the strum that begins where its label says, within
/// [`SAME_TAKE_S`]. Gives one for each of `labelled`, in their order.
///
/// # Errors
/// As [`Reader::open`] and [`Reader::read`].
pub fn hear_all(
    judge: &mut Judge,
    path: &Path,
    labelled: &[&LabelledTake],
) -> Result<Vec<TakeResult>, AudioError> {
    let tuning = *judge.tuning();
    let strums = find_all(path, &tuning, labelled)?;
    let heard = labelled.iter().zip(strums).map(|(of, strum)| TakeResult {
        take: strum.map(|strum| judge.strum(&strum, &meant(&tuning, of))),
        further: 0,
    });
    Ok(heard.collect())
}

/// Finds the strum of each take that is labelled in one file, as if its chord alone were meant there; `None` where there is none.
///
/// # Errors
/// As [`Reader::open`] and [`Reader::read`].
pub(super) fn find_all(
    path: &Path,
    tuning: &Tuning,
    labelled: &[&LabelledTake],
) -> Result<Vec<Option<Take>>, AudioError> {
    let mut reader = Reader::open(path)?;
    let mut chords: Vec<OfChord> = Vec::new();
    for (place, of) in labelled.iter().enumerate() {
        let wanted = Wanted {
            place,
            at_s: of.at_s.unwrap_or(0.0),
            nearest: None,
        };
        match chords.iter_mut().find(|chord| chord.frets == of.frets) {
            Some(chord) => chord.wanted.push(wanted),
            None => chords.push(OfChord {
                frets: of.frets,
                finder: meant(tuning, of).finder(reader.rate_hz(), tuning),
                wanted: vec![wanted],
                found: Vec::new(),
            }),
        }
    }
    let (mut block, mut samples) = (Vec::new(), Vec::new());
    let mut goes_on = true;
    while goes_on {
        samples.clear();
        while goes_on && samples.len() < READ_AT_ONCE {
            goes_on = reader.read(&mut block)?;
            samples.extend_from_slice(&block);
        }
        chords.par_iter_mut().for_each(|chord| {
            chord.finder.push(&samples, &mut chord.found);
            if !goes_on {
                chord.finder.finish(&mut chord.found);
            }
            chord.sort();
        });
    }
    let mut found = vec![None; labelled.len()];
    for wanted in chords.into_iter().flat_map(|chord| chord.wanted) {
        found[wanted.place] = wanted.nearest;
    }
    Ok(found)
}

fn meant(tuning: &Tuning, labelled: &LabelledTake) -> Expected {
    let voicing = ExpectedVoicing::usual(labelled.frets, labelled.chord.clone(), tuning);
    Expected::Named(voicing)
}

/// The takes of one chord in a file.
struct OfChord {
    frets: Frets,
    finder: Finder,
    wanted: Vec<Wanted>,
    /// Strums that are not sorted yet.
    found: Vec<Take>,
}

/// A take that is looked for.
struct Wanted {
    /// Its place among those of the file.
    place: usize,
    at_s: f64,
    /// The strum that begins nearest to it, of those within reach.
    nearest: Option<Take>,
}

impl OfChord {
    /// Gives each strum to the takes that it may be.
    fn sort(&mut self) {
        for strum in self.found.drain(..) {
            for wanted in &mut self.wanted {
                let off = |strum: &Take| (strum.start_s() - wanted.at_s).abs();
                let nearer = (wanted.nearest.as_ref()).is_none_or(|known| off(&strum) < off(known));
                if off(&strum) <= SAME_TAKE_S && nearer {
                    wanted.nearest = Some(strum.clone());
                }
            }
        }
    }
}
