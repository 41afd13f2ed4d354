//! A trial under way: what is announced, what was struck, what is kept and what is thrown away.
//!
//! Nothing here knows a file, a screen or a clock: it is fed what the listener says and the sound itself, and gives
//! events. A strum is kept when nothing else was struck for a while after it. Two strums in a row say that the first was
//! not done as asked: both are thrown away, and the same is announced again. What the program makes of a strum
//! decides nothing here, and is not shown: the truth is the player's. Where a player can answer, it is asked back
//! whether a strum was done as asked: wherever the verdicts say otherwise, and now and then where they do not, so that
//! the question does not tell the verdict.

use std::collections::{BTreeSet, VecDeque};

use super::plan::{PlannedStrum, TrialPlan};
use crate::listening::Message;
use crate::take::Take;
use crate::verdict::JudgedTake;

/// A strum is kept so long after it was struck, in seconds: buzz is listened for to its end, and a strum that comes
/// half a second later is told by then.
const KEPT_AFTER_S: f64 = Take::BUZZ_S + 0.1;
/// What is kept of the sound before the first stroke, in seconds.
const BEFORE_S: f64 = 0.5;
/// A strum that the recording breaks off is kept where so much of it is there, in seconds.
const ENOUGH_S: f64 = Take::JUDGED_S;
/// So much sound is remembered, in seconds.
const REMEMBERED_S: f64 = 8.0;
/// Of strums that were told as asked the player is asked about one in so many. A choice.
const ASKED_ANYWAY: usize = 8;
/// After so many strums the hand is to rest. A choice: some two to three minutes.
const REST_AFTER: usize = 15;

/// Something that happened in a trial.
#[derive(Debug, Clone, PartialEq)]
pub enum TrialEvent {
    /// Step, from 0, that is to be played now.
    Announced {
        /// Number of the step, from 0.
        step: usize,
    },
    /// A strum was struck and sounds.
    Struck,
    /// No strum, though it was heard as one.
    NotStruck,
    /// A strum is to be kept.
    Kept {
        /// Number of its step, from 0.
        step: usize,
        /// Its sound and a little before it, mono.
        samples: Vec<f32>,
        /// Samples a second, in Hz.
        rate_hz: u32,
    },
    /// A strum counts for nothing.
    ThrownAway {
        /// Reason for that.
        why: Why,
        /// The step whose strum had been kept already, from 0, where it had.
        kept: Option<usize>,
    },
    /// The player is asked whether the strum that was kept last was done as asked.
    AskedBack,
    /// The hand is to rest.
    Rest,
    /// All has been played.
    End,
}

/// Reason why a strum counts for nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// Two strums in place of one.
    Twice,
    /// The player said so with a key.
    Said,
    /// Sound was lost in it.
    Lost,
}

/// A strum that sounds.
#[derive(Debug, Clone, Copy)]
struct Pending {
    number: u64,
    /// When its first stroke fell, in seconds since the sound began.
    start_s: f64,
    /// Whether the verdicts tell what was asked.
    told: bool,
}

/// A trial under way. Times are in seconds since the sound began.
#[derive(Debug)]
pub struct Run {
    plan: TrialPlan,
    /// The steps whose strums are kept.
    done: BTreeSet<usize>,
    /// Steps that the player cannot do.
    left_out: BTreeSet<usize>,
    current: Option<usize>,
    announced_s: f64,
    pending: Option<Pending>,
    /// The step kept last, and the number of its strum.
    last: Option<(usize, u64)>,
    /// Numbers of strums that count for nothing whatever else is said of them.
    deaf_to: VecDeque<u64>,
    since_rest: usize,
    /// Whether somebody is there to answer.
    answers: bool,
    /// The strum that was kept last is asked about.
    asking: bool,
    sound: Sound,
}

/// The last seconds of sound.
#[derive(Debug, Default)]
struct Sound {
    samples: VecDeque<f32>,
    rate_hz: u32,
    end_s: f64,
}

