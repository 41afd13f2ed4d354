//! The exercises: state machines that judged takes drive. They make no sound, read no clock and write
//! nothing, so that a recording, a microphone and a test lead through them alike.

mod build;
mod climb;
mod hold;
mod name;
mod place;
mod play;
mod route;
mod switch;

use std::fmt::Debug;

use rand::rngs::SmallRng;

use super::lesson::{Drill, Step, Target};
use crate::fretboard::{Fingering, Frets, STRINGS, Tuning, string_number};
use crate::progression::performance::Performance;
use crate::verdict::{ALL_STRINGS, Expected, ExpectedVoicing, Hand, JudgedTake, clean};

pub use build::{BuildExercise, ChordPart, StageFindings};
pub use climb::climb;
pub use hold::hold;
pub use name::{NameExercise, RootFindings};
pub use place::{PlaceExercise, Placement};
pub use play::{PlayExercise, landed};
pub use route::{Landing, RouteExercise};
pub use switch::{Change, ChangeTimes, SwitchExercise, SwitchFindings, SwitchKind};

/// Task that is to be played next.
#[derive(Debug, Clone, PartialEq)]
pub struct Ask {
    /// The voicing.
    pub target: Target,
    /// The strings that count, string 6 to string 1.
    pub counts: [bool; STRINGS],
    /// The strings that may do what they like.
    pub free: [bool; STRINGS],
    /// The fingers to hold it with, where the target names no voicing with a fingering of its own.
    pub fingers: Option<Fingering>,
    /// True where the place is what is asked: no picture may give it away.
    pub hides_place: bool,
    /// True where the hand is to be moved from take to take.
    pub moves: bool,
    /// Other chords that may be played, and is known for what it is.
    pub others: Vec<Target>,
    /// Task in one line.
    pub text: String,
    /// The part of the exercise, for the diary.
    pub stage: Option<String>,
}

impl Ask {
    /// The whole voicing, every string that its fingering does not let go quiet.
    fn whole(target: &Target, text: String) -> Ask {
        Ask {
            counts: std::array::from_fn(|i| target.may_go_quiet() != Some(string_number(i))),
            target: target.clone(),
            free: [false; STRINGS],
            fingers: None,
            hides_place: false,
            moves: false,
            others: Vec::new(),
            text,
            stage: None,
        }
    }

    /// The same, with what else may be heard: these, the asked one left out.
    fn among(self, targets: &[Target]) -> Ask {
        let mut others: Vec<Target> = Vec::new();
        for target in targets {
            let known = target.frets == self.target.frets
                || others.iter().any(|other| other.frets == target.frets);
            if !known {
                others.push(target.clone());
            }
        }
        Ask { others, ..self }
    }

    /// The fingers to hold the target with, where those are known.
    pub fn fingering(&self) -> Option<&Fingering> {
        let voicing = self.target.voicing.as_ref().map(|v| &v.fingering);
        voicing.or(self.fingers.as_ref())
    }

    /// Gives what the takes are to be held against, on a guitar tuned so.
    pub fn expected(&self, tuning: &Tuning) -> Expected {
        let voicing = |target: &Target| {
            let chord = target.chord.map(|chord| chord.to_string());
            let usual = ExpectedVoicing::usual(target.frets, chord, tuning);
            match &target.voicing {
                // The lesson may ask for other fingers than the usual ones.
                Some(lesson) => ExpectedVoicing {
                    hand: Hand {
                        fingers: lesson.fingering,
                        may_go_quiet: lesson.may_go_quiet,
                        ..usual.hand
                    },
                    ..usual
                },
                None => usual,
            }
        };
        let mut asked = voicing(&self.target);
        asked.hand.free = self.free;
        asked.hand.moves = self.moves;
        if let Some(fingers) = self.fingers {
            asked.hand.fingers = fingers;
        }
        let others = self.others.iter().map(voicing);
        Expected::Among(std::iter::once(asked).chain(others).collect())
    }

