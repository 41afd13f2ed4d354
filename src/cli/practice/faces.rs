//! Faces of a practice: in lines, or on a whole terminal.

use std::io::{self, Write};
use std::time::{Duration, Instant};

use super::super::hands::WHAT;
use super::SOFTLY;
use crate::listening::{Ear, Face, Message, Notice, Wish};
use crate::practice::diary::Correction;
use crate::practice::{Along, Drill, Event, Practice, wording};
use crate::report::live::along::{AlongView, last};
use crate::report::live::{Following, Guide, Screen};
use crate::report::practice as screen;
use crate::verdict::{Expected, JudgedTake};
use crate::words;

/// How long the words on a break stay on the screen.
const BREAK_SHOWN: Duration = Duration::from_secs(30);
/// How long the words on headphones do.
const SOFTLY_SHOWN: Duration = Duration::from_secs(15);

/// Screen or lines that show a practice.
pub trait Led: Face {
    /// Tells whether the practice is to wait until the learner has read what the teacher says first.
    fn opens(&mut self, _practice: &Practice) -> bool {
        false
    }
    /// The practice waits for the learner from now on, or no longer.
    fn rests(&mut self, _practice: &Practice, _on: bool) {}
    /// Shows, or no longer shows, the question how the last take really was.
    fn asks(&mut self, _on: bool) {}
    /// The last take is put right so; `None`: there is none that can be.
    fn put_right(&mut self, _said: Option<&Correction>) {}
    /// Shows a strum that the result will count, while playing along.
    fn strum(&mut self, _take: &JudgedTake) {}
    /// Something has happened in the lesson.
    fn event(&mut self, practice: &Practice, event: &Event) -> io::Result<()>;
    /// Time goes on.
    fn clock(&mut self, practice: &Practice, now_s: f64) -> io::Result<()>;
}

/// A practice in lines.
pub struct PracticeLines<'a> {
    pub out: &'a mut dyn Write,
    /// Chord pictures as a left-handed player sees the neck.
    pub left: bool,
    /// The bar told of last.
    pub bar: Option<i64>,
}

impl Face for PracticeLines<'_> {
    fn notice(&mut self, notice: &Notice) -> io::Result<()> {
        writeln!(self.out, "{}", notice.sentence())?;
        self.out.flush()
    }
}

impl Led for PracticeLines<'_> {
    fn event(&mut self, practice: &Practice, event: &Event) -> io::Result<()> {
        screen::event(self.out, practice.lesson(), event, self.left)
    }

    /// A line for each bar of playing along.
    fn clock(&mut self, practice: &Practice, now_s: f64) -> io::Result<()> {
        let along = practice.along();
        let Some((along, into_s)) = along.and_then(|a| a.into_s(now_s).map(|into| (a, into)))
        else {
            self.bar = None;
            return Ok(());
        };
        let bar = along.part.plan.grid.bar_at(into_s);
        if into_s > 0.0 && self.bar != Some(bar) {
            self.bar = Some(bar);
            let view = AlongView {
                part: &along.part,
                now_s: into_s,
                last: "",
                notice: "",
                keys: "",
                left: self.left,
            };
            writeln!(self.out, "{}", view.line())?;
            self.out.flush()?;
        }
        Ok(())
    }
}

/// A practice on a whole terminal: the board of `listen` with what the lesson asks, the screen of `play`
/// while playing along.
pub struct PracticeScreen {
    screen: Screen,
    guide: Guide,
    /// Whether the opening is still to be read.
    opening: bool,
    /// Chord pictures as a left-handed player sees the neck.
    left: bool,
    /// Whether it is known how late sound is heard.
    delay_known: bool,
    /// When the words shown instead of advice go away.
    words_end: Option<Instant>,
}

impl PracticeScreen {
    pub fn new(screen: Screen, left: bool, delay_known: bool) -> Self {
        PracticeScreen {
            screen,
            guide: Guide::default(),
            opening: false,
            left,
            delay_known,
            words_end: None,
        }
    }

    fn say(&mut self, words: &str, shown: Duration) {
        self.screen.board.trouble = Some(words.to_owned());
        self.words_end = Some(Instant::now() + shown);
    }
}

impl Face for PracticeScreen {
    /// What was heard last stays to be read until the next strum, though another chord is asked.
    fn expect(&mut self, _expected: &Expected) -> io::Result<()> {
        Ok(())
    }

    fn hear(&mut self, heard: &Message) -> io::Result<()> {
        if self.opening {
            return Ok(());
        }
        if let Message::First { .. } = heard {
            self.screen.board.note.clear();
        }
        self.screen.hear(heard)
    }

    fn notice(&mut self, notice: &Notice) -> io::Result<()> {
        self.screen.notice(notice)
    }

    fn tick(&mut self, ear: &Ear) -> io::Result<Option<Wish>> {
        if self.words_end.is_some_and(|end| Instant::now() > end) {
            self.words_end = None;
            self.screen.board.trouble = None;
        }
        self.screen.tick(ear)
    }
}

impl Led for PracticeScreen {
    fn opens(&mut self, practice: &Practice) -> bool {
        self.opening = true;
        self.guide.open(&mut self.screen.board, practice);
        true
    }

    fn rests(&mut self, practice: &Practice, on: bool) {
        self.screen.board.paused = on;
        if std::mem::take(&mut self.opening) {
            self.guide.begin(&mut self.screen.board, practice);
        }
    }

    fn asks(&mut self, on: bool) {
        self.screen.board.question = on.then_some(WHAT);
    }

    fn put_right(&mut self, said: Option<&Correction>) {
        let board = &mut self.screen.board;
        match said {
            Some(said) => {
                board.put_right(said);
                board.note = words::commands::put_right(said.words());
            }
            None => board.note = words::commands::NOTHING_TO_PUT_RIGHT.to_owned(),
        }
    }

    fn strum(&mut self, take: &JudgedTake) {
        if let Some(following) = &mut self.screen.following {
            let at_s = take.start_s - following.count_in_s;
            following.last = last(&following.part, take, at_s, self.delay_known);
        }
    }

    fn event(&mut self, practice: &Practice, event: &Event) -> io::Result<()> {
        if !self.opening {
            let board = &mut self.screen.board;
            self.guide.event(board, practice, event);
        }
        match event {
            Event::Break => self.say(wording::BREAK, BREAK_SHOWN),
            Event::Step { step } => {
                if let Drill::Play { .. } = practice.lesson().steps[*step].drill {
                    self.say(SOFTLY, SOFTLY_SHOWN);
                }
            }
            _ => {}
        }
        Ok(())
    }

    fn clock(&mut self, practice: &Practice, now_s: f64) -> io::Result<()> {
        if !self.opening {
            self.guide.clock(&mut self.screen.board, practice, now_s);
        }
        let along = practice.along();
        let into_s = along.and_then(|along: &Along| along.into_s(now_s));
        match (along, into_s, &mut self.screen.following) {
            (Some(_), Some(into_s), Some(following)) => following.now_s = into_s,
            (Some(along), Some(into_s), following) => {
                *following = Some(Following {
                    part: along.part.clone(),
                    count_in_s: now_s - into_s,
                    now_s: into_s,
                    last: String::new(),
                    left: self.left,
                });
            }
            (_, _, following) => *following = None,
        }
        Ok(())
    }
}
