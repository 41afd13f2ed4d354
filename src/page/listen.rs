//! The microphone on the page.

use jiff::Timestamp;
use serde::Serialize;
use wasm_bindgen::prelude::*;

use super::lesson::{Happens, PageLesson};
use super::meant::Meant;
use super::{PageResult, json, told, view};
use crate::audio::{Meter, wav_file};
use crate::fretboard::Tuning;
use crate::listening::{Listener, Message, Notice};
use crate::practice::diary::{Entry, moment};
use crate::report::live::Board;
use crate::take::Take;
use crate::verdict::{AnalyserSettings, Expected, JudgedTake};
use crate::words;

/// What was heard of a take.
#[derive(Debug, Serialize)]
#[serde(tag = "word", rename_all = "kebab-case")]
enum MessageView {
    /// A first guess.
    First { number: u64, take: view::TakeView },
    /// The verdict, and what the diary keeps of it.
    Settled {
        number: u64,
        take: view::TakeView,
        entry: Option<Box<Entry>>,
    },
    /// It was no take after all.
    Withdrawn { number: u64 },
    /// Nothing can change it any more; [`Listen::sound`] has its sound.
    Over { number: u64 },
}

/// What there is to tell.
#[derive(Debug, Serialize)]
struct News {
    heard: Vec<MessageView>,
    lesson: Vec<Happens>,
}

/// A microphone that is listened to, and the lesson that it leads through where there is one.
#[wasm_bindgen]
pub struct Listen {
    course: Option<PageLesson>,
    listener: Listener,
    board: Board,
    meter: Meter,
    began: Timestamp,
    heard: Vec<Message>,
    /// Whether the sound of takes is asked for.
    keeps_sound: bool,
    /// Takes that are over and whose sound was not asked for yet.
    over: Vec<(u64, Take)>,
}

/// What the page shows beside the takes.
#[derive(Debug, Serialize)]
struct BoardView {
    /// Of a lesson: its title and what the teacher says first.
    opening: Option<(String, Option<String>)>,
    /// Of a lesson: the step, how far it has come, the time left.
    status: Option<String>,
    goal: String,
    advice: String,
}

#[wasm_bindgen]
impl Listen {
    /// Listens at `rate_hz`, from the moment `began_ms` on (milliseconds since 1970).
    ///
    /// # Errors
    /// What is wrong with `meant`, as a sentence.
    #[wasm_bindgen(constructor)]
    pub fn new(meant: &str, rate_hz: u32, began_ms: f64) -> PageResult<Listen> {
        let meant = Meant::read(meant)?;
        let (tuning, expected) = (meant.tuning()?, meant.expected()?);
        let began = Timestamp::from_millisecond(began_ms as i64).map_err(told)?;
        Ok(Listen::to(tuning, expected, rate_hz, began))
    }

    /// Listens as [`new`](Self::new) does, led by a lesson; what it leaves to chance comes from `seed`.
    ///
    /// # Errors
    /// What is wrong with `meant` or the lesson's `text`, as sentences.
    pub fn practise(
        meant: &str,
        text: &str,
        seed: f64,
        rate_hz: u32,
        began_ms: f64,
    ) -> PageResult<Listen> {
        let tuning = Meant::read(meant)?.tuning()?;
        let began = Timestamp::from_millisecond(began_ms as i64).map_err(told)?;
        let course = PageLesson::new(text, tuning, seed as u64, began)?;
        let any = Expected::any(&course.tuning())
            .ok_or_else(|| JsError::new(words::site::LESSON_TUNING_UNKNOWN))?;
        Ok(Listen {
            course: Some(course),
            ..Listen::to(tuning, any, rate_hz, began)
        })
    }

    fn to(tuning: Tuning, expected: Expected, rate_hz: u32, began: Timestamp) -> Listen {
        Listen {
            course: None,
            board: Board::new(&expected, &tuning, false),
            listener: Listener::new(AnalyserSettings { tuning, rate_hz }, expected),
            meter: Meter::new(rate_hz),
            began,
            heard: Vec::new(),
            keeps_sound: false,
            over: Vec::new(),
        }
    }

