//! Sentences of a trial: on what is asked, on what is kept, and on how right the verdicts were.

use std::fmt::{Debug, Display};

// What a trial was begun with.

pub fn another_form(found: impl Display, known: impl Display) -> String {
    format!("it has form {found}, and form {known} is known here")
}

pub fn minutes_expected(found: impl Display) -> String {
    format!("3, 5 or 10 minutes were expected, not {found}")
}

pub fn chords_expected(most: impl Display, found: impl Display) -> String {
    format!("1 to {most} chords were expected, not {found}")
}

pub fn no_such_deed(word: impl Debug) -> String {
    format!("{word:?} is no deed of a trial")
}

pub fn open_notes_expected(found: impl Debug) -> String {
    format!("MIDI notes of six open strings were expected, not {found:?}")
}

// The choice.

pub const TITLE: &str = "Is it right on your guitar?";

pub fn length(strums: impl Display, minutes: impl Display) -> String {
    format!("{strums} strums, about {minutes} minutes")
}

pub const WHAT_HAPPENS: &str = "Each strum is announced here: play it clean, or with one fault on purpose. Strum once, \
                                and let it ring. What was heard is told at the end.";
pub const NOT_AS_ASKED: &str = "Was it not done as asked? Strike twice, or press x: it is thrown away. Now and then you \
                                are asked whether it was.";
pub const CAUTION: &str = "Stop when it hurts, and press no harder than you would play. p pauses.";
pub const CHORDS: &str = "Chords that you can play (a letter takes one out or in):";
pub const FAULTS: &str = "Faults that you can do (a number takes one out or in):";
pub const ONE_CHORD_AT_LEAST: &str = "At least one chord is needed.";
pub const SEVERAL_FAULTS: &str = "Without faults only false alarms can be counted.";

pub fn choice_keys(minutes: impl Display, licence: impl Display) -> String {
    format!("m changes: {minutes} minutes     l changes: licence {licence}")
}

pub const CHOICE_BEGINS: &str = "n or page down begins     q ends";

pub const LICENCES: [(&str, &str); 3] = [
    ("not-shared", "none, it stays with you"),
    ("CC0-1.0", "CC0, anyone may use it"),
    ("CC-BY-4.0", "CC BY, who uses it names you"),
];

// What is asked, large and in full.

pub const PLAY_CLEAN: &str = "play it clean";
pub const PLAY_CLEAN_IN_FULL: &str = "Every string as it should be.";

pub fn touch(string: impl Display) -> String {
    format!("touch string {string}")
}

pub fn touch_in_full(finger: impl Display, string: impl Display) -> String {
    format!("Let the {finger} lean against string {string} until that string is dead.")
}

pub fn lift(finger: impl Display) -> String {
    format!("lift the {finger}")
}

pub fn lift_in_full(string: impl Display) -> String {
    format!("Lift it off the fret, and leave it lying lightly on string {string}.")
}

pub const SLACKEN: &str = "slacken the barre";

pub fn slacken_in_full(string: impl Display) -> String {
    format!(
        "Press less with the barre until string {string} does not ring. The other fingers stay."
    )
}

pub fn ring(string: impl Display) -> String {
    format!("let string {string} ring")
}

pub fn ring_in_full(string: impl Display) -> String {
    format!("Strum string {string} too, and let no finger touch it.")
}

pub fn high(string: impl Display, fret: impl Display) -> String {
    format!("string {string} on fret {fret}")
}

pub fn high_in_full(finger: impl Display, fret: impl Display) -> String {
    format!("Set the {finger} on fret {fret}. The other fingers stay.")
}

pub fn buzz(string: impl Display) -> String {
    format!("make string {string} buzz")
}

pub fn buzz_in_full(finger: impl Display) -> String {
    format!("Set the {finger} far behind its fret, and press lightly, until it buzzes.")
}

pub fn pass_by(string: impl Display) -> String {
    format!("leave out string {string}")
}

pub fn pass_by_first(string: impl Display) -> String {
    format!("Hold the chord, and begin the strum after string {string}.")
}

pub fn pass_by_last(string: impl Display) -> String {
    format!("Hold the chord, and stop the strum before string {string}.")
}

pub const FINGERS: [&str; 4] = [
    "index finger",
    "middle finger",
    "ring finger",
    "little finger",
];
pub const FINGER_BESIDE: &str = "finger beside it";

// Under way.

pub fn strum_of(number: impl Display, of: impl Display) -> String {
    format!("strum {number} of {of}")
}

pub const LISTENING: &str = "Strum once, and let it ring.";
pub const STRUCK: &str = "Heard. Let it ring ...";
pub const KEPT: &str = "Kept.";
pub const NOT_STRUCK: &str = "That was no strum. Strum once, and let it ring.";
pub const TWICE: &str = "Struck twice: thrown away. Once more, when you are ready.";
pub const SAID: &str = "Thrown away. Once more, when you are ready.";
pub const LOST: &str = "Sound was lost: thrown away. Once more, when you are ready.";
pub const REST: &str = "Take your hand off the neck and shake it out. Strum once, or press a key, to go on. \
                        If something hurts, stop for today.";
pub const REST_LARGE: &str = "rest your hand";
pub const PAUSED_LARGE: &str = "paused";
pub const PAUSED: &str = "Paused: nothing that you play counts. Page up or p goes on.";
pub const AS_ASKED: &str = "done as asked?";

pub fn you_were_asked(ask: impl Display) -> String {
    format!("You were asked: {ask}.")
}

pub const ANSWER: &str = "Press y or page down if it was. If not, press x or page up, or strum again: it is thrown \
                          away and asked for again.";
pub const KEYS_ASKING: &str =
    "y yes, keep it   x no, throw it away   p pause   q quit, go on later";
