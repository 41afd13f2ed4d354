//! Play: along with a backing. A time through is judged as a whole, once it is over.

use super::hold::once_each;
use super::{Ask, Exercise, Findings, Progress, Reply, TimedTake};
use crate::fretboard::Frets;
use crate::practice::lesson::Target;
use crate::progression::Placed;
use crate::progression::performance::{Part, Performance};
use crate::words;

/// The state of playing along.
#[derive(Debug, Clone)]
pub struct PlayExercise {
    /// The chords, each voicing once; the first one comes first.
    chords: Vec<Target>,
    /// How it begins.
    text: String,
    wanted: u32,
    within_ms: f64,
    tries: u32,
    times: Vec<Performance>,
}

/// Strums that landed clean and within so many ms of their beat.
pub fn landed(performance: &Performance, within_ms: f64) -> u32 {
    let in_time = |off: Option<f64>| off.is_some_and(|off| off.abs() <= within_ms);
    let landed =
        (performance.outcomes.iter()).filter(|o| in_time(o.off_ms) && o.clean == Some(true));
    landed.count() as u32
}

impl PlayExercise {
    /// `wanted` strums of one time through are to be clean and within so many ms of their beat; it may be
    /// tried so often.
    pub fn new(part: &Part, wanted: u32, within_ms: f64, tries: u32) -> PlayExercise {
        let target = |(placed, frets): (&Placed, &Option<Frets>)| {
            Some(Target {
                frets: (*frets)?,
                chord: placed.chord,
                voicing: None,
            })
        };
        let placed = part.plan.placed.iter().zip(&part.voicings);
        let (chords, _) = once_each(&placed.filter_map(target).collect::<Vec<_>>());
        let grid = &part.plan.grid;
        PlayExercise {
            chords,
            text: words::lesson::count_in_to_come(grid.count_in, grid.tempo_bpm(0.0), grid.bars),
            wanted,
            within_ms,
            tries,
            times: Vec::new(),
        }
    }

    fn best(&self) -> u32 {
        let landed = self.times.iter().map(|s| landed(s, self.within_ms));
        landed.max().unwrap_or(0)
    }
}

impl Exercise for PlayExercise {
    fn ask(&self) -> Ask {
        let text = match self.times.len() {
            0 => self.text.clone(),
            _ => words::lesson::once_more(&self.text),
        };
        Ask::whole(&self.chords[0], text).among(&self.chords)
    }

    /// What is strummed between two times through counts for nothing.
    fn hear(&mut self, played: &TimedTake) -> Reply {
        Reply::of(played, &self.ask())
    }

    fn along(&mut self, performance: &Performance) {
        self.times.push(performance.clone());
    }

    fn done(&self) -> bool {
        self.passed() || self.times.len() >= self.tries as usize
    }

    fn passed(&self) -> bool {
        self.best() >= self.wanted
    }

    fn progress(&self) -> Progress {
        Progress {
            done: self.best(),
            of: self.wanted,
        }
    }

    fn findings(&self) -> Findings {
        Findings::Play(self.times.clone())
    }
}
