//! Verdicts on a picked pass: each string by its own moment.

use super::analyser::OUT_OF_TUNE_CENTS;
use super::{Reason, StringVerdict, Take, Verdict, Warning};
use crate::fretboard::{STRINGS, string_number};
use crate::strings::picked::{Pass, Plucked};

/// Another chord is said to sound when less than this share of the strokes is explained. A choice.
const WRONG_CHORD: f32 = 0.4;
/// How sure it is that a string is dead which no stroke was heard on: it may have been left out.
const NOT_STRUCK: f32 = 0.9;
/// Between these `rings` tells nothing: a note that is half heard and rings on.
const OPEN: (f32, f32) = (0.3, 0.5);

/// Fills in the strings, the tuning, and what is wrong with the take as a whole.
pub(super) fn judge(take: &mut Take, pass: &Pass) {
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
    take.strings = std::array::from_fn(|s: usize| -> StringVerdict {
        let quiet = StringVerdict {
            string: string_number(s),
            expected_fret: frets.0[s],
            verdict: if frets.0[s].is_some() {
                Verdict::Muted
            } else {
                Verdict::Silent
            },
            heard_fret: None,
            rings: 1.0 - NOT_STRUCK,
            confidence: NOT_STRUCK,
            cents: None,
            reason: None,
        };
        match (&pass.strings[s], frets.0[s]) {
            (None, _) => quiet,
            (Some(plucked), Some(fret)) => expected(plucked, fret, quiet),
            (Some(plucked), None) => unwanted(plucked, quiet),
        }
    });
    debug_assert_eq!(take.strings.len(), STRINGS);
}

fn expected(plucked: &Plucked, fret: u8, quiet: StringVerdict) -> StringVerdict {
    let elsewhere = plucked.note.fret != fret && plucked.known > 0.5;
    let rings = if elsewhere {
        1.0 - plucked.known
    } else {
        plucked.rings
    };
    if !plucked.told {
        return StringVerdict {
            verdict: Verdict::Unsure,
            rings: 0.5,
            confidence: 0.5,
            reason: Some(Reason::TooShort),
            ..quiet
        };
    }
    let (verdict, confidence) = if elsewhere && plucked.lasts > 0.5 {
        (Verdict::WrongFret, plucked.rings)
    } else if rings > OPEN.1 {
        (Verdict::Clean, rings)
    } else if rings > OPEN.0 && plucked.lasts > 0.5 {
        (Verdict::Unsure, 1.0 - rings)
    } else if plucked.lasts > 0.5 {
        // Something lasts, but it is no note of this string.
        (Verdict::Muted, 1.0 - rings)
    } else if plucked.choked > 0.5 {
        (Verdict::Choked, (1.0 - plucked.lasts) * plucked.choked)
    } else {
        (
            Verdict::Muted,
            (1.0 - plucked.lasts) * (1.0 - plucked.choked),
        )
    };
    StringVerdict {
        verdict,
        rings,
        confidence,
        heard_fret: (verdict == Verdict::WrongFret).then_some(plucked.note.fret),
        cents: (verdict == Verdict::Clean).then_some(plucked.note.cents),
        reason: (verdict == Verdict::Unsure).then_some(Reason::Balanced),
        ..quiet
    }
}

fn unwanted(plucked: &Plucked, quiet: StringVerdict) -> StringVerdict {
    let rings = if plucked.told { plucked.rings } else { 0.5 };
    let (verdict, confidence, reason) = if !plucked.told {
        (Verdict::Unsure, 0.5, Some(Reason::TooShort))
    } else if rings > 0.5 {
        (Verdict::Ringing, rings, None)
    } else {
        (Verdict::Silent, 1.0 - rings, None)
    };
    StringVerdict {
        verdict,
        rings,
        confidence,
        heard_fret: (verdict == Verdict::Ringing).then_some(plucked.note.fret),
        reason,
        ..quiet
    }
}
