//! Climb: one shape along the neck.

use rand::rngs::SmallRng;
use rand::seq::SliceRandom;

use super::{Ask, Exercise, Findings, Progress, Reply, TimedTake, VoicingTally};
use crate::practice::lesson::{Order, Target};
use crate::words;

/// Places visited one after the other, each until it is clean or the tries are used up. Climb, hold and
/// route are made of it.
#[derive(Debug, Clone)]
pub(super) struct Walk {
    targets: Vec<Target>,
    tallies: Vec<VoicingTally>,
    /// Indices into the targets.
    visits: Vec<usize>,
    at: usize,
    takes_here: u32,
    clean_here: u32,
    wanted: u32,
    tries: u32,
    /// Visits that were left clean.
    clean_visits: u32,
}

impl Walk {
    pub fn new(targets: &[Target], visits: Vec<usize>, wanted: u32, tries: u32) -> Walk {
        Walk {
            tallies: targets.iter().map(VoicingTally::new).collect(),
            targets: targets.to_vec(),
            visits,
            at: 0,
            takes_here: 0,
            clean_here: 0,
            wanted,
            // Fewer tries than clean takes wanted could never be passed.
            tries: tries.max(wanted),
            clean_visits: 0,
        }
    }

    /// The place to play, by its index.
    pub fn here(&self) -> usize {
        self.visits[self.at.min(self.visits.len() - 1)]
    }

    pub fn target(&self) -> &Target {
        &self.targets[self.here()]
    }

    pub fn ask(&self, text: String) -> Ask {
        Ask::whole(self.target(), text).among(&self.targets)
    }

    pub fn hear(&mut self, played: &TimedTake, ask: &Ask) -> Reply {
        if played.take.frets != ask.target.frets {
            return Reply::other(played, ask);
        }
        let reply = Reply::of(played, ask);
        if self.done() {
            return reply;
        }
        let here = self.here();
        self.tallies[here].add(played.take, reply.clean, &ask.counts);
        if let Some(clean) = reply.clean {
            self.takes_here += 1;
            self.clean_here += u32::from(clean);
        }
        let clean = self.clean_here >= self.wanted;
        if clean || self.takes_here >= self.tries {
            self.clean_visits += u32::from(clean);
            self.at += 1;
            (self.takes_here, self.clean_here) = (0, 0);
        }
        reply
    }

    /// Tells whether nothing was told yet of a take at this visit.
    pub fn is_fresh(&self) -> bool {
        self.takes_here == 0
    }

    pub fn done(&self) -> bool {
        self.at == self.visits.len()
    }

    pub fn passed(&self) -> bool {
        self.done() && self.clean_visits as usize == self.visits.len()
    }

    pub fn progress(&self) -> Progress {
        Progress {
            done: self.at as u32,
            of: self.visits.len() as u32,
        }
    }

    pub fn tallies(&self) -> Vec<VoicingTally> {
        self.tallies.clone()
    }
}

/// An exercise that is a walk and nothing else: a climb, or a hold.
#[derive(Debug, Clone)]
pub struct Walked {
    pub(super) walk: Walk,
    /// What is said of the place to play.
    pub(super) text: fn(&Walk) -> String,
    pub(super) findings: fn(Vec<VoicingTally>) -> Findings,
}

/// Climbs over `places` up the neck, at least one; each wants so many clean takes and gets so many tries.
pub fn climb(
    places: &[Target],
    order: Order,
    wanted: u32,
    tries: u32,
    rng: &mut SmallRng,
) -> Walked {
    let mut visits: Vec<usize> = (0..places.len()).collect();
    match order {
        Order::Up => {}
        Order::Down => visits.reverse(),
        // The highest fret comes once.
        Order::UpAndDown => visits.extend((0..places.len() - 1).rev()),
        Order::Random => visits.shuffle(rng),
    }
    Walked {
        walk: Walk::new(places, visits, wanted, tries),
        text: |walk| {
            let target = walk.target();
            let place = target.voicing.as_ref().map(|v| v.describe());
            let place = place.unwrap_or_else(|| words::lesson::AS_WRITTEN.to_owned());
            format!("{target}: {place}.")
        },
        findings: Findings::Climb,
    }
}

impl Exercise for Walked {
    fn ask(&self) -> Ask {
        self.walk.ask((self.text)(&self.walk))
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
        (self.findings)(self.walk.tallies())
    }
}
