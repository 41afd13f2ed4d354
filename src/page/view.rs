//! A judged take as the page shows it.

use serde::Serialize;

use crate::fretboard::{STRINGS, Tuning};
use crate::report::picture::{Look, Picture, clock, symbol};
use crate::verdict::{Advice, JudgedTake, SURE_ENOUGH, Verdict, Warning, wording};
use crate::words;

/// A take in words and signs.
#[derive(Debug, Serialize)]
pub struct TakeView {
    /// When the first stroke falls, in seconds from the start of the sound, and as a clock says it.
    start_s: f64,
    clock: String,
    judged: bool,
    chord: Option<String>,
    frets: String,
    headline: String,
    brief: String,
    /// What was wrong with the take as a whole and what its tuning asks for, in sentences.
    remarks: Vec<String>,
    /// The voicings to choose from, where the chord was named and its shape is not sure.
    choice: Vec<String>,
    /// String 6 to string 1.
    strings: Vec<VerdictView>,
    advice: Vec<Advice>,
}

#[derive(Debug, Serialize)]
struct VerdictView {
    string: u8,
    fret: Option<u8>,
    note: String,
    verdict: Verdict,
    sign: &'static str,
    word: &'static str,
    phrase: String,
    fault: bool,
}

/// A verdict's sign and word.
#[derive(Debug, Serialize)]
pub struct VerdictSign {
    verdict: Verdict,
    sign: &'static str,
    word: &'static str,
    fault: bool,
}

/// All verdicts.
pub fn signs() -> [VerdictSign; Verdict::ALL.len()] {
    Verdict::ALL.map(|verdict| VerdictSign {
        verdict,
        sign: symbol(verdict),
        word: verdict.word(),
        fault: verdict.is_fault(),
    })
}

/// A take in words and signs, of a guitar in `tuning`.
pub fn take(take: &JudgedTake, tuning: &Tuning) -> TakeView {
    let look = Look {
        colour: false,
        left: false,
    };
    let picture = Picture {
        look,
        tuning: *tuning,
    };
    let strings = (0..STRINGS).map(|index| {
        let string = &take.strings[index];
        VerdictView {
            string: string.string,
            fret: string.expected_fret,
            note: picture.note(take, index).to_string(),
            verdict: string.verdict,
            sign: symbol(string.verdict),
            word: string.verdict.word(),
            phrase: wording::string_phrase(string),
            fault: string.verdict.is_fault(),
        }
    });
    let choice = choice(take);
    let headline = match choice.as_slice() {
        [] => wording::headline(take),
        several => words::take::not_judged_may_be(several),
    };
    let warnings = take.warnings.iter().map(|w| wording::warning(w, take));
    let remarks = match take.judged() {
        true => warnings.chain(wording::tuning_note(take)).collect(),
        // The headline has them.
        false => Vec::new(),
    };
    TakeView {
        start_s: take.start_s,
        clock: clock(take.start_s),
        judged: take.judged(),
        chord: take.chord.clone(),
        frets: take.frets.to_string(),
        brief: wording::brief(take),
        headline,
        remarks,
        choice,
        strings: strings.collect(),
        advice: take.advice.clone(),
    }
}

/// The voicings that a take may be, where that is open.
fn choice(take: &JudgedTake) -> Vec<String> {
    let open = take.warnings.iter().find_map(|warning| match warning {
        Warning::VoicingGuessed { sure, voicings } if *sure < SURE_ENOUGH => Some(voicings),
        _ => None,
    });
    open.map_or_else(Vec::new, |voicings| {
        voicings.iter().map(ToString::to_string).collect()
    })
}
