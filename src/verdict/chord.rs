//! The chord that is meant, against what sounds: whether it is that, and in tune; else no string is judged.

use super::Warning;
use crate::fretboard::Frets;
use crate::strings::picked::Pass;
use crate::strings::{Estimate, OUTCOMES};

/// Off by more than this the guitar is to be tuned first: half way to the next semitone lies at 50 cents.
const OUT_OF_TUNE_CENTS: f64 = 45.0;
/// The strongest line must stand this far above its surroundings while the strings are struck, in dB. White and pink noise alone
/// give 9.1 to 17.4 (800 stretches of 0.15 to 0.5 s); of 15 real chords the least is 35.8, and with noise as loud as they are one
/// in ten lies below 20.8 (GuitarSet 00_BN1).
const TOO_NOISY_DB: f32 = 20.0;
/// Another chord is said to sound when at most this share of the expected strings ring ...
const OTHER_RINGS: f32 = 0.5;
/// ... and less than this share of the lines heard belong to the expected notes. Both are choices.
const OTHER_EXPLAINED: f32 = 0.5;
/// In a picked pass, where each stroke is a note by itself, it is when less than this share of the strokes that are plainly a note are notes of the expected
/// one. Of 640 composed passes with up to two faults it was 0.5 at least.
const OTHER_STROKES: f32 = 0.3;

/// Why a strum is not judged string by string, where it is not.
pub(super) fn not_the_chord(heard: &Estimate, expected: &Frets) -> Option<Warning> {
    let notes = &heard.notes;
    if notes.strongest_db < TOO_NOISY_DB {
        return Some(Warning::TooNoisy {
            snr_db: notes.strongest_db,
        });
    }
    let rings = |o: &&[f32; OUTCOMES]| o[0] > 0.5;
    let ringing = heard.outcomes.iter().flatten().filter(rings).count() as f32;
    let sounding = expected.sounding().count().max(1) as f32;
    if ringing <= OTHER_RINGS * sounding && notes.explained < OTHER_EXPLAINED {
        return Some(Warning::WrongChord { heard: None });
    }
    out_of_tune(notes.tuning_cents)
}

/// Tells whether another chord than the expected one is picked.
pub(super) fn is_another_chord_picked(pass: &Pass) -> bool {
    pass.of_voicing.is_some_and(|share| share < OTHER_STROKES)
}

/// Says that the guitar is out of tune, by so many cents, where it is by too much.
pub(super) fn out_of_tune(cents: f64) -> Option<Warning> {
    (cents.abs() > OUT_OF_TUNE_CENTS).then_some(Warning::OutOfTune {
        cents: cents as f32,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strings::examples::of_one_string;

    #[test]
    fn it_is_another_chord_where_nothing_rings_and_most_lines_are_no_expected_notes() {
        let frets = "0xxxxx".parse().unwrap();
        let silent = |explained| of_one_string([0.0, 0.0, 1.0, 0.0], explained);
        let other = Some(Warning::WrongChord { heard: None });
        assert_eq!(not_the_chord(&silent(0.4), &frets), other);
        assert_eq!(not_the_chord(&silent(0.6), &frets), None);
    }
}