    /// Goes on to the next step of the lesson; gives what happens.
    pub fn leave(&mut self) -> String {
        let now_s = self.listener.now_s();
        if let Some(course) = &mut self.course {
            course.leave(now_s);
        }
        self.said()
    }

    /// Gives what came out of the lesson so far, in lines.
    pub fn results(&self) -> Option<String> {
        self.course.as_ref().map(PageLesson::results)
    }

    /// Keeps the sound of each take from now on.
    pub fn keep_sound(&mut self) {
        self.keeps_sound = true;
    }

    /// Gives the sound of a take that is over as a WAV file, once.
    pub fn sound(&mut self, number: f64) -> Option<Vec<u8>> {
        let at = (self.over.iter()).position(|(over, _)| *over == number as u64)?;
        let (_, strum) = self.over.swap_remove(at);
        Some(wav_file(strum.rate_hz, &strum.samples))
    }

    /// Changes the chord that is meant, from the next take on. The tuning stays.
    ///
    /// # Errors
    /// What is wrong with `meant`, as a sentence.
    pub fn expect(&mut self, meant: &str) -> PageResult<()> {
        let expected = Meant::read(meant)?.expected()?;
        self.board.expect(&expected);
        self.listener.expect(expected);
        Ok(())
    }

    /// Takes struck in the next seconds are not the player's: the page itself is heard.
    pub fn ignore(&mut self, seconds: f64) {
        self.listener.ignore(seconds);
    }

    /// Takes the next mono samples; gives what they tell as JSON, an empty text where that is nothing.
    pub fn push(&mut self, samples: &[f32]) -> String {
        self.meter.push(samples);
        self.board.level_dbfs = Some(self.meter.peak_dbfs());
        self.listener.push(samples, &mut self.heard);
        self.said()
    }

    /// Skips samples that are missing before the next ones; gives what that tells.
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
        let now_s = self.listener.now_s();
        let entry = |take: &JudgedTake| Entry::of(take, moment(self.began, take.start_s), &tuning);
        let mut said = Vec::new();
        for heard in std::mem::take(&mut self.heard) {
            self.board.hear(&heard);
            let counted = self
                .course
                .as_mut()
                .map(|course| course.hear(&heard, now_s));
            said.extend(match heard {
                Message::First { number, take } => Some(MessageView::First {
                    number,
                    take: view::take(&take, &tuning),
                }),
                Message::Settled { number, take } => Some(MessageView::Settled {
                    number,
                    // In a lesson, what counts for it; else everything.
                    entry: counted.unwrap_or_else(|| Some(entry(&take))).map(Box::new),
                    take: view::take(&take, &tuning),
                }),
                Message::Withdrawn { number } => Some(MessageView::Withdrawn { number }),
                Message::Over { number, strum, .. } if self.keeps_sound => {
                    self.over.push((number, strum));
                    Some(MessageView::Over { number })
                }
                Message::Cut { .. } | Message::Over { .. } => None,
            });
        }
        let mut lesson = Vec::new();
        if let Some(course) = &mut self.course {
            let (happens, expected) = course.go_on(now_s);
            lesson = happens;
            if let Some(expected) = expected {
                self.listener.expect(expected);
            }
        }
        match said.is_empty() && lesson.is_empty() {
            true => String::new(),
            false => json(&News {
                heard: said,
                lesson,
            }),
        }
    }

    /// Gives what stands above and below the strings, as JSON.
    pub fn board(&self) -> String {
        let now_s = self.listener.now_s();
        let course = self.course.as_ref();
        json(&BoardView {
            opening: course.map(PageLesson::opening),
            status: course.map(|course| course.status(now_s)),
            goal: self.board.goal.clone(),
            advice: self.board.advice(),
        })
    }

    /// Tells how loud it is, as a peak in dBFS.
    pub fn level_dbfs(&self) -> f32 {
        self.meter.peak_dbfs()
    }

    /// The same in a word.
    pub fn level_word(&self) -> String {
        self.board.level_word().to_owned()
    }

    /// Gives what to do where the microphone gives exact silence.
    pub fn silence(&self) -> Option<String> {
        self.meter.is_dead().then(|| Notice::Dead.sentence())
    }

    /// Seconds of sound taken so far.
    pub fn now_s(&self) -> f64 {
        self.listener.now_s()
    }
}
