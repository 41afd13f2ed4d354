//! Sentences of the report, the page for a teacher.

use std::fmt::Display;

use super::grammar::{counted, takes};

pub const TITLE: &str = "Practice report";
/// Headings and fixed sentences, by the name that `report/page/page.html` has for them.
pub const FIXED: [(&str, &str); 40] = [
    (
        "no_dates",
        "No dates were noted with these recordings; they stand in the order of their names",
    ),
    ("in_short", "In short"),
    ("practised", "What was practised"),
    ("chord", "chord"),
    ("takes", "takes"),
    ("judged", "judged"),
    ("clean", "clean"),
    ("weakest", "weakest string"),
    ("no_string", "none"),
    (
        "clean_means",
        "Clean: no string is at fault, and at most one could not be judged. An x string is right when \
             it stays quiet.",
    ),
    ("in_time", "In time"),
    ("tempo_or_change", "beats a minute, or change"),
    ("strums", "strums"),
    ("strums_in_time", "in time"),
    ("usually", "usually"),
    ("steady", "steady within"),
    ("causes", "Probable causes"),
    ("last_time", "The last time:"),
    ("by_string", "String by string"),
    ("string", "string"),
    ("fret", "fret"),
    ("right", "right"),
    ("muted", super::take::WORD_MUTED),
    ("choked", super::take::WORD_CHOKED),
    ("buzzing", super::take::WORD_BUZZING),
    ("wrong_fret", super::take::WORD_WRONG_FRET),
    ("ringing", super::take::WORD_RINGING),
    ("unsure", super::take::WORD_UNSURE),
    ("strings_right", "How often each string was right"),
    ("over_time", "Clean takes, over time"),
    ("causes_here", "Probable causes here"),
    ("more_pictures", "Spectrum and notes of this take"),
    ("not_judged", "What was not judged"),
    ("by_recording", "By recording"),
    ("notes", "Notes"),
    (
        "how_notes_stay",
        "To keep what you type here, save the page in the browser (complete, or as a single file): what \
             was typed is in it. Or print it.",
    ),
    ("learner", LEARNER),
    ("teacher", TEACHER),
    ("care", "Take care"),
    ("trust", "How far to trust this page"),
];

pub const BETTER: &str = "Better";
pub const WORSE: &str = "Worse";
pub const A_TAKE: &str = "a take";
pub const LEARNER: &str = "Learner";
pub const TEACHER: &str = "Teacher";

/// Name of a table for those who hear the page.
pub fn a_table(name: String) -> String {
    format!("{name}, a table")
}

pub fn strings_table(chord: String) -> String {
    format!("Strings of {chord}, a table")
}

pub fn in_time_means(within_ms: u32) -> String {
    format!(
        "Strums played along with a backing. In time: within {within_ms} ms of the beat. Steady: two strums in \
         three are this near to the usual."
    )
}

pub fn take(number: impl Display) -> String {
    format!("take {number}")
}

pub fn chords(count: usize) -> String {
    counted(count, "chord", "chords")
}

pub fn minutes(count: usize) -> String {
    counted(count, "minute", "minutes")
}

pub fn recordings(count: usize) -> String {
    counted(count, "recording", "recordings")
}

pub fn cause_in_takes(cause: String, count: usize) -> String {
    format!("{cause}: {}", takes(count))
}

pub fn cause_here(cause: String, count: usize) -> String {
    format!("{cause}, {}.", takes(count))
}

pub fn cause_strings(strings: String) -> String {
    format!("Strings, and in how many takes: {strings}")
}

pub fn chord_takes(count: usize, judged: usize, clean: usize) -> String {
    format!("{}, {judged} judged, {clean} clean.", takes(count))
}

pub fn part_of(part: usize, of: usize) -> String {
    format!("{part} of {of}")
}

pub fn sound_of(take: String) -> String {
    format!("Sound of {take}")
}

pub fn ringdown_of(take: String) -> String {
    format!("How long each string of {take} rings, a picture")
}

pub fn spectrum_of(take: String) -> String {
    format!("Spectrum and notes of {take}, a picture")
}

pub fn not_judged_since(count: usize, why: String) -> String {
    format!("{}: {why}", takes(count))
}

/// A file, and the moment in seconds where it is one of several takes.
pub fn not_judged_at(file: String, at_s: Option<f64>, why: String) -> String {
    match at_s {
        Some(at_s) => format!("{file}, at {at_s:.1} s: {why}"),
        None => format!("{file}: {why}"),
    }
}

/// Name of a picture: what it shows, and of which take.
pub fn picture_of(what: impl Display, take: impl Display) -> String {
    format!("{what} of {take}")
}

/// A single take, where neither is worst or best.
pub const ONE_TAKE: &str = "Take";
/// One of several, all of them clean.
pub const CLEAN_TAKE: &str = "One of the clean takes";

