//! Sentences that commands ask with, complain with and end with.

use std::fmt::{Debug, Display};

use super::grammar::takes;
use super::page::chords;

pub fn a4_expected(text: impl Debug) -> String {
    format!("--a4: a frequency in Hz was expected, as in 442; {text:?} is none")
}

pub const FRETS_OR_CHORD: &str = "--frets and --chord both say what is played; give one of them";

pub fn leave_out_option(option: impl Display) -> String {
    format!(
        "{option} goes with --chord; --frets already says where every finger is: leave {option} out"
    )
}

pub fn name_the_chord_too(option: impl Display) -> String {
    format!("{option} goes with --chord: name the chord too, as in --chord Bb --shape A")
}

pub const FINGERS_GO_WITH: &str =
    "--fingers goes with the frets or the chord that they hold: give --frets or --chord too";
pub const NO_SHAPES_KNOWN: &str = "no chord was named, and no shapes are known in this tuning: say what is played, as in --frets \
     000000";

pub fn fret_expected(option: impl Display, highest: impl Display, text: impl Debug) -> String {
    format!("{option}: a fret from 0 to {highest} was expected, as in {option} 1; {text:?} is none")
}

pub const NO_DATA_FOLDER: &str = "no folder for data was found; name one with --guitars FOLDER";
pub const SILENCE_EXPECTED: &str = "3 to 3600 seconds of silence were expected";
pub const WHAT_REALLY: &str = "What was it really? 1 to 6: that string was right. c: another chord. f: forget this \
                        take. Any other key: nothing.";

pub fn listening_without_diary(trouble: impl Display) -> String {
    format!("{trouble}. Listening goes on without it.")
}

pub const DAY_TO_DAY: &str = "How it goes from day to day: ringtrue progress";
pub const STEP_BY_STEP: &str = "To practise it step by step: ringtrue practice --list";
pub const NOTHING_TO_PUT_RIGHT: &str = "there is no take in the diary to put right";
pub const KEY_HEAR: &str = "h hear it clean";

pub fn output_fails(error: impl Display) -> String {
    format!("the output cannot be written: {error}")
}

pub const NUMBER_EXPECTED: &str = "a number was expected, as in 72 or -12.5";

pub fn wrong_ending(
    option: impl Display,
    ending: impl Display,
    endings: impl Display,
    name: impl Debug,
) -> String {
    format!(
        "{option}: a .{ending} file cannot be written here; a name that ends in .{endings} was \
             expected, {name:?} came"
    )
}

pub fn picture_ending(option: impl Display, name: impl Debug) -> String {
    format!(
        "{option}: a name that ends in .png or .svg was expected, as in take.png; {name:?} does not"
    )
}

pub fn takes_found(
    name: impl Display,
    count: impl Display,
    number: impl Display,
    at: impl Display,
) -> String {
    format!("{name}: {count} takes were found; this is take {number}, at {at}")
}

pub const SOFTLY: &str =
    "Put headphones on, with their volume turned down; raise it only until you hear the beat.";
pub const PRACTICE_KEYS: &str = "n next step   p pause   r put right   q quit";
pub const NAME_A_LESSON: &str = "name a lesson, or --list";

pub fn practice_without_diary(trouble: impl Display) -> String {
    format!("{trouble}. Practice goes on without it.")
}

pub const NO_STEP: &str = "the lesson has no step";
pub const NO_LOUDSPEAKER: &str =
    "there is no loudspeaker for the backing; follow the count in the terminal";

pub fn key_hear_and(keys: impl Display) -> String {
    format!("h hear it clean   {keys}")
}

pub const DAY_TO_DAY_AFTER: &str = "\nHow it goes from day to day: ringtrue progress";
pub const LESSON_BY_NAME: &str = "\nringtrue practice NAME leads through one of them.";

pub fn there_already(name: impl Display) -> String {
    format!("{name} is there already; name a file that is not there yet")
}

pub fn template_written(name: impl Display) -> String {
    format!(
        "{name} is a lesson of five steps with remarks: change it in a text editor, then check it with \
         ringtrue practice --check."
    )
}

pub const NAME_THE_PAGE: &str =
    "name the page to write, as in --out page.html, or ask for --csv or --json";
pub fn page_written(name: impl Display, of_takes: usize, of_chords: usize) -> String {
    let (takes, chords) = (takes(of_takes), chords(of_chords));
    format!("{name}: a page of {takes} of {chords}")
}

pub fn picture_written(name: impl Display, of_takes: usize) -> String {
    format!("{name}: a picture of {}", takes(of_takes))
}

pub const NO_TAKE_TO_REPORT: &str = "there is no take to report on; record some and name the files";

pub fn no_report(name: impl Display) -> String {
    format!("--last: {name}: this is no page of a report; name one that ringtrue report wrote")
}

pub fn no_page_there(name: impl Display) -> String {
    format!(
        "{name}: this file is there already and holds no page; name another one, or move it away"
    )
}

pub fn sound_elsewhere(name: impl Display, folder: impl Display) -> String {
    format!(
        "{name}: left out, since the sound of a take must be a file in the diary's own folder, {folder}; copy \
                     it there"
    )
}

pub fn folder_unreadable(folder: impl Display, error: impl Display) -> String {
    format!("{folder}: the folder cannot be read ({error})")
}

pub const FROM_OR_INPUT: &str = "--from and --input both say what to hear; give one of them";

pub fn without_sounds(error: impl Display, what: impl Display) -> String {
    format!("{error}; {what} goes on without sounds")
}

pub const TEMPORARY_FILE: &str = "the recording goes into a temporary file while it is judged";
pub const COLUMNS: &str = "file, chord (or frets) and, where it matters, shape, as in \"file,chord\" and \"monday.wav,Bb\"";

pub fn name_the_columns(here: impl Display, columns: impl Display) -> String {
    format!("{here}: the first line should name the columns {columns}")
}

pub fn no_such_recording(here: impl Display, number: impl Display) -> String {
    format!("{here}, line {number}: there is no such recording")
}

pub fn no_chord_named(here: impl Display, number: impl Display) -> String {
    format!("{here}, line {number}: no chord is named")
}

pub fn put_right(said: impl Display) -> String {
    format!("put right: {said}")
}

pub const KEY_NEXT: &str = "n next chord";
pub const KEY_PUT_RIGHT: &str = "r put right";
pub const NOT_JUDGED: &str = "not judged";

pub const RECORDINGS: &str = "recordings";

/// The template of a bar that grows: `{pos}` and `{len}` are put in later.
pub fn progress_bar(unit: impl Display) -> String {
    format!("{{bar:30}} {{pos}} of {{len}} {unit}")
}

pub fn lesson_steps(title: impl Display, steps: impl Display) -> String {
    format!("{title}, {steps} steps")
}
