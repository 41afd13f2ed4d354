//! Voicings that takes are held against.

use super::analyser::{Analyser, unheard};
use super::{Candidates, Hand, JudgedTake, SURE_ENOUGH, StringVerdict, Verdict, Warning};
use crate::fretboard::{Frets, NamedFrets, STRINGS, Tuning, library};
use crate::take::{Finder, Take};

/// A voicing is named as one that a strum may be from this probability up: rarer ones only make the choice longer. A choice.
const WORTH_A_WORD: f32 = 0.05;
/// How much more probable the voicing of the take before is than another one. A choice: hands mostly stay where they are.
const AGAIN: f32 = 8.0;
/// How probable a voicing is against the same one a fret lower: most are played near the nut. A choice; of 170 composed takes it puts
/// the right voicing first in 153 instead of 144, and is surely wrong in one instead of two.
const FARTHER: f32 = 1.0 / 1.2;
/// Where no voicing is known.
const NO_FRETS: Frets = Frets([None; STRINGS]);

/// Voicings that takes are held against.
#[derive(Debug, Clone, PartialEq)]
pub enum Expected {
    /// Voicing that is named.
    Named(ExpectedVoicing),
    /// One of these voicings of one chord, whose name alone was given; the usual one first, at least one.
    Chord(Vec<ExpectedVoicing>),
    /// The one of these that fits a take best; `frets` are theirs, in the same order.
    Guessed {
        /// Frets of each voicing.
        frets: Vec<Frets>,
        /// The voicings to choose from.
        voicings: Vec<ExpectedVoicing>,
    },
    /// The first of these, unless another one of them surely is the one played. At least one.
    Among(Vec<ExpectedVoicing>),
}

/// A voicing that was meant.
#[derive(Debug, Clone, PartialEq)]
pub struct ExpectedVoicing {
    /// Frets of strings 6 to 1.
    pub frets: Frets,
    /// The chord's name where it has one.
    pub chord: Option<String>,
    /// The fingers that hold it.
    pub hand: Hand,
}

impl ExpectedVoicing {
    /// A voicing held with the usual fingers.
    pub fn usual(frets: Frets, chord: Option<String>, tuning: &Tuning) -> Self {
        ExpectedVoicing {
            frets,
            chord,
            hand: Hand::usual(&frets, tuning),
        }
    }

    /// Judges a strum that was meant to be this, and explains it in view of the takes before.
    fn judge(&self, analyser: &mut Analyser, strum: &Take, history: &[JudgedTake]) -> JudgedTake {
        let mut take = analyser.judge(strum, &self.frets);
        take.chord = self.chord.clone();
        take.explain(&self.hand, history);
        take
    }

    /// These frets as they are named in a sentence.
    fn named(&self, tuning: &Tuning) -> NamedFrets {
        let chord = self.chord.as_ref().and_then(|chord| chord.parse().ok());
        let named = NamedFrets::of(&self.frets, tuning);
        NamedFrets {
            // A name may be spelled in two ways; the one given counts.
            chord: chord.or(named.chord),
            ..named
        }
    }
}

impl Expected {
    /// Any voicing that is known in this tuning; `None` where none is.
    pub fn any(tuning: &Tuning) -> Option<Expected> {
        let within_reach = |v: &library::Voicing| tuning.reaches(&v.frets).is_ok();
        let voicings: Vec<ExpectedVoicing> = library::all(tuning)
            .into_iter()
            .filter(within_reach)
            .map(|v| ExpectedVoicing::usual(v.frets, Some(v.chord.to_string()), tuning))
            .collect();
        let frets: Vec<Frets> = voicings.iter().map(|v| v.frets).collect();
        (!frets.is_empty()).then_some(Expected::Guessed { frets, voicings })
    }

    /// The voicing that is meant, where it is only one.
    pub fn named(&self) -> Option<&ExpectedVoicing> {
        match self {
            Expected::Named(voicing) => Some(voicing),
            Expected::Among(voicings) => voicings.first(),
            Expected::Chord(voicings) if voicings.len() == 1 => voicings.first(),
            Expected::Chord(_) | Expected::Guessed { .. } => None,
        }
    }

    /// A voicing that would be right; `None` where any chord would.
    pub fn example(&self) -> Option<&ExpectedVoicing> {
        match self {
            Expected::Chord(voicings) => voicings.first(),
            _ => self.named(),
        }
    }

    /// Tells a finder what is meant from here on: the one voicing, where it is one.
    pub fn tell(&self, finder: &mut Finder, tuning: &Tuning) {
        finder.expect(tuning, self.named().map(|voicing| &voicing.frets));
    }

    /// A finder at `rate_hz` that is told what is meant.
    pub fn finder(&self, rate_hz: u32, tuning: &Tuning) -> Finder {
        let mut finder = Finder::new(rate_hz);
        self.tell(&mut finder, tuning);
        finder
    }

