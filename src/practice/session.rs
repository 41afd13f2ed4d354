//! A lesson under way: which step is on, when it is over, when a break is due.

use rand::SeedableRng;
use rand::rngs::SmallRng;

use super::exercise::{Ask, Exercise, Findings, Progress, Reply, TimedTake, exercise};
use super::lesson::Lesson;
use super::pauses::practised_s;
use crate::fretboard::Frets;
use crate::progression::performance::Performance;
use crate::take::Manner;
use crate::verdict::JudgedTake;

/// A step is not called over before a take that began in time could have its verdict, in seconds.
const GRACE_S: f64 = 1.5;
/// Where steps take turns, each has so many takes at a time. A choice: long enough to notice something,
/// short enough to have to begin anew.
const TURN_TAKES: u32 = 4;
/// A break is due after so much playing, in seconds; the source is that of [`REST_S`](super::REST_S).
const BREAK_AFTER_S: f64 = 30.0 * 60.0;

/// Outcome of a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StepOutcome {
    /// All that was asked for is reached.
    Passed,
    /// Everything was played, not all of it clean.
    Played,
    /// The time was up.
    TimeUp,
    /// The learner went on.
    Left,
    /// The practice stopped before.
    Stopped,
}

/// Event of a lesson.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// A step comes on, for the first time or again. Steps count from 0.
    Step {
        /// Number of the step, from 0.
        step: usize,
    },
    /// Something else is to be played.
    Asked(Ask),
    /// A take was judged.
    Take(Box<TakeEvent>),
    /// A time through with a backing was judged.
    Along(Box<AlongEvent>),
    /// A take that was told of has turned out to be none.
    Withdrawn {
        /// The listener's number for it.
        number: u64,
    },
    /// A step is over.
    Over {
        /// Number of the step, from 0.
        step: usize,
        /// Outcome of the step.
        outcome: StepOutcome,
    },
    /// Half an hour has been played.
    Break,
    /// The lesson is over.
    End,
}

/// A judged take in its place in the lesson.
#[derive(Debug, Clone, PartialEq)]
pub struct TakeEvent {
    /// The listener's number for it.
    pub number: u64,
    /// The take, judged.
    pub take: JudgedTake,
    /// The step that it belongs to, from 0.
    pub step: usize,
    /// The part of the exercise.
    pub stage: Option<String>,
    /// Judgement of the exercise on it.
    pub reply: Reply,
    /// Progress of the exercise after it.
    pub progress: Progress,
}

/// A time through with a backing in its place in the lesson.
#[derive(Debug, Clone, PartialEq)]
pub struct AlongEvent {
    /// The step that it belongs to, from 0.
    pub step: usize,
    /// The time through, judged.
    pub played: Performance,
    /// Progress of the exercise after it.
    pub progress: Progress,
}

/// A strum that was counted.
#[derive(Debug)]
struct Counted {
    number: u64,
    start_s: f64,
    /// The step that was on, and the frets that were asked.
    asked: (usize, Option<Frets>),
}

#[derive(Debug)]
struct Slot {
    exercise: Box<dyn Exercise>,
    limit_s: f64,
    /// Time used up in earlier turns.
    used_s: f64,
    /// Since when its clock runs; a timed one waits for its first take.
    since_s: Option<f64>,
    outcome: Option<StepOutcome>,
    /// Whether it was ever on.
    begun: bool,
}

/// Result of a step that was begun.
#[derive(Debug, Clone, PartialEq)]
pub struct StepResult {
    /// Number of the step, from 0.
    pub step: usize,
    /// End of it; one that is still open counts as stopped.
    pub outcome: StepOutcome,
    /// Findings that it brought.
    pub findings: Findings,
}

/// A lesson under way. Times are in seconds since it began.
#[derive(Debug)]
pub struct Session {
    slots: Vec<Slot>,
    alternate: bool,
    /// The step that is on; as many as there are steps when the lesson is over.
    current: usize,
    takes_this_turn: u32,
    asked: Option<Ask>,
    /// While the practice is paused: whether the clock of the step ran.
    paused: Option<bool>,
    /// Before the last take counted: its number, its step, the exercise as it was.
    before: Option<(u64, usize, Box<dyn Exercise>)>,
    /// The last strum that was counted.
    counted: Option<Counted>,
    played_s: f64,
    last_take_s: Option<f64>,
    break_told: bool,
}

