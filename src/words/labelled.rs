//! What is said of labelled sets, of what was done to strings, and of how often that was told.

use std::fmt::Display;

pub const CLEAN: &str = "as written";
pub const TOUCHED: &str = "touched by the finger beside it";
pub const LIFTED: &str = "finger lifted, touching lightly";
pub const SLACK: &str = "barre slackened";
pub const MISSED: &str = "passed by";
pub const MUTED: &str = "dead";
pub const CHOKED: &str = "dying early";
pub const HIGH: &str = "finger a fret too high";
pub const OTHER_FRET: &str = "at another fret";
pub const BUZZES: &str = "pressed far from the fret, to buzz";
pub const RINGS: &str = "left to ring";
pub const UNKNOWN: &str = "not known";

pub const NEEDED_COLUMNS: &str = "file, frets, string and deed";

pub fn cells(expected: impl Display, found: impl Display) -> String {
    format!("{expected} cells were expected, {found} came")
}

pub fn folder_not_made(folder: impl Display, why: impl Display) -> String {
    format!("{folder}: the folder cannot be made ({why}); name another place")
}

pub fn is_a_set(folder: impl Display) -> String {
    format!("{folder}: there is a set already; name a folder that is not there yet")
}

pub const REAL: &str = "Real sound, done on purpose";
pub const MEASURED: &str = "Real sound, measured by a pickup for each string";
pub const PUT_RIGHT: &str = "Real sound, put right by players";
pub const CHOSEN_BY_FAULTS: &str =
    "They are here because a verdict was wrong: they do not say how often that is.";
pub const COMPOSED: &str = "Composed sound";
pub const RANGES: &str = "In brackets: where the true share lies with 95 % confidence. What was not found or refused \
                          counts as wrong.";
pub const TOGETHER: &str = "together";
pub const BY_SET: [&str; 5] = [
    "set",
    "takes right",
    "strings right",
    "not found",
    "refused",
];
pub const BY_DEED: [&str; 3] = ["what was done", "told as that", "called faulty"];
pub const BY_STRING: [&str; 3] = ["string", "faults found", "false alarms"];

/// "19 of 20, 95 % (76 to 99)".
pub fn share(part: u32, of: u32, percent: f64, (low, high): (f64, f64)) -> String {
    format!("{part} of {of}, {percent:.0} % ({low:.0} to {high:.0})")
}

pub fn further(takes: impl Display) -> String {
    format!(
        "Files that hold one strum, and in which more were found: {takes}. The first strum was scored."
    )
}

pub fn left_over(folder: impl Display, count: usize, first: impl Display) -> String {
    let files = match count {
        1 => format!("{first} is"),
        _ => format!("{count} sounds, {first} the first, are"),
    };
    format!("{folder}: {files} not in the table, and left out")
}
