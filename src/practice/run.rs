//! A practice: a lesson under way, and every judged take kept as it happens.

use std::collections::{BTreeMap, HashMap};

use jiff::Timestamp;

use super::along::{Along, entries};
use super::diary::{Correction, DiaryKeeper, Entry, KeptIn, moment};
use super::hearing::end_s;
use super::lesson::{Drill, Lesson};
use super::session::{Event, Session, StepResult, TakeEvent};
use crate::listening::{Listener, Message};
use crate::progression::performance::Performance;
use crate::take::Take;
use crate::verdict::{Expected, JudgedTake};

/// Things that a practice is to keep beside the verdicts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Circumstances {
    /// Beginning of the sound.
    pub began: Timestamp,
    /// The user's name for the guitar, where one was given.
    pub guitar: Option<String>,
    /// True where the sound of each take is kept.
    pub sounds: bool,
    /// True where it is heard from a recording: nobody is there to wait for a count-in.
    pub recorded: bool,
}

/// A lesson fed with what a listener hears. What it says goes to the caller as [`Event`]s; what it
/// finds goes into the diary at once, so that stopping at any moment loses nothing.
#[derive(Debug)]
pub struct Practice {
    lesson: Lesson,
    session: Session,
    keeper: Option<DiaryKeeper>,
    circumstances: Circumstances,
    /// Where each take was put, by the listener's number.
    kept: HashMap<u64, (KeptIn, Timestamp)>,
    /// The same of takes of a time through that is not judged as a whole yet.
    preliminary: BTreeMap<u64, KeptIn>,
    /// The time through that is asked for or under way, where the step that is on plays along.
    along: Option<Along>,
    /// The step that was on when that was last looked at.
    watched: Option<usize>,
    /// The take heard last: its number, where it was put, the take, what was said of it.
    last: Option<(u64, KeptIn, JudgedTake, Option<Correction>)>,
    /// Takes struck before belong to a time through that is judged, in seconds since the sound began.
    counted_until_s: f64,
}

impl Practice {
    /// A practice of this lesson. What the lesson leaves to chance comes from `seed`.
    pub fn new(
        lesson: Lesson,
        seed: u64,
        keeper: Option<DiaryKeeper>,
        circumstances: Circumstances,
    ) -> Self {
        Practice {
            session: Session::new(&lesson, seed),
            lesson,
            keeper,
            circumstances,
            kept: HashMap::new(),
            preliminary: BTreeMap::new(),
            along: None,
            watched: None,
            last: None,
            counted_until_s: 0.0,
        }
    }

    /// Gives the lesson that is practised.
    pub fn lesson(&self) -> &Lesson {
        &self.lesson
    }

    /// Gives the state of the lesson: its steps and what is asked now.
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// Tells where takes are kept, if they are.
    pub fn keeper(&self) -> Option<&DiaryKeeper> {
        self.keeper.as_ref()
    }

    /// Gives what came of each step that was begun.
    pub fn results(&self) -> Vec<StepResult> {
        self.session.results()
    }

    /// Stops the clocks, but not while playing along: a time through is played to its end. What is
    /// played until [`go_on`](Self::go_on) is not to be given to the practice.
    pub fn pause(&mut self, now_s: f64) {
        if self.along().is_none() {
            self.session.pause(now_s);
        }
    }

    /// Lets the clocks run on.
    pub fn go_on(&mut self, now_s: f64) {
        self.session.go_on(now_s);
    }

    /// The time through that is under way.
    pub fn along(&self) -> Option<&Along> {
        self.along.as_ref().filter(|along| along.is_under_way())
    }

    /// Puts the first step on.
    pub fn begin(&mut self, events: &mut Vec<Event>) {
        self.session.begin(0.0, events);
        self.watch(0.0);
    }

    /// Takes what was heard by now, in seconds since the sound began.
    pub fn hear(&mut self, heard: &Message, now_s: f64, events: &mut Vec<Event>) {
        if self.along.is_some() {
            self.hear_along(heard);
            return;
        }
        match heard {
            Message::First { .. } => {}
            Message::Settled { take, .. } if take.start_s < self.counted_until_s => {}
            Message::Settled { number, take } if self.session.has_counted(*number, take) => {}
            Message::Settled { number, take } => {
                self.forget(*number);
                let before = events.len();
                self.session.hear(*number, take, now_s, events);
                for event in &events[before..] {
                    if let Event::Take(event) = event {
                        self.keep(event);
                    }
                }
            }
            Message::Cut {
                number,
                take,
                strum,
            } => self.ended(*number, take, strum),
            Message::Over {
                number,
                take,
                strum,
            } => {
                self.ended(*number, take, strum);
                self.keep_sound(*number, strum);
            }
            Message::Withdrawn { number } => {
                self.forget(*number);
                self.session.withdraw(*number, events);
            }
        }
        self.watch(now_s);
    }

