//! Sentences of a lesson: on its steps, on what is asked, on what a take brought, and on how a step came out.

use std::fmt::Display;

use super::grammar::counted;

pub const BREAK_IS_DUE: &str = "Half an hour of playing: time to put the guitar down for five minutes. \
     If something hurts, stop for today; see a specialist if the pain stays or comes back.";

pub const CARE: &str = "Make practice at most ten minutes longer from day to day. Do not keep repeating \
     what does not come, and never play through pain.";

pub const BUILD: &str = "a chord from its parts";
pub const PLACE: &str = "where the finger lies best";
pub const CLIMB: &str = "one shape along the neck";
pub const NAME: &str = "roots by name";
pub const HOLD: &str = "chords at your own pace";
pub const ROUTE: &str = "the shortest way over the neck";
pub const PLAY: &str = "along with the band";

pub fn one_root(string: impl Display) -> String {
    format!("1 root on string {string}")
}

pub fn roots(n: impl Display, string: impl Display) -> String {
    format!("{n} roots on string {string}")
}

pub fn wanted_in_each_stage(takes: impl Display, minutes: impl Display) -> String {
    format!("{takes} in each stage, {minutes} at most.")
}

pub fn wanted_at_each_fret(takes: impl Display, minutes: impl Display) -> String {
    format!("{takes} at each fret, {minutes} at most.")
}

pub fn wanted_answers(n: impl Display, minutes: impl Display) -> String {
    format!("{n} right answers, {minutes} at most.")
}

pub fn wanted_landings(minutes: impl Display, n: impl Display) -> String {
    format!("{minutes} from the first strum; {n} clean landings.")
}

pub fn wanted_of_each_chord(
    takes: impl Display,
    rounds: impl Display,
    minutes: impl Display,
) -> String {
    format!("{takes} of each chord, {rounds}, {minutes} at most.")
}

pub fn wanted_along_the_way(n: impl Display, of: impl Display, minutes: impl Display) -> String {
    format!("{n} of {of} chords clean, {minutes} at most.")
}

pub fn wanted_with_the_band(
    tempo: impl Display,
    n: impl Display,
    strums: impl Display,
    within_ms: impl Display,
    minutes: impl Display,
) -> String {
    format!(
        "{tempo} beats a minute; {n} of {strums} strums clean and within {within_ms:.0} ms, {minutes} at most."
    )
}

pub fn landed(
    landed: impl Display,
    of: impl Display,
    within_ms: impl Display,
    wanted: impl Display,
) -> String {
    format!("{landed} of {of} strums clean and within {within_ms:.0} ms; {wanted} are wanted.")
}

pub const PASSED: &str = "done: all that was asked for";
pub const PLAYED: &str = "played to the end, not all of it clean";
pub const TIME_UP: &str = "the time is up; on to something else";
pub const LEFT: &str = "skipped; it stays for next time";

pub fn another_chord(heard: impl Display, asked: impl Display) -> String {
    format!("That was {heard}; {asked} was asked. It does not count.")
}

pub fn another_part(part: impl Display, to_do: impl Display) -> String {
    format!("That was {part}: {to_do}. It does not count.")
}

pub const THE_BEST_SO_FAR: &str = "; the best so far";

pub fn another_is_best(best: impl Display) -> String {
    format!("; placement {best} is the best so far")
}

pub fn placement(
    number: impl Display,
    right: impl Display,
    of: impl Display,
    best: impl Display,
) -> String {
    format!("Placement {number}: {right} of {of} strings as they should be{best}.")
}

pub fn right_root(name: impl Display, seconds: impl Display) -> String {
    format!("Right: {name}, after {seconds:.1} s.")
}

pub fn wrong_root(heard: impl Display, asked: impl Display) -> String {
    format!("That was {heard}; {asked} is asked.")
}

pub fn root_shown(place: impl Display) -> String {
    format!("It is {place}; it will be asked again.")
}

pub const TOO_LATE: &str = "Played after the time; kept, but not counted.";
pub const BARRE_ALONE: &str = "the barre alone";

pub fn without_the_barre(chord: impl Display) -> String {
    format!("{chord} without the barre")
}

pub const ONLY_THE_INDEX: &str = "lay only the index finger";
pub const OTHER_FINGERS_INSTEAD: &str = "take it off, set the other fingers down";
pub const INDEX_FINGER_OFF: &str = "take the index finger off";
pub const INDEX_FINGER_TOO: &str = "lay the index finger down too";
pub const OTHER_FINGERS_TOO: &str = "set the other fingers down too";