pub fn how_it_was_measured(clean: impl Display) -> String {
    format!(
        "Ringtrue listens through one microphone and is sometimes wrong. It was measured on strums put \
             together from recorded notes of eleven guitars. Each guitar was judged by networks that had \
             never heard it. Of strings that rang, {clean} were told to be at fault."
    )
}

/// Sentence on dead strings, those that die early, those at another fret and those that should be quiet: how many were told to be
/// at fault, and how many were taken for clean.
pub fn faults_told(shares: [[String; 2]; 4]) -> String {
    let [
        [dead, not_dead],
        [choked, not_choked],
        [fret, not_fret],
        [ringing, not_ringing],
    ] = shares;
    format!(
        "Of dead strings {dead} were told to be at fault, and {not_dead} were taken for clean. Of strings that died \
         early, {choked} and {not_choked}. Of strings at another fret, {fret} and {not_fret}. Of strings that sounded though they \
         should not, {ringing} and {not_ringing}. The rest stayed unsure."
    )
}

pub const WHAT_IS_HARD: &str = "Dead and dying early are often taken for each other. A string that doubles another one an octave \
         apart is hardest to hear. How often buzz is heard rightly has not been measured on real \
         recordings. On other guitars, rooms and microphones it may do worse. Where a verdict surprises \
         you, listen to the take.";

pub fn since_the_last(days: impl Display, now: impl Display, before: impl Display) -> String {
    format!(
        "Since the last report{days}: {now:.0} % of the judged takes were clean, {before:.0} % before."
    )
}

pub fn from_to_clean(
    name: impl Display,
    clean: impl Display,
    judged: impl Display,
    clean_now: impl Display,
    judged_now: impl Display,
) -> String {
    format!("{name} (from {clean} of {judged} clean to {clean_now} of {judged_now})")
}

pub const CARE_FOR_HANDS: &str = "Stop when something hurts; never play through pain, and see someone qualified if it stays or comes \
     back.";

pub const CARE_BY_REST: &str = "Rest five minutes every half hour. Make practice at most ten minutes longer from day to day. \
     What does not work today need not be forced by repeating it.";

pub const CARE_FOR_EARS: &str = "On headphones keep the volume low: the louder it is, the less time your ears can take it. The program \
     cannot measure how loud it is at your ear.";

pub fn strings_right(name: impl Display) -> String {
    format!("How often each string of {name} was right; the table says the same")
}

pub fn clean_by_time(name: impl Display) -> String {
    format!("Takes of {name} that were clean, by time")
}

pub const RINGDOWN_IN_SHORT: &str = "How long each string rings";
pub const SPECTRUM_IN_SHORT: &str = "Spectrum and notes";

pub fn takes_of_chords(
    takes: impl Display,
    chords: impl Display,
    judged: impl Display,
    clean: impl Display,
) -> String {
    format!("{takes} of {chords}; {judged} could be judged, {clean} of these clean.")
}

pub fn minutes_practised(minutes: impl Display, rest: impl Display) -> String {
    format!("{minutes} practised; pauses of more than {rest} minutes are left out.")
}

pub fn unread(recordings: impl Display) -> String {
    format!("{recordings} could not be read; \"What was not judged\" says why.")
}

pub fn weakest_there(weakest: impl Display) -> String {
    format!(" The weakest there was {weakest}.")
}

pub fn hardest(
    name: impl Display,
    clean: impl Display,
    judged: impl Display,
    string: impl Display,
) -> String {
    format!("Hardest was {name}: {clean} of {judged} judged takes were clean.{string}")
}

pub fn take_up_next(name: impl Display, first: impl Display) -> String {
    format!("Practise next: {name}. {first}")
}

pub fn take_up_next_bare(name: impl Display) -> String {
    format!("Practise next: {name}.")
}

pub fn commonest_cause(takes: impl Display, cause: impl Display, what: impl Display) -> String {
    format!("The commonest cause, named for {takes}: {cause}. {what}")
}

pub fn string_right(string: impl Display, right: impl Display, takes: impl Display) -> String {
    format!("string {string}, right in {right} of {takes} takes")
}

pub fn note_of(by: impl Display, days: impl Display) -> String {
    format!("{by}, on the page of {days}")
}

pub fn note_of_a_page(by: impl Display) -> String {
    format!("{by}, on a page before")
}

pub const NO_REASON: &str = "No reason was noted.";
pub const WORST_TAKE: &str = "Worst take";
pub const BEST_TAKE: &str = "Best take";
pub const NOT_TOLD: &str = "not told";

pub fn takes_from_to(first: impl Display, last: impl Display) -> String {
    format!("takes {first} to {last}")
}

pub fn week_of(monday: impl Display) -> String {
    format!("week of {monday}")
}
