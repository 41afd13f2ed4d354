//! Place: one chord held, the barre finger moved a little from take to take.

use super::{Ask, Exercise, Findings, Progress, Remark, Reply, TimedTake};
use crate::fretboard::STRINGS;
use crate::practice::lesson::Target;
use crate::verdict::{StringVerdict, Verdict};
use crate::words;

/// One placement of the finger, heard once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placement {
    /// String 6 to string 1.
    pub verdicts: [Verdict; STRINGS],
    /// Probability that each string did what it should, 0 to 1; 0 where it had a fault.
    pub right: [f32; STRINGS],
    /// True where every string that counts was clean.
    pub clean: bool,
}

impl Placement {
    fn faults(&self) -> usize {
        self.verdicts.iter().filter(|v| v.is_fault()).count()
    }

    /// Finds the placement that rang best: the fewest faults, then the surest strings. Of a single one
    /// nothing can be said.
    pub fn best(placements: &[Placement]) -> Option<usize> {
        if placements.len() < 2 {
            return None;
        }
        let sure = |p: &Placement| p.right.iter().sum::<f32>();
        (0..placements.len()).min_by(|&a, &b| {
            let (a, b) = (&placements[a], &placements[b]);
            a.faults()
                .cmp(&b.faults())
                .then(sure(b).total_cmp(&sure(a)))
        })
    }
}

/// The state of a place exercise.
#[derive(Debug, Clone)]
pub struct PlaceExercise {
    target: Target,
    wanted: u32,
    placements: Vec<Placement>,
}

impl PlaceExercise {
    /// `wanted` placements are to be clean.
    pub fn new(target: &Target, wanted: u32) -> PlaceExercise {
        PlaceExercise {
            target: target.clone(),
            wanted,
            placements: Vec::new(),
        }
    }

    fn clean(&self) -> u32 {
        self.placements.iter().filter(|p| p.clean).count() as u32
    }
}

impl Exercise for PlaceExercise {
    fn ask(&self) -> Ask {
        let text = match self.placements.len() {
            0 => words::lesson::hold_and_strum(&self.target),
            _ => words::lesson::MOVE_INDEX_FINGER.to_owned(),
        };
        Ask {
            stage: Some(format!("placement {}", self.placements.len() + 1)),
            moves: true,
            ..Ask::whole(&self.target, text)
        }
    }

    fn hear(&mut self, played: &TimedTake) -> Reply {
        let ask = self.ask();
        let reply = Reply::of(played, &ask);
        let (Some(clean), false) = (reply.clean, self.done()) else {
            return reply;
        };
        let right = |s: StringVerdict| match (s.verdict.is_fault(), s.expected_fret) {
            // A string that buzzes rings as surely as a clean one.
            (true, _) => 0.0,
            (false, Some(_)) => s.rings,
            (false, None) => 1.0 - s.rings,
        };
        let placement = Placement {
            verdicts: played.take.strings.map(|s| s.verdict),
            right: played.take.strings.map(right),
            clean,
        };
        self.placements.push(placement);
        Reply {
            note: Remark::Placed {
                number: self.placements.len(),
                right: (STRINGS - placement.faults(), STRINGS),
                best: Placement::best(&self.placements).map(|best| best + 1),
            },
            ..reply
        }
    }

    fn done(&self) -> bool {
        self.clean() >= self.wanted
    }

    fn progress(&self) -> Progress {
        Progress {
            done: self.clean(),
            of: self.wanted,
        }
    }

    fn findings(&self) -> Findings {
        Findings::Place(self.placements.clone())
    }
}
