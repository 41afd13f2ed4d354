//! Build: a barre chord put together from its parts.

use super::{Ask, Exercise, Findings, Progress, Remark, Reply, TimedTake};
use crate::fretboard::{Fingering, Frets, STRINGS};
use crate::practice::lesson::{BuildStage, Target};
use crate::verdict::{JudgedTake, clean};
use crate::words;

/// A part of a barre chord, or all of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChordPart {
    /// The barre finger alone.
    Barre,
    /// The other fingers alone.
    Shape,
    /// All fingers.
    Whole,
}

/// The index finger, which lies across.
const INDEX: u8 = 1;

/// Outcome of one stage.
#[derive(Debug, Clone, PartialEq)]
pub struct StageFindings {
    /// Task of the hand in this stage.
    pub stage: BuildStage,
    /// Takes of which it could be told whether they were clean.
    pub takes: u32,
    /// Rounds in which every part was clean.
    pub clean: u32,
    /// Clean rounds that the lesson asks for.
    pub wanted: u32,
    /// Number of times that each string had a fault, string 6 to string 1.
    pub faults: [u32; STRINGS],
}

/// The state of a build.
#[derive(Debug, Clone)]
pub struct BuildExercise {
    chord: String,
    whole: Ask,
    barre: Ask,
    shape: Ask,
    stages: Vec<StageFindings>,
    /// The stage, and the part of its round.
    stage: usize,
    part: usize,
}

impl BuildExercise {
    /// `barre` alone, and which strings the `shape` holds: as [`crate::practice::Drill::Build`] has
    /// them.
    pub fn new(
        target: &Target,
        barre: &Frets,
        shape: &[bool; STRINGS],
        stages: &[BuildStage],
        wanted: u32,
    ) -> BuildExercise {
        let alone = |frets: Frets| Target {
            frets,
            chord: None,
            voicing: None,
        };
        // Without the barre the other strings are open; whoever strums past them is not wrong.
        let held = Frets(std::array::from_fn(|i| {
            match (shape[i], target.frets.0[i]) {
                (true, fret) => fret,
                (false, Some(_)) => Some(0),
                (false, None) => None,
            }
        }));
        let held = alone(held);
        let barre = alone(*barre);
        let voicings = [target.clone(), barre.clone(), held.clone()];
        let fingers = target.voicing.as_ref().map(|voicing| voicing.fingering);
        BuildExercise {
            chord: target.name(),
            whole: Ask::whole(target, words::lesson::whole_chord(target)).among(&voicings),
            barre: Ask {
                fingers: Some(Fingering(barre.frets.0.map(|fret| fret.map(|_| INDEX)))),
                ..Ask::whole(&barre, words::lesson::the_barre_alone(barre.frets)).among(&voicings)
            },
            shape: Ask {
                counts: *shape,
                free: shape.map(|held| !held),
                fingers: fingers.map(|fingers| {
                    let finger = |i: usize| fingers.0[i].filter(|_| shape[i]);
                    Fingering(std::array::from_fn(finger))
                }),
                ..Ask::whole(&held, words::lesson::the_rest_without_barre(target.name()))
                    .among(&voicings)
            },
            stages: stages
                .iter()
                .map(|&stage| StageFindings {
                    stage,
                    takes: 0,
                    clean: 0,
                    wanted,
                    faults: [0; STRINGS],
                })
                .collect(),
            stage: 0,
            part: 0,
        }
    }

