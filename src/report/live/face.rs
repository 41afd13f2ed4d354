//! Faces of a sitting: a whole terminal, or lines for people and programs.

use std::io::{self, Write};
use std::time::{Duration, Instant};

use super::along::{self, AlongView};
use super::board::Board;
use super::lines::LineForm;
use super::stage::{Key, Stage};
use super::view;
use crate::listening::{Ear, Face, Message, Notice, Wish};
use crate::progression::performance::Part;
use crate::verdict::Expected;

/// A face of lines.
pub struct LineFace<'a> {
    /// Stream that the lines go to.
    pub out: &'a mut dyn Write,
    /// Writer of the lines on what was heard.
    pub lines: Box<dyn LineForm>,
}

impl Face for LineFace<'_> {
    fn expect(&mut self, expected: &Expected) -> io::Result<()> {
        self.lines.expect(self.out, expected)
    }

    fn hear(&mut self, heard: &Message) -> io::Result<()> {
        self.lines.hear(self.out, heard)
    }

    fn notice(&mut self, notice: &Notice) -> io::Result<()> {
        let sentence = notice.sentence();
        self.lines.notice(self.out, notice.word(), &sentence)
    }
}

/// The level is drawn anew this often; pictures and verdicts at once.
const REFRESH: Duration = Duration::from_millis(100);
/// A notice that does not stay is shown this long.
const NOTICE: Duration = Duration::from_secs(4);

/// Backing that is played along with at the moment.
pub struct Following {
    /// Beats and voicings.
    pub part: Part,
    /// Beginning of the count-in, in seconds of the stream, and how long ago that was.
    pub count_in_s: f64,
    /// Time since then, in seconds.
    pub now_s: f64,
    /// The last strum in words, empty before the first.
    pub last: String,
    /// Chord pictures as a left-handed player sees the neck.
    pub left: bool,
}

/// A face on a whole terminal.
pub struct Screen {
    stage: Stage,
    /// Board that is shown while nothing is played along with.
    pub board: Board,
    /// Shown instead of the board while something is played along with.
    pub following: Option<Following>,
    drawn: Option<Instant>,
    /// When the notice shown goes away.
    notice_ends: Option<Instant>,
}

impl Screen {
    /// Takes the terminal and what is to be shown on it first.
    pub fn new(stage: Stage, board: Board) -> Self {
        Screen {
            stage,
            board,
            following: None,
            drawn: None,
            notice_ends: None,
        }
    }
}

impl Face for Screen {
    fn expect(&mut self, expected: &Expected) -> io::Result<()> {
        self.board.expect(expected);
        self.drawn = None;
        Ok(())
    }

    fn hear(&mut self, heard: &Message) -> io::Result<()> {
        if self.board.hear(heard) {
            self.drawn = None;
            // What is said of the last strum is worth more than what has passed.
            if self.notice_ends.take().is_some() {
                self.board.trouble = None;
            }
        }
        Ok(())
    }

    fn notice(&mut self, notice: &Notice) -> io::Result<()> {
        self.board.trouble = Some(notice.sentence());
        let shown = notice.lasts_s().map_or(NOTICE, Duration::from_secs_f64);
        self.notice_ends = (!notice.stays()).then(|| Instant::now() + shown);
        // Sound systems write on the screen when they come and go.
        self.stage.clear()?;
        self.drawn = None;
        Ok(())
    }

    fn tick(&mut self, ear: &Ear) -> io::Result<Option<Wish>> {
        if self.notice_ends.is_some_and(|end| Instant::now() > end) {
            self.notice_ends = None;
            self.board.trouble = None;
            self.drawn = None;
        }
        let key = self.stage.key()?;
        if key == Some(Key::Resized) {
            self.drawn = None;
        }
        let wish = key.and_then(Key::wish);
        if self.drawn.is_none_or(|at| at.elapsed() >= REFRESH) {
            let peak = ear.has_microphone().then(|| ear.meter().peak_dbfs());
            self.board.level_dbfs = peak;
            let board = &self.board;
            let following = self.following.as_ref().map(|following| AlongView {
                part: &following.part,
                now_s: following.now_s,
                last: &following.last,
                notice: board.trouble.as_deref().unwrap_or_default(),
                keys: &board.keys,
                left: following.left,
            });
            self.stage.draw(|frame| match &following {
                Some(along) => along::draw(frame, along),
                None => view::draw(frame, board),
            })?;
            self.drawn = Some(Instant::now());
        }
        Ok(wish)
    }
}
