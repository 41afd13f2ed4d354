//! Help of the program as a whole.

pub const ABOUT: &str = "\
Listens to a guitar strum through one microphone and says, string by string,
what happened. Works on this computer alone; no sound leaves it.
Without a command it says what to type next.";
pub const ABOUT_LICENCES: &str =
    "Print the licences of the program and of all that is built into it";