impl Sound {
    fn push(&mut self, block: &[f32], rate_hz: u32, end_s: f64) {
        if rate_hz != self.rate_hz {
            self.samples.clear();
            self.rate_hz = rate_hz;
        }
        self.samples.extend(block);
        let most = (REMEMBERED_S * f64::from(rate_hz)) as usize;
        self.samples
            .drain(..self.samples.len().saturating_sub(most));
        self.end_s = end_s;
    }

    /// The sound from a moment on; nothing where it is not all there.
    fn from(&self, from_s: f64) -> Option<Vec<f32>> {
        let wanted = ((self.end_s - from_s) * f64::from(self.rate_hz)).round() as usize;
        let first = self.samples.len().checked_sub(wanted)?;
        Some(self.samples.iter().skip(first).copied().collect())
    }
}

impl Run {
    /// A trial of a plan, the strums of these steps (from 0) kept already.
    pub fn new(plan: TrialPlan, done: impl IntoIterator<Item = usize>) -> Run {
        Run {
            plan,
            done: done.into_iter().collect(),
            left_out: BTreeSet::new(),
            current: None,
            announced_s: 0.0,
            pending: None,
            last: None,
            deaf_to: VecDeque::new(),
            since_rest: 0,
            answers: false,
            asking: false,
            sound: Sound::default(),
        }
    }

    /// Makes the run one with a player who can be asked back.
    pub fn answered(self) -> Run {
        Run {
            answers: true,
            ..self
        }
    }

    /// Plan of what is played.
    pub fn plan(&self) -> &TrialPlan {
        &self.plan
    }

    /// Number of the step that is announced, from 0; `None` when all has been played.
    pub fn current(&self) -> Option<usize> {
        self.current
    }

    /// The step that is announced.
    pub fn step(&self) -> Option<&PlannedStrum> {
        Some(&self.plan.steps[self.current?])
    }

    /// Strums that are kept.
    pub fn kept(&self) -> usize {
        self.done.len()
    }

    /// Tells whether somebody is there to be asked back.
    pub fn asks_back(&self) -> bool {
        self.answers
    }

    /// Tells whether the player is being asked about the strum that was kept last.
    pub fn is_asking(&self) -> bool {
        self.asking
    }

    /// Tells whether a strum sounds that may be kept.
    pub fn sounds(&self) -> bool {
        self.pending.is_some()
    }

    /// Announces the first step that is left.
    pub fn begin(&mut self, now_s: f64, events: &mut Vec<TrialEvent>) {
        self.announce(now_s, events);
    }

    fn announce(&mut self, now_s: f64, events: &mut Vec<TrialEvent>) {
        let open = |step: &usize| !self.done.contains(step) && !self.left_out.contains(step);
        self.current = (0..self.plan.steps.len()).find(open);
        self.announced_s = now_s;
        events.push(match self.current {
            Some(step) => TrialEvent::Announced { step },
            None => TrialEvent::End,
        });
    }

    /// Takes the sound that came just now, which ends at `now_s`.
    pub fn sound(&mut self, block: &[f32], rate_hz: u32, now_s: f64) {
        if now_s > self.sound.end_s {
            self.sound.push(block, rate_hz, now_s);
        }
    }

    /// Sound was lost, or the microphone has gone: what sounds now cannot be kept.
    pub fn lost(&mut self, events: &mut Vec<TrialEvent>) {
        self.sound.samples.clear();
        if let Some(pending) = self.pending.take() {
            self.be_deaf_to(pending.number);
            events.push(TrialEvent::ThrownAway {
                why: Why::Lost,
                kept: None,
            });
        }
    }