impl Session {
    /// The lesson from its start. What it leaves to chance comes from `seed`.
    pub fn new(lesson: &Lesson, seed: u64) -> Session {
        let mut rng = SmallRng::seed_from_u64(seed);
        Session {
            slots: (lesson.steps.iter())
                .map(|step| Slot {
                    exercise: exercise(step, &mut rng),
                    limit_s: step.limit_s,
                    used_s: 0.0,
                    since_s: None,
                    outcome: None,
                    begun: false,
                })
                .collect(),
            alternate: lesson.alternate,
            current: 0,
            takes_this_turn: 0,
            asked: None,
            paused: None,
            before: None,
            counted: None,
            played_s: 0.0,
            last_take_s: None,
            break_told: false,
        }
    }

    /// Puts the first step on.
    pub fn begin(&mut self, now_s: f64, events: &mut Vec<Event>) {
        self.put_on(now_s, events);
    }

    /// Gives what is to be played; `None` when the lesson is over.
    pub fn ask(&self) -> Option<&Ask> {
        self.asked.as_ref()
    }

    /// The step that is on, from 0; `None` when the lesson is over.
    pub fn step(&self) -> Option<usize> {
        (self.current < self.slots.len()).then_some(self.current)
    }

    /// Tells how far the step that is on has come.
    pub fn progress(&self) -> Option<Progress> {
        Some(self.slots[self.step()?].exercise.progress())
    }

    /// Seconds that the step that is on has left; `None` while a timed one waits for its first take.
    pub fn left_s(&self, now_s: f64) -> Option<f64> {
        let slot = &self.slots[self.step()?];
        let since = slot.since_s?;
        Some((slot.limit_s - slot.used_s - (now_s - since)).max(0.0))
    }

    /// Gives what came of each step that was begun.
    pub fn results(&self) -> Vec<StepResult> {
        let begun = self.slots.iter().enumerate().filter(|(_, slot)| slot.begun);
        begun
            .map(|(step, slot)| StepResult {
                step,
                outcome: slot.outcome.unwrap_or(StepOutcome::Stopped),
                findings: slot.exercise.findings(),
            })
            .collect()
    }

    /// Tells whether the learner has stopped the clocks.
    pub fn is_paused(&self) -> bool {
        self.paused.is_some()
    }

    /// Stops the clocks. What is played until [`go_on`](Self::go_on) is not to be given to the session.
    pub fn pause(&mut self, now_s: f64) {
        if self.paused.is_none() && self.step().is_some() {
            self.paused = Some(self.slots[self.current].since_s.is_some());
            self.stop_clock(now_s);
        }
    }

    /// Lets the clocks run on.
    pub fn go_on(&mut self, now_s: f64) {
        if let (Some(ran), Some(step)) = (self.paused.take(), self.step()) {
            let slot = &mut self.slots[step];
            slot.since_s = ran.then_some(now_s);
            slot.exercise.begin(now_s);
        }
    }

    /// Time goes on.
    pub fn tick(&mut self, now_s: f64, events: &mut Vec<Event>) {
        self.end_if_over(now_s - GRACE_S, now_s, events);
    }

