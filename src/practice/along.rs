//! Playing along within a lesson: the sound of one time through, from its count-in until it is over, and
//! what it comes to.

use jiff::Timestamp;

use super::diary::{Entry, moment};
use crate::progression::Style;
use crate::progression::backing::arrangement;
use crate::progression::band::sound;
use crate::progression::live::Live;
use crate::progression::performance::{Beginning, Part, Performance, judge};
use crate::take::{Manner, Take};

/// The last strum is to be heard to its verdict, in seconds after its beat: as long as a strum is judged,
/// and as late as one may be.
const LAST_STRUM_S: f64 = 1.5;
/// Kept from before the count-in that the first strum in a recording points to, in seconds: whoever waited
/// before the first beat.
const BEFORE_S: f64 = 2.0;
/// A start found later than the first strum said is believed when it is so sure: then that strum was
/// none of the playing.
const SURE: f64 = 0.8;
/// Where more of the strums than this are missed, or some are still to come, the first strum may have been
/// none of the playing either, and as much again is listened to. A choice.
const MOST_MISSED: f64 = 1.0 / 3.0;
/// A strum so long before the first beat may be meant for it, in seconds.
pub const EARLIEST_S: f64 = 1.0;
/// A strum is told of at most so long after it was struck, in seconds.
const TOLD_S: f64 = 2.0;
/// So much sound may wait for the first strum before the oldest goes, in seconds.
const MOST_WAITING_S: usize = 30;
/// Sound kept of a strum that the next one does not end, in seconds.
const KEPT_S: f64 = 3.0;

/// One time through, from when the step asks for it.
#[derive(Debug)]
pub struct Along {
    /// Part that is to be played: beats and voicings.
    pub part: Part,
    style: Style,
    rate_hz: u32,
    /// Where the sound kept begins, in seconds since the practice began.
    from_s: f64,
    samples: Vec<f32>,
    /// When the backing began to be played, in seconds since the practice began, and how much later it is
    /// heard, where that was measured. A recording does not tell.
    began: Option<(f64, Option<f64>)>,
    /// When it is over; known from when it has begun.
    until_s: f64,
    /// Whether the end was put off once.
    put_off: bool,
    /// True where the learner has just said to be ready for the count-in.
    pub ready: bool,
    /// Chord that takes are held against since they were last told: a chord of the plan.
    pub meant: Option<usize>,
    /// What is heard against the backing, once a strum is to be told.
    live: Option<Live>,
}

impl Along {
    /// Asked for at `now_s`.
    pub fn new(part: &Part, style: Style, now_s: f64) -> Along {
        Along {
            part: part.clone(),
            style,
            rate_hz: 0,
            from_s: now_s,
            samples: Vec::new(),
            began: None,
            until_s: f64::INFINITY,
            put_off: false,
            ready: false,
            meant: None,
            live: None,
        }
    }

    /// Tells whether it has begun.
    pub fn is_under_way(&self) -> bool {
        self.until_s.is_finite()
    }

    /// Tells whether the sound of it is all there.
    pub fn is_over(&self, now_s: f64) -> bool {
        now_s >= self.until_s
    }

    /// Tells whether a strum then belongs to it.
    pub fn has(&self, at_s: f64) -> bool {
        at_s >= self.from_s && at_s < self.until_s
    }

    /// Takes played before this belong to it, in seconds since the practice began.
    pub fn until_s(&self) -> f64 {
        self.until_s
    }

    /// Seconds since the start of the count-in, where that is known.
    pub fn into_s(&self, now_s: f64) -> Option<f64> {
        self.count_in_s().map(|at_s| now_s - at_s)
    }

    /// When the count-in begins, as the microphone hears it.
    fn count_in_s(&self) -> Option<f64> {
        (self.began).map(|(began_s, delay_s)| began_s + delay_s.unwrap_or(0.0))
    }

    /// The backing began to be played at `began_s`; it is heard `delay_s` later, where that was measured.
    pub fn count_in(&mut self, began_s: f64, delay_s: Option<f64>) {
        self.began = Some((began_s, delay_s));
        let at_s = began_s + delay_s.unwrap_or(0.0);
        self.until_s = at_s + self.length_s();
        self.forget_before(at_s);
    }

    /// A strum came at `at_s`; in a recording the first one says that it has begun.
    pub fn strum(&mut self, at_s: f64) {
        if self.is_under_way() || at_s < self.from_s {
            return;
        }
        let first_beat_s = self.part.first_beat_s();
        self.until_s = at_s - first_beat_s + self.length_s();
        self.forget_before(at_s - first_beat_s - BEFORE_S);
    }

    /// From the count-in to the end, in seconds.
    fn length_s(&self) -> f64 {
        let last_s = self.part.beats.last().map_or(0.0, |beat| beat.at_s);
        self.part.plan.grid.end_s().max(last_s + LAST_STRUM_S)
    }

    fn forget_before(&mut self, at_s: f64) {
        let gone = ((at_s - self.from_s) * f64::from(self.rate_hz)).floor();
        let gone = (gone.max(0.0) as usize).min(self.samples.len());
        self.samples.drain(..gone);
        if self.rate_hz > 0 {
            self.from_s += gone as f64 / f64::from(self.rate_hz);
        }
    }

    /// Tells whether the result will count a strum, so that it may be told at once; of a recording nothing is.
    pub fn counts(&mut self, at_s: f64) -> bool {
        let Some((began_s, delay_s)) = self.began.filter(|_| self.rate_hz > 0) else {
            return false;
        };
        let mut live = match self.live.take() {
            Some(live) => live,
            None => Live::new(self.backing(), self.rate_hz),
        };
        let beginning = Beginning::live(began_s - self.from_s, delay_s);
        let at_s = at_s - self.from_s;
        let counts = live.counts(&self.samples, &self.part, beginning, at_s);
        self.live = Some(live);
        counts
    }

