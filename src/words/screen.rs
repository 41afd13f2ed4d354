//! What stands on the live screens beside the takes themselves.

use std::fmt::Display;

pub const STRUM_THE_CHORD: &str = "Strum the chord once and let it ring.";
pub const PAUSED: &str = "Paused: nothing that you play counts. Page up or p goes on.";
pub const STILL_LISTENING: &str = "Still listening ...";
pub const ANY_CHORD: &str = "any chord known here";
pub const STRUM_TO_BEGIN: &str = "Strum once, or press a key, to begin.";

pub fn note_with_gap(note: impl Display, gap_s: impl Display) -> String {
    format!("{note}, {gap_s:.1} s from chord to chord")
}

pub fn listening_for(chord: impl Display) -> String {
    format!("Listening for {chord} in any of its shapes.")
}

pub const LISTENING_FOR_ANY: &str = "Listening for any chord known here.";

pub fn belongs_to_another(number: impl Display) -> String {
    format!("{number:>4}            belongs to another take")
}

pub fn lines_shown(from: impl Display, last: impl Display, of: impl Display) -> String {
    format!("lines {from} to {last} of {of}   page down, page up   ")
}
