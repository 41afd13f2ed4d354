//! One sitting at the guitar, step by step.

use std::io::{self, Write};
use std::time::{Duration, Instant};

use super::board::Board;
use super::lines::Lines;
use super::sounds::Sounds;
use super::stage::{Key, Stage};
use super::view;
use crate::audio::live::{DeviceError, began_at_s};
use crate::fretboard::Frets;
use crate::progression::session::Part;
use crate::report::along::{self, Along};
use crate::verdict::{Ear, Expected, Heard, Stream};

/// What happened to the sound, in words.
#[derive(Debug, Clone, PartialEq)]
pub enum Notice {
    /// The microphone has gone; it is waited for.
    Gone(DeviceError),
    Back,
    /// So many seconds of sound were lost.
    Lost(f64),
    /// The microphone gives nothing but exact zeros.
    Dead,
    /// It gives sound after all.
    Alive,
}

impl Notice {
    /// One word for programs.
    pub fn word(&self) -> &'static str {
        match self {
            Notice::Gone(_) => "microphone-gone",
            Notice::Back => "microphone-back",
            Notice::Lost(_) => "sound-lost",
            Notice::Dead => "digital-silence",
            Notice::Alive => "sound-comes",
        }
    }

    /// A sentence for people.
    pub fn sentence(&self) -> String {
        match self {
            Notice::Gone(error) => format!("Waiting: {error}. It is taken up again by itself."),
            Notice::Back => "The microphone is there again.".to_owned(),
            Notice::Lost(seconds) => format!(
                "The computer lost {seconds:.2} s of sound; a take that it falls into is not judged."
            ),
            Notice::Dead => {
                "The microphone gives exact silence: it is switched off, or the system \
                             does not let the sound through. Allow it in the privacy settings."
                    .to_owned()
            }
            Notice::Alive => "The microphone gives sound.".to_owned(),
        }
    }

    /// Whether it lasts until another notice.
    fn stays(&self) -> bool {
        matches!(self, Notice::Gone(_) | Notice::Dead)
    }
}

/// What the player wants.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wish {
    Quit,
    /// The next chord.
    Next,
    /// How the clean chord sounds.
    Reference,
    /// Another key, for the session to make something of.
    Key(char),
}

/// Where a session is shown.
pub trait Face {
    /// This is to be played now.
    fn expect(&mut self, expected: &Expected) -> io::Result<()>;
    fn hear(&mut self, heard: &Heard) -> io::Result<()>;
    fn notice(&mut self, notice: &Notice) -> io::Result<()>;
    /// Called about every 20 ms: shows the level, asks for keys.
    fn tick(&mut self, ear: &Ear) -> io::Result<Option<Wish>>;
}

/// A face of lines.
pub struct LineFace<'a> {
    pub out: &'a mut dyn Write,
    pub lines: Box<dyn Lines>,
}

impl Face for LineFace<'_> {
    fn expect(&mut self, expected: &Expected) -> io::Result<()> {
        self.lines.expect(self.out, expected)
    }

    fn hear(&mut self, heard: &Heard) -> io::Result<()> {
        self.lines.hear(self.out, heard)
    }

    fn notice(&mut self, notice: &Notice) -> io::Result<()> {
        let sentence = notice.sentence();
        self.lines.notice(self.out, notice.word(), &sentence)
    }

    fn tick(&mut self, _ear: &Ear) -> io::Result<Option<Wish>> {
        Ok(None)
    }
}

/// The level is drawn anew this often; pictures and verdicts at once.
const REFRESH: Duration = Duration::from_millis(100);
/// A notice that does not stay is shown this long.
const NOTICE: Duration = Duration::from_secs(4);

/// What is played along with at the moment.
pub struct Following {
    pub part: Part,
    /// When the count-in began, in seconds of the stream, and how long ago that was.
    pub count_in_s: f64,
    pub now_s: f64,
    /// The last strum in words, empty before the first.
    pub last: String,
    /// Chord pictures as a left-handed player sees the neck.
    pub left: bool,
}

/// A face on a whole terminal.
pub struct Screen {
    stage: Stage,
    pub board: Board,
    /// Shown instead of the board while something is played along with.
    pub following: Option<Following>,
    drawn: Option<Instant>,
    /// When the notice shown goes away.
    notice_ends: Option<Instant>,
}

impl Screen {
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

