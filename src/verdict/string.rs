//! From what was heard of one string to its verdict.

use super::wording::PROBABLY_BELOW;
use super::{Reason, StringVerdict, Verdict};
use crate::fretboard::string_number;
use crate::strings::{Heard, OUTCOMES};

/// A fault is told only from this probability up, and a string called clean from this one up; between
/// lies `unsure`. A choice: a false alarm is held twice as bad as a fault not told.
const FAULT: f32 = 0.67;
const CLEAN: f32 = 0.40;
/// A string that must not sound is called ringing from this probability up: the likelier of the two.
const RINGING: f32 = 0.50;
/// Below this it is called silent; between lies `unsure`.
const SILENT: f32 = 0.35;
/// What choked against clean needs: a string with a T60 of 0.4 s has lost 60 dB by then.
const CHOKED_S: f32 = 0.40;

/// What is said of a string that nothing was heard of: nothing.
pub(super) fn not_judged(string: usize, fret: Option<u8>) -> StringVerdict {
    StringVerdict {
        string: string_number(string),
        expected_fret: fret,
        verdict: Verdict::Unsure,
        heard_fret: None,
        rings: 0.5,
        confidence: 0.0,
        cents: None,
        level_db: None,
        reason: Some(Reason::NotJudged),
    }
}

/// Judges a string that should sound at `fret` and was heard for so many `seconds`.
pub(super) fn judge_expected(
    heard: &Heard,
    string: usize,
    fret: u8,
    seconds: f32,
) -> StringVerdict {
    let [rings, choked, gone, other]: [f32; OUTCOMES] =
        heard.outcomes[string].expect("expected strings have outcomes");
    let fault = 1.0 - rings;
    let (mut verdict, confidence) = if rings >= CLEAN {
        (Verdict::Clean, rings)
    } else if fault < FAULT {
        (Verdict::Unsure, fault.max(rings))
    } else if other >= choked.max(gone) {
        (Verdict::WrongFret, other)
    } else if choked >= gone {
        (Verdict::Choked, choked)
    } else {
        (Verdict::Muted, gone)
    };
    let mut reason = match verdict {
        Verdict::Unsure => Some(Reason::Balanced),
        Verdict::Muted | Verdict::Choked
            if confidence < PROBABLY_BELOW && choked + gone >= PROBABLY_BELOW =>
        {
            Some(Reason::MutedOrChoked)
        }
        _ => None,
    };
    if seconds < CHOKED_S && verdict == Verdict::Choked {
        (verdict, reason) = (Verdict::Unsure, Some(Reason::TooShort));
    }
    let note = heard.notes.expected[string]
        .as_ref()
        .expect("expected strings have evidence");
    StringVerdict {
        string: string_number(string),
        expected_fret: Some(fret),
        verdict,
        heard_fret: (verdict == Verdict::WrongFret)
            .then(|| heard.best_other(string).map_or(0, |o| o.0)),
        rings,
        confidence,
        cents: (verdict == Verdict::Clean && note.fit.used > 0).then_some(note.fit.cents),
        level_db: heard.levels_db[string],
        reason,
    }
}

/// Probability that a string sounds that must not, and the fret it then sounds at.
pub(super) fn unwanted(heard: &Heard, string: usize) -> (f32, Option<u8>) {
    let best = heard.best_other(string);
    (best.map_or(0.0, |b| b.1), best.map(|b| b.0))
}

/// Judges a string that must not sound.
pub(super) fn judge_unwanted(heard: &Heard, string: usize) -> StringVerdict {
    let (rings, fret) = unwanted(heard, string);
    let (verdict, confidence) = if rings >= RINGING {
        (Verdict::Ringing, rings)
    } else if rings < SILENT {
        (Verdict::Silent, 1.0 - rings)
    } else {
        (Verdict::Unsure, rings)
    };
    StringVerdict {
        string: string_number(string),
        expected_fret: None,
        verdict,
        heard_fret: if verdict == Verdict::Ringing {
            fret
        } else {
            None
        },
        rings,
        confidence,
        cents: None,
        level_db: heard.levels_db[string],
        reason: (verdict == Verdict::Unsure).then_some(Reason::Balanced),
    }
}
