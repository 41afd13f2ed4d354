//! Verdicts on a picked pass: each string by its own moment.

use super::string::{SHORTEST_S, judge_expected, judge_unwanted};
use super::{OUT_OF_TUNE_CENTS, Reason, StringVerdict, Take, Verdict, Warning};
use crate::fretboard::string_number;
use crate::strings::Heard;
use crate::strings::picked::{Pass, Struck};

/// Another chord is said to sound when less than this share of the strokes is explained. A choice.
const WRONG_CHORD: f32 = 0.4;
/// How sure it is that a string is dead which no stroke was heard on: it may have been left out.
const NOT_STRUCK: f32 = 0.9;

/// Fills in the strings, the tuning, and what is wrong with the take as a whole. `hear` says what became of the
/// strings at a stroke, and for how many seconds there was something to hear.
pub(super) fn judge(take: &mut Take, pass: &Pass, mut hear: impl FnMut(Struck) -> (Heard, f32)) {
    take.tuning_cents = pass.tuning_cents as f32;
    if pass.explained < WRONG_CHORD {
        take.warnings.push(Warning::WrongChord);
        return;
    }
    if pass.tuning_cents.abs() > OUT_OF_TUNE_CENTS {
        take.warnings.push(Warning::OutOfTune {
            cents: take.tuning_cents,
        });
        return;
    }
    let frets = take.frets;
    take.strings = std::array::from_fn(|s| match pass.strings[s] {
        None => not_struck(s, frets.0[s]),
        Some(stroke) => {
            let (heard, seconds) = hear(stroke);
            // What is heard last, too short to tell and no note of the string, was most likely no stroke of the pass.
            if seconds < SHORTEST_S && stroke.off_cents.is_none() {
                return not_struck(s, frets.0[s]);
            }
            let said = match frets.0[s] {
                Some(fret) => judge_expected(&heard, s, fret, seconds),
                None => judge_unwanted(&heard, s),
            };
            if seconds < SHORTEST_S {
                return too_short(said);
            }
            // Heard from where the string was plain to hear, not from where the guitar is as a whole.
            let off = stroke.off_cents.unwrap_or(0.0) as f32;
            StringVerdict {
                cents: said.cents.map(|cents| cents + off),
                ..said
            }
        }
    });
}

fn not_struck(string: usize, fret: Option<u8>) -> StringVerdict {
    StringVerdict {
        string: string_number(string),
        expected_fret: fret,
        verdict: match fret {
            Some(_) => Verdict::Muted,
            None => Verdict::Silent,
        },
        heard_fret: None,
        rings: 1.0 - NOT_STRUCK,
        confidence: NOT_STRUCK,
        cents: None,
        reason: None,
    }
}

fn too_short(said: StringVerdict) -> StringVerdict {
    StringVerdict {
        verdict: Verdict::Unsure,
        heard_fret: None,
        rings: 0.5,
        confidence: 0.5,
        cents: None,
        reason: Some(Reason::TooShort),
        ..said
    }
}
