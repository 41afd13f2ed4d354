//! What a practice looks like: in lines, or on a whole terminal.

use std::io::{self, Write};
use std::time::{Duration, Instant};

use super::SOFTLY;
use crate::listening::{Ear, Face, Heard, Notice, Wish};
use crate::practice::exercise::Ask;
use crate::practice::{Along, Drill, EARLIEST_S, Event, Practice, wording};
use crate::report::along::{Along as View, last};
use crate::report::live::{Following, Screen};
use crate::report::practice as screen;
use crate::report::voicings::picture;
use crate::verdict::Expected;

/// How long the words on a break stay on the screen.
const BREAK_SHOWN: Duration = Duration::from_secs(30);
/// How long the words on headphones do.
const SOFTLY_SHOWN: Duration = Duration::from_secs(15);

/// Where a practice is shown.
pub trait Led: Face {
    /// Something has happened in the lesson.
    fn event(&mut self, practice: &Practice, event: &Event) -> io::Result<()>;
    /// Time goes on.
    fn clock(&mut self, practice: &Practice, now_s: f64) -> io::Result<()>;
}

/// A practice in lines.
pub struct InLines<'a> {
    pub out: &'a mut dyn Write,
    /// Chord pictures as a left-handed player sees the neck.
    pub left: bool,
    /// The bar told of last.
    pub bar: Option<i64>,
}

impl Face for InLines<'_> {
    fn expect(&mut self, _expected: &Expected) -> io::Result<()> {
        Ok(())
    }

    fn hear(&mut self, _heard: &Heard) -> io::Result<()> {
        Ok(())
    }

    fn notice(&mut self, notice: &Notice) -> io::Result<()> {
        writeln!(self.out, "{}", notice.sentence())?;
        self.out.flush()
    }

    fn tick(&mut self, _ear: &Ear) -> io::Result<Option<Wish>> {
        Ok(None)
    }
}

impl Led for InLines<'_> {
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
            let view = View {
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

/// A practice on a whole terminal: the board of `listen`, with what the lesson asks above it; the screen
/// of `play` while playing along.
pub struct Whole {
    screen: Screen,
    /// Chord pictures as a left-handed player sees the neck.
    left: bool,
    note: Option<String>,
    /// Whether the note is on a time through with a backing.
    played: bool,
    /// When the words shown instead of advice go away.
    words_end: Option<Instant>,
}

impl Whole {
    pub fn new(screen: Screen, left: bool) -> Self {
        Whole {
            screen,
            left,
            note: None,
            played: false,
            words_end: None,
        }
    }

    fn say(&mut self, words: &str, shown: Duration) {
        self.screen.board.trouble = Some(words.to_owned());
        self.words_end = Some(Instant::now() + shown);
    }

    fn ask(&mut self, practice: &Practice, ask: &Ask) {
        self.screen.board.goal = ask.text.clone();
        self.screen.board.picture = match ask.picture {
            true => picture(&ask.target.frets, self.left, &practice.lesson().tuning),
            false => Vec::new(),
        };
    }
}

impl Face for Whole {
    /// What was heard last stays to be read until the next strum, though another chord is asked.
    fn expect(&mut self, _expected: &Expected) -> io::Result<()> {
        Ok(())
    }

    fn hear(&mut self, heard: &Heard) -> io::Result<()> {
        if let (Some(following), Heard::Settled { take, .. }) = (&mut self.screen.following, heard)
        {
            let at_s = take.start_s - following.count_in_s;
            // The strum that asked for the count-in belongs to no beat.
            if at_s > following.part.first_beat_s() - EARLIEST_S {
                following.last = last(&following.part, take, at_s);
            }
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

impl Led for Whole {
    fn event(&mut self, practice: &Practice, event: &Event) -> io::Result<()> {
        match event {
            Event::Asked(ask) => self.ask(practice, ask),
            // The strings below are of the take heard last, whatever is asked by now.
            Event::Take(event) => {
                self.note = Some(wording::note_in_short(&event.take, &event.reply.note));
            }
            Event::Along(event) => {
                self.note = Some(wording::landed_in_short(practice.lesson(), event));
                self.played = true;
            }
            Event::Over { outcome, .. } => {
                // How the playing went is worth more than that it is over.
                if !std::mem::take(&mut self.played) {
                    let outcome = wording::outcome_in_short(*outcome);
                    self.note = Some(format!("last step: {outcome}"));
                }
            }
            Event::Break => self.say(wording::BREAK, BREAK_SHOWN),
            Event::Step { step } => {
                if let Drill::Play { .. } = practice.lesson().steps[*step].drill {
                    self.say(SOFTLY, SOFTLY_SHOWN);
                }
            }
            Event::Withdrawn { .. } | Event::End => {}
        }
        Ok(())
    }

    fn clock(&mut self, practice: &Practice, now_s: f64) -> io::Result<()> {
        let board = &mut self.screen.board;
        let (lesson, session) = (practice.lesson(), practice.session());
        board.under_goal = screen::status(lesson, session, now_s, self.note.as_deref());
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
