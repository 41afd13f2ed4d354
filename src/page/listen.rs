//! The microphone on the page.

use jiff::Timestamp;
use serde::Serialize;
use wasm_bindgen::prelude::*;

use super::meant::Meant;
use super::{Told, json, told, view};
use crate::audio::Meter;
use crate::listening::{Heard, Listener, Notice};
use crate::practice::diary::{Entry, moment};
use crate::report::live::Board;
use crate::verdict::{Settings, Take};

/// What was heard of a take.
#[derive(Debug, Serialize)]
#[serde(tag = "word", rename_all = "kebab-case")]
enum Said {
    /// A first guess.
    First { number: u64, take: view::TakeView },
    /// The verdict, and what the diary keeps of it.
    Settled {
        number: u64,
        take: view::TakeView,
        entry: Box<Entry>,
    },
    /// It was no take after all.
    Withdrawn { number: u64 },
}

/// A microphone that is listened to.
#[wasm_bindgen]
pub struct Listen {
    listener: Listener,
    board: Board,
    meter: Meter,
    began: Timestamp,
    heard: Vec<Heard>,
}

/// What the page shows beside the takes.
#[derive(Debug, Serialize)]
struct BoardView {
    goal: String,
    advice: String,
    tuning: Option<String>,
}

#[wasm_bindgen]
impl Listen {
    /// Listens at `rate_hz`, from the moment `began_ms` on (milliseconds since 1970).
    ///
    /// # Errors
    /// What is wrong with `meant`, as a sentence.
    #[wasm_bindgen(constructor)]
    pub fn new(meant: &str, rate_hz: u32, began_ms: f64) -> Told<Listen> {
        let meant = Meant::read(meant)?;
        let (tuning, expected) = (meant.tuning()?, meant.expected()?);
        Ok(Listen {
            board: Board::new(&expected),
            listener: Listener::new(Settings { tuning, rate_hz }, expected),
            meter: Meter::new(rate_hz),
            began: Timestamp::from_millisecond(began_ms as i64).map_err(told)?,
            heard: Vec::new(),
        })
    }

    /// From the next take on another chord is meant. The tuning stays.
    ///
    /// # Errors
    /// What is wrong with `meant`, as a sentence.
    pub fn expect(&mut self, meant: &str) -> Told<()> {
        let expected = Meant::read(meant)?.expected()?;
        self.board.expect(&expected);
        self.listener.expect(expected);
        Ok(())
    }

    /// Takes struck in the next seconds are not the player's: the page itself is heard.
    pub fn ignore(&mut self, seconds: f64) {
        self.listener.ignore(seconds);
    }

    /// Takes the next mono samples; gives what they tell as a list in JSON.
    pub fn push(&mut self, samples: &[f32]) -> String {
        self.meter.push(samples);
        self.board.level_dbfs = Some(self.meter.peak_dbfs());
        self.listener.push(samples, &mut self.heard);
        self.said()
    }

    /// So many samples are missing before the next ones; gives what that tells.
    pub fn lost(&mut self, samples: f64) -> String {
        self.listener.lost(samples as u64, &mut self.heard);
        self.said()
    }

    /// Ends listening; gives the last takes.
    pub fn finish(&mut self) -> String {
        self.listener.finish(&mut self.heard);
        self.said()
    }

    fn said(&mut self) -> String {
        let tuning = self.listener.settings().tuning;
        let entry = |take: &Take| Entry::of(take, moment(self.began, take.start_s), &tuning);
        let mut said = Vec::new();
        for heard in self.heard.drain(..) {
            self.board.hear(&heard);
            said.extend(match heard {
                Heard::First { number, take } => Some(Said::First {
                    number,
                    take: view::take(&take, &tuning),
                }),
                Heard::Settled { number, take } => Some(Said::Settled {
                    number,
                    entry: Box::new(entry(&take)),
                    take: view::take(&take, &tuning),
                }),
                Heard::Withdrawn { number } => Some(Said::Withdrawn { number }),
                Heard::Cut { .. } | Heard::Over { .. } => None,
            });
        }
        json(&said)
    }

    /// What stands above and below the strings, as JSON.
    pub fn board(&self) -> String {
        json(&BoardView {
            goal: self.board.goal.clone(),
            advice: self.board.advice(),
            tuning: self.board.tuning_warning(),
        })
    }

    /// How loud it is, as a peak in dBFS.
    pub fn level_dbfs(&self) -> f32 {
        self.meter.peak_dbfs()
    }

    /// The same in a word.
    pub fn level_word(&self) -> String {
        self.board.level_word().to_owned()
    }

    /// What to do where the microphone gives exact silence.
    pub fn silence(&self) -> Option<String> {
        self.meter.is_dead().then(|| Notice::Dead.sentence())
    }

    /// Seconds of sound taken so far.
    pub fn now_s(&self) -> f64 {
        self.listener.now_s()
    }
}
