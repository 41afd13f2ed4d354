//! Sentences on labelled sets, on what was done to strings, and on how often that was told.

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
pub const BUZZES: &str = "made to buzz, far from the fret";
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

/// "19 of 20 (76 to 99 %)".
pub fn share_in_short(part: u32, of: u32, (low, high): (f64, f64)) -> String {
    format!("{part} of {of} ({low:.0} to {high:.0} %)")
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

pub fn column_missing(
    table: impl Display,
    expected: impl Display,
    missing: impl Display,
) -> String {
    format!(
        "{table}: the first line should name the columns {expected}; {missing} is missing; add it"
    )
}

pub fn line_unreadable(why: impl Display) -> String {
    format!(
        "the line cannot be read ({why}); write it anew, with as many cells as the first line has"
    )
}

pub fn too_many_rows(most: impl Display) -> String {
    format!("a set has at most {most} lines; divide it into several folders")
}

pub fn no_take(table: impl Display) -> String {
    format!("{table}: no take is in the table; add a line for each, or leave this set out")
}

pub fn empty(column: impl Display) -> String {
    format!("the column {column} is empty; fill it in")
}

pub fn not_in_folder(found: impl Display) -> String {
    format!(
        "a file in the set's own folder was expected, {found} came; move it there and give its name alone"
    )
}

pub fn wrong_ending(expected: impl Display, name: impl Display) -> String {
    format!("a name that ends in {expected} was expected, {name} came; save the sound so")
}

pub fn no_string(found: impl Display) -> String {
    format!(
        "a string from 6 (low E) to 1 (high E) was expected, or nothing for a clean take; {found} came; correct it"
    )
}

pub fn no_deed(found: impl Display, expected: impl Display) -> String {
    format!("an unknown deed, {found}; the words are {expected}")
}

pub fn deed_of_no_string(deed: impl Display) -> String {
    format!(
        "the deed {deed} belongs to a string, and none is named; fill in the string, or leave the deed empty"
    )
}

pub fn impossible(string: impl Display, deed: impl Display, frets: impl Display) -> String {
    format!(
        "string {string} cannot be \"{deed}\" in {frets}; correct the frets, the string or the deed"
    )
}

pub fn string_twice(string: impl Display, before: impl Display) -> String {
    format!("string {string} of this take stands in line {before} already; leave one of them out")
}

pub fn clean_and_not(before: impl Display) -> String {
    format!(
        "line {before} says otherwise of this take: one of them calls it clean; leave that one out"
    )
}

pub fn differs(before: impl Display, column: impl Display) -> String {
    format!("line {before} has another {column} for this take; the lines of one take say the same")
}

pub fn no_number(column: impl Display, found: impl Display) -> String {
    format!("{column}: a number was expected, {found} came; correct it, or leave the cell empty")
}

pub fn corrected(fault: impl Display) -> String {
    format!("{fault}; correct it")
}

pub fn no_ground(expected: impl Display, found: impl Display) -> String {
    format!("known_by: {expected} was expected, or nothing; {found} came; correct it")
}

pub fn a_link(name: impl Display) -> String {
    format!("{name} is a link; put the file itself there")
}

pub fn huge(name: impl Display, bytes: impl Display, most: impl Display) -> String {
    format!("{name} has {bytes} bytes; a sound of a set has at most {most}; cut it into parts")
}

pub fn too_long(name: impl Display, most: impl Display) -> String {
    format!("{name} goes on for more than {most} s; cut it into parts")
}

pub fn other_length(name: impl Display, found: f64, said: f64) -> String {
    format!(
        "{name} holds {found:.2} s of sound, and the table says {said:.2}; copy the whole file again, or correct the line"
    )
}

pub fn other_rate(name: impl Display, found: impl Display, said: impl Display) -> String {
    format!(
        "{name} has {found} samples a second, and the table says {said}; copy the file again, or correct the line"
    )
}

pub fn after_the_end(at_s: impl Display, name: impl Display, found: f64) -> String {
    format!(
        "a take at {at_s} s was expected in {name}, which ends at {found:.2} s; copy the whole file again, or correct at_s"
    )
}

pub fn at_in_every_line(before: impl Display, with: bool) -> String {
    let has = if with { "an" } else { "no" };
    format!(
        "line {before} of this file has {has} at_s; a file with several takes needs it in every line"
    )
}

/// "FILE, line 4: FAULT".
pub fn in_line(table: impl Display, line: impl Display, fault: impl Display) -> String {
    format!("{table}, line {line}: {fault}")
}

pub fn no_pack(path: impl Display, why: impl Display) -> String {
    format!(
        "{path}: a packed set was expected, as ringtrue trial pack writes it ({why}); name one, or a folder"
    )
}
