//! Route: the way over the neck that the program has found, at the learner's own pace; what counts is
//! how each chord lands.

use super::climb::Walk;
use super::hold::once_each;
use super::{Ask, Exercise, Findings, Progress, Remark, Reply, TimedTake};
use crate::practice::lesson::Target;
use crate::progression::Route;
use crate::words;

/// Outcome of one move of the route.
#[derive(Debug, Clone, PartialEq)]
pub struct Landing {
    /// The chord left; none where the way begins.
    pub from: Option<Target>,
    /// The chord landed on.
    pub to: Target,
    /// Landings of which it could be told whether they were clean, and the clean ones.
    pub times: u32,
    /// Landings in which every string that counts was clean.
    pub clean: u32,
}

/// The state of a route.
#[derive(Debug, Clone)]
pub struct RouteExercise {
    walk: Walk,
    /// For each chord of the way what the hand does to get there, in words; for the first one of a later
    /// round too.
    ways: Vec<String>,
    back: Option<String>,
    /// The chords in their order, once.
    targets: Vec<Target>,
    landings: Vec<Landing>,
    wanted: u32,
}

impl RouteExercise {
    /// The way `rounds` times; so many landings are to be clean, and each chord gets so many tries.
    pub fn new(way: &Route, rounds: u32, wanted: u32, tries: u32) -> RouteExercise {
        let targets: Vec<Target> = way.steps.iter().map(|s| Target::from(&s.voicing)).collect();
        let moves = way.moves();
        let told = |to: usize, from: usize| {
            let (from_voicing, to_voicing) = (&way.steps[from].voicing, &way.steps[to].voicing);
            moves[from].describe(from_voicing, to_voicing)
        };
        let (distinct, once) = once_each(&targets);
        RouteExercise {
            walk: Walk::new(&distinct, once.repeat(rounds as usize), 1, tries),
            ways: (1..targets.len()).map(|to| told(to, to - 1)).collect(),
            back: (moves.len() == targets.len()).then(|| told(0, targets.len() - 1)),
            targets,
            landings: Vec::new(),
            wanted,
        }
    }

    /// The chord of a visit, and of the one before.
    fn at(&self, visit: usize) -> (usize, Option<usize>) {
        let count = self.targets.len();
        (visit % count, visit.checked_sub(1).map(|v| v % count))
    }

    fn landed(&self) -> u32 {
        self.landings.iter().map(|l| l.clean).sum()
    }

    fn land(&mut self, visit: usize, clean: bool) {
        let (to, from) = self.at(visit);
        let to = &self.targets[to];
        let from = from.map(|from| &self.targets[from]);
        let known = (self.landings.iter()).position(|l| {
            l.to.frets == to.frets && l.from.as_ref().map(|f| f.frets) == from.map(|f| f.frets)
        });
        let known = known.unwrap_or_else(|| {
            self.landings.push(Landing {
                from: from.cloned(),
                to: to.clone(),
                times: 0,
                clean: 0,
            });
            self.landings.len() - 1
        });
        self.landings[known].times += 1;
        self.landings[known].clean += u32::from(clean);
    }
}

impl Exercise for RouteExercise {
    fn ask(&self) -> Ask {
        let Progress { done, of } = self.walk.progress();
        let visit = done.min(of.saturating_sub(1)) as usize;
        let (to, from) = self.at(visit);
        let way = match (from, to) {
            (None, _) => Some(words::lesson::BEGIN_HERE.to_owned()),
            (Some(_), 0) => self.back.clone(),
            (Some(_), to) => Some(self.ways[to - 1].clone()),
        };
        let text = words::lesson::chord_of_way(
            &self.targets[to],
            visit + 1,
            of,
            way.map_or_else(String::new, |way| format!(": {way}")),
        );
        self.walk.ask(text)
    }

    fn hear(&mut self, played: &TimedTake) -> Reply {
        let ask = self.ask();
        let landing = self.walk.is_fresh();
        let visit = self.walk.progress().done as usize;
        let reply = self.walk.hear(played, &ask);
        match (reply.clean, &reply.note) {
            // Whatever is struck at a chord after its first strum mends it, but is no landing.
            (Some(clean), Remark::Verdict) if landing => {
                self.land(visit, clean);
                let from = self.at(visit).1.map(|from| self.targets[from].frets);
                Reply {
                    from: from.filter(|from| *from != ask.target.frets),
                    ..reply
                }
            }
            _ => reply,
        }
    }

    fn done(&self) -> bool {
        self.walk.done()
    }

    fn passed(&self) -> bool {
        self.done() && self.landed() >= self.wanted
    }

    fn progress(&self) -> Progress {
        Progress {
            done: self.landed(),
            of: self.wanted,
        }
    }

    fn findings(&self) -> Findings {
        Findings::Route(self.landings.clone())
    }
}
