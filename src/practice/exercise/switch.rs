//! Switch: from chord to chord and round again, for as long as the step says.

use super::{Ask, Exercise, Findings, Progress, Reply, TimedTake};
use crate::practice::lesson::Target;
use crate::progression::timing::Spread;
use crate::words;

/// Difference from one chord to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SwitchKind {
    /// Another shape at the same fret.
    Shape,
    /// The same shape at another fret.
    Slide,
    /// Both.
    Both,
    /// Chords that are not all movable shapes.
    Other,
}

impl SwitchKind {
    /// Gives what it is called.
    pub fn phrase(self) -> &'static str {
        match self {
            SwitchKind::Shape => words::lesson::ANOTHER_SHAPE,
            SwitchKind::Slide => words::lesson::ANOTHER_FRET,
            SwitchKind::Both => words::lesson::ANOTHER_SHAPE_AND_FRET,
            SwitchKind::Other => words::lesson::OTHER_CHANGES,
        }
    }

    fn of(from: &Target, to: &Target) -> SwitchKind {
        let place = |target: &Target| {
            let voicing = target.voicing.as_ref()?;
            Some((voicing.shape?, voicing.chord.quality, voicing.at))
        };
        match (place(from), place(to)) {
            (Some(a), Some(b)) => match ((a.0, a.1) == (b.0, b.1), a.2 == b.2) {
                (false, true) => SwitchKind::Shape,
                (true, false) => SwitchKind::Slide,
                (false, false) => SwitchKind::Both,
                (true, true) => SwitchKind::Other,
            },
            _ => SwitchKind::Other,
        }
    }
}

/// One change of chord.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// Indices into the step's chords.
    pub from: usize,
    /// Index of the new chord.
    pub to: usize,
    /// Motion of the hand from one to the other.
    pub kind: SwitchKind,
    /// Moment at which the old chord stopped sounding, in seconds.
    pub left_s: f64,
    /// True where the first strum of the new chord was clean; `None` where that cannot be told.
    pub landed_clean: Option<bool>,
    /// Time from the old chord's end to the new one's clean sound, in seconds; `None` where it never came.
    pub gap_s: Option<f64>,
}

/// Outcome of a switch.
#[derive(Debug, Clone, PartialEq)]
pub struct SwitchFindings {
    /// The step's chords, in the order asked.
    pub chords: Vec<Target>,
    /// The changes, in the order played.
    pub changes: Vec<Change>,
}

/// Times that changes take, from the old chord's end to a clean landing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChangeTimes {
    /// Number of changes that landed clean in the end.
    pub count: usize,
    /// The middle one of all, in seconds.
    pub middle_s: f64,
    /// The middle two thirds lie within this about the middle, in seconds, as [`Spread`] has it.
    pub spread_s: f64,
}

impl ChangeTimes {
    /// Sums up times in seconds; `None` of none.
    pub fn of(gaps_s: &[f64]) -> Option<ChangeTimes> {
        let gaps_ms: Vec<f64> = gaps_s.iter().map(|s| s * 1e3).collect();
        Spread::of(&gaps_ms).map(|spread| ChangeTimes {
            count: spread.count,
            middle_s: spread.middle_ms / 1e3,
            spread_s: spread.spread_ms / 1e3,
        })
    }
}

/// The state of a switch.
#[derive(Debug, Clone)]
pub struct SwitchExercise {
    chords: Vec<Target>,
    wanted: u32,
    /// The chord last heard.
    at: Option<usize>,
    changes: Vec<Change>,
    /// When the last take stopped sounding.
    end_s: Option<f64>,
}

impl SwitchExercise {
    /// Round and round the chords, two or more; so many landings are to be clean.
    pub fn new(chords: &[Target], wanted: u32) -> SwitchExercise {
        SwitchExercise {
            chords: chords.to_vec(),
            wanted,
            at: None,
            changes: Vec::new(),
            end_s: None,
        }
    }

    fn next(&self) -> usize {
        self.at.map_or(0, |at| (at + 1) % self.chords.len())
    }

    fn landed(&self) -> u32 {
        let clean = |change: &&Change| change.landed_clean == Some(true);
        self.changes.iter().filter(clean).count() as u32
    }
}

impl Exercise for SwitchExercise {
    fn ask(&self) -> Ask {
        let next = &self.chords[self.next()];
        let text = match self.at {
            None => words::lesson::begin_with(next),
            Some(_) => words::lesson::change_to(next),
        };
        Ask::whole(next, text).among(&self.chords)
    }

    fn hear(&mut self, played: &TimedTake) -> Reply {
        let ask = self.ask();
        let mut reply = Reply::of(played, &ask);
        if !played.take.judged() {
            return reply;
        }
        let struck_s = played.start_s;
        let left_s = self.end_s.take().unwrap_or(struck_s).min(struck_s);
        // A chord may come twice in the round: the next one in it is meant.
        let next = self.next();
        let heard = (0..self.chords.len())
            .map(|i| (next + i) % self.chords.len())
            .find(|&i| self.chords[i].frets == played.take.frets);
        let Some(heard) = heard else { return reply };
        let same = self
            .at
            .is_some_and(|at| self.chords[at].frets == played.take.frets);
        match self.at {
            None => {}
            Some(_) if same => {
                // Struck again until it is clean: the gap lasts that long.
                if let Some(change) = self.changes.last_mut()
                    && change.gap_s.is_none()
                    && reply.clean == Some(true)
                {
                    change.gap_s = Some(struck_s - change.left_s);
                    reply.gap_s = change.gap_s;
                }
                return reply;
            }
            Some(from) => {
                let gap_s = (reply.clean == Some(true)).then_some(struck_s - left_s);
                self.changes.push(Change {
                    from,
                    to: heard,
                    kind: SwitchKind::of(&self.chords[from], &self.chords[heard]),
                    left_s,
                    landed_clean: reply.clean,
                    gap_s,
                });
                reply.from = Some(self.chords[from].frets);
                reply.gap_s = gap_s;
            }
        }
        self.at = Some(heard);
        reply
    }

    fn ended(&mut self, end_s: f64) {
        self.end_s = Some(end_s);
    }

    /// Only the clock ends it.
    fn done(&self) -> bool {
        false
    }

    fn passed(&self) -> bool {
        self.landed() >= self.wanted
    }

    fn progress(&self) -> Progress {
        Progress {
            done: self.landed(),
            of: self.wanted,
        }
    }

    fn findings(&self) -> Findings {
        Findings::Switch(SwitchFindings {
            chords: self.chords.clone(),
            changes: self.changes.clone(),
        })
    }

    fn is_timed(&self) -> bool {
        true
    }
}
