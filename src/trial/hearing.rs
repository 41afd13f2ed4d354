//! Takes of a set, found as `check` finds them in a recording whose chord is named.

use std::path::Path;

use rayon::prelude::*;

use super::{LabelledTake, Set};
use crate::audio::{AudioError, Reader};
use crate::fretboard::{Frets, Tuning};
use crate::listening::FoundTakes;
use crate::listening::saved::SAME_TAKE_S;
use crate::strings::Networks;
use crate::take::{Finder, Take};
use crate::verdict::{Analyser, AnalyserSettings, Expected, ExpectedVoicing};

/// So many samples are read before strums are looked for in them: some seconds, so that chords are looked for side by side.
const READ_AT_ONCE: usize = 1 << 18;

/// Result of one take of a set.
#[derive(Debug, Clone, PartialEq)]
pub struct TakeResult<T> {
    /// Answer for its strum; `None` where none was found.
    pub said: Option<T>,
    /// Further strums that were found in a file that holds one.
    pub further: usize,
}

/// Listens to all takes of a set, several at once, and has `say` judge each strum that is found against what was meant. Gives the
/// takes of one file after those of another, in the order of [`Set::by_file`].
///
/// # Errors
/// As [`hear_file`].
pub fn hear<'a, T: Send>(
    set: &'a Set,
    tuning: &Tuning,
    networks: &Networks,
    say: impl Fn(&mut Analyser, &Take, &Expected) -> T + Sync,
) -> Result<Vec<(&'a LabelledTake, TakeResult<T>)>, AudioError> {
    let files = set.by_file();
    let heard: Vec<Vec<TakeResult<T>>> = (files.par_iter())
        .map(|(path, takes)| hear_file(path, takes, tuning, networks, &say))
        .collect::<Result<_, _>>()?;
    let takes = files.into_iter().flat_map(|(_, takes)| takes);
    Ok(takes.zip(heard.into_iter().flatten()).collect())
}

/// Does as [`hear`] for the takes that are labelled in one file, and reads it once. Of a file that is one take the first strum
/// counts; a take that has a place of its own is the strum that begins there, within [`SAME_TAKE_S`].
///
/// # Errors
/// As [`Reader::open`] and [`Reader::read`].
pub fn hear_file<T: Send>(
    path: &Path,
    labelled: &[&LabelledTake],
    tuning: &Tuning,
    networks: &Networks,
    say: impl Fn(&mut Analyser, &Take, &Expected) -> T + Sync,
) -> Result<Vec<TakeResult<T>>, AudioError> {
    let (strums, further) = match labelled {
        [only] if only.at_s.is_none() => {
            let mut strums = FoundTakes::open(path, tuning, &meant(tuning, only))?;
            (vec![strums.next()], strums.count())
        }
        labelled => (find_all(path, tuning, labelled)?, 0),
    };
    let judged = labelled.par_iter().zip(strums).map(|(of, strum)| {
        let said = strum.map(|strum| {
            let settings = AnalyserSettings {
                tuning: *tuning,
                rate_hz: strum.rate_hz,
            };
            let mut analyser = Analyser::with_networks(settings, networks.clone());
            say(&mut analyser, &strum, &meant(tuning, of))
        });
        TakeResult { said, further }
    });
    Ok(judged.collect())
}

/// Finds the strum of each take that is labelled in one file, as if its chord alone were meant there; `None` where there is none.
///
/// # Errors
/// As [`Reader::open`] and [`Reader::read`].
fn find_all(
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