    /// Tells whether a take with these frets answers it, rightly or not.
    pub fn is_answered_by(&self, frets: &Frets) -> bool {
        self.target.frets == *frets || self.others.iter().any(|other| other.frets == *frets)
    }
}

/// A judged take, and when.
#[derive(Debug, Clone, Copy)]
pub struct TimedTake<'a> {
    /// The take, judged.
    pub take: &'a JudgedTake,
    /// Moment at which it was struck, in seconds since the practice began.
    pub start_s: f64,
    /// Moment at which its verdict was there.
    pub now_s: f64,
}

/// Judgement of an exercise on a take.
#[derive(Debug, Clone, PartialEq)]
pub struct Reply {
    /// True where the strings that count did what they should; `None` where that cannot be told.
    pub clean: Option<bool>,
    /// Remark beside the verdict.
    pub note: Remark,
    /// The frets left, where the take ends a change.
    pub from: Option<Frets>,
    /// Time from the old chord's end to this chord's clean sound, in seconds.
    pub gap_s: Option<f64>,
}

/// Remark to the learner beside the verdict.
#[derive(Debug, Clone, PartialEq)]
pub enum Remark {
    /// Nothing: the verdict says it.
    Verdict,
    /// Another chord of the exercise than the asked one was played.
    Other {
        /// Name of the chord played.
        heard: String,
        /// Name of the chord asked.
        asked: String,
    },
    /// Another part of a barre chord than the asked one was played.
    Part {
        /// Name of the whole chord.
        chord: String,
        /// The part played.
        heard: ChordPart,
        /// The part asked.
        asked: ChordPart,
    },
    /// The finger was moved, and this is how the chord rang there.
    Placed {
        /// Number of the placement, from 1.
        number: usize,
        /// Number of strings that did what they should, and of strings in all.
        right: (usize, usize),
        /// Number of the placement that rang best so far, of two or more.
        best: Option<usize>,
    },
    /// The root asked was played.
    Right {
        /// Name of the chord played.
        name: String,
        /// Time from the question to the answer, in seconds.
        seconds: f64,
    },
    /// Another one was.
    Wrong {
        /// Name of the chord played.
        heard: String,
        /// Name of the chord or the root asked.
        asked: String,
    },
    /// The answer is shown.
    Shown {
        /// Place of the chord, in words.
        place: String,
    },
    /// The take came too late for what was asked; it is kept but does not count.
    Late,
}

impl Reply {
    fn of(played: &TimedTake, ask: &Ask) -> Reply {
        Reply {
            clean: clean(played.take, &ask.counts),
            note: Remark::Verdict,
            from: None,
            gap_s: None,
        }
    }

    /// As [`Self::of`], where the take is one of the others that were possible.
    fn other(played: &TimedTake, ask: &Ask) -> Reply {
        let heard = ask.others.iter().find(|o| o.frets == played.take.frets);
        Reply {
            note: Remark::Other {
                heard: heard.map_or_else(String::new, Target::to_string),
                asked: ask.target.to_string(),
            },
            ..Reply::of(played, ask)
        }
    }

    /// Gives what is said of a take that came too late for any ask.
    pub fn late(take: &JudgedTake) -> Reply {
        Reply {
            clean: clean(take, &ALL_STRINGS),
            note: Remark::Late,
            from: None,
            gap_s: None,
        }
    }
}

/// Progress of an exercise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// Amount that is done.
    pub done: u32,
    /// Amount to do in all.
    pub of: u32,
}

/// Findings of an exercise.
#[derive(Debug, Clone, PartialEq)]
pub enum Findings {
    /// Stage by stage.
    Build(Vec<StageFindings>),
    /// Placement by placement, in the order played.
    Place(Vec<Placement>),
    /// Fret by fret, up the neck.
    Climb(Vec<VoicingTally>),
    /// Root by root.
    Name(Vec<RootFindings>),
    /// Change by change.
    Switch(SwitchFindings),
    /// Chord by chord, each once.
    Hold(Vec<VoicingTally>),
    /// Move by move.
    Route(Vec<Landing>),
    /// Each time through.
    Play(Vec<Performance>),
}