    /// Takes a judged take. A word on the number of the last one replaces what was said before.
    pub fn hear(&mut self, number: u64, take: &JudgedTake, now_s: f64, events: &mut Vec<Event>) {
        if self.has_counted(number, take) {
            return;
        }
        self.counted = Some(Counted {
            number,
            start_s: take.start_s,
            asked: self.place(),
        });
        self.take_back(number);
        self.count_playing(take.start_s, events);
        self.end_if_over(take.start_s, now_s, events);
        let fits = self
            .asked
            .as_ref()
            .is_some_and(|ask| ask.is_answered_by(&take.frets));
        let (Some(step), true) = (self.step(), fits) else {
            events.push(Event::Take(Box::new(TakeEvent {
                number,
                take: take.clone(),
                step: self.current.min(self.slots.len() - 1),
                stage: None,
                reply: Reply::late(take),
                progress: self.progress().unwrap_or(Progress { done: 0, of: 0 }),
            })));
            return;
        };
        let stage = self.asked.as_ref().and_then(|ask| ask.stage.clone());
        let slot = &mut self.slots[step];
        match &mut self.paused {
            // Struck before the pause, judged in it.
            Some(ran) => *ran = true,
            None => {
                slot.since_s.get_or_insert(take.start_s);
            }
        }
        self.before = Some((number, step, slot.exercise.copy()));
        let reply = slot.exercise.hear(&TimedTake {
            take,
            start_s: take.start_s,
            now_s,
        });
        events.push(Event::Take(Box::new(TakeEvent {
            number,
            take: take.clone(),
            step,
            stage,
            reply,
            progress: slot.exercise.progress(),
        })));
        self.takes_this_turn += 1;
        self.after(step, now_s, events);
    }

    /// Takes a time through with a backing that the step now on has asked for. Its beginning and end in
    /// seconds since the practice began.
    pub fn along(
        &mut self,
        played: &Performance,
        from_s: f64,
        now_s: f64,
        events: &mut Vec<Event>,
    ) {
        let Some(step) = self.step() else { return };
        self.before = None;
        for take in played.takes.iter().flatten() {
            self.count_playing(from_s + take.start_s, events);
        }
        let slot = &mut self.slots[step];
        slot.exercise.along(played);
        events.push(Event::Along(Box::new(AlongEvent {
            step,
            played: played.clone(),
            progress: slot.exercise.progress(),
        })));
        // Once through is a turn of its own.
        self.takes_this_turn = TURN_TAKES;
        self.after(step, now_s, events);
    }

    /// After what was played: the step is over, or another one's turn, or asks on.
    fn after(&mut self, step: usize, now_s: f64, events: &mut Vec<Event>) {
        if self.slots[step].exercise.done() {
            let outcome = match self.slots[step].exercise.passed() {
                true => StepOutcome::Passed,
                false => StepOutcome::Played,
            };
            self.end(outcome, now_s, events);
        } else if self.alternate
            && self.takes_this_turn >= TURN_TAKES
            && !self.slots[step].exercise.is_timed()
            && self.another().is_some()
        {
            self.stop_clock(now_s);
            self.current = self.another().unwrap_or(step);
            self.put_on(now_s, events);
        } else {
            self.ask_anew(events);
        }
    }

    /// Asks anew for a time through of which nothing was heard.
    pub fn unheard(&mut self, events: &mut Vec<Event>) {
        events.extend(self.asked.clone().map(Event::Asked));
    }

    /// The last take stopped sounding.
    pub fn ended(&mut self, number: u64, end_s: f64) {
        if let Some((last, step, _)) = &self.before
            && *last == number
        {
            self.slots[*step].exercise.ended(end_s);
        }
    }

    /// The player says how a take really was, or that it is not to count (`None`). Gives whether the exercise has
    /// taken it in: that is so while the take is the last one and its step is still on.
    pub fn put_right(
        &mut self,
        number: u64,
        take: Option<&JudgedTake>,
        now_s: f64,
        events: &mut Vec<Event>,
    ) -> bool {
        let back = self.take_back(number);
        match take {
            Some(take) if back => self.hear(number, take, now_s, events),
            _ if back => self.ask_anew(events),
            _ => {}
        }
        back
    }

    /// A take has turned out to be none.
    pub fn withdraw(&mut self, number: u64, events: &mut Vec<Event>) {
        if self.take_back(number) {
            events.push(Event::Withdrawn { number });
            self.ask_anew(events);
        }
    }

    /// The learner goes on to the next step.
    pub fn leave(&mut self, now_s: f64, events: &mut Vec<Event>) {
        if self.step().is_some() {
            self.end(StepOutcome::Left, now_s, events);
        }
    }