    /// While a time through is asked for or under way. Its takes are kept at once and put right when it
    /// is judged as a whole.
    fn hear_along(&mut self, heard: &Message) {
        let Some(along) = &mut self.along else { return };
        match heard {
            Message::First { take, .. } | Message::Settled { take, .. } => {
                if self.circumstances.recorded {
                    along.strum(take.start_s);
                } else if !along.is_under_way() && along.has(take.start_s) {
                    along.ready = true;
                }
            }
            // The last take of the step before may have rung on.
            Message::Over { number, strum, .. } => self.keep_sound(*number, strum),
            Message::Cut { .. } => {}
            Message::Withdrawn { number } => self.forget(*number),
        }
        let Message::Settled { number, take } = heard else {
            return;
        };
        if self.along().is_some_and(|along| along.has(take.start_s)) {
            self.forget(*number);
            let entry = self.entry(take, self.session.step().unwrap_or(0));
            if let Some(keeper) = &mut self.keeper {
                self.preliminary.insert(*number, keeper.keep(&entry));
            }
        }
    }

    /// Takes the sound that came up to now.
    pub fn sound(&mut self, block: &[f32], rate_hz: u32, now_s: f64) {
        if let Some(along) = &mut self.along
            && (self.circumstances.recorded || along.is_under_way())
        {
            along.push(block, rate_hz, now_s);
        }
    }

