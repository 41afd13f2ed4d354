//! What takes are held against.

use super::analyser::Analyser;
use super::{Reason, SURE_ENOUGH, StringVerdict, Take, Verdict, Warning};
use crate::fretboard::{Frets, STRINGS, string_number};
use crate::take::Strum;

/// What takes are held against.
#[derive(Debug, Clone, PartialEq)]
pub enum Expected {
    /// This voicing.
    Named(Voicing),
    /// The one of these that fits a take best; a name for each.
    Guessed {
        frets: Vec<Frets>,
        names: Vec<String>,
    },
}

/// A voicing that was meant, with the chord's name where it has one.
#[derive(Debug, Clone, PartialEq)]
pub struct Voicing {
    pub frets: Frets,
    pub chord: Option<String>,
}

impl Expected {
    /// Judges one strum.
    pub fn judge(&self, analyser: &mut Analyser, strum: &Strum) -> Take {
        match self {
            Expected::Named(voicing) => {
                let mut take = analyser.analyse(strum, &voicing.frets);
                take.chord = voicing.chord.clone();
                take
            }
            Expected::Guessed { frets, names } => {
                let Some((best, sure)) = analyser.best_voicing(strum, frets) else {
                    let sure = 0.0;
                    return not_judged(
                        strum,
                        Frets([None; STRINGS]),
                        Warning::ChordGuessed { sure },
                    );
                };
                let mut take = if sure >= SURE_ENOUGH {
                    let mut take = analyser.analyse(strum, &frets[best]);
                    take.warnings.insert(0, Warning::ChordGuessed { sure });
                    take
                } else {
                    not_judged(strum, frets[best], Warning::ChordGuessed { sure })
                };
                take.chord = Some(names[best].clone());
                take
            }
        }
    }

    /// The take of a strum that is not to be judged, and why.
    pub fn not_judged(&self, strum: &Strum, why: Warning) -> Take {
        match self {
            Expected::Named(voicing) => Take {
                chord: voicing.chord.clone(),
                ..not_judged(strum, voicing.frets, why)
            },
            Expected::Guessed { .. } => not_judged(strum, Frets([None; STRINGS]), why),
        }
    }
}

/// A take of which no string is judged.
fn not_judged(strum: &Strum, frets: Frets, why: Warning) -> Take {
    Take {
        start_s: strum.start_s(),
        manner: strum.manner,
        chord: None,
        frets,
        tuning_cents: 0.0,
        warnings: vec![why],
        strings: std::array::from_fn(|index| StringVerdict {
            string: string_number(index),
            expected_fret: frets.0[index],
            verdict: Verdict::Unsure,
            heard_fret: None,
            rings: 0.5,
            confidence: 0.0,
            cents: None,
            reason: Some(Reason::NotJudged),
        }),
        advice: Vec::new(),
    }
}
