//! Sentences of the soundcheck.

use std::fmt::{Debug, Display};

/// After a guitar was learnt.
pub fn next(guitar: &str) -> String {
    format!("One chord, strum by strum: ringtrue listen --chord F --guitar {guitar:?}")
}

/// After that: whether verdicts are right on it.
pub fn is_it_right(guitar: impl Debug) -> String {
    format!("Is it right on this guitar? ringtrue trial --guitar {guitar:?}")
}

pub const DELAY_NEEDS_DEVICES: &str =
    "--delay needs a microphone and a loudspeaker; leave --from out";

pub fn kept(guitar: impl Debug, file: impl Display) -> String {
    format!("Kept as {guitar:?} in {file}.")
}

pub const TOO_LOUD: &str = "It was too loud: move the microphone away or turn its level down.";
pub const KEEP_QUIET: &str = "Keep quiet for two seconds ...";
pub const ROOM_IS_LOUD: &str = "loud: switch off what hums, or move the microphone nearer";

pub fn room(word: impl Display, floor: impl Display) -> String {
    format!("The room is {word} ({floor:.0} dBFS).")
}

pub fn not_heard(string: impl Display) -> String {
    format!(
        "string {string} was not heard; pluck the open strings one by one, 6 to 1, and let each \
                 ring for two seconds"
    )
}

pub fn pluck(number: impl Display, name: impl Display) -> String {
    format!("Pluck open string {number} ({name}).")
}

pub fn flat(off: impl Display) -> String {
    format!("{off:.0} cents flat: tune it up")
}

pub fn sharp(off: impl Display) -> String {
    format!("{off:.0} cents sharp: tune it down")
}

pub const VERY_QUIET: &str = "; very quiet: move the microphone nearer";

pub fn several_strings(number: impl Display) -> String {
    format!(
        "  Several strings sound: lay a hand on the others and pluck string {number} alone. Do not tune \
             by this."
    )
}

pub fn another_string(heard: impl Display, number: impl Display) -> String {
    format!("  That sounds like string {heard}; string {number} is asked for.")
}

pub fn no_clear_string(number: impl Display) -> String {
    format!("  No string was heard clearly; pluck string {number} alone and let it ring.")
}

pub const BROKEN_OFF: &str = "the soundcheck was stopped; nothing was kept";
pub const NO_SOUND_AT_ALL: &str = "no sound at all from the microphone: it is switched off, or the system keeps its \
                    sound away; allow it in the privacy settings and start again";

pub const LISTENING_FOR_CLICKS: &str = "Listening for clicks: keep quiet, loudspeaker on ...";
pub const NO_CLICKS: &str = "the clicks were not heard: turn the loudspeaker up, take headphones off, and see that \
         the microphone hears it";

pub fn delay(ms: impl Display, spread: impl Display) -> String {
    format!("From playing to hearing: {ms:.0} ms (clicks within {spread:.0} ms of each other).")
}

pub const QUIET_ENOUGH: &str = "quiet enough";
pub const IN_TUNE: &str = "in tune";

pub fn string_line(
    string: impl Display,
    name: impl Display,
    cents: impl Display,
    how: impl Display,
    level: impl Display,
) -> String {
    format!("  string {string} {name:<2} {cents:+6.1} cents  {how}{level}")
}

pub const USUAL: &str = "  (usual)";