pub const KEYS_PAUSED: &str = "p go on   q quit, go on later";
pub const KEYS: &str = "x throw away   n cannot do this   p pause   q quit, go on later";

pub fn goes_on(kept: impl Display, of: impl Display) -> String {
    format!("This trial goes on: {kept} of {of} strums are kept. --anew begins another.")
}

pub fn asked(
    number: impl Display,
    of: impl Display,
    chord: impl Display,
    ask: impl Display,
    in_full: impl Display,
) -> String {
    format!("{number} of {of}  {chord}: {ask}. {in_full}")
}

// The end.

pub const LISTENING_AGAIN: &str = "All strums are listened to once more; this takes some seconds.";

pub fn kept_in(folder: impl Display) -> String {
    format!("The strums and what you did lie in {folder}.")
}

pub fn broken_off(kept: impl Display, of: impl Display) -> String {
    format!("{kept} of {of} strums are kept. The same command goes on with them.")
}

pub const NOTHING_KEPT: &str = "no strum was kept; there is nothing to say of this guitar";

pub const GUITAR_OR_OUT: &str =
    "name the guitar, as in --guitar mine, or a folder for the strums with --out FOLDER";

pub fn no_such_chord(text: impl Debug) -> String {
    format!(
        "--chords: {text:?} is not known in this tuning; write chords or frets, as in \"F x13331\""
    )
}

pub fn faults_expected(text: impl Debug, known: impl Display) -> String {
    format!("--faults: {text:?} is none; {known} are known, or none")
}

pub fn not_a_trial(folder: impl Display) -> String {
    format!("{folder}: holds a set that no trial made; name another folder with --out")
}

pub fn cannot_be_kept(why: impl Display) -> String {
    format!("{why}. This strum is not kept; make room and play it again.")
}

pub fn title(length: impl Display) -> String {
    format!("{TITLE} {length}")
}

pub fn there_already(folder: impl Display) -> String {
    format!("{folder}: holds a trial already; name another folder for a new one")
}

pub fn right(
    takes: impl Display,
    of: impl Display,
    percent: impl Display,
    low: impl Display,
    high: impl Display,
) -> String {
    format!(
        "Of {of} strums {takes} were told right on every string: {percent} %. The true share lies between {low} and \
         {high} %."
    )
}

pub fn strings_right(
    strings: impl Display,
    of: impl Display,
    percent: impl Display,
    low: impl Display,
    high: impl Display,
) -> String {
    format!("Of {of} strings {strings} were told right: {percent} % ({low} to {high}).")
}

pub fn found(part: impl Display, of: impl Display) -> String {
    format!("Of {of} faults that you made {part} were called faults.")
}

pub fn false_alarms(part: impl Display, of: impl Display) -> String {
    format!("Of {of} strings that were right {part} were called faulty.")
}

pub fn refused(refused: impl Display, not_found: impl Display) -> String {
    format!(
        "{refused} strums were not judged, and in {not_found} none was found; they count as wrong."
    )
}

pub fn published(
    rang: impl Display,
    dead: impl Display,
    early: impl Display,
    fret: impl Display,
) -> String {
    format!(
        "On composed strums of guitars never heard it calls {rang} of right strings faulty. It calls {dead} of dead, \
         {early} of early-dying and {fret} of wrongly fretted strings faulty."
    )
}

pub const BELOW_PUBLISHED: &str =
    "Here more strings that were right were called faulty, and not by chance alone.";
pub const MISSES_MORE: &str = "Here fewer faults were called faulty, and not by chance alone.";
pub const AS_PUBLISHED: &str = "What was found here does not differ from that by more than chance.";
pub const NOT_ASKED_BACK: &str =
    "All this holds where every strum was done as asked: in a recording nobody can be asked back.";
pub const FEW: &str = "So few strums leave much open; a longer trial says more.";
pub const STRIKE_TWICE: &str = "Was it not done as asked? Strike twice, and it is thrown away.";
pub const CAUTION_IN_LINES: &str = "Stop when it hurts, and press no harder than you would play.";

// What was learnt.

pub fn learnt(built_in: impl Display, left_out: impl Display, of: impl Display) -> String {
    format!(
        "It was learnt how readily a string of this guitar is said to ring. Of {of} strings {left_out} are right with that, \
         each strum judged by what the others teach, and {built_in} without."
    )
}

pub const NOTHING_LEARNT: &str =
    "Nothing was learnt: what is built in tells the strums of this guitar best.";

pub fn used_from_now_on(guitar: impl Debug) -> String {
    format!(
        "It is used wherever --guitar {guitar:?} is named; ringtrue trial --guitar {guitar:?} --forget takes it back."
    )
}

pub const NOT_USED: &str =
    "It is not used yet: make a soundcheck of the guitar, and name it here with --guitar.";
pub const FORGET_NEEDS_A_GUITAR: &str =
    "--forget needs a guitar that a soundcheck was made of, as in --guitar mine";

pub fn nothing_to_forget(guitar: impl Debug) -> String {
    format!("Nothing was learnt of {guitar:?}; nothing is changed.")
}

pub fn forgotten(guitar: impl Debug) -> String {
    format!("What was learnt of {guitar:?} is forgotten. Its strums stay.")
}

pub fn damaged(file: impl Display, why: impl Display) -> String {
    format!("{file}: is no result of a trial ({why}); finish the trial again, or remove the file")
}

/// Before the result, on the teacher's page.
pub const ON_THIS_GUITAR: &str =
    "On this guitar, in a trial in which the player did faults on purpose:";

pub fn not_what_was_begun(path: impl Display, what: impl Display) -> String {
    format!("{path}: {what}; begin another trial with --anew, the sounds of this one stay")
}