    /// The take of a time through that may be told at once, where the result will count it.
    pub fn told<'a>(&mut self, heard: &'a Message) -> Option<&'a JudgedTake> {
        let along = self.along.as_mut().filter(|along| along.is_under_way())?;
        let Message::Settled { take, .. } = heard else {
            return None;
        };
        along.counts(take.start_s).then_some(take)
    }

    /// Tells whether the learner has just said to be ready for the count-in.
    pub fn is_ready(&mut self) -> bool {
        (self.along.as_mut()).is_some_and(|along| std::mem::take(&mut along.ready))
    }

    /// The backing began to be played at `began_s` seconds since the sound began; it is heard `delay_s`
    /// later, where that was measured. To be told again where it is known better.
    pub fn count_in(&mut self, began_s: f64, delay_s: Option<f64>) {
        if let Some(along) = &mut self.along {
            along.count_in(began_s, delay_s);
        }
    }

    /// Gives what takes are to be held against from now on, where that has changed while playing along.
    pub fn expects(&mut self, now_s: f64) -> Option<Expected> {
        let along = self.along.as_mut().filter(|a| a.is_under_way())?;
        let beat = along
            .part
            .nearest(along.into_s(now_s)? - Listener::SETTLES_S)?;
        let placed = Some(beat.placed).filter(|placed| Some(*placed) != along.meant)?;
        along.meant = Some(placed);
        along.part.expected(placed)
    }

    /// Time goes on.
    pub fn tick(&mut self, now_s: f64, events: &mut Vec<Event>) {
        match self.along() {
            Some(along) if along.is_over(now_s) => self.judge(now_s, false, events),
            // A time through is played to its end.
            Some(_) => {}
            None => self.session.tick(now_s, events),
        }
        self.watch(now_s);
    }

    /// The learner goes on to the next step.
    pub fn leave(&mut self, now_s: f64, events: &mut Vec<Event>) {
        self.along = None;
        self.session.leave(now_s, events);
        self.watch(now_s);
    }

    /// Ends it: there is no more sound.
    pub fn finish(&mut self, now_s: f64, events: &mut Vec<Event>) {
        if self.along().is_some() {
            self.judge(now_s, true, events);
        }
    }

    /// Judges the time through that is over.
    fn judge(&mut self, now_s: f64, is_last: bool, events: &mut Vec<Event>) {
        let Some(mut along) = self.along.take() else {
            return;
        };
        let Some(played) = along.judge(is_last) else {
            if along.is_over(now_s) || is_last {
                // Nothing was heard: it is asked for anew.
                self.session.unheard(events);
            } else {
                self.along = Some(along);
            }
            return;
        };
        let from_s = along.from_s();
        self.counted_until_s = along.until_s().min(now_s);
        self.keep_along(&played, &along, from_s);
        self.session.along(&played, from_s, now_s, events);
    }

    fn keep_along(&mut self, played: &Performance, along: &Along, from_s: f64) {
        if self.keeper.is_none() {
            return;
        }
        let step = self.session.step().unwrap_or(0);
        let began = self.after(from_s);
        let (beats, entries): (Vec<usize>, Vec<Entry>) = entries(played, &along.part, began)
            .into_iter()
            .map(|(index, entry)| (index, self.of_step(entry, step)))
            .unzip();
        let preliminary: Vec<KeptIn> = std::mem::take(&mut self.preliminary)
            .into_values()
            .collect();
        let Some(keeper) = &mut self.keeper else {
            return;
        };
        let kept = keeper.replace(&preliminary, &entries);
        if self.circumstances.sounds {
            for ((kept, index), entry) in kept.into_iter().zip(beats).zip(&entries) {
                if let Some(strum) = along.strum_of(played, index) {
                    keeper.keep_sound(kept, entry.at, &strum);
                }
            }
        }
    }

    /// Has a time through ready where the step that is on plays along.
    fn watch(&mut self, now_s: f64) {
        let step = self.session.step();
        let changed = std::mem::replace(&mut self.watched, step) != step;
        match step.map(|step| &self.lesson.steps[step].drill) {
            Some(Drill::Play { part, style, .. }) => {
                if self.along.is_none() || changed {
                    self.along = Some(Along::new(part, *style, now_s.max(self.counted_until_s)));
                    self.preliminary.clear();
                }
            }
            _ => self.along = None,
        }
    }

    fn ended(&mut self, number: u64, take: &JudgedTake, strum: &Take) {
        let lasted_s = end_s(strum) - strum.start_s();
        self.session.ended(number, take.start_s + lasted_s);
    }

    fn keep(&mut self, event: &TakeEvent) {
        if self.keeper.is_none() {
            return;
        }
        let entry = Entry {
            stage: event.stage.clone(),
            clean: event.reply.clean,
            from: event.reply.from,
            gap_s: event.reply.gap_s,
            ..self.entry(&event.take, event.step)
        };
        if let Some(keeper) = &mut self.keeper {
            let kept = keeper.keep(&entry);
            self.kept.insert(event.number, (kept, entry.at));
            self.last = Some((event.number, kept, event.take.clone(), None));
        }
    }

    /// The player says how the take heard last really was. Gives whether the diary has it; the exercise follows
    /// as far as it still can.
    pub fn put_right(&mut self, said: Correction, now_s: f64, events: &mut Vec<Event>) -> bool {
        let (Some((number, kept, mut take, before)), Some(keeper)) =
            (self.last.take(), &mut self.keeper)
        else {
            return false;
        };
        let said = said.after(before.as_ref());
        let is_kept = keeper.put_right(kept, &said);
        if is_kept {
            let mut standing = take.clone();
            said.stand(&mut standing.strings);
            let standing = Some(&standing).filter(|_| said.counts());
            self.session.put_right(number, standing, now_s, events);
            self.watch(now_s);
        }
        take.advice.clear();
        self.last = Some((
            number,
            kept,
            take,
            Some(said).filter(|_| is_kept).or(before),
        ));
        is_kept
    }

    fn keep_sound(&mut self, number: u64, strum: &Take) {
        if let (Some((kept, at)), Some(keeper), true) = (
            self.kept.remove(&number),
            &mut self.keeper,
            self.circumstances.sounds,
        ) {
            keeper.keep_sound(kept, at, strum);
        }
    }

    fn forget(&mut self, number: u64) {
        if self.last.as_ref().is_some_and(|(last, ..)| *last == number) {
            self.last = None;
        }
        let kept = self.kept.remove(&number).map(|(kept, _)| kept);
        let kept = kept.or_else(|| self.preliminary.remove(&number));
        if let (Some(kept), Some(keeper)) = (kept, &mut self.keeper) {
            keeper.remove(kept);
        }
    }

    fn entry(&self, take: &JudgedTake, step: usize) -> Entry {
        let at = self.after(take.start_s);
        self.of_step(Entry::of(take, at, &self.lesson.tuning), step)
    }

    /// With what is known of the practice.
    fn of_step(&self, entry: Entry, step: usize) -> Entry {
        Entry {
            guitar: self.circumstances.guitar.clone(),
            lesson: Some(self.lesson.title.clone()),
            began: Some(self.circumstances.began),
            step: Some(step as u32 + 1),
            exercise: Some(self.lesson.steps[step].drill.kind().to_owned()),
            ..entry
        }
    }

    /// So many seconds after the sound began.
    fn after(&self, seconds: f64) -> Timestamp {
        moment(self.circumstances.began, seconds)
    }
}