    fn hear(&mut self, heard: &Heard) -> io::Result<()> {
        if self.board.hear(heard) {
            self.drawn = None;
        }
        Ok(())
    }

    fn notice(&mut self, notice: &Notice) -> io::Result<()> {
        self.board.trouble = Some(notice.sentence());
        self.notice_ends = (!notice.stays()).then(|| Instant::now() + NOTICE);
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
        let wish = match self.stage.key()? {
            Some(Key::Quit) => Some(Wish::Quit),
            Some(Key::Letter('n' | ' ')) => Some(Wish::Next),
            Some(Key::Letter('h')) => Some(Wish::Reference),
            Some(Key::Letter(c)) => Some(Wish::Key(c)),
            Some(Key::Resized) => {
                self.drawn = None;
                None
            }
            None => None,
        };
        if self.drawn.is_none_or(|at| at.elapsed() >= REFRESH) {
            let peak = ear.has_microphone().then(|| ear.meter().peak_dbfs());
            self.board.level_dbfs = peak;
            let board = &self.board;
            let following = self.following.as_ref().map(|following| Along {
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

/// What came of one step.
#[derive(Debug, Default)]
pub struct Step {
    pub heard: Vec<Heard>,
    pub wish: Option<Wish>,
    /// There is no more sound.
    pub ended: bool,
}

/// An ear, a voice, and what is to be played.
pub struct Session {
    pub ear: Ear,
    /// `None` where nothing is to be played back.
    pub sounds: Option<Sounds>,
    /// Whether each verdict is told by a tone.
    pub tones: bool,
    dead: bool,
}

impl Session {
    pub fn new(ear: Ear, sounds: Option<Sounds>, tones: bool) -> Self {
        Session {
            ear,
            sounds,
            tones,
            dead: false,
        }
    }

    /// When the backing that is played began, in seconds since the sound began; `None` where nobody knows.
    pub fn backing_began_s(&self) -> Option<f64> {
        let sink = self.sounds.as_ref()?.playing()?;
        Some(self.ear.now_s() + began_at_s(self.ear.source()?, sink, 0)?)
    }

    /// From now on this is to be played.
    ///
    /// # Errors
    /// Where the face cannot show it.
    pub fn expect(&mut self, expected: Expected, face: &mut dyn Face) -> io::Result<()> {
        face.expect(&expected)?;
        self.ear.listener().expect(expected);
        let frets = self.frets();
        if let (Some(sounds), Some(frets)) = (&mut self.sounds, frets) {
            sounds.prepare(frets);
        }
        Ok(())
    }

    /// The frets that are meant.
    fn frets(&mut self) -> Option<Frets> {
        let expected = self.ear.listener().expected();
        expected.example().map(|voicing| voicing.frets)
    }

    /// Plays how the clean chord sounds; while it does, nothing is judged.
    pub fn reference(&mut self) {
        let frets = self.frets();
        if let (Some(sounds), Some(frets)) = (&mut self.sounds, frets) {
            sounds.reference(frets);
        }
    }

    /// Listens for some tens of milliseconds, shows what came, plays what is due.
    ///
    /// # Errors
    /// Where the face cannot show it.
    pub fn step(&mut self, face: &mut dyn Face) -> io::Result<Step> {
        let mut step = Step::default();
        let stream = self.ear.hear(&mut step.heard);
        for heard in &step.heard {
            face.hear(heard)?;
            if let (Heard::Settled { take, .. }, true, Some(sounds)) =
                (heard, self.tones, &mut self.sounds)
            {
                sounds.outcome(take);
            }
        }
        match stream {
            Stream::Flows => {}
            Stream::Lost(seconds) => face.notice(&Notice::Lost(seconds))?,
            Stream::Gone(error) => face.notice(&Notice::Gone(error))?,
            Stream::Back => face.notice(&Notice::Back)?,
            Stream::Ended => step.ended = true,
        }
        let dead = self.ear.has_microphone() && self.ear.meter().is_dead();
        if dead != self.dead && self.ear.has_microphone() {
            self.dead = dead;
            face.notice(if dead { &Notice::Dead } else { &Notice::Alive })?;
        }
        let frets = self.frets();
        if let Some(sounds) = &mut self.sounds
            && let Some(seconds) = sounds.go_on(frets)
        {
            self.ear.listener().ignore(seconds);
        }
        step.wish = face.tick(&self.ear)?;
        if step.wish == Some(Wish::Reference) {
            self.reference();
        }
        Ok(step)
    }
}
