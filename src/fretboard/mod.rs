//! The guitar's neck on paper: pitches, tunings, frets, chord names, shapes. Knows no sound.

mod frets;
mod tuning;

pub use frets::{Frets, FretsError};
pub use tuning::{Tuning, TuningError};

/// Strings of the guitar.
pub const STRINGS: usize = 6;

/// The guitarist's number (6 = low E … 1 = high E) of the string at `index` (0 = string 6).
pub fn string_number(index: usize) -> u8 {
    (STRINGS - index) as u8
}
