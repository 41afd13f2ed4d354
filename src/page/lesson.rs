//! A lesson on the page: led through at the microphone, with both hands on the guitar.

use jiff::Timestamp;
use serde::Serialize;
use wasm_bindgen::prelude::*;

use super::meant::{VoicingView, shown};
use super::{PageResult, json};
use crate::fretboard::Tuning;
use crate::listening::Message;
use crate::practice::diary::{Entry, moment};
use crate::practice::exercise::Progress;
use crate::practice::{Drill, Event, Lesson, Session, TakeEvent, end_s, wording};
use crate::report::practice::{results, status};
use crate::verdict::{Expected, ExpectedVoicing};
use crate::words;

/// The lessons that come with the program.
const BUNDLED: [&str; 3] = [
    include_str!("../../fixtures/lessons/first-barre.toml"),
    include_str!("../../fixtures/lessons/along-the-neck.toml"),
    include_str!("../../fixtures/lessons/ferry-song.toml"),
];

#[derive(Debug, Serialize)]
struct Offered {
    title: String,
    about: Option<String>,
    text: &'static str,
}

/// The lessons that come with the page: title, what the teacher says, and text, as JSON.
#[wasm_bindgen]
pub fn lessons() -> String {
    let offered = BUNDLED.iter().filter_map(|text| {
        let lesson = Lesson::read(text).ok()?;
        Some(Offered {
            title: lesson.title,
            about: lesson.about,
            text,
        })
    });
    json(&offered.collect::<Vec<_>>())
}

/// Event of a lesson, in words.
#[derive(Debug, Serialize)]
#[serde(tag = "word", rename_all = "kebab-case")]
pub enum Happens {
    /// A step comes on.
    Step { text: String, say: Option<String> },
    /// Something else is to be played.
    Asked {
        text: String,
        chord: String,
        picture: Option<VoicingView>,
    },
    /// A take counted for something.
    Took {
        number: u64,
        note: Option<String>,
        gap_s: Option<f64>,
        done: u32,
        of: u32,
    },
    /// A step is over.
    Over { text: String },
    /// Time for a break.
    Break { text: String },
    /// A step that the page has not.
    LeftOut { text: String },
    /// The lesson is over: what came out, in lines.
    End { results: String },
}

/// A lesson under way.
pub struct PageLesson {
    lesson: Lesson,
    session: Session,
    began: Timestamp,
    events: Vec<Event>,
}

impl PageLesson {
    /// The lesson in `text`, from its start; what it leaves to chance comes from `seed`.
    pub fn new(text: &str, tuning: Tuning, seed: u64, began: Timestamp) -> PageResult<PageLesson> {
        let lesson = Lesson::read_for(text, tuning).map_err(|problems| {
            let lines: Vec<String> = problems.iter().map(ToString::to_string).collect();
            JsError::new(&lines.join(" "))
        })?;
        let mut course = PageLesson {
            session: Session::new(&lesson, seed),
            lesson,
            began,
            events: Vec::new(),
        };
        course.session.begin(0.0, &mut course.events);
        Ok(course)
    }

    /// Tells how the guitar of the lesson is tuned.
    pub fn tuning(&self) -> Tuning {
        self.lesson.tuning
    }

    /// Title and what the teacher says first.
    pub fn opening(&self) -> (String, Option<String>) {
        (self.lesson.title.clone(), self.lesson.about.clone())
    }

    /// Takes what was heard by now, in seconds; gives what the diary keeps of it, where it counted.
    pub fn hear(&mut self, heard: &Message, now_s: f64) -> Option<Entry> {
        let before = self.events.len();
        match heard {
            Message::First { .. } => {}
            Message::Settled { number, take } => {
                self.session.hear(*number, take, now_s, &mut self.events);
            }
            Message::Cut { number, strum, .. } | Message::Over { number, strum, .. } => {
                self.session.ended(*number, end_s(strum));
            }
            Message::Withdrawn { number } => self.session.withdraw(*number, &mut self.events),
        }
        self.events[before..].iter().find_map(|event| match event {
            Event::Take(event) => Some(self.entry(event)),
            _ => None,
        })
    }

    fn entry(&self, event: &TakeEvent) -> Entry {
        let at = moment(self.began, event.take.start_s);
        Entry {
            lesson: Some(self.lesson.title.clone()),
            began: Some(self.began),
            step: Some(event.step as u32 + 1),
            exercise: Some(self.lesson.steps[event.step].drill.kind().to_owned()),
            stage: event.stage.clone(),
            clean: event.reply.clean,
            from: event.reply.from,
            gap_s: event.reply.gap_s,
            ..Entry::of(&event.take, at, &self.lesson.tuning)
        }
    }

    /// The learner goes on to the next step.
    pub fn leave(&mut self, now_s: f64) {
        self.session.leave(now_s, &mut self.events);
    }

    /// Time goes on: gives what has happened, and what is expected from now on where that has changed.
    pub fn go_on(&mut self, now_s: f64) -> (Vec<Happens>, Option<Expected>) {
        self.session.tick(now_s, &mut self.events);
        let (mut happens, mut expected) = (Vec::new(), None);
        while !self.events.is_empty() {
            for event in std::mem::take(&mut self.events) {
                if let Event::Asked(ask) = &event {
                    expected = Some(ask.expected(&self.lesson.tuning));
                }
                happens.extend(self.words(event, now_s));
            }
        }
        (happens, expected)
    }

    fn words(&mut self, event: Event, now_s: f64) -> Option<Happens> {
        Some(match event {
            Event::Step { step } => {
                if let Drill::Play { .. } = self.lesson.steps[step].drill {
                    self.session.leave(now_s, &mut self.events);
                    return Some(Happens::LeftOut {
                        text: words::site::PLAYS_ALONG.to_owned(),
                    });
                }
                Happens::Step {
                    text: wording::step(&self.lesson, step),
                    say: self.lesson.steps[step].say.clone(),
                }
            }
            Event::Asked(ask) => {
                let chord = ask.target.chord.map(|chord| chord.to_string());
                let voicing = ExpectedVoicing::usual(ask.target.frets, chord, &self.lesson.tuning);
                Happens::Asked {
                    text: ask.text,
                    chord: ask.target.name(),
                    picture: (!ask.hides_place).then(|| shown(&voicing, &self.lesson.tuning)),
                }
            }
            Event::Take(event) => {
                let Progress { done, of } = event.progress;
                Happens::Took {
                    number: event.number,
                    note: wording::note(&event.reply.note),
                    gap_s: event.reply.gap_s,
                    done,
                    of,
                }
            }
            Event::Over { outcome, .. } => Happens::Over {
                text: wording::outcome(outcome).to_owned(),
            },
            Event::Break => Happens::Break {
                text: wording::BREAK.to_owned(),
            },
            Event::End => Happens::End {
                results: self.results(),
            },
            // Nothing plays along here, and of what was no take the board tells.
            Event::Along(_) | Event::Withdrawn { .. } => return None,
        })
    }

    /// One line: the step, how far it has come, the time left.
    pub fn status(&self, now_s: f64) -> String {
        status(&self.lesson, &self.session, now_s)
    }

    /// Gives what came out of each step, in lines.
    pub fn results(&self) -> String {
        let mut out = Vec::new();
        let written = results(&mut out, &self.lesson, &self.session.results());
        debug_assert!(written.is_ok(), "into memory");
        String::from_utf8(out).unwrap_or_default().trim().to_owned()
    }
}
