//! Lessons as a teacher asks for them: steps, and the voicings in them.

use std::fmt;

use crate::fretboard::{ChordName, Frets, NoteName, STRINGS, Tuning, Voicing};
use crate::progression::performance::Part;
use crate::progression::{Route, Style};

/// A lesson: steps in the teacher's order.
#[derive(Debug, Clone, PartialEq)]
pub struct Lesson {
    /// Title that the teacher gave.
    pub title: String,
    /// Word of the teacher before the first step.
    pub about: Option<String>,
    /// Tuning and capo that the lesson is played in.
    pub tuning: Tuning,
    /// True where the steps take turns instead of coming one after another.
    pub alternate: bool,
    /// Steps, at least one.
    pub steps: Vec<Step>,
}

/// One exercise of a lesson.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Drill of the step.
    pub drill: Drill,
    /// Clean takes wanted: in each stage of build, in all of place, at each fret of climb, right
    /// answers of name, clean landings of switch and route, of each chord of hold, strums of one time
    /// through that are clean and in time for play.
    pub clean: u32,
    /// After so many seconds the lesson moves on.
    pub limit_s: f64,
    /// Word of the teacher on this step.
    pub say: Option<String>,
}

/// Task of a step.
#[derive(Debug, Clone, PartialEq)]
pub enum Drill {
    /// A barre chord put together from its parts.
    Build {
        /// The whole chord.
        target: Target,
        /// The barre alone.
        barre: Frets,
        /// The strings that the other fingers hold (index 0 = string 6).
        shape: [bool; STRINGS],
        /// The ways to put it together, in the order in which they come.
        stages: Vec<BuildStage>,
    },
    /// One chord held; the barre finger moves a little from take to take.
    Place {
        /// The chord.
        target: Target,
    },
    /// One shape along the neck.
    Climb {
        /// One voicing a fret, up the neck.
        places: Vec<Target>,
        /// Order in which the frets come.
        order: Order,
        /// Takes at one fret before the next one comes anyway.
        tries: u32,
    },
    /// A root is asked, a chord answers.
    Name {
        /// The string that the roots lie on, 6 or 5.
        string: u8,
        /// The notes asked.
        roots: Vec<NoteName>,
        /// The chords that may answer: one shape at every fret that the step allows.
        answers: Vec<Target>,
        /// Takes for one root before the answer is shown.
        tries: u32,
    },
    /// Changes from chord to chord and round again.
    Switch {
        /// The chords, in the order asked; at least two.
        chords: Vec<Target>,
    },
    /// A progression at the learner's own pace.
    Hold {
        /// The chords, in the order asked.
        chords: Vec<Target>,
        /// Times through the progression.
        rounds: u32,
        /// Takes of one chord before the next one comes anyway.
        tries: u32,
    },
    /// The way over the neck that the program finds, at the learner's own pace.
    Route {
        /// The voicings, chord by chord, and whether the way is closed.
        way: Route,
        /// Times over the way.
        rounds: u32,
        /// Takes of one chord before the next one comes anyway.
        tries: u32,
    },
    /// Along with a backing.
    Play {
        /// Beats and voicings of one time through.
        part: Part,
        /// Style of the band.
        style: Style,
        /// Strums so far from their beat still count as in time, in ms.
        within_ms: f64,
        /// Times through before the lesson goes on anyway.
        tries: u32,
    },
}

/// One way to put a barre chord together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum BuildStage {
    /// The barre finger alone.
    Barre,
    /// The other fingers alone.
    Shape,
    /// The barre first, then the other fingers added.
    BarreThenShape,
    /// The other fingers first, then the barre added.
    ShapeThenBarre,
    /// All fingers at once.
    Together,
}

/// Order in which the frets of a climb come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Order {
    /// Order from the lowest fret to the highest.
    Up,
    /// Order from the highest fret to the lowest.
    Down,
    /// Up to the highest, and back.
    UpAndDown,
    /// Order drawn at random.
    Random,
}

/// A voicing to play.
#[derive(Debug, Clone, PartialEq)]
pub struct Target {
    /// Frets of strings 6 to 1.
    pub frets: Frets,
    /// The chord's name where it has one.
    pub chord: Option<ChordName>,
    /// The voicing of the library that it is, with its fingering.
    pub voicing: Option<Voicing>,
}

impl BuildStage {
    /// All of them, in the order in which a chord is usually built up.
    pub const ALL: [BuildStage; 5] = [
        BuildStage::Barre,
        BuildStage::Shape,
        BuildStage::BarreThenShape,
        BuildStage::ShapeThenBarre,
        BuildStage::Together,
    ];

    /// Its name in a lesson and in the diary.
    pub fn word(self) -> &'static str {
        match self {
            BuildStage::Barre => "barre",
            BuildStage::Shape => "shape",
            BuildStage::BarreThenShape => "barre then shape",
            BuildStage::ShapeThenBarre => "shape then barre",
            BuildStage::Together => "together",
        }
    }
}

impl Order {
    /// All of them.
    pub const ALL: [Order; 4] = [Order::Up, Order::Down, Order::UpAndDown, Order::Random];

    /// Its name in a lesson.
    pub fn word(self) -> &'static str {
        match self {
            Order::Up => "up",
            Order::Down => "down",
            Order::UpAndDown => "up and down",
            Order::Random => "random",
        }
    }
}

impl Drill {
    /// The kinds of exercise, as lessons and the diary name them.
    pub const KINDS: [&'static str; 8] = [
        "build", "place", "climb", "name", "switch", "hold", "route", "play",
    ];

    /// Tells which of [`Self::KINDS`] it is.
    pub fn kind(&self) -> &'static str {
        match self {
            Drill::Build { .. } => "build",
            Drill::Place { .. } => "place",
            Drill::Climb { .. } => "climb",
            Drill::Name { .. } => "name",
            Drill::Switch { .. } => "switch",
            Drill::Hold { .. } => "hold",
            Drill::Route { .. } => "route",
            Drill::Play { .. } => "play",
        }
    }
}

impl Target {
    /// The string (6 to 1) that the fingering lets go quiet without fault.
    pub fn may_go_quiet(&self) -> Option<u8> {
        self.voicing.as_ref()?.may_go_quiet
    }

    /// The chord's name, or its frets where it has none.
    pub fn name(&self) -> String {
        match &self.chord {
            Some(chord) => chord.to_string(),
            None => self.frets.to_string(),
        }
    }
}

impl fmt::Display for Target {
    /// `F (133211)`.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.chord {
            Some(chord) => write!(out, "{chord} ({})", self.frets),
            None => self.frets.fmt(out),
        }
    }
}
