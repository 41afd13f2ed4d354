//! Voicings of a chord: which of them a strum is, where the chord is known.
//!
//! All voicings of a chord are made of the same few notes. What tells two of them apart are the notes, octave by octave, that
//! one has and the other has not, and which strings are thick enough to sound them.
//!
//! A string's stiffness does not tell voicings apart: its fit is as near the usual for a wrong voicing as for the
//! right one. Where no voicing reaches 0.95, nothing is judged and the likeliest are named. The strum finder is
//! told no chord then.

use std::collections::BTreeMap;

use super::{Estimate, NoteOutcome};

/// How much rarer than a note that sounds as it should is one that is missing, where a voicing is meant; and than a note that
/// no string has to sound is one that does all the same.
const MISSING: f32 = 0.05;
const UNWANTED: f32 = 0.005;
/// A string that dies early has sounded its note, but may be another's shadow.
const DIES: f32 = 0.3;
/// Nothing is rarer than this.
const RAREST: f32 = 1e-3;
/// What lines that no note of a voicing explains count, against one note or one string's verdict. A choice.
const UNEXPLAINED_WEIGHT: f32 = 6.0;
/// No less than this share is explained.
const LEAST_EXPLAINED: f32 = 0.01;

/// Tells how well each voicing of one chord fits what was heard of it, as the logarithm of how rarely that happens; `heard` is what
/// was heard of each voicing in one strum.
pub fn fits(heard: &[Estimate]) -> Vec<f32> {
    let mut sounds: BTreeMap<u8, Vec<f32>> = BTreeMap::new();
    for (midi, sound) in heard.iter().flat_map(notes) {
        sounds.entry(midi).or_default().push(sound);
    }
    let sounds: Vec<(u8, f32)> = sounds
        .into_iter()
        .map(|(midi, all)| (midi, all.iter().sum::<f32>() / all.len() as f32))
        .collect();
    heard
        .iter()
        .map(|heard| {
            let has = |midi: u8| notes(heard).any(|(own, _)| own == midi);
            let of_notes: f32 = sounds
                .iter()
                .map(|&(midi, sound)| match has(midi) {
                    true => sound + MISSING * (1.0 - sound),
                    false => 1.0 - sound + UNWANTED * sound,
                })
                .map(|share| share.max(RAREST).ln())
                .sum();
            of_notes + of_unexplained(heard)
        })
        .collect()
}

/// Tells how much lines that no note of a voicing explains count: 0 where all are explained, less where some are not.
pub fn of_unexplained(heard: &Estimate) -> f32 {
    UNEXPLAINED_WEIGHT * heard.notes.explained.max(LEAST_EXPLAINED).ln()
}

/// The MIDI notes that the strings of a voicing should sound, and how probable it is that they do.
fn notes(heard: &Estimate) -> impl Iterator<Item = (u8, f32)> + '_ {
    let notes = heard.notes.expected.iter().flatten();
    notes.filter_map(|note| {
        let outcomes = heard.outcomes[note.string]?;
        let of = |outcome: NoteOutcome| outcomes[outcome as usize];
        Some((
            note.midi,
            of(NoteOutcome::Rings) + DIES * of(NoteOutcome::Choked),
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strings::examples::of_one_string;

    #[test]
    fn of_two_voicings_with_the_same_notes_the_one_that_explains_more_fits_better() {
        let fits = fits(&[
            of_one_string([1.0, 0.0, 0.0, 0.0], 0.9),
            of_one_string([1.0, 0.0, 0.0, 0.0], 0.5),
        ]);
        assert!(fits[0] > fits[1], "{fits:?}");
    }
}
