//! Name: a root is asked, the chord that is played there answers.

use std::collections::VecDeque;

use rand::rngs::SmallRng;
use rand::seq::SliceRandom;

use super::{Ask, Exercise, Findings, Progress, Remark, Reply, TimedTake};
use crate::fretboard::NoteName;
use crate::practice::lesson::Target;
use crate::verdict::{JudgedTake, Verdict};
use crate::words;

/// A root that took more than one try comes again after so many others: soon, but not at once.
const AGAIN_AFTER: usize = 2;
/// An answer is heard as the chord asked when at least this share of its strings ring clean; less may
/// be anything.
const CLEAR: f64 = 0.5;

/// Outcome of one root.
#[derive(Debug, Clone, PartialEq)]
pub struct RootFindings {
    /// The root that was asked.
    pub root: NoteName,
    /// Number of times that it was asked to the end.
    pub asked: u32,
    /// Number of times that the first chord played was right.
    pub at_once: u32,
    /// The chords that were played instead, by name.
    pub instead: Vec<String>,
    /// Seconds from question to right answer, one an answer.
    pub seconds: Vec<f64>,
}

/// The state of a name exercise.
#[derive(Debug, Clone)]
pub struct NameExercise {
    string: u8,
    answers: Vec<Target>,
    roots: Vec<RootFindings>,
    /// Roots to ask, by index; the first is being asked.
    queue: VecDeque<usize>,
    wanted: u32,
    tries: u32,
    right: u32,
    wrong_here: u32,
    asked_s: f64,
    rng: SmallRng,
}

impl NameExercise {
    /// Roots on string 6 or 5, each of which one of the `answers` has; at least one.
    pub fn new(
        string: u8,
        roots: &[NoteName],
        answers: &[Target],
        wanted: u32,
        tries: u32,
        rng: &mut SmallRng,
    ) -> NameExercise {
        let mut name = NameExercise {
            string,
            answers: answers.to_vec(),
            roots: roots
                .iter()
                .map(|&root| RootFindings {
                    root,
                    asked: 0,
                    at_once: 0,
                    instead: Vec::new(),
                    seconds: Vec::new(),
                })
                .collect(),
            queue: VecDeque::new(),
            wanted,
            tries,
            right: 0,
            wrong_here: 0,
            asked_s: 0.0,
            rng: rng.clone(),
        };
        name.fill(None);
        name
    }

    /// Fills the queue anew; the one asked last does not come first.
    fn fill(&mut self, last: Option<usize>) {
        if !self.queue.is_empty() {
            return;
        }
        let mut all: Vec<usize> = (0..self.roots.len()).collect();
        all.shuffle(&mut self.rng);
        if all.len() > 1 && Some(all[0]) == last {
            let end = all.len() - 1;
            all.swap(0, end);
        }
        self.queue.extend(all);
    }

    fn here(&self) -> usize {
        self.queue[0]
    }

    /// Goes on to the next root; `again` brings this one back soon.
    fn next(&mut self, now_s: f64, again: bool) {
        let last = self.queue.pop_front();
        self.fill(last);
        if let (true, Some(last)) = (again, last) {
            let at = AGAIN_AFTER.min(self.queue.len());
            self.queue.insert(at, last);
        }
        self.wrong_here = 0;
        self.asked_s = now_s;
    }

    fn answer(&self) -> &Target {
        let root = self.roots[self.here()].root;
        (self.answers.iter())
            .find(|answer| has_root(answer, root))
            .unwrap_or(&self.answers[0])
    }
}

fn has_root(target: &Target, root: NoteName) -> bool {
    let chord = target.chord.as_ref();
    chord.is_some_and(|chord| chord.root.pitch_class() == root.pitch_class())
}

/// Whether enough strings ring clean for the chord to be the one that the take was held against.
fn is_clear(take: &JudgedTake) -> bool {
    let sounding = take.frets.sounding().count().max(1);
    let clean = take
        .strings
        .iter()
        .filter(|s| s.verdict == Verdict::Clean)
        .count();
    take.judged() && clean as f64 >= CLEAR * sounding as f64
}

impl Exercise for NameExercise {
    fn ask(&self) -> Ask {
        let root = self.roots[self.here()].root;
        let quality = self
            .answer()
            .chord
            .map_or("", |chord| chord.quality.symbol());
        let text = words::lesson::play_root(root, quality, self.string);
        Ask {
            hides_place: true,
            stage: Some(words::lesson::root_on_string(root, self.string)),
            ..Ask::whole(self.answer(), text).among(&self.answers)
        }
    }

    fn begin(&mut self, now_s: f64) {
        self.asked_s = now_s;
    }

    fn hear(&mut self, played: &TimedTake) -> Reply {
        let ask = self.ask();
        let reply = Reply::of(played, &ask);
        if self.done() || !is_clear(played.take) {
            return reply;
        }
        let here = self.here();
        let root = self.roots[here].root;
        let heard = self.answers.iter().find(|a| a.frets == played.take.frets);
        if heard.is_some_and(|heard| has_root(heard, root)) {
            let seconds = (played.start_s - self.asked_s).max(0.0);
            let at_once = self.wrong_here == 0;
            let found = &mut self.roots[here];
            found.asked += 1;
            found.at_once += u32::from(at_once);
            found.seconds.push(seconds);
            self.right += 1;
            self.next(played.now_s, !at_once);
            let name = ask.target.name();
            return Reply {
                note: Remark::Right { name, seconds },
                ..reply
            };
        }
        let heard = heard.map_or_else(String::new, Target::name);
        self.roots[here].instead.push(heard.clone());
        self.wrong_here += 1;
        let note = if self.wrong_here >= self.tries {
            self.roots[here].asked += 1;
            self.next(played.now_s, true);
            Remark::Shown {
                place: ask.target.to_string(),
            }
        } else {
            Remark::Wrong {
                heard,
                asked: ask.target.name(),
            }
        };
        Reply { note, ..reply }
    }

    fn done(&self) -> bool {
        self.right >= self.wanted
    }

    fn progress(&self) -> Progress {
        Progress {
            done: self.right,
            of: self.wanted,
        }
    }

    fn findings(&self) -> Findings {
        Findings::Name(self.roots.clone())
    }
}
