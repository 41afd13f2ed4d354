//! Words on the live screens beside the takes themselves.

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

// Over the strings.
pub const STRUM: &str = "strum";
pub const FIRST_GUESS: &str = "first guess";
pub const NOT_JUDGED: &str = "not judged";

// Beside a string's verdict.
pub const OR_CHOKED: &str = "or choked";
pub const OR_MUTED: &str = "or muted";

pub fn heard_not(heard: impl Display, expected: impl Display) -> String {
    format!("{heard}, not {expected}")
}

pub fn not(expected: impl Display) -> String {
    format!("not {expected}")
}

pub fn at(heard: impl Display) -> String {
    format!("at {heard}")
}

pub fn fret(heard: u8) -> String {
    match heard {
        0 => "open".to_owned(),
        heard => format!("fret {heard}"),
    }
}

// The meter.
pub const NO_MICROPHONE: &str = "no microphone";
pub const TOO_LOUD: &str = "too loud";
pub const GOOD: &str = "good";
pub const QUIET: &str = "quiet";

pub fn level(bar: impl Display, word: impl Display) -> String {
    format!("level {bar} {word}")
}

// The tuner.
pub const IN_TUNE: &str = "in tune";
pub const PAUSE: &str = "p pause";
pub const ENDS: &str = "q ends";
pub const QUIT: &str = "q quit";

pub fn flat_up(cents: impl Display) -> String {
    format!("{cents:.0} flat: up")
}

pub fn sharp_down(cents: impl Display) -> String {
    format!("{cents:.0} sharp: down")
}

pub fn flat_to_sharp(line: impl Display) -> String {
    format!("flat  {line}  sharp")
}

// Playing along.
pub const NOTHING: &str = "nothing";
pub const COUNT_IN: &str = "Count-in";
pub const THE_END: &str = "The end";
pub const NOW: &str = "now";
pub const NEXT: &str = "next";

pub fn bar(bar: impl Display, of: impl Display) -> String {
    format!("Bar {bar} of {of}")
}

pub fn then(next: impl Display) -> String {
    format!("then {next}")
}

pub fn last_strum(said: impl Display) -> String {
    format!("last strum: {said}")
}

pub fn any_shape(chord: impl Display) -> String {
    format!("{chord}, any shape")
}

pub fn listening_for_chord(chord: impl Display, frets: impl Display) -> String {
    format!("Listening for {chord} ({frets}).")
}

pub fn listening_for_frets(frets: impl Display) -> String {
    format!("Listening for {frets}.")
}
