//! Sentences on the diary and on takes that are brought into it.

use std::fmt::{Debug, Display};

pub fn time_expected(text: impl Debug) -> String {
    format!(
        "--recorded-at: a time with its zone was expected, as in 2026-11-25T17:00:00Z; {text:?} is none"
    )
}

pub fn misdated(count: impl Display) -> String {
    format!(
        "takes of the diary with a moment that no calendar knows: {count}; they were kept while \
             the computer's clock was far off, and are shown at the calendar's end"
    )
}

pub const NO_TAKE_YET: &str = "The diary holds no take yet.";
pub const NO_SUCH_TAKE: &str = "The diary holds no such take.";

pub fn taken_in(new: impl Display, before: impl Display) -> String {
    format!("{new} takes added; {before} were there already.")
}

pub fn would_remove(takes: impl Display) -> String {
    format!("{takes} would be removed for good, with their sound; add --yes to do it")
}

pub fn remove_now(takes: impl Display) -> String {
    format!("Remove {takes} for good, with their sound? Type yes: ")
}

pub const NOTHING_REMOVED: &str = "Nothing was removed.";

pub fn day_expected(option: impl Display, text: impl Debug) -> String {
    format!("{option}: a day was expected, as in 2026-11-01; {text:?} is none")
}

pub fn too_long_ago(days: impl Display) -> String {
    format!("--days: {days} days ago is too long ago")
}

pub fn not_among_them(takes: impl Display, take: impl Display) -> String {
    format!("the diary holds {takes} takes; --take {take} is not among them")
}

pub const KIND_OF_WARNING: &str = "the kind of a warning or cause";
pub const STRINGS_SAID: &str = "said: strings from 6 to 1 were";
pub const SOUND_NAME: &str = "sound: a file's name without a folder was";
pub const CANNOT_BE_OPENED: &str = "the file cannot be opened or made there";

pub fn unreadable(name: impl Display, e: impl Display) -> String {
    format!("{name}: cannot be read: {e}")
}

pub fn no_take_of_ours(name: impl Display, number: impl Display, why: impl Display) -> String {
    format!(
        "{name}, line {number}: this is no take that ringtrue has written ({why}); nothing was \
                 added: correct that line or delete it, and try again"
    )
}

pub fn too_long(most: impl Display) -> String {
    format!("it is longer than {most} MB")
}

pub const NO_TEXT: &str = "it is no text (UTF-8)";
pub const NO_MOMENT: &str = "it does not say when it was recorded: recorded_at is missing";

pub fn string_was_right(one: impl Display) -> String {
    format!("string {one} was right")
}

pub fn strings_were_right(strings: impl Display) -> String {
    format!("strings {strings} were right")
}

pub const DOES_NOT_COUNT: &str = "does not count";
pub const NO_FOLDER_FOR_DATA: &str = "this system names no folder for data";
pub const NO_PLAIN_FILE: &str = "this is a folder, a pipe or a device";

pub fn folder_not_made(error: impl Display) -> String {
    format!("its folder cannot be made: {error}")
}

pub const ANOTHER_CHORD: &str = "another chord";

pub fn missing(path: impl Display) -> String {
    format!("there is no diary at {path}; practise first, or name another file with --diary")
}

pub fn unreachable(path: impl Display, why: impl Display) -> String {
    format!("the diary {path} cannot be opened: {why}; name another file with --diary")
}

pub fn no_diary(path: impl Display) -> String {
    format!("{path} is not a diary; it was left as it is: name another file with --diary")
}

pub fn newer(path: impl Display, found: impl Display, known: impl Display) -> String {
    format!(
        "the diary {path} was written by a newer ringtrue (its form {found}; this program knows \
         {known}); it was left as it is. Use the newer program, or name another file with --diary"
    )
}

pub fn damaged(path: impl Display) -> String {
    format!("the diary {path} is damaged; move it away and keep it, then practise with a new one")
}

pub fn read_only(path: impl Display) -> String {
    format!(
        "the diary {path} cannot be written: it or its folder is read-only; change that, or name \
         another file with --diary"
    )
}

pub fn moment_past_calendar(path: impl Display, at: impl Display) -> String {
    format!(
        "the diary {path} cannot keep a take of {at}, where the calendar ends; set the computer's \
         clock, or say with --recorded-at when it was played"
    )
}

pub fn disk_full(path: impl Display) -> String {
    format!("the diary {path} cannot be written: the disk is full; make room")
}

pub fn in_use(path: impl Display) -> String {
    format!("the diary {path} is in use by another program; try again")
}

pub fn unusable(path: impl Display, why: impl Display) -> String {
    format!("the diary {path} cannot be used: {why}")
}

pub fn no_verdict(word: impl Debug) -> String {
    format!("{word:?} is no verdict")
}

/// Word to be typed before takes are removed.
pub const YES: &str = "yes";

pub fn removed(takes: impl Display) -> String {
    format!("{takes} removed.")
}

// A take in a line.
pub fn string_was(string: impl Display, verdict: impl Display) -> String {
    format!("string {string} {verdict}")
}

pub fn you_said(what: impl Display) -> String {
    format!("; you: {what}")
}

pub fn in_line(file: impl Display, line: impl Display, what: impl Display) -> String {
    format!("{file}, line {line}: {what}")
}