    /// The backing at the microphone's rate.
    fn backing(&self) -> Vec<f32> {
        let hits = arrangement(&self.part.plan, &self.style, &self.part.tuning);
        sound(&hits, &self.part.plan, 1.0, self.rate_hz)
    }

    /// Takes the sound that came up to `now_s`; what is missing before it was lost and is silence.
    pub fn push(&mut self, block: &[f32], rate_hz: u32, now_s: f64) {
        if self.rate_hz != rate_hz {
            // Another microphone begins anew.
            self.samples.clear();
            self.live = None;
            self.rate_hz = rate_hz;
            self.from_s = now_s - block.len() as f64 / f64::from(rate_hz);
        }
        let all = ((now_s - self.from_s) * f64::from(rate_hz))
            .round()
            .max(0.0) as usize;
        let before = all.saturating_sub(block.len());
        if before > self.samples.len() {
            self.samples.resize(before, 0.0);
        }
        self.samples.extend_from_slice(block);
        if !self.is_under_way() && self.samples.len() > MOST_WAITING_S * rate_hz as usize {
            let first_beat_s = self.part.first_beat_s();
            self.forget_before(now_s - first_beat_s - BEFORE_S - TOLD_S);
        }
    }

    /// Gives what it came to; `None` where no strum is heard, or where the end was put off because the playing
    /// began later than the first strum. `is_last`: no more sound will come.
    pub fn judge(&mut self, is_last: bool) -> Option<Performance> {
        if self.rate_hz == 0 {
            return None;
        }
        let backing = match &self.live {
            Some(live) => live.backing(),
            None => &self.backing(),
        };
        let beginning = match self.began {
            Some((began_s, delay_s)) => Beginning::live(began_s - self.from_s, delay_s),
            None => Beginning::UNKNOWN,
        };
        let mut performance = judge(
            &self.samples,
            self.rate_hz,
            &self.part,
            beginning,
            Some(backing),
        )?;
        if self.began.is_some() {
            // The strum that asked for the count-in still sounds into it.
            let first_beat_s = self.part.first_beat_s();
            let from_s = performance.start.at_s + first_beat_s - EARLIEST_S;
            performance.extra_s.retain(|at_s| *at_s >= from_s);
        }
        let until_s = self.from_s + performance.start.at_s + self.length_s();
        let missed = performance.outcomes.iter().filter(|o| o.off_ms.is_none());
        let found = self.began.is_none();
        // A beat that has not come yet is not missed.
        let to_come = missed.clone().any(|o| {
            self.from_s + performance.start.at_s + o.beat.at_s > self.until_s - LAST_STRUM_S
        });
        let later = performance.start.sure >= SURE && until_s > self.until_s + LAST_STRUM_S;
        let few = missed.count() as f64 > MOST_MISSED * performance.outcomes.len() as f64;
        if found && (later || to_come || few) && !is_last && !self.put_off {
            self.put_off = true;
            self.until_s = match later {
                true => until_s,
                false => self.until_s + self.length_s(),
            };
            return None;
        }
        if is_last {
            performance.end_at(self.samples.len() as f64 / f64::from(self.rate_hz));
        }
        Some(performance)
    }

    /// Tells where a judged performance's time begins, in seconds since the practice began.
    pub fn from_s(&self) -> f64 {
        self.from_s
    }

    /// The sound of the take at a beat.
    pub fn strum_of(&self, performance: &Performance, index: usize) -> Option<Take> {
        let take = performance.takes[index].as_ref()?;
        let next = performance.takes[index + 1..].iter().flatten().next();
        let rate_hz = f64::from(self.rate_hz);
        let place = |at_s: f64| ((at_s * rate_hz).max(0.0) as usize).min(self.samples.len());
        let struck = place(take.start_s);
        let first = place(take.start_s - Take::PRE_ROLL_S);
        let end = next.map_or(take.start_s + KEPT_S, |next| {
            next.start_s.min(take.start_s + KEPT_S)
        });
        Some(Take {
            samples: self.samples[first..place(end).max(first)].to_vec(),
            rate_hz: self.rate_hz,
            first: first as u64,
            onsets: vec![struck - first],
            manner: Manner::Strummed,
            middle: None,
            cut_by_next: next.is_some(),
        })
    }
}

/// The judged strums of a performance as the diary keeps them, each with its beat's index. `began`: when the
/// recording began.
pub fn entries(performance: &Performance, part: &Part, began: Timestamp) -> Vec<(usize, Entry)> {
    let judged = performance
        .outcomes
        .iter()
        .zip(&performance.takes)
        .enumerate();
    judged
        .filter_map(|(index, (outcome, take))| {
            let take = take.as_ref()?;
            let at = moment(began, take.start_s);
            let beat = outcome.beat;
            let left = (beat.changes_from.and(beat.placed.checked_sub(1)))
                .and_then(|last| part.voicings[..=last].iter().rev().flatten().next());
            let tempo_bpm = part.plan.grid.tempo_bpm(part.plan.grid.beat_at(beat.at_s));
            Some((
                index,
                Entry {
                    exercise: Some("play".to_owned()),
                    clean: outcome.clean,
                    from: left.copied(),
                    gap_s: outcome.gap_ms.map(|ms| ms / 1e3),
                    off_ms: outcome.off_ms,
                    tempo_bpm: Some(tempo_bpm),
                    ..Entry::of(take, at, &part.tuning)
                },
            ))
        })
        .collect()
}