    /// Takes what the listener says.
    pub fn hear(&mut self, heard: &Message, now_s: f64, events: &mut Vec<TrialEvent>) {
        match heard {
            Message::First { number, take } | Message::Settled { number, take } => {
                self.struck(*number, take, now_s, events);
            }
            Message::Withdrawn { number } => {
                if self.pending.is_some_and(|p| p.number == *number) {
                    self.pending = None;
                    events.push(TrialEvent::NotStruck);
                }
            }
            Message::Cut { .. } | Message::Over { .. } => {}
        }
    }

    fn struck(&mut self, number: u64, take: &JudgedTake, now_s: f64, events: &mut Vec<TrialEvent>) {
        let start_s = take.start_s;
        let told = self.step().is_some_and(|step| step.is_told_by(take));
        if self.deaf_to.contains(&number) || self.last.is_some_and(|(_, last)| last == number) {
            return;
        }
        match &mut self.pending {
            Some(pending) if pending.number == number => {
                (pending.start_s, pending.told) = (start_s, told);
            }
            Some(pending) => {
                let first = pending.number;
                self.pending = None;
                self.be_deaf_to(first);
                self.be_deaf_to(number);
                self.announced_s = now_s;
                events.push(TrialEvent::ThrownAway {
                    why: Why::Twice,
                    kept: None,
                });
            }
            // Struck before the next step could be read, or instead of an answer: it speaks of the one before.
            None if self.asking || start_s < self.announced_s => {
                self.be_deaf_to(number);
                self.take_back(Why::Twice, now_s, events);
            }
            None if self.current.is_some() => {
                self.pending = Some(Pending {
                    number,
                    start_s,
                    told,
                });
                events.push(TrialEvent::Struck);
            }
            None => self.be_deaf_to(number),
        }
    }

    fn be_deaf_to(&mut self, number: u64) {
        self.deaf_to.push_back(number);
        // Nothing more is said of strums so long ago.
        self.deaf_to.drain(..self.deaf_to.len().saturating_sub(64));
    }

    /// The player says that what was struck last was not done as asked.
    pub fn throw_away(&mut self, now_s: f64, events: &mut Vec<TrialEvent>) {
        match self.pending.take() {
            Some(pending) => {
                self.be_deaf_to(pending.number);
                self.announced_s = now_s;
                events.push(TrialEvent::ThrownAway {
                    why: Why::Said,
                    kept: None,
                });
            }
            None => self.take_back(Why::Said, now_s, events),
        }
    }

    /// Takes the strum kept last back, where it has not been taken back already.
    fn take_back(&mut self, why: Why, now_s: f64, events: &mut Vec<TrialEvent>) {
        self.asking = false;
        let Some((step, _)) = self.last.take() else {
            return;
        };
        self.done.remove(&step);
        self.since_rest = self.since_rest.saturating_sub(1);
        events.push(TrialEvent::ThrownAway {
            why,
            kept: Some(step),
        });
        self.announce(now_s, events);
    }

    /// The player says that the strum that is asked about was done as asked.
    pub fn as_asked(&mut self, now_s: f64, events: &mut Vec<TrialEvent>) {
        if std::mem::take(&mut self.asking) {
            self.go_to_next(now_s, events);
        }
    }

    /// The player cannot do what is announced: on to the next step.
    pub fn leave_out(&mut self, now_s: f64, events: &mut Vec<TrialEvent>) {
        if let Some(pending) = self.pending.take() {
            self.be_deaf_to(pending.number);
        }
        if let Some(step) = self.current {
            self.left_out.insert(step);
            self.announce(now_s, events);
        }
    }

    /// Time goes on: keeps what has sounded long enough.
    pub fn tick(&mut self, now_s: f64, events: &mut Vec<TrialEvent>) {
        if self
            .pending
            .is_some_and(|p| now_s >= p.start_s + KEPT_AFTER_S)
        {
            self.keep(now_s, events);
        }
    }

    /// The sound is over: what was struck last is kept where enough of it is there.
    pub fn finish(&mut self, now_s: f64, events: &mut Vec<TrialEvent>) {
        if self.pending.is_some_and(|p| now_s >= p.start_s + ENOUGH_S) {
            self.keep(now_s, events);
        }
    }

