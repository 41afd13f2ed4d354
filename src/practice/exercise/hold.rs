//! Hold: a progression at the learner's own pace.

use super::climb::Walk;
use super::{Ask, Exercise, Findings, Progress, Reply, TimedTake};
use crate::practice::lesson::Target;
use crate::words;

/// The state of a hold.
#[derive(Debug, Clone)]
pub struct HoldExercise {
    walk: Walk,
}

impl HoldExercise {
    /// The chords in their order, `rounds` times; each wants so many clean takes and gets so many
    /// tries.
    pub fn new(chords: &[Target], rounds: u32, wanted: u32, tries: u32) -> HoldExercise {
        let (distinct, once) = once_each(chords);
        let visits = once.repeat(rounds as usize);
        HoldExercise {
            walk: Walk::new(&distinct, visits, wanted, tries),
        }
    }
}

/// Each voicing once, and for each chord which of them it is: a chord that comes twice is one place.
pub(super) fn once_each(chords: &[Target]) -> (Vec<Target>, Vec<usize>) {
    let mut distinct: Vec<Target> = Vec::new();
    let mut once = Vec::new();
    for chord in chords {
        let at = distinct.iter().position(|known| known.frets == chord.frets);
        once.push(at.unwrap_or(distinct.len()));
        if at.is_none() {
            distinct.push(chord.clone());
        }
    }
    (distinct, once)
}

impl Exercise for HoldExercise {
    fn ask(&self) -> Ask {
        let Progress { done, of } = self.walk.progress();
        let text = words::lesson::chord_of_all(self.walk.target(), (done + 1).min(of), of);
        self.walk.ask(text)
    }

    fn hear(&mut self, played: &TimedTake) -> Reply {
        let ask = self.ask();
        self.walk.hear(played, &ask)
    }

    fn done(&self) -> bool {
        self.walk.done()
    }

    fn passed(&self) -> bool {
        self.walk.passed()
    }

    fn progress(&self) -> Progress {
        self.walk.progress()
    }

    fn findings(&self) -> Findings {
        Findings::Hold(self.walk.tallies())
    }
}
