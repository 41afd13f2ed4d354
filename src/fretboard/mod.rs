//! The guitar's neck on paper: pitches, tunings, frets, chord names, shapes. Knows no sound.
//!
//! Frets are counted from the capo, and a chord is named for what the fingers play above it: with a
//! capo at 2, `x32010` is C and sounds as D ([`ChordName::transposed`] by the capo gives that name).
//! The tuning does change names: on strings tuned a semitone down, `022100` is Eb.

mod beside;
mod chord;
mod diagram;
mod frets;
pub mod library;
pub mod pitch;
mod shapes;
mod stiffness;
mod tuning;

pub use beside::{MOST_BESIDE, frets_beside, other_frets};
pub use chord::{ChordError, ChordName, Quality};
pub use diagram::Diagram;
pub use frets::{Frets, FretsError};
pub use library::{Barre, Named, NamedFrets, Voicing, VoicingError};
pub use pitch::{NoteError, NoteName};
pub use shapes::{Fingering, FingeringError, Shape, ShapeError};
pub use stiffness::{OPEN_B, usual_b};
pub use tuning::{STANDARD, Tuning, TuningError};

/// Strings of the guitar.
pub const STRINGS: usize = 6;

/// The guitarist's number (6 = low E … 1 = high E) of the string at `index` (0 = string 6).
pub fn string_number(index: usize) -> u8 {
    (STRINGS - index) as u8
}

/// Longest piece of a wrong text that an error repeats, in characters.
const QUOTED_LENGTH: usize = 40;

/// A wrong text in quotes, for an error.
pub(crate) fn quoted(text: &str) -> String {
    format!("{:?}", shortened(text))
}

/// A wrong text, cut where it is too long for a sentence.
pub(crate) fn shortened(text: &str) -> String {
    match text.char_indices().nth(QUOTED_LENGTH) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}