    fn parts(stage: BuildStage) -> &'static [ChordPart] {
        match stage {
            BuildStage::Barre => &[ChordPart::Barre],
            BuildStage::Shape => &[ChordPart::Shape],
            BuildStage::BarreThenShape => &[ChordPart::Barre, ChordPart::Whole],
            BuildStage::ShapeThenBarre => &[ChordPart::Shape, ChordPart::Whole],
            BuildStage::Together => &[ChordPart::Whole],
        }
    }

    fn ask_of(&self, part: ChordPart) -> &Ask {
        match part {
            ChordPart::Barre => &self.barre,
            ChordPart::Shape => &self.shape,
            ChordPart::Whole => &self.whole,
        }
    }

    /// The part to play now.
    fn asked(&self) -> ChordPart {
        let at = self.stage.min(self.stages.len() - 1);
        Self::parts(self.stages[at].stage)[self.part]
    }

    /// The part that a take is of: the one that it was surely heard as, or the one that the frets of its
    /// other strings show.
    fn heard(&self, take: &JudgedTake) -> ChordPart {
        let all = [ChordPart::Barre, ChordPart::Shape, ChordPart::Whole];
        let judged = all
            .into_iter()
            .find(|p| self.ask_of(*p).target.frets == take.frets);
        let judged = judged.unwrap_or(ChordPart::Whole);
        let shown = |part: ChordPart| {
            let frets = &self.ask_of(part).target.frets;
            // Where the two parts differ, the strings sound as in the other one.
            let differs = |i: &usize| frets.0[*i] != take.frets.0[*i] && frets.0[*i].is_some();
            let differ: Vec<usize> = (0..STRINGS).filter(differs).collect();
            let alike = |i: &&usize| take.strings[**i].heard_fret == frets.0[**i];
            !differ.is_empty() && 2 * differ.iter().filter(alike).count() > differ.len()
        };
        let other = all.into_iter().find(|&p| p != judged && shown(p));
        other.unwrap_or(judged)
    }

    /// What to do in this part of the stage, where the order matters.
    fn text(&self, stage: BuildStage, part: usize) -> Option<String> {
        let text = match (stage, part) {
            (BuildStage::BarreThenShape, 1) => words::lesson::LAY_FINGERS_DOWN,
            (BuildStage::ShapeThenBarre, 1) => words::lesson::LAY_BARRE_DOWN,
            (BuildStage::Together, _) => words::lesson::ALL_AT_ONCE,
            _ => return None,
        };
        Some(text.to_owned())
    }
}

impl Exercise for BuildExercise {
    fn ask(&self) -> Ask {
        let at = self.stage.min(self.stages.len() - 1);
        let stage = self.stages[at].stage;
        let ask = self.ask_of(self.asked()).clone();
        Ask {
            text: self.text(stage, self.part).unwrap_or(ask.text),
            stage: Some(stage.word().to_owned()),
            ..ask
        }
    }

    fn hear(&mut self, played: &TimedTake) -> Reply {
        let ask = self.ask();
        let (asked, heard) = (self.asked(), self.heard(played.take));
        if heard != asked && played.take.judged() {
            return Reply {
                clean: match self.ask_of(heard).target.frets == played.take.frets {
                    true => clean(played.take, &self.ask_of(heard).counts),
                    // It was held against what was asked.
                    false => None,
                },
                note: Remark::Part {
                    chord: self.chord.clone(),
                    heard,
                    asked,
                },
                from: None,
                gap_s: None,
            };
        }
        let reply = Reply::of(played, &ask);
        let (Some(clean), false) = (reply.clean, self.done()) else {
            return reply;
        };
        let parts = Self::parts(self.stages[self.stage].stage).len();
        let stage = &mut self.stages[self.stage];
        stage.takes += 1;
        for (i, string) in played.take.strings.iter().enumerate() {
            stage.faults[i] += u32::from(ask.counts[i] && string.verdict.is_fault());
        }
        // A round is clean when all its parts are, one after the other.
        self.part = if clean { self.part + 1 } else { 0 };
        if self.part == parts {
            self.part = 0;
            stage.clean += 1;
            if stage.clean == stage.wanted {
                self.stage += 1;
            }
        }
        reply
    }

    fn done(&self) -> bool {
        self.stage == self.stages.len()
    }

    fn progress(&self) -> Progress {
        Progress {
            done: self.stages.iter().map(|s| s.clean).sum(),
            of: self.stages.iter().map(|s| s.wanted).sum(),
        }
    }

    fn findings(&self) -> Findings {
        Findings::Build(self.stages.clone())
    }
}
