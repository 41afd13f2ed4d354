//! Sentences on ways over the neck, and on the moves from chord to chord.

use std::fmt::{Debug, Display};

use super::grammar::counted;

pub fn text_is_a_file(text: impl Display) -> String {
    format!("{text} is a file; to read it write: --file {text}")
}

pub fn form_of_a_weight(text: impl Debug) -> String {
    format!("a weight is written as in travel=2, and {text:?} is not")
}

pub fn weight_expected(number: impl Debug) -> String {
    format!("a weight is a number from 0 to 1000, and {number:?} is none")
}

pub const WAY_BACK: &str = ", the way back to the beginning included";

pub fn stays(way_back: impl Display) -> String {
    format!("The hand stays in one place{way_back}")
}

pub fn travels(far: impl Display, way_back: impl Display) -> String {
    format!("The hand travels {far}{way_back}")
}

pub fn saved(
    travelled: impl Display,
    shape: impl Display,
    far: impl Display,
    less: impl Display,
) -> String {
    format!("{travelled}. With the {shape} shape alone it would be {far}: {less} saved.")
}

pub fn no_further(travelled: impl Display, shape: impl Display) -> String {
    format!("{travelled}, as far as with the {shape} shape alone.")
}

pub fn further(travelled: impl Display, shape: impl Display, far: impl Display) -> String {
    format!("{travelled}. With the {shape} shape alone it would be {far}, but more work in all.")
}

pub fn no_one_shape(travelled: impl Display) -> String {
    format!("{travelled}. No one shape has all of these chords.")
}

pub fn index_stays(moves: usize) -> String {
    let moves = counted(moves, "change", "changes");
    format!("; the index finger stays where it is in {moves}")
}

pub fn why_this_way(changes: usize, fingers: usize) -> String {
    let changes = counted(changes, "change of shape", "changes of shape");
    let fingers = counted(fingers, "finger to lift", "fingers to lift");
    format!("Why this way: this is the least work for your hand. {changes}, {fingers}")
}

pub fn weight_in_range(least: impl Display, most: impl Display, value: impl Display) -> String {
    format!("a weight is a number from {least} to {most}, and {value} is none")
}

pub fn no_such_part(name: impl Debug, names: impl Display) -> String {
    format!("no part of the hand's work is called {name:?}; there are {names}")
}

pub const STAY: &str = "stay as you are";
pub const AT_THE_NUT: &str = "at the nut";
pub const AT_THE_SAME_FRET: &str = "at the same fret";
pub const IN_THE_SAME_SHAPE: &str = " in the same shape";

pub fn in_the_shape(shape: impl Display) -> String {
    format!(" in the {shape} shape")
}

pub const OVER_TO_STRING_5: &str = ", over to the root on string 5";
pub const BACK_TO_STRING_6: &str = ", back to the root on string 6";

pub fn from_string_to_string(a: impl Display, b: impl Display) -> String {
    format!(", from the root on string {a} to string {b}")
}

pub const INTO_ANOTHER_SHAPE: &str = ", into another shape";
pub const LIFT_ALL_FINGERS: &str = "; lift all fingers";

pub fn shape_with_root(chord: impl Display, shape: impl Display, string: impl Display) -> String {
    format!("{chord} ({shape}, root on string {string})")
}

pub fn allow_one_of_these(ways: impl Display) -> String {
    format!("allow one of these (--shapes, --root-strings, --highest-fret, --open): {ways}")
}

/// Columns as wide as their content.
pub fn head(frets_width: usize, shape_width: usize) -> String {
    format!(
        "chord   {:<frets_width$}  {:<shape_width$}  from the chord before",
        "frets", "shape"
    )
}

pub fn fingers_and(names: impl Display, last: impl Display) -> String {
    format!("{names} and {last} finger")
}

pub const ONE_CHORD_AT_LEAST: &str = "a route needs at least one chord";

pub fn no_shape(chord: impl Display) -> String {
    format!(
        "no shape for {chord} is known in this tuning; write another chord with the same root, or \
         change the tuning"
    )
}

pub fn not_within_limits(chord: impl Display, hint: impl Display) -> String {
    format!("{chord} cannot be played within these limits; {hint}")
}

pub fn no_fifth(chord: impl Display) -> String {
    format!(
        "{chord} has no perfect fifth, so no power chord stands for it; leave --power out, or write \
         another chord"
    )
}

pub const ROOT: &str = "root";
pub const BACK: &str = "back";
/// "2 frets up".
pub fn frets_up_or_down(frets: impl Display, is_up: bool) -> String {
    format!("{frets} {}", if is_up { "up" } else { "down" })
}

pub fn lift_fingers(fingers: impl Display) -> String {
    format!("; lift {fingers}")
}

pub fn finger_stays(finger: impl Display) -> String {
    format!("; {finger} stays")
}

pub fn fingers_stay(fingers: impl Display) -> String {
    format!("; {fingers} stay")
}

/// "1 fret", "2 frets".
pub fn frets(count: u32) -> String {
    counted(count as usize, "fret", "frets")
}

pub fn one_finger(name: impl Display) -> String {
    format!("{name} finger")
}
