//! Verdicts on a picked pass: each string by its own moment.

use super::chord::out_of_tune;
use super::string::{judge_expected, judge_unwanted, not_judged};
use super::{JudgedTake, Reason, StringVerdict, Verdict, Warning};
use crate::strings::buzz::{self, BuzzProbabilities};
use crate::strings::picked::{Pass, StringStroke};
use crate::strings::{Estimate, Learnt, SHORTEST_S};

/// How sure it is that a string is dead which no stroke was heard on: it may have been left out.
const NOT_STRUCK: f32 = 0.9;
/// What rattles follows no single string: it is told where it was heard at so many strokes.
const FEWEST_RATTLES: usize = 2;

/// Fills in the strings, the tuning, and what is wrong with the take as a whole. Strokes count samples at `rate_hz`;
/// `hear` says what became of the strings at one.
pub(super) fn judge(
    take: &mut JudgedTake,
    pass: &Pass,
    rate_hz: u32,
    learnt: &Learnt,
    mut hear: impl FnMut(StringStroke) -> (Estimate, Option<BuzzProbabilities>),
) {
    take.tuning_cents = pass.tuning_cents as f32;
    if let Some(why) = out_of_tune(pass.tuning_cents) {
        take.warnings.push(why);
        return;
    }
    let frets = take.frets;
    let mut rattles = Vec::new();
    let mut possible: Option<(u8, f32)> = None;
    take.strings = std::array::from_fn(|s| {
        let Some(stroke) = pass.strings[s] else {
            return not_struck(s, frets.0[s]);
        };
        let seconds = (stroke.to - stroke.from) as f32 / rate_hz as f32;
        if seconds < SHORTEST_S {
            // What is heard last and is no note of the string was most likely no stroke of the pass.
            return match stroke.off_cents {
                Some(_) => too_short(s, frets.0[s]),
                None => not_struck(s, frets.0[s]),
            };
        }
        let (heard, buzz) = hear(stroke);
        let buzz = buzz.map(|said| buzz::found(&learnt.buzz(&said)));
        let buzz = buzz.unwrap_or_default();
        rattles.extend(buzz.rattle);
        let said = match frets.0[s] {
            Some(fret) => judge_expected(&heard, s, fret, seconds, learnt),
            None => judge_unwanted(&heard, s, learnt),
        };
        // Heard from where the string was plain to hear, not from where the guitar is as a whole.
        let off = stroke.off_cents.unwrap_or(0.0) as f32;
        let mut said = StringVerdict {
            cents: said.cents.map(|cents| cents + off),
            ..said
        };
        // What was struck before and buzzes was told at its own stroke.
        if let Some(sure) = buzz.strings[s] {
            said.buzzes(sure);
        }
        let likelier = possible.is_none_or(|(_, sure)| buzz.any > sure);
        if buzz.possible == Some(s) && said.verdict == Verdict::Clean && likelier {
            possible = Some((said.string, buzz.any));
        }
        said
    });
    let buzzing = |s: &StringVerdict| s.verdict == Verdict::Buzzing;
    if rattles.len() >= FEWEST_RATTLES && !take.strings.iter().any(buzzing) {
        let sure = rattles.iter().copied().fold(1.0, f32::min);
        take.warnings.push(Warning::Rattle { sure });
    } else if let Some((string, sure)) = possible {
        take.warnings.push(Warning::PossibleBuzz { string, sure });
    }
}

fn not_struck(string: usize, fret: Option<u8>) -> StringVerdict {
    StringVerdict {
        verdict: match fret {
            Some(_) => Verdict::Muted,
            None => Verdict::Silent,
        },
        rings: 1.0 - NOT_STRUCK,
        confidence: NOT_STRUCK,
        reason: None,
        ..not_judged(string, fret)
    }
}

fn too_short(string: usize, fret: Option<u8>) -> StringVerdict {
    StringVerdict {
        confidence: 0.5,
        reason: Some(Reason::TooShort),
        ..not_judged(string, fret)
    }
}
