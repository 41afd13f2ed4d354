//! One attack, and what it brought.

/// Onsets further apart than this belong to different attacks, in seconds.
pub(super) const GAP_S: f64 = 0.15;
/// Log odds beyond which the neighbours have no say when it is decided what an attack's onsets are: 19 to 1.
pub(super) const SURE: f64 = 3.0;
/// New lines that one string brings at most: of 4,264 strings picked while three or more rang one in twenty brought more, of 96
/// strums of a chord that was picked just before all but one in twenty.
const LINES_OF_ONE: usize = 12;

/// An attack with these log odds for several strings that brings more new lines than this is a chord for sure. Of 6,303 strokes of
/// composed passes (scripts/found.rs, the half to develop on, seeds 1, 3 and 4) one is; of the chords of GuitarSet's comping 00 one
/// that a pass over bass notes took in.
const SURELY_CHORD: f64 = 6.0;
const SURELY_CHORD_LINES: usize = 10;

/// Log odds for a strum over dead strings against a dead stroke of a pass.
const DEAD: f64 = 3.0;

/// What an attack brought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Brought {
    /// Something that rings: log odds for several strings against one, the pitch where it is
    /// plainly one string's, how many lines of the spectrum are new, and whether a note that is expected explains them.
    Strings {
        several: f64,
        hz: Option<f64>,
        lines: usize,
        expected: bool,
    },
    /// Too little for a take, but an expected note, of this pitch in Hz, explains it: it may be a stroke of a pass.
    Hint { hz: f64 },
    /// Nothing that rings, but a chord is meant, and several strings were struck.
    Dead,
    /// Nothing that rings: a muted string, a tap, a word.
    Thud,
}

impl Brought {
    /// Tells whether it is several strings rather than one.
    pub fn is_chord(&self) -> bool {
        matches!(self, Brought::Strings { several, .. } if *several > 0.0)
    }

    /// Tells whether it may be a strum.
    pub fn may_be_strum(&self) -> bool {
        matches!(self, Brought::Strings { .. } | Brought::Dead)
    }

    /// Tells whether it rings by itself.
    pub fn rings(&self) -> bool {
        matches!(self, Brought::Strings { .. })
    }

    /// Tells whether it is plainly one string's.
    pub fn is_one_string(&self) -> bool {
        match self {
            Brought::Strings {
                several,
                hz: Some(_),
                expected,
                ..
            } => *several < -SURE || (*expected && *several < 0.0),
            Brought::Hint { .. } => true,
            Brought::Strings { .. } | Brought::Dead | Brought::Thud => false,
        }
    }

    /// Tells whether an expected note explains it.
    pub fn is_expected(&self) -> bool {
        match self {
            Brought::Strings { expected, .. } => *expected,
            Brought::Hint { .. } => true,
            Brought::Dead | Brought::Thud => false,
        }
    }
}

/// One attack: its onsets, at most [`GAP_S`] from one to the next.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Attack {
    pub onsets: Vec<u64>,
    pub brought: Brought,
    /// Middle of the sweep over the strings, where one was heard.
    pub middle: Option<u64>,
}

impl Attack {
    pub fn first(&self) -> u64 {
        self.onsets[0]
    }

    pub fn rings(&self) -> bool {
        self.brought.rings()
    }

    pub fn may_be_strum(&self) -> bool {
        self.brought.may_be_strum()
    }

    pub fn several(&self) -> f64 {
        match self.brought {
            Brought::Strings { several, .. } => several,
            Brought::Dead => DEAD,
            Brought::Hint { .. } | Brought::Thud => f64::NEG_INFINITY,
        }
    }

    /// Tells whether its new lines are few enough to be one string's.
    pub fn may_be_one(&self) -> bool {
        !matches!(self.brought, Brought::Strings { lines, .. } if lines > LINES_OF_ONE)
    }

    /// Tells whether it is a chord for sure, which no pass takes in.
    pub fn is_surely_chord(&self) -> bool {
        matches!(self.brought, Brought::Strings { several, lines, .. }
            if several > SURELY_CHORD && lines > SURELY_CHORD_LINES)
    }

    pub fn hz(&self) -> Option<f64> {
        match self.brought {
            Brought::Strings { hz, .. } => hz,
            Brought::Hint { hz } => Some(hz),
            Brought::Dead | Brought::Thud => None,
        }
    }
}