/// Counts over the takes of one voicing.
#[derive(Debug, Clone, PartialEq)]
pub struct VoicingTally {
    /// The voicing.
    pub target: Target,
    /// Takes of which it could be told whether they were clean.
    pub takes: u32,
    /// Takes in which every string that counts was clean.
    pub clean: u32,
    /// Number of times that each string had a fault, string 6 to string 1.
    pub faults: [u32; STRINGS],
}

impl VoicingTally {
    fn new(target: &Target) -> VoicingTally {
        VoicingTally {
            target: target.clone(),
            takes: 0,
            clean: 0,
            faults: [0; STRINGS],
        }
    }

    fn add(&mut self, take: &JudgedTake, clean: Option<bool>, counts: &[bool; STRINGS]) {
        let Some(clean) = clean else { return };
        self.takes += 1;
        self.clean += u32::from(clean);
        for (i, string) in take.strings.iter().enumerate() {
            self.faults[i] += u32::from(counts[i] && string.verdict.is_fault());
        }
    }
}

/// One exercise under way.
pub trait Exercise: Debug + Copied {
    /// Gives what is to be played now. After the last take it stays what it was.
    fn ask(&self) -> Ask;

    /// Begins: it is shown from now on.
    fn begin(&mut self, _now_s: f64) {}

    /// Takes a take that answers [`Self::ask`].
    fn hear(&mut self, played: &TimedTake) -> Reply;

    /// Takes a time through with a backing.
    fn along(&mut self, _session: &Performance) {}

    /// The last take stopped sounding.
    fn ended(&mut self, _end_s: f64) {}

    /// True where nothing is left to do.
    fn done(&self) -> bool;

    /// True where what was asked for is reached: as a rule, once it is done.
    fn passed(&self) -> bool {
        self.done()
    }

    /// Tells how far it is.
    fn progress(&self) -> Progress;

    /// Tells what it has brought to light so far.
    fn findings(&self) -> Findings;

    /// True where its time runs from the first take on and is all used, as in changes.
    fn is_timed(&self) -> bool {
        false
    }
}

/// Ability of every exercise that can be cloned.
pub trait Copied {
    /// A copy, to go back to where a take turns out to be none.
    fn copy(&self) -> Box<dyn Exercise>;
}

impl<E: Exercise + Clone + 'static> Copied for E {
    fn copy(&self) -> Box<dyn Exercise> {
        Box::new(self.clone())
    }
}

/// The exercise that a step asks for. What it leaves to chance is drawn from `rng`.
pub fn exercise(step: &Step, rng: &mut SmallRng) -> Box<dyn Exercise> {
    let wanted = step.clean;
    match &step.drill {
        Drill::Build {
            target,
            barre,
            shape,
            stages,
        } => Box::new(BuildExercise::new(target, barre, shape, stages, wanted)),
        Drill::Place { target } => Box::new(PlaceExercise::new(target, wanted)),
        Drill::Climb {
            places,
            order,
            tries,
        } => Box::new(climb(places, *order, wanted, *tries, rng)),
        Drill::Name {
            string,
            roots,
            answers,
            tries,
        } => Box::new(NameExercise::new(
            *string, roots, answers, wanted, *tries, rng,
        )),
        Drill::Switch { chords } => Box::new(SwitchExercise::new(chords, wanted)),
        Drill::Hold {
            chords,
            rounds,
            tries,
        } => Box::new(hold(chords, *rounds, wanted, *tries)),
        Drill::Route { way, rounds, tries } => {
            Box::new(RouteExercise::new(way, *rounds, wanted, *tries))
        }
        Drill::Play {
            part,
            within_ms,
            tries,
            ..
        } => Box::new(PlayExercise::new(part, wanted, *within_ms, *tries)),
    }
}

#[cfg(test)]
pub(super) mod tests;
