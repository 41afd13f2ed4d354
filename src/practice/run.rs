//! A practice: a lesson under way, and every judged take kept as it happens.

use std::collections::HashMap;
use std::time::Duration;

use jiff::Timestamp;

use super::diary::{Entry, Keeper, Kept};
use super::exercise::Findings;
use super::hearing::end_s;
use super::lesson::Lesson;
use super::session::{Event, Outcome, Session, TakeEvent};
use crate::take::Strum;
use crate::verdict::{Heard, Take};

/// What a practice is to keep beside the verdicts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Circumstances {
    /// When the sound begins.
    pub began: Timestamp,
    pub guitar: Option<String>,
    /// Whether the sound of each take is kept.
    pub sounds: bool,
}

/// A lesson fed with what a listener hears. What it says goes to the caller as [`Event`]s; what it
/// finds goes into the diary at once, so that stopping at any moment loses nothing.
#[derive(Debug)]
pub struct Practice {
    lesson: Lesson,
    session: Session,
    keeper: Option<Keeper>,
    circumstances: Circumstances,
    /// Where each take was put, by the listener's number.
    kept: HashMap<u64, (Kept, Timestamp)>,
}

impl Practice {
    /// A practice of this lesson. What the lesson leaves to chance comes from `seed`.
    pub fn new(
        lesson: Lesson,
        seed: u64,
        keeper: Option<Keeper>,
        circumstances: Circumstances,
    ) -> Self {
        Practice {
            session: Session::new(&lesson, seed),
            lesson,
            keeper,
            circumstances,
            kept: HashMap::new(),
        }
    }

    pub fn lesson(&self) -> &Lesson {
        &self.lesson
    }

    pub fn session(&self) -> &Session {
        &self.session
    }

    /// Where takes are kept, if they are.
    pub fn keeper(&self) -> Option<&Keeper> {
        self.keeper.as_ref()
    }

    /// How each step came out.
    pub fn results(&self) -> Vec<(Outcome, Findings)> {
        self.session.results()
    }

    /// Puts the first step on.
    pub fn begin(&mut self, events: &mut Vec<Event>) {
        self.session.begin(0.0, events);
    }

    /// Takes what was heard by now, in seconds since the sound began.
    pub fn hear(&mut self, heard: &Heard, now_s: f64, events: &mut Vec<Event>) {
        match heard {
            Heard::First { .. } => {}
            Heard::Settled { number, take } => {
                self.forget(*number);
                let before = events.len();
                self.session.hear(*number, take, now_s, events);
                for event in &events[before..] {
                    if let Event::Take(event) = event {
                        self.keep(event);
                    }
                }
            }
            Heard::Cut {
                number,
                take,
                strum,
            } => self.ended(*number, take, strum),
            Heard::Over {
                number,
                take,
                strum,
            } => {
                self.ended(*number, take, strum);
                if let (Some((kept, at)), Some(keeper), true) = (
                    self.kept.remove(number),
                    &mut self.keeper,
                    self.circumstances.sounds,
                ) {
                    keeper.keep_sound(kept, at, strum);
                }
            }
            Heard::Withdrawn { number } => {
                self.forget(*number);
                self.session.withdraw(*number, events);
            }
        }
    }

    /// Time goes on.
    pub fn tick(&mut self, now_s: f64, events: &mut Vec<Event>) {
        self.session.tick(now_s, events);
    }

    /// The learner goes on to the next step.
    pub fn leave(&mut self, now_s: f64, events: &mut Vec<Event>) {
        self.session.leave(now_s, events);
    }

    fn ended(&mut self, number: u64, take: &Take, strum: &Strum) {
        let lasted_s = end_s(strum) - strum.start_s();
        self.session.ended(number, take.start_s + lasted_s);
    }

    fn keep(&mut self, event: &TakeEvent) {
        if self.keeper.is_none() {
            return;
        }
        let entry = self.entry(event);
        if let Some(keeper) = &mut self.keeper {
            let kept = keeper.keep(&entry);
            self.kept.insert(event.number, (kept, entry.at));
        }
    }

    fn forget(&mut self, number: u64) {
        if let (Some((kept, _)), Some(keeper)) = (self.kept.remove(&number), &mut self.keeper) {
            keeper.remove(kept);
        }
    }

    fn entry(&self, event: &TakeEvent) -> Entry {
        let step = &self.lesson.steps[event.step];
        Entry {
            guitar: self.circumstances.guitar.clone(),
            lesson: Some(self.lesson.title.clone()),
            began: Some(self.circumstances.began),
            step: Some(event.step as u32 + 1),
            exercise: Some(step.drill.kind().to_owned()),
            stage: event.stage.clone(),
            clean: event.reply.clean,
            from: event.reply.from,
            gap_s: event.reply.gap_s,
            ..Entry::of(&event.take, self.time(&event.take), &self.lesson.tuning)
        }
    }

    /// When a take was struck.
    fn time(&self, take: &Take) -> Timestamp {
        let after = Duration::from_millis((take.start_s.max(0.0) * 1000.0) as u64);
        (self.circumstances.began)
            .checked_add(after)
            .unwrap_or(self.circumstances.began)
    }
}