    /// Tells whether this strum has been counted and something else is asked by now. A buzz that begins late is told when the
    /// hand has gone on: it changes what is shown, and not the exercise.
    pub fn has_counted(&self, number: u64, take: &JudgedTake) -> bool {
        let same = |counted: &&Counted| {
            (counted.number, counted.start_s) == (number, take.start_s)
                && take.manner == Manner::Strummed
        };
        let counted = self.counted.as_ref().filter(same);
        counted.is_some_and(|counted| counted.asked != self.place())
    }

    /// The step that is on, and the frets that are asked.
    fn place(&self) -> (usize, Option<Frets>) {
        let asked = self.asked.as_ref();
        (self.current, asked.map(|ask| ask.target.frets))
    }

    /// Goes back to before this take, if it is the last one and its step is still on.
    fn take_back(&mut self, number: u64) -> bool {
        match self.before.take() {
            Some((last, step, exercise))
                if last == number && self.slots[step].outcome.is_none() =>
            {
                self.slots[step].exercise = exercise;
                true
            }
            other => {
                self.before = other;
                false
            }
        }
    }

    /// Ends the step that is on if its time was up before `by_s`.
    fn end_if_over(&mut self, by_s: f64, now_s: f64, events: &mut Vec<Event>) {
        let Some(step) = self.step() else { return };
        if self.left_s(by_s) == Some(0.0) {
            let slot = &self.slots[step];
            let outcome = match slot.exercise.is_timed() && slot.exercise.passed() {
                true => StepOutcome::Passed,
                false => StepOutcome::TimeUp,
            };
            self.end(outcome, now_s, events);
        }
    }

    fn end(&mut self, outcome: StepOutcome, now_s: f64, events: &mut Vec<Event>) {
        let step = self.current;
        self.stop_clock(now_s);
        self.slots[step].outcome = Some(outcome);
        events.push(Event::Over { step, outcome });
        self.current = self.another().unwrap_or(self.slots.len());
        self.put_on(now_s, events);
    }

    /// The next step, round and round, that is not over.
    fn another(&self) -> Option<usize> {
        let count = self.slots.len();
        (1..=count)
            .map(|i| (self.current + i) % count)
            .find(|&i| i != self.current && self.slots[i].outcome.is_none())
    }

    fn stop_clock(&mut self, now_s: f64) {
        let slot = &mut self.slots[self.current];
        if let Some(since) = slot.since_s.take() {
            slot.used_s += now_s - since;
        }
    }

    fn put_on(&mut self, now_s: f64, events: &mut Vec<Event>) {
        self.takes_this_turn = 0;
        self.asked = None;
        let Some(step) = self.step() else {
            events.push(Event::End);
            return;
        };
        let slot = &mut self.slots[step];
        slot.begun = true;
        let runs = !slot.exercise.is_timed();
        match &mut self.paused {
            Some(ran) => *ran = runs,
            None if runs => slot.since_s = Some(now_s),
            None => {}
        }
        slot.exercise.begin(now_s);
        events.push(Event::Step { step });
        self.ask_anew(events);
    }

    /// Tells what is to be played where that has changed.
    fn ask_anew(&mut self, events: &mut Vec<Event>) {
        let Some(step) = self.step() else { return };
        let ask = self.slots[step].exercise.ask();
        if self.asked.as_ref() != Some(&ask) {
            events.push(Event::Asked(ask.clone()));
            self.asked = Some(ask);
        }
    }

    fn count_playing(&mut self, start_s: f64, events: &mut Vec<Event>) {
        let apart_s = self.last_take_s.map_or(0.0, |last| start_s - last);
        self.last_take_s = Some(start_s);
        // A rest is the break.
        self.played_s = practised_s(apart_s).map_or(0.0, |more_s| self.played_s + more_s);
        if self.played_s >= BREAK_AFTER_S && !self.break_told {
            self.break_told = true;
            events.push(Event::Break);
        }
    }
}

#[cfg(test)]
mod tests;
