//! What takes are held against.

use super::analyser::{Analyser, unheard};
use super::{Hand, SURE_ENOUGH, Take, Warning};
use crate::fretboard::{Frets, STRINGS, Tuning};
use crate::take::Strum;

/// What takes are held against.
#[derive(Debug, Clone, PartialEq)]
pub enum Expected {
    /// This voicing.
    Named(Voicing),
    /// The one of these that fits a take best; `frets` are theirs, in the same order.
    Guessed {
        frets: Vec<Frets>,
        voicings: Vec<Voicing>,
    },
    /// The first of these, unless another one of them surely is the one played. At least one.
    Among(Vec<Voicing>),
}

/// A voicing that was meant.
#[derive(Debug, Clone, PartialEq)]
pub struct Voicing {
    pub frets: Frets,
    /// The chord's name where it has one.
    pub chord: Option<String>,
    /// The fingers that hold it.
    pub hand: Hand,
}

impl Voicing {
    /// A voicing held with the usual fingers.
    pub fn usual(frets: Frets, chord: Option<String>, tuning: &Tuning) -> Self {
        Voicing {
            frets,
            chord,
            hand: Hand::usual(&frets, tuning),
        }
    }
}

impl Expected {
    /// The voicing that is meant, where one is.
    pub fn named(&self) -> Option<&Voicing> {
        match self {
            Expected::Named(voicing) => Some(voicing),
            Expected::Among(voicings) => voicings.first(),
            Expected::Guessed { .. } => None,
        }
    }

    /// Judges one strum; `history` are the takes before it, the oldest first.
    ///
    /// # Panics
    /// When there is nothing in [`Expected::Among`].
    pub fn judge(&self, analyser: &mut Analyser, strum: &Strum, history: &[Take]) -> Take {
        match self {
            Expected::Named(voicing) => {
                let mut take = analyser.analyse(strum, &voicing.frets);
                take.chord = voicing.chord.clone();
                take.explain(&voicing.hand, history);
                take
            }
            Expected::Among(voicings) => Self::judge_among(voicings, analyser, strum, history),
            Expected::Guessed { frets, voicings } => {
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
                    take.explain(&voicings[best].hand, history);
                    take.warnings.insert(0, Warning::ChordGuessed { sure });
                    take
                } else {
                    not_judged(strum, frets[best], Warning::ChordGuessed { sure })
                };
                take.chord = voicings[best].chord.clone();
                take
            }
        }
    }

    /// Judges against the first voicing; where that leaves faults, against the one of the others that
    /// surely fits better.
    fn judge_among(
        voicings: &[Voicing],
        analyser: &mut Analyser,
        strum: &Strum,
        history: &[Take],
    ) -> Take {
        let judge = |voicing: &Voicing, analyser: &mut Analyser| {
            let mut take = analyser.analyse(strum, &voicing.frets);
            take.chord = voicing.chord.clone();
            take.explain(&voicing.hand, history);
            take
        };
        let take = judge(&voicings[0], analyser);
        let wrong_chord = take.warnings.contains(&Warning::WrongChord);
        let faults = take.strings.iter().any(|s| s.verdict.is_fault());
        if voicings.len() < 2 || !(wrong_chord || faults) {
            return take;
        }
        let frets: Vec<Frets> = voicings.iter().map(|v| v.frets).collect();
        match analyser.best_voicing(strum, &frets) {
            Some((best, sure)) if best > 0 && sure >= SURE_ENOUGH => {
                judge(&voicings[best], analyser)
            }
            _ => take,
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
            Expected::Among(voicings) => Take {
                chord: voicings[0].chord.clone(),
                ..not_judged(strum, voicings[0].frets, why)
            },
        }
    }
}

/// A take of which no string is judged.
fn not_judged(strum: &Strum, frets: Frets, why: Warning) -> Take {
    Take {
        warnings: vec![why],
        ..unheard(strum, frets)
    }
}