    fn keep(&mut self, now_s: f64, events: &mut Vec<TrialEvent>) {
        let (Some(pending), Some(step)) = (self.pending.take(), self.current) else {
            return;
        };
        let begin_s = (pending.start_s - BEFORE_S).max(0.0);
        let Some(samples) = self.sound.from(begin_s) else {
            // There was less before it: as after a loss.
            self.be_deaf_to(pending.number);
            events.push(TrialEvent::ThrownAway {
                why: Why::Lost,
                kept: None,
            });
            return;
        };
        self.done.insert(step);
        self.last = Some((step, pending.number));
        self.since_rest += 1;
        events.push(TrialEvent::Kept {
            step,
            samples,
            rate_hz: self.sound.rate_hz,
        });
        if self.answers && is_asked_about(step, pending.told) {
            self.asking = true;
            events.push(TrialEvent::AskedBack);
        } else {
            self.go_to_next(now_s, events);
        }
    }

    fn go_to_next(&mut self, now_s: f64, events: &mut Vec<TrialEvent>) {
        self.announce(now_s, events);
        if self.since_rest >= REST_AFTER && self.current.is_some() {
            self.since_rest = 0;
            events.push(TrialEvent::Rest);
        }
    }

    /// Asks again for what was to be kept and could not be.
    pub fn not_kept(&mut self, step: usize) {
        self.done.remove(&step);
        self.last = None;
        self.asking = false;
    }

    /// A rest is over: what was struck in it is of no step.
    pub fn go_on(&mut self, now_s: f64) {
        self.announced_s = now_s;
        if !self.asking {
            self.last = None;
        }
    }
}

