//! Takes of a set, judged as `check` judges a recording whose chord is named.

use std::path::Path;

use super::Labelled;
use crate::audio::AudioError;
use crate::fretboard::Tuning;
use crate::listening::saved::SAME_TAKE_S;
use crate::listening::{Judge, Strums};
use crate::verdict::{Expected, Take, Voicing};

/// Result of one take of a set.
#[derive(Debug, Clone, PartialEq)]
pub struct Heard {
    /// Verdicts on it; `None` where no strum was found.
    pub take: Option<Take>,
    /// Further strums that were found in a file that holds one.
    pub further: usize,
}

/// Listens to a file of a set for the take that is labelled. Of a file that holds one take the first strum counts; of
/// others the strum that begins where the label says, within [`SAME_TAKE_S`].
///
/// # Errors
/// As [`Judge::recording`], and where reading breaks off.
pub fn hear(
    judge: &mut Judge,
    tuning: &Tuning,
    path: &Path,
    labelled: &Labelled,
) -> Result<Heard, AudioError> {
    let voicing = Voicing::usual(labelled.frets, labelled.chord.clone(), tuning);
    let expected = Expected::Named(voicing);
    let Some(at_s) = labelled.at_s else {
        let mut takes = judge.recording(path, &expected)?;
        let first = takes.next().map(|judged| judged.take);
        return Ok(Heard {
            further: takes.count(),
            take: first,
        });
    };
    let off = |start_s: f64| (start_s - at_s).abs();
    let strums = Strums::open(path, tuning, &expected)?;
    let nearest = strums.min_by(|a, b| off(a.start_s()).total_cmp(&off(b.start_s())));
    let nearest = nearest.filter(|strum| off(strum.start_s()) <= SAME_TAKE_S);
    Ok(Heard {
        take: nearest.map(|strum| judge.strum(&strum, &expected)),
        further: 0,
    })
}
