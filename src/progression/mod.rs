//! Chords in a row: reading them, the shortest way over the neck, a backing to play along with, and
//! how well the playing kept time.

mod parse;

pub use parse::{Bar, MOST_BARS, Placed, Progression, ProgressionError};
