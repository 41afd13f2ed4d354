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
        /// Frets of each voicing.
        frets: Vec<Frets>,
        /// The voicings to choose from.
        voicings: Vec<Voicing>,
    },
    /// The first of these, unless another one of them surely is the one played. At least one.
    Among(Vec<Voicing>),
}

/// A voicing that was meant.
#[derive(Debug, Clone, PartialEq)]
pub struct Voicing {
    /// Frets of strings 6 to 1.
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

    /// Judges a strum that was meant to be this, and explains it in view of the takes before.
    fn judge(&self, analyser: &mut Analyser, strum: &Strum, history: &[Take]) -> Take {
        let mut take = analyser.judge(strum, &self.frets);
        take.chord = self.chord.clone();
        take.explain(&self.hand, history);
        take
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
            Expected::Named(voicing) => voicing.judge(analyser, strum, history),
            Expected::Among(voicings) => Self::judge_among(voicings, analyser, strum, history),
            Expected::Guessed { frets, voicings } => {
                let Some((best, sure)) = analyser.best_voicing(strum, frets) else {
                    return self.not_judged(strum, Warning::ChordGuessed { sure: 0.0 });
                };
                let guessed = Warning::ChordGuessed { sure };
                if sure < SURE_ENOUGH {
                    return not_judged(strum, &voicings[best], guessed);
                }
                let mut take = voicings[best].judge(analyser, strum, history);
                take.warnings.insert(0, guessed);
                take
            }
        }
    }

    /// Explains a take that was judged against this, in view of the takes before it, the oldest first.
    pub fn explain(&self, take: &mut Take, history: &[Take]) {
        let voicings = match self {
            Expected::Named(voicing) => std::slice::from_ref(voicing),
            Expected::Among(voicings) | Expected::Guessed { voicings, .. } => voicings,
        };
        if let Some(voicing) = voicings.iter().find(|v| v.frets == take.frets) {
            take.explain(&voicing.hand, history);
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
        let take = voicings[0].judge(analyser, strum, history);
        let wrong_chord = take.warnings.contains(&Warning::WrongChord);
        let faults = take.strings.iter().any(|s| s.verdict.is_fault());
        if voicings.len() < 2 || !(wrong_chord || faults) {
            return take;
        }
        let frets: Vec<Frets> = voicings.iter().map(|v| v.frets).collect();
        match analyser.best_voicing(strum, &frets) {
            Some((best, sure)) if best > 0 && sure >= SURE_ENOUGH => {
                voicings[best].judge(analyser, strum, history)
            }
            _ => take,
        }
    }

    /// The take of a strum that is not to be judged, and why.
    pub fn not_judged(&self, strum: &Strum, why: Warning) -> Take {
        match self.named() {
            Some(voicing) => not_judged(strum, voicing, why),
            None => Take {
                warnings: vec![why],
                ..unheard(strum, Frets([None; STRINGS]))
            },
        }
    }
}

/// A take of which no string is judged.
fn not_judged(strum: &Strum, voicing: &Voicing, why: Warning) -> Take {
    Take {
        warnings: vec![why],
        chord: voicing.chord.clone(),
        ..unheard(strum, voicing.frets)
    }
}