    /// Judges one strum; `history` are the takes before it, the oldest first.
    ///
    /// # Panics
    /// When there is nothing in [`Expected::Among`] or [`Expected::Chord`].
    pub fn judge(
        &self,
        analyser: &mut Analyser,
        strum: &Take,
        history: &[JudgedTake],
    ) -> JudgedTake {
        let mut take = match self {
            Expected::Named(voicing) => voicing.judge(analyser, strum, history),
            Expected::Among(voicings) => Self::judge_among(voicings, analyser, strum, history),
            Expected::Chord(voicings) => self.judge_chord(voicings, analyser, strum, history),
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
                return take;
            }
        };
        let meant: Vec<Frets> = match self {
            Expected::Chord(voicings) => voicings.iter().map(|v| v.frets).collect(),
            _ => vec![take.frets],
        };
        analyser.name_other_chord(strum, &meant, &mut take);
        take
    }

    /// Judges against the voicing that surely sounds. That almost nothing rings is said whichever was meant.
    fn judge_chord(
        &self,
        voicings: &[ExpectedVoicing],
        analyser: &mut Analyser,
        strum: &Take,
        history: &[JudgedTake],
    ) -> JudgedTake {
        let first = voicings[0].judge(analyser, strum, history);
        if voicings.len() == 1 {
            return first;
        }
        // Another voicing may be in tune, and be the chord.
        let of_voicing =
            |w: &Warning| matches!(w, Warning::WrongChord { .. } | Warning::OutOfTune { .. });
        if !first.judged() && !first.warnings.iter().any(of_voicing) {
            return self.of_no_voicing(first, strum);
        }
        let frets: Vec<Frets> = voicings.iter().map(|v| v.frets).collect();
        let before = history.iter().rev().filter(|t| t.judged()).map(|t| t.frets);
        let before = before.take(1).find(|last| frets.contains(last));
        let prior: Vec<f32> = (frets.iter())
            .map(|frets| match before == Some(*frets) {
                true => AGAIN,
                false => FARTHER.powi(i32::from(frets.place())),
            })
            .collect();
        let probable = analyser.which_voicing(strum, &frets, &prior);
        let (best, sure) = probable[0];
        let mut take = match best {
            0 => first,
            _ => voicings[best].judge(analyser, strum, history),
        };
        if !take.judged() {
            return self.of_no_voicing(take, strum);
        }
        if take.almost_nothing_rings() {
            return take;
        }
        let tuning = analyser.settings().tuning;
        let candidates = probable.iter().filter(|(_, p)| *p >= WORTH_A_WORD);
        let candidates = candidates.map(|(i, _)| voicings[*i].named(&tuning));
        let guessed = Warning::VoicingGuessed {
            sure,
            voicings: Candidates::of(candidates),
        };
        // Whichever shape it is: of 871 composed takes, half of them with strings at fault, 205 were open and so, 193 of these clean.
        let well = |s: &StringVerdict| matches!(s.verdict, Verdict::Clean | Verdict::Silent);
        if sure < SURE_ENOUGH && !take.strings.iter().all(well) {
            return self.not_judged(strum, guessed);
        }
        take.warnings.insert(0, guessed);
        take
    }

    /// A take that was not judged, where it is not known either which voicing it is.
    fn of_no_voicing(&self, take: JudgedTake, strum: &Take) -> JudgedTake {
        JudgedTake {
            frets: NO_FRETS,
            strings: unheard(strum, NO_FRETS).strings,
            ..take
        }
    }

    /// Tells whether verdicts, and not advice alone, depend on the takes before.
    pub fn looks_back(&self) -> bool {
        matches!(self, Expected::Chord(voicings) if voicings.len() > 1)
    }

    /// Explains a take that was judged against this, in view of the takes before it, the oldest first.
    pub fn explain(&self, take: &mut JudgedTake, history: &[JudgedTake]) {
        let voicings = match self {
            Expected::Named(voicing) => std::slice::from_ref(voicing),
            Expected::Among(voicings)
            | Expected::Chord(voicings)
            | Expected::Guessed { voicings, .. } => voicings,
        };
        if let Some(voicing) = voicings.iter().find(|v| v.frets == take.frets) {
            take.explain(&voicing.hand, history);
        }
    }

    /// Judges against the first voicing; where that leaves faults, against the one of the others that was surely played and
    /// leaves fewer, whatever its strings did.
    fn judge_among(
        voicings: &[ExpectedVoicing],
        analyser: &mut Analyser,
        strum: &Take,
        history: &[JudgedTake],
    ) -> JudgedTake {
        let take = voicings[0].judge(analyser, strum, history);
        let wrong_chord = take.is_another_chord();
        // A string that the exercise leaves out has no fault, but may show that another one was played.
        let astray = |s: &StringVerdict| s.verdict.is_fault() || s.heard_fret.is_some();
        let faults = take.strings.iter().any(astray);
        if voicings.len() < 2 || !(wrong_chord || faults) {
            return take;
        }
        let frets: Vec<Frets> = voicings.iter().map(|v| v.frets).collect();
        let alike = vec![1.0; frets.len()];
        let (best, sure) = analyser.which_voicing(strum, &frets, &alike)[0];
        if best == 0 || sure < SURE_ENOUGH {
            return take;
        }
        // One of them is meant, but something else may have been played.
        let other = voicings[best].judge(analyser, strum, history);
        let count = |take: &JudgedTake| take.strings.iter().filter(|s| astray(s)).count();
        match other.judged() && (wrong_chord || count(&other) < count(&take)) {
            true => other,
            false => take,
        }
    }

    /// The take of a strum that is not to be judged, and why.
    pub fn not_judged(&self, strum: &Take, why: Warning) -> JudgedTake {
        match self.named() {
            Some(voicing) => not_judged(strum, voicing, why),
            None => JudgedTake {
                warnings: vec![why],
                chord: self.example().and_then(|v| v.chord.clone()),
                ..unheard(strum, NO_FRETS)
            },
        }
    }
}

/// A take of which no string is judged.
fn not_judged(strum: &Take, voicing: &ExpectedVoicing, why: Warning) -> JudgedTake {
    JudgedTake {
        warnings: vec![why],
        chord: voicing.chord.clone(),
        ..unheard(strum, voicing.frets)
    }
}
