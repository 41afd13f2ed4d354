//! Sentences on progressions and backings that make no sense.

use std::fmt::Display;

pub fn bars_each(from: impl Display, to: impl Display, found: impl Display) -> String {
    format!("each chord takes from {from} to {to} bars; {found} is not possible")
}

pub const BARS_OF_ITS_OWN: &str =
    "bars for each chord are for a list of chords; this progression has bar lines of its own";

pub fn times_played(most_loops: impl Display, found: impl Display) -> String {
    format!("it is played from 1 to {most_loops} times; {found} is not possible")
}

pub fn count_in(from: impl Display, to: impl Display, found: impl Display) -> String {
    format!("the count-in is from {from} to {to} bars; {found} is not possible")
}

pub fn tempo(bpm: impl Display) -> String {
    format!("a tempo is from 40 to 200 beats a minute; {bpm} is not")
}

pub fn beats_of_a_bar(beats: impl Display) -> String {
    format!("a bar has from 1 to 12 beats; {beats} is not possible")
}

pub fn lasts_too_long(minutes: impl Display) -> String {
    format!(
        "this would last {minutes:.0} minutes; half an hour is the longest, with fewer loops or bars \
         for each chord it is shorter"
    )
}

pub const NO_CHORD: &str = "no chord was found; write chord names, as in \"F Bb C Dm\", with bar lines, as in \"| F | Bb C \
     |\", or on lines above the words";

pub fn in_line(line: impl Display, error: impl Display) -> String {
    format!("line {line}: {error}")
}

pub const SQUARE_BRACKETS: &str = "chords in square brackets are not read; write them on a line of their own above the words, as \
     printed song sheets have them";
pub const REPEAT_OPEN: &str = "a repeat begins with |: and ends with :| as in \"|: F | Bb :| x2\"; here one of the two is missing";

pub fn nothing_to_repeat(mark: impl Display) -> String {
    format!("{mark} repeats what stands before it, and nothing does")
}

pub fn how_often(mark: impl Display) -> String {
    format!("{mark} must say how often, from x1 to x64")
}

pub const TOO_MANY_BARS: &str =
    "the progression has more than 2000 bars with its repeats written out; leave some out";

pub fn bar_crowded(bar: impl Display, chords: impl Display, beats: impl Display) -> String {
    format!(
        "bar {bar} has {chords} chords but {beats} beats; use more beats (--beats) or another bar line"
    )
}