pub fn another_chord_in_short(heard: impl Display, asked: impl Display) -> String {
    format!("that was {heard}, not {asked}")
}

pub const BEST_SO_FAR_IN_SHORT: &str = ", the best so far";

pub fn another_is_best_in_short(best: impl Display) -> String {
    format!(", best so far: {best}")
}

pub fn right_root_in_short(name: impl Display, seconds: impl Display) -> String {
    format!("right: {name}, after {seconds:.1} s")
}

pub fn wrong_root_in_short(heard: impl Display, asked: impl Display) -> String {
    format!("that was {heard}; {asked} is asked")
}

pub fn root_shown_in_short(place: impl Display) -> String {
    format!("it is {place}; again soon")
}

pub const TOO_LATE_IN_SHORT: &str = "too late to count; it is kept";

pub fn landed_in_short(landed: impl Display, of: impl Display, wanted: impl Display) -> String {
    format!("{landed} of {of} clean and in time, {wanted} wanted")
}

pub const PLAYED_IN_SHORT: &str = "played, not all clean";
pub const TIME_UP_IN_SHORT: &str = "the time was up";
pub const LEFT_IN_SHORT: &str = "skipped for today";

pub fn whole_chord(target: impl Display) -> String {
    format!("The whole chord: {target}.")
}

pub fn the_barre_alone(frets: impl Display) -> String {
    format!("The barre alone: {frets}, every string at its fret.")
}

pub fn the_rest_without_barre(frets: impl Display) -> String {
    format!("{frets} without the barre: only the strings you hold.")
}

pub const LAY_FINGERS_DOWN: &str = "Leave the barre, set the other fingers down: the whole chord.";
pub const LAY_BARRE_DOWN: &str = "Leave the fingers, lay the barre down: the whole chord.";
pub const ALL_AT_ONCE: &str = "Hand off the neck, then all fingers at once: the whole chord.";

pub fn chord_of_all(name: impl Display, place: impl Display, of: impl Display) -> String {
    format!("{name}, chord {place} of {of}, when you are ready.")
}

pub fn play_root(root: impl Display, quality: impl Display, string: impl Display) -> String {
    format!("Play {root}{quality}, with its root on string {string}.")
}

pub fn hold_and_strum(chord: impl Display) -> String {
    format!("Hold {chord} and strum.")
}

pub const MOVE_INDEX_FINGER: &str = "Keep the chord, move the index finger a little, strum.";

pub fn count_in_to_come(beats: impl Display, tempo: impl Display, bars: impl Display) -> String {
    format!(
        "Strum once when you are ready: {beats} beats are counted in at {tempo:.0} a minute, then {bars} bars."
    )
}

pub const ANOTHER_SHAPE: &str = "another shape, same fret";
pub const ANOTHER_FRET: &str = "same shape, another fret";
pub const ANOTHER_SHAPE_AND_FRET: &str = "another shape and fret";

pub fn begin_with(next: impl Display) -> String {
    format!("Begin with {next}; the time runs from your first strum.")
}

pub const LAST_BELONGS_TO_ANOTHER: &str = "          the last one belongs to another take";
pub const TIME_WAITS: &str = "the time waits for you";

pub fn step_line(
    step: impl Display,
    count: impl Display,
    kind: impl Display,
    bar: impl Display,
    done: impl Display,
    of: impl Display,
    left: impl Display,
) -> String {
    format!("Step {step} of {count}, {kind}   {bar} {done} of {of}   {left}")
}

pub fn gap_from_chord(gap_s: impl Display) -> String {
    format!("{gap_s:.1} s from chord to chord.")
}

pub fn results_of(title: impl Display) -> String {
    format!("What came out of \"{title}\"")
}

pub const ONE_MORE_STEP: &str = "1 more step was";

pub fn more_steps(n: impl Display) -> String {
    format!("{n} more steps were")
}

pub const NOTHING_HEARD: &str = "Nothing was heard.";
pub const STAGES_HEAD: &str = "stage             takes  clean   strings at fault (takes)";
pub const NO_PLACEMENT: &str = "No placement was heard.";

pub fn placement_rang_best(best: impl Display) -> String {
    format!("Placement {best} rang best.")
}

