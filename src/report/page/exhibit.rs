//! Sound and pictures of single takes for a page, found again in the sound that they are kept in.

use super::{PlayedTake, wav};
use crate::fretboard::Tuning;
use crate::listening::saved::SAME_TAKE_S;
use crate::report::plot::PlottedTake;
use crate::strings::view::Viewer;
use crate::take::Take;
use crate::verdict::{Expected, ExpectedVoicing};

/// Pictures and sound of one take, for a page.
#[derive(Debug, Clone)]
pub struct Exhibit {
    /// The take and its sound, ready for pictures.
    pub shown: PlottedTake,
    /// A WAV file.
    pub sound: Vec<u8>,
}

impl Exhibit {
    /// Shows the strum that `played` is the judgement of, on a guitar in `tuning`.
    pub fn of(strum: Take, played: &PlayedTake, tuning: &Tuning) -> Exhibit {
        let sound = wav(&strum.samples, strum.rate_hz, strum.onsets[0]);
        let mut viewer = Viewer::new(strum.rate_hz, *tuning);
        let (take, name) = (played.take.clone(), played.name.clone());
        let shown = PlottedTake::new(&mut viewer, strum, take, *tuning, name);
        Exhibit { shown, sound }
    }
}

/// Gives what was meant in a recording of these takes: all their voicings.
pub fn meant<'a>(takes: impl Iterator<Item = &'a PlayedTake>, tuning: &Tuning) -> Expected {
    let mut voicings: Vec<ExpectedVoicing> = Vec::new();
    for take in takes.map(|played| &played.take) {
        if voicings.iter().all(|known| known.frets != take.frets) {
            voicings.push(ExpectedVoicing::usual(
                take.frets,
                take.chord.clone(),
                tuning,
            ));
        }
    }
    Expected::Among(voicings)
}

/// Gives for each take the strum that begins nearest to it, `None` where none begins so near that it is the same.
pub fn nearest(strums: impl Iterator<Item = Take>, takes: &[&PlayedTake]) -> Vec<Option<Take>> {
    let mut nearest: Vec<(f64, Option<Take>)> = vec![(SAME_TAKE_S, None); takes.len()];
    for strum in strums {
        for (played, nearest) in takes.iter().zip(&mut nearest) {
            let off = (strum.start_s() - played.take.start_s).abs();
            if off < nearest.0 {
                *nearest = (off, Some(strum.clone()));
            }
        }
    }
    nearest.into_iter().map(|(_, strum)| strum).collect()
}
