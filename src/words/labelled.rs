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

pub const NO_PLAIN_FILE: &str = "it is no plain file";
pub const LEADS_ELSEWHERE: &str = "its name leads elsewhere";
pub const THERE_TWICE: &str = "it is there twice";
pub const IS_CUT: &str = "it breaks off";
pub const NO_FILE_IN_IT: &str = "no file is in it";

pub fn in_archive(name: impl Display, why: impl Display) -> String {
    format!("{name}: {why}")
}

pub fn too_many_bytes(bytes: impl Display, most: impl Display) -> String {
    format!("it has {bytes} bytes, {most} at most were expected")
}

pub fn too_many_files(most: impl Display) -> String {
    format!("more than {most} files are in it")
}

pub const GOES_ALONG: &str = "These words go along, and nothing else that was written down:";
pub const GUITAR: &str = "guitar";
pub const MICROPHONE: &str = "microphone";
pub const LICENCE: &str = "licence";
pub const NO_WORDS: &str = "(nothing)";
pub const NOT_ALONG: &str = "Not in it: names of files and folders, names of people, dates, tags of the recordings. \
                             The sound itself goes along, with all that was said in the room.";
pub const OTHER_WORDS: &str = "Other words: --guitar-words, --microphone-words, --licence.";

pub fn write_now(path: impl Display) -> String {
    format!("Write {path}? Type yes: ")
}

pub const NOTHING_WRITTEN: &str = "Nothing was written.";
pub const ADD_YES: &str = "the words above would go along; add --yes to write the file";

pub fn no_licence(takes: impl Display) -> String {
    format!(
        "takes without a licence: {takes}; whoever gets the set could do nothing with it; choose one, as in \
         --licence \"CC0 1.0\""
    )
}

pub fn nothing_to_pack(folder: impl Display) -> String {
    format!("{folder}: there is no take in the set; add some first")
}

pub fn packed(path: impl Display, takes: usize, megabytes: f64) -> String {
    let takes = match takes {
        1 => "1 take".to_owned(),
        takes => format!("{takes} takes"),
    };
    format!("{path}: {takes}, {megabytes:.1} MB. Whoever gets it: ringtrue trial score FILE")
}

pub const NO_ROOM_TO_UNPACK: &str = "there is no temporary folder to unpack a set into; make room";

pub const NOTHING_PUT_RIGHT: &str = "Nothing was put right string by string. ringtrue put-right says how a take really \
                                     was; so does the key r of listen and practice.";

pub fn added(folder: impl Display, added: usize, there: usize) -> String {
    let takes = |count| if count == 1 { "take" } else { "takes" };
    format!(
        "{folder}: {added} {} added, {there} there already",
        takes(added)
    )
}

pub fn soundless(count: usize) -> String {
    format!(
        "Takes without their sound: {count}. Keep it with listen --save FOLDER, and name the folder here with \
         --saved FOLDER."
    )
}

pub fn folder_unreadable(folder: impl Display) -> String {
    format!("{folder}: the folder cannot be read; check its name and its permissions")
}

pub fn another_take(path: impl Display) -> String {
    format!(
        "{path}: the set has another take by this name; rename that file and its lines in the table"
    )
}

pub const NO_STRUM_FOUND: &str = "no strum was found";

pub fn take(file: impl Display, at_s: Option<f64>, frets: impl Display) -> String {
    let at = at_s.map_or_else(String::new, |at_s| format!(" at {at_s:.2} s"));
    format!("{file}{at}, {frets}")
}

pub fn refused(why: impl Display) -> String {
    format!("refused: {why}")
}

pub fn string(string: impl Display, deed: impl Display, said: impl Display) -> String {
    format!("string {string} {deed}, said {said}")
}
