//! Sentences on a lesson that a teacher writes, where something in it cannot be.

use std::fmt::{Debug, Display};

pub const FRET_OF_SHAPE: &str = "the fret of the shape";
pub const FRETS_OR_CHORD: &str = "frets and chord both say what is played; give one of them";

pub fn needs_chord(kind: impl Display) -> String {
    format!("{kind} needs a chord, as in chord = \"F\" or frets = \"133211\"")
}

pub fn no_partial_barre(target: impl Display) -> String {
    format!("{target} has no fingering with a partial barre; the A shape has, as in x24442")
}

pub fn needs_chords(kind: impl Display, example: impl Display) -> String {
    format!("{kind} needs chords, as in chords = {example}")
}

pub fn needs_barre(target: impl Display) -> String {
    format!("build needs a barre chord, as in 133211 or x13331; {target} is not known to be one")
}

pub fn none_known_there(what: impl Display) -> String {
    format!("no {what} is known there in this tuning")
}

pub const STRING_OF_ROOTS: &str = "the string that the roots lie on";
pub const WHICH_STRING: &str = "name says on which string the roots lie, as in string = 6";

pub fn root_is_a_note(text: impl Debug) -> String {
    format!("a root is a note, as in G or Bb; {text:?} is none")
}

pub fn root_not_there(root: impl Display, string: impl Display) -> String {
    format!("{root} does not lie on string {string} between these frets")
}

pub const SWITCH_GOES_ROUND: &str =
    "switch goes round between two or more chords, each another one than the one before";

pub fn at_lists_frets(highest_listed: impl Display) -> String {
    format!("at lists frets from 0 to {highest_listed}, as in at = [3, 5]")
}

pub const SWITCH_SAYS_FRETS: &str = "a switch given with by says its frets, as in at = [3, 5]";
pub const TIMES_PLAYED: &str = "how often the progression is played";
pub const MOST_TAKES_BEFORE_NEXT: &str = "how many takes at most before the next one comes";
pub const FIRST_FRET: &str = "the first fret";
pub const LAST_FRET: &str = "the last fret";

pub fn first_before_last(from: impl Display, to: impl Display) -> String {
    format!("the first fret comes before the last one; from = {from}, to = {to} does not")
}

pub fn quality_is(text: impl Debug) -> String {
    format!(
        "quality is what a chord's name has after the root, as in m, 7 or maj7; {text:?} is none"
    )
}

pub fn whole_number(
    key: impl Display,
    meaning: impl Display,
    least: impl Display,
    most: impl Display,
    value: impl Display,
) -> String {
    format!("{key} is {meaning}, a whole number from {least} to {most}; {value} is none")
}

pub fn number(
    key: impl Display,
    meaning: impl Display,
    least: impl Display,
    most: impl Display,
    value: impl Display,
) -> String {
    format!("{key} is {meaning}, from {least} to {most}; {value} is none")
}

pub const TIME_LIMIT: &str = "the time after which the lesson moves on";

pub fn true_or_false(key: impl Display, value: impl Display) -> String {
    format!("{key} is true or false; {value} is neither")
}

pub fn list_of(key: impl Display, longest_list: impl Display, example: impl Display) -> String {
    format!("{key} is a list of 1 to {longest_list}, as in {example}")
}

pub fn means_nothing(key: impl Debug, place: impl Display, known: impl Display) -> String {
    format!("{key:?} means nothing in {place}; known there: {known}")
}

pub fn text_in_quotes(key: impl Display, value: impl Display) -> String {
    format!("{key} is a text in quotes; {value} is none")
}

pub fn text_of(key: impl Display, longest_text: impl Display) -> String {
    format!("{key} is a text of 1 to {longest_text} characters")
}

pub fn needs_key(kind: impl Display, key: impl Display, example: impl Display) -> String {
    format!("{kind} needs {key}, as in {key} = {example}")
}

pub fn known_are(key: impl Display, known: impl Display, value: impl Debug) -> String {
    format!("{key}: known are {known}; {value:?} is none")
}

pub fn more_wrong(path: impl Display, more: impl Display) -> String {
    format!("{path}: {more} more things are wrong; mend these first, and try again")
}

pub fn no_toml(why: impl Display) -> String {
    format!("this is no TOML: {why}")
}

pub const BEGINS_WITH_TITLE: &str = "a lesson begins with its title, as in title = \"First barre\"";
pub const WHERE_CAPO: &str = "where the capo is";
pub const NEEDS_A_STEP: &str =
    "a lesson needs at least one step: a line [[step]], then what is to be done";

pub fn number_of_steps(most_steps: impl Display, steps: impl Display) -> String {
    format!("a lesson has 1 to {most_steps} steps; this one has {steps}")
}

pub const STEP_IN_BRACKETS: &str = "a step begins with [[step]], in double brackets";

pub fn says_its_kind(kinds: impl Display) -> String {
    format!("a step says its kind, as in kind = \"build\"; there are {kinds}")
}

pub fn no_such_kind(kind: impl Debug, kinds: impl Display) -> String {
    format!("there is no step of the kind {kind:?}; there are {kinds}")
}

pub const CLEAN_TAKES_TO_PASS: &str = "how many clean takes to pass";

pub fn too_short(once: impl Display, minutes: impl Display) -> String {
    format!(
        "once through takes {once:.1} minutes, and the step has {minutes:.1}; give it more minutes, or play \
                 less or faster"
    )
}

pub const TIMES_GONE: &str = "how often the way is gone";

pub fn chords_of_a_route(most_chords: impl Display, chords: impl Display) -> String {
    format!(
        "a route has at most {most_chords} chords; this one has {chords}: use rounds to repeat it"
    )
}

pub const WITHIN_MS: &str = "how far from its beat a strum still counts as in time, in ms";
pub const MOST_TIMES_THROUGH: &str = "how many times through at most before the lesson goes on";
pub const SONG_EXAMPLES: &str = "\"F Bb C Dm\" or \"|: F | Bb C :| x2\"";

pub fn no_chord(example: impl Display) -> String {
    format!("chords names no chord; write them as in {example}")
}

pub const HIGHEST_FRET_OF_BARRE: &str = "the highest fret of the barre";
pub const ROOT_STRINGS: &str =
    "root_strings lists strings from 6 to 4, as in root_strings = [6, 5]";

pub fn weights_table(example: impl Display, value: impl Display) -> String {
    format!("weights is a table, as in {example}; {value} is none")
}

pub fn weight_is_a_number(example: impl Display, value: impl Display) -> String {
    format!("a weight is a number, as in {example}; {value} is none")
}

pub const TEMPO: &str = "how fast it goes, in beats a minute";
pub const TEMPO_AT_END: &str = "the tempo at the end, reached evenly, in beats a minute";
pub const BEATS_OF_A_BAR: &str = "how many beats a bar has";
pub const BARS_EACH: &str = "how many bars each chord takes";
pub const BARS_COUNTED_IN: &str = "how many bars are counted in";
pub const SWING: &str = "where the second eighth of a beat comes, in percent of the beat";

pub const A_LESSON: &str = "a lesson";
pub const A_STEP: &str = "a step";
pub const A_CHORD: &str = "a chord";
pub const A_DATE: &str = "a date";
pub const A_LIST: &str = "a list";
pub const A_TABLE: &str = "a table";

pub fn a_step_of_kind(kind: impl Display) -> String {
    format!("a {kind} step")
}

pub fn in_line(line: impl Display, text: impl Display) -> String {
    format!("line {line}: {text}")
}
