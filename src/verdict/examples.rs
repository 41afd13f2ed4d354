//! Takes made by hand for tests.

use super::{JudgedTake, Reason, StringVerdict, Verdict, Warning};
use crate::fretboard::Frets;
use crate::take::Manner;

/// Bb in A shape, every string as it should be.
pub fn bb() -> JudgedTake {
    let mut take = clean("x13331");
    take.chord = Some("Bb".into());
    take
}

/// Take at these frets, every string as it should be.
pub fn clean(frets: &str) -> JudgedTake {
    let frets: Frets = frets.parse().unwrap();
    let strings = std::array::from_fn(|i| StringVerdict {
        string: 6 - i as u8,
        expected_fret: frets.0[i],
        verdict: match frets.0[i] {
            Some(_) => Verdict::Clean,
            None => Verdict::Silent,
        },
        heard_fret: None,
        rings: if frets.0[i].is_some() { 0.99 } else { 0.02 },
        confidence: 0.98,
        cents: frets.0[i].map(|f| f32::from(f) + 0.123),
        level_db: frets.0[i].map(|f| -3.0 - f32::from(f)),
        reason: None,
    });
    JudgedTake {
        start_s: 0.3123,
        manner: Manner::Strummed,
        chord: None,
        frets,
        tuning_cents: 4.12,
        warnings: vec![],
        strings,
        advice: vec![],
    }
}

/// The take with the verdict on the given string changed.
pub fn with(mut take: JudgedTake, string: u8, verdict: Verdict, confidence: f32) -> JudgedTake {
    let s = &mut take.strings[6 - string as usize];
    s.verdict = verdict;
    s.confidence = confidence;
    s.heard_fret = match verdict {
        Verdict::WrongFret => Some(1),
        Verdict::Ringing => Some(0),
        _ => None,
    };
    s.reason = (verdict == Verdict::Unsure).then_some(Reason::Balanced);
    take
}

/// A take that was not judged because of `warning`.
pub fn not_judged(warning: Warning) -> JudgedTake {
    let mut take = bb();
    for s in &mut take.strings {
        s.verdict = Verdict::Unsure;
        s.reason = Some(Reason::NotJudged);
        s.cents = None;
        s.confidence = 0.0;
    }
    take.warnings.push(warning);
    take
}
