//! Strums that may be told while the music plays: those that the result will count.
//!
//! Where the microphone hears the backing, its drums look like strums to the listener. What was heard so far is held
//! against the backing as a whole recording is: the backing is taken out, and the strums are sought in what is left.

use super::attacks::Sought;
use super::bleed::{Bleed, NOTHING_DB, bleed};
use super::performance::{Beginning, HALF_A_BEAT, Part, Separated};
use super::start::{Start, from_backing};

/// So much of what was heard last is gone through, in seconds: enough strums and drums to tell one from the other.
/// A choice.
const HEARD_S: f64 = 15.0;
/// A strum of the listener's is one that was sought where they lie no further apart, in seconds: all strings of a strum.
const SAME_S: f64 = 0.2;
/// What brings so much more that is new than the backing itself is a strum in any case, in dB: with the backing 20 and 32 dB
/// down in a composed performance each, drums brought 13 more at most and strums 44 at least.
const OUTSTANDS_DB: f64 = 20.0;

/// Hearing of one time through, against its backing.
#[derive(Debug)]
pub struct Live {
    backing: Vec<f32>,
    rate_hz: u32,
    /// Where the count-in starts, once the backing is heard.
    start: Option<Start>,
}

impl Live {
    /// `backing`: from the start of its count-in, at the microphone's rate.
    pub fn new(backing: Vec<f32>, rate_hz: u32) -> Self {
        Live {
            backing,
            rate_hz,
            start: None,
        }
    }

    /// Gives the backing, at the microphone's rate.
    pub fn backing(&self) -> &Vec<f32> {
        &self.backing
    }

    /// Tells whether the result will count what was struck at `at_s`, in seconds from the first sample of `so_far`.
    pub fn counts(&mut self, so_far: &[f32], part: &Part, beginning: Beginning, at_s: f64) -> bool {
        let range = match self.start(so_far, beginning) {
            Some(start) => start.at_s..=start.at_s,
            None => beginning.range(),
        };
        let grid = &part.plan.grid;
        let first_s = range.start() + grid.seconds(-HALF_A_BEAT);
        if !(first_s..range.end() + grid.end_s()).contains(&at_s) {
            return false;
        }
        let (recent, from_s) = self.recent(so_far);
        let Some(bleed) = self.bleed(&recent, from_s) else {
            return true;
        };
        let heard = Separated::of(&recent, Some(&bleed));
        let Some(backing) = heard.backing() else {
            return true;
        };
        let (sound, rate_hz) = (heard.sound, self.rate_hz);
        let sought = Sought::of(sound, rate_hz);
        if sought.more_new_db(sound, rate_hz, backing, at_s - from_s) > OUTSTANDS_DB {
            return true;
        }
        let strums = sought.strums(sound, rate_hz, Some(backing));
        let mut apart_s = (strums.iter()).map(|s| from_s + s.start_s(rate_hz) - at_s);
        apart_s.any(|apart_s| apart_s.abs() < SAME_S)
    }

    /// The backing's level in what was heard last, in dB against everything; `None` where it is not heard.
    pub fn level_db(&mut self, so_far: &[f32], beginning: Beginning) -> Option<f64> {
        self.start(so_far, beginning);
        let (recent, from_s) = self.recent(so_far);
        Some(self.bleed(&recent, from_s)?.level_db)
    }

    /// Where the count-in starts, sought until it is as sure as can be.
    fn start(&mut self, so_far: &[f32], beginning: Beginning) -> Option<Start> {
        if self.start.is_none_or(|start| start.sure < 1.0) {
            let found = from_backing(&so_far, &self.backing, self.rate_hz, beginning.range());
            self.start = found.or(self.start);
        }
        self.start
    }

    /// What was heard last, and when it begins.
    fn recent<'a>(&self, so_far: &'a [f32]) -> (&'a [f32], f64) {
        let rate_hz = f64::from(self.rate_hz);
        let from = so_far.len().saturating_sub((HEARD_S * rate_hz) as usize);
        (&so_far[from..], from as f64 / rate_hz)
    }

    /// The backing in what was heard last, where it is heard.
    fn bleed<'a>(&'a self, recent: &'a &'a [f32], from_s: f64) -> Option<Bleed<'a>> {
        let start_s = self.start?.at_s - from_s;
        bleed(recent, &self.backing, start_s, self.rate_hz).filter(|b| b.level_db > NOTHING_DB)
    }
}