pub const ONE_PLACEMENT: &str = "One placement alone cannot be compared.";
pub const STRINGS_RIGHT_HEAD: &str = "how often each string was as it should be, of the takes";
pub const ROOTS_HEAD: &str = "root  asked  at once  seconds  played instead";

pub fn time_for_a_change(takes: impl Display) -> String {
    format!(
        " From the end of the old chord to the new one, clean: {takes} (half take less time, \
             two in three lie within ±)."
    )
}

pub fn changes_landed(changes: impl Display, landed: impl Display, takes: impl Display) -> String {
    format!("{changes} changes; {landed} were clean.{takes}")
}

pub fn changes_head(value: impl Display) -> String {
    format!("{value:<26}  changes  clean  a change")
}

pub const CHORDS_HEAD: &str = "chord                takes  clean  strings at fault (takes)";
pub const ROUTE_HEAD: &str = "from, to                                 times  clean";
pub const NOT_PLAYED_THROUGH: &str = "It was not played through.";

pub fn times_through(times: impl Display) -> String {
    format!("{times} times through; the last one:")
}

pub fn not_in_diary(takes: impl Display) -> String {
    format!("{takes} not in the diary, but here, as JSON lines:")
}

pub fn not_in_diary_keep(takes: impl Display) -> String {
    format!("{takes} not in the diary, but here, as JSON lines; keep them:")
}

pub const IMPORT_THEM: &str = "ringtrue progress --import FILE puts them into the diary.";
pub const AS_WRITTEN: &str = "as written";

pub fn root_on_string(root: impl Display, string: impl Display) -> String {
    format!("{root} on string {string}")
}

pub fn once_more(text: impl Display) -> String {
    format!("Once more. {text}")
}

pub const BEGIN_HERE: &str = "begin here";

pub fn chord_of_way(
    name: impl Display,
    place: impl Display,
    of: impl Display,
    how: impl Display,
) -> String {
    format!("{name}, chord {place} of {of}{how}.")
}

pub const OTHER_CHANGES: &str = "other changes";

pub fn change_to(next: impl Display) -> String {
    format!("Change to {next}.")
}

pub fn step(
    step: impl Display,
    count: impl Display,
    kind: impl Display,
    subject: impl Display,
    wanted: impl Display,
) -> String {
    format!("Step {step} of {count}, {kind}: {subject}. {wanted}")
}

pub fn and_more(shown: impl Display, more: impl Display) -> String {
    format!("{shown} and {more} more")
}

/// "3 clean takes".
pub fn clean_takes(n: u32) -> String {
    counted(n as usize, "clean take", "clean takes")
}

pub fn wanted(takes: impl Display, minutes: impl Display) -> String {
    format!("{takes}, {minutes} at most.")
}

pub const ONCE_THROUGH: &str = "once through";

pub fn times_through_short(n: impl Display) -> String {
    format!("{n} times through")
}

pub const STOPPED: &str = "stopped early";

pub fn whole(chord: impl Display) -> String {
    format!("the whole {chord}")
}

pub fn another_part_in_short(part: impl Display, to_do: impl Display) -> String {
    format!("that was {part}: {to_do}")
}

pub fn placement_in_short(
    number: impl Display,
    right: impl Display,
    of: impl Display,
    best: impl Display,
) -> String {
    format!("placement {number}: {right} of {of}{best}")
}

pub fn not_begun(steps: impl Display) -> String {
    format!("{steps} not begun.")
}

pub fn placements_head(numbers: impl Display) -> String {
    format!("placement{numbers}  surest")
}

pub const WHAT_CHANGES: &str = "what changes";

/// "1 take is", "3 takes are".
pub fn takes_are(count: usize) -> String {
    counted(count, "take is", "takes are")
}

pub fn step_came_out(step: impl Display, outcome: impl Display) -> String {
    format!("step {step}: {outcome}")
}

pub fn time_left(minutes: u64, seconds: u64) -> String {
    format!("{minutes}:{seconds:02} left")
}

pub const PAUSED: &str = "paused";

pub fn string_line(string: impl Display, symbols: impl Display, surest: impl Display) -> String {
    format!("string {string} {symbols}  {surest:>5}")
}

/// The first chord of a way over the neck.
pub fn begin_at(place: impl Display) -> String {
    format!("begin, {place}")
}

pub const ONE_MINUTE: &str = "1 minute";

pub fn minutes(count: impl Display) -> String {
    format!("{count} minutes")
}