/// Tells whether a player is asked about the strum of a step (from 0); `told`: the verdicts tell what was asked.
pub fn is_asked_about(step: usize, told: bool) -> bool {
    !told || step % ASKED_ANYWAY == ASKED_ANYWAY - 1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::Tuning;
    use crate::trial::Deed;
    use crate::verdict::examples::{bb, with};
    use crate::verdict::{ExpectedVoicing, Verdict};

    const RATE_HZ: u32 = 1000;

    fn plan(count: usize) -> TrialPlan {
        let voicing = ExpectedVoicing::usual("x13331".parse().unwrap(), None, &Tuning::default());
        let step = PlannedStrum {
            voicing,
            deed: Deed::Clean,
            string: None,
        };
        TrialPlan {
            steps: vec![step; count],
        }
    }

    fn settled(number: u64, start_s: f64) -> Message {
        let take = JudgedTake { start_s, ..bb() };
        Message::Settled { number, take }
    }

    /// A run, its time, and what has happened.
    struct Bench {
        run: Run,
        now_s: f64,
        events: Vec<TrialEvent>,
    }

    impl Bench {
        fn new(count: usize) -> Bench {
            let mut bench = Bench {
                run: Run::new(plan(count), []),
                now_s: 0.0,
                events: Vec::new(),
            };
            bench.run.begin(0.0, &mut bench.events);
            bench.wait(1.0);
            bench
        }

        /// So many seconds go by.
        fn wait(&mut self, seconds: f64) {
            let from = (self.now_s * 1000.0).round() as u32;
            for i in from..from + (seconds * 1000.0).round() as u32 {
                self.now_s = f64::from(i + 1) / f64::from(RATE_HZ);
                self.run.sound(&[i as f32], RATE_HZ, self.now_s);
                self.run.tick(self.now_s, &mut self.events);
            }
        }

        /// A strum, told of when it is settled.
        fn strum(&mut self, number: u64) {
            let start_s = self.now_s;
            self.wait(1.2);
            let heard = settled(number, start_s);
            self.run.hear(&heard, self.now_s, &mut self.events);
        }

        fn kept(&self) -> Vec<usize> {
            let kept = |event: &TrialEvent| match event {
                TrialEvent::Kept { step, .. } => Some(*step),
                _ => None,
            };
            self.events.iter().filter_map(kept).collect()
        }
    }

    #[test]
    fn a_strum_is_kept_with_its_sound_and_the_next_is_announced() {
        let mut bench = Bench::new(2);
        bench.strum(1);
        assert_eq!(bench.kept(), [0usize; 0]);
        bench.wait(2.0);
        let Some(TrialEvent::Kept { samples, .. }) = bench.events.get(2) else {
            panic!("{:?}", bench.events);
        };
        // Half a second before the strum, which came at 1 s, and 2.6 s from there on.
        assert_eq!(samples.first(), Some(&500.0));
        assert_eq!(samples.len(), 3100);
        assert_eq!(bench.events[3], TrialEvent::Announced { step: 1 });
        bench.strum(2);
        bench.wait(3.0);
        assert_eq!(bench.events.last(), Some(&TrialEvent::End));
        assert_eq!(bench.run.kept(), 2);
    }

    #[test]
    fn two_strums_in_a_row_count_for_nothing_and_the_same_is_asked_again() {
        let mut bench = Bench::new(2);
        bench.strum(1);
        bench.strum(2);
        let thrown = TrialEvent::ThrownAway {
            why: Why::Twice,
            kept: None,
        };
        assert_eq!(bench.events.last(), Some(&thrown));
        bench.wait(4.0);
        assert_eq!(bench.kept(), [0usize; 0]);
        assert_eq!(bench.run.current(), Some(0));
        // A later word on the first of them changes nothing.
        bench
            .run
            .hear(&settled(1, 1.0), bench.now_s, &mut bench.events);
        bench.strum(3);
        bench.wait(3.0);
        assert_eq!(bench.kept(), [0]);
    }

    #[test]
    fn a_key_throws_away_what_sounds_or_what_was_kept_last() {
        let mut bench = Bench::new(3);
        bench.strum(1);
        bench.run.throw_away(bench.now_s, &mut bench.events);
        bench.wait(3.0);
        assert_eq!((bench.kept(), bench.run.current()), (vec![], Some(0)));
        bench.strum(2);
        bench.wait(3.0);
        assert_eq!(bench.run.current(), Some(1));
        bench.run.throw_away(bench.now_s, &mut bench.events);
        let thrown = TrialEvent::ThrownAway {
            why: Why::Said,
            kept: Some(0),
        };
        assert!(bench.events.contains(&thrown));
        assert_eq!((bench.run.kept(), bench.run.current()), (0, Some(0)));
        // Once taken back, nothing older goes.
        let before = bench.events.len();
        bench.run.throw_away(bench.now_s, &mut bench.events);
        assert_eq!(bench.events.len(), before);
    }

    #[test]
    fn a_strum_struck_before_the_next_could_be_read_speaks_of_the_one_before() {
        let mut bench = Bench::new(3);
        bench.strum(1);
        bench.wait(1.2);
        // 2.4 s after the first; the next step is announced 2.6 s after it, before this one is told of.
        bench.strum(2);
        assert_eq!(bench.kept(), [0]);
        assert_eq!((bench.run.kept(), bench.run.current()), (0, Some(0)));
    }

    #[test]
    fn what_turns_out_to_be_no_strum_is_forgotten_and_lost_sound_is_not_kept() {
        let mut bench = Bench::new(2);
        bench.strum(1);
        let withdrawn = Message::Withdrawn { number: 1 };
        bench.run.hear(&withdrawn, bench.now_s, &mut bench.events);
        assert_eq!(bench.events.last(), Some(&TrialEvent::NotStruck));
        bench.strum(2);
        bench.run.lost(&mut bench.events);
        bench.wait(4.0);
        assert_eq!(bench.kept(), [0usize; 0]);
        bench.strum(3);
        bench.wait(3.0);
        assert_eq!(bench.kept(), [0]);
    }

    #[test]
    fn what_cannot_be_done_is_left_out_and_a_trial_goes_on_where_it_broke_off() {
        let mut run = Run::new(plan(4), [0, 2]);
        let mut events = Vec::new();
        run.begin(0.0, &mut events);
        assert_eq!(run.current(), Some(1));
        run.leave_out(1.0, &mut events);
        assert_eq!(run.current(), Some(3));
        run.leave_out(2.0, &mut events);
        assert_eq!(events.last(), Some(&TrialEvent::End));
        assert_eq!(run.kept(), 2);
    }

    #[test]
    fn the_hand_rests_now_and_then() {
        let mut bench = Bench::new(REST_AFTER + 2);
        for number in 1..=REST_AFTER as u64 {
            bench.strum(number);
            bench.wait(2.0);
        }
        assert_eq!(bench.events.last(), Some(&TrialEvent::Rest));
        let rests = bench
            .events
            .iter()
            .filter(|e| **e == TrialEvent::Rest)
            .count();
        assert_eq!(rests, 1);
    }

    /// A player who answers strikes twice: first with a string dead that was to ring, then clean.
    fn asked_back() -> Bench {
        let mut bench = Bench::new(20);
        bench.run = Run::new(plan(20), []).answered();
        bench.events.clear();
        bench.run.begin(bench.now_s, &mut bench.events);
        bench.wait(1.0);
        let start_s = bench.now_s;
        bench.wait(1.2);
        let take = JudgedTake {
            start_s,
            ..with(bb(), 3, Verdict::Muted, 0.9)
        };
        let heard = Message::Settled { number: 1, take };
        bench.run.hear(&heard, bench.now_s, &mut bench.events);
        bench.wait(2.0);
        bench
    }

    #[test]
    fn where_the_verdicts_say_otherwise_the_player_is_asked_and_yes_goes_on() {
        let mut bench = asked_back();
        assert_eq!(bench.events.last(), Some(&TrialEvent::AskedBack));
        assert!(bench.run.is_asking());
        assert_eq!((bench.kept(), bench.run.current()), (vec![0], Some(0)));
        bench.wait(20.0);
        bench.run.as_asked(bench.now_s, &mut bench.events);
        assert_eq!(
            bench.events.last(),
            Some(&TrialEvent::Announced { step: 1 })
        );
        assert_eq!(bench.run.kept(), 1);
        // Told as asked: nothing is asked back, and a yes that nobody waits for does nothing.
        bench.strum(2);
        bench.wait(2.0);
        bench.run.as_asked(bench.now_s, &mut bench.events);
        assert_eq!(
            bench.events.last(),
            Some(&TrialEvent::Announced { step: 2 })
        );
    }

    #[test]
    fn no_or_another_strum_throws_what_is_asked_about_away() {
        for strikes in [false, true] {
            let mut bench = asked_back();
            match strikes {
                true => bench.strum(2),
                false => bench.run.throw_away(bench.now_s, &mut bench.events),
            }
            assert_eq!(
                bench.events.last(),
                Some(&TrialEvent::Announced { step: 0 })
            );
            assert!(!bench.run.is_asking());
            assert_eq!(bench.run.kept(), 0);
            bench.wait(3.0);
            bench.strum(3);
            bench.wait(2.0);
            assert_eq!(bench.kept(), [0, 0]);
        }
    }

    #[test]
    fn now_and_then_a_strum_that_was_told_as_asked_is_asked_about_too() {
        let asked: Vec<usize> = (0..20).filter(|step| is_asked_about(*step, true)).collect();
        assert_eq!(asked, [7, 15]);
        assert!((0..20).all(|step| is_asked_about(step, false)));
    }

    #[test]
    fn a_recording_that_ends_soon_after_its_last_strum_loses_nothing() {
        let mut bench = Bench::new(1);
        bench.strum(1);
        bench.run.finish(bench.now_s, &mut bench.events);
        assert_eq!(bench.kept(), [0]);
    }
}
