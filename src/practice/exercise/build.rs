//! Build: a barre chord put together from its parts.

use super::{Ask, Exercise, Findings, Played, Progress, Reply};
use crate::fretboard::{Frets, STRINGS};
use crate::practice::lesson::{Stage, Target};

/// How one stage went.
#[derive(Debug, Clone, PartialEq)]
pub struct StageFindings {
    /// What the hand did in this stage.
    pub stage: Stage,
    /// Takes of which it could be told whether they were clean.
    pub takes: u32,
    /// Rounds in which every part was clean.
    pub clean: u32,
    /// Clean rounds that the lesson asks for.
    pub wanted: u32,
    /// How often each string had a fault, string 6 to string 1.
    pub faults: [u32; STRINGS],
}

/// The state of a build.
#[derive(Debug, Clone)]
pub struct Build {
    whole: Ask,
    barre: Ask,
    shape: Ask,
    stages: Vec<StageFindings>,
    /// The stage, and the part of its round.
    stage: usize,
    part: usize,
}

impl Build {
    /// `barre` alone, and which strings the `shape` holds: as [`crate::practice::Drill::Build`] has
    /// them.
    pub fn new(
        target: &Target,
        barre: &Frets,
        shape: &[bool; STRINGS],
        stages: &[Stage],
        wanted: u32,
    ) -> Build {
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
        Build {
            whole: Ask::whole(target, format!("The whole chord: {target}.")),
            barre: Ask::whole(
                &alone(*barre),
                format!("The barre alone: {barre}, every string at its fret."),
            ),
            shape: Ask {
                counts: *shape,
                ..Ask::whole(
                    &alone(held),
                    format!(
                        "{} without the barre: only the strings you hold.",
                        target.name()
                    ),
                )
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

    fn parts(&self, stage: Stage) -> Vec<&Ask> {
        match stage {
            Stage::Barre => vec![&self.barre],
            Stage::Shape => vec![&self.shape],
            Stage::BarreThenShape => vec![&self.barre, &self.whole],
            Stage::ShapeThenBarre => vec![&self.shape, &self.whole],
            Stage::Together => vec![&self.whole],
        }
    }

    /// What to do in this part of the stage, where the order matters.
    fn text(&self, stage: Stage, part: usize) -> Option<String> {
        let text = match (stage, part) {
            (Stage::BarreThenShape, 1) => {
                "Leave the barre, set the other fingers down: the whole chord."
            }
            (Stage::ShapeThenBarre, 1) => "Leave the fingers, lay the barre down: the whole chord.",
            (Stage::Together, _) => "Hand off the neck, then all fingers at once: the whole chord.",
            _ => return None,
        };
        Some(text.to_owned())
    }
}

impl Exercise for Build {
    fn ask(&self) -> Ask {
        let at = self.stage.min(self.stages.len() - 1);
        let stage = self.stages[at].stage;
        let ask = self.parts(stage)[self.part].clone();
        Ask {
            text: self.text(stage, self.part).unwrap_or(ask.text),
            stage: Some(stage.word().to_owned()),
            ..ask
        }
    }

    fn hear(&mut self, played: &Played) -> Reply {
        let ask = self.ask();
        let reply = Reply::of(played, &ask);
        let (Some(clean), false) = (reply.clean, self.done()) else {
            return reply;
        };
        let parts = self.parts(self.stages[self.stage].stage).len();
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

    fn passed(&self) -> bool {
        self.done()
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
