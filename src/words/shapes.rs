//! Sentences on chord shapes.

use std::fmt::Display;

pub fn with_root(frets: impl Display, shape: impl Display, root: impl Display) -> String {
    format!("{frets} ({shape}, root on string {root})")
}

pub fn no_voicing(chord: impl Display, choices: impl Display) -> String {
    format!("no voicing of {chord} fits these options; leave one out, or choose from: {choices}")
}

pub fn with_capo(capo: impl Display, notes: impl Display) -> String {
    format!(", with the capo at {capo} it sounds as {notes}")
}

pub fn no_name(frets: impl Display, picture: impl Display) -> String {
    format!("{frets} spells no chord that has a name here.\n\n{picture}")
}

pub fn may_go_quiet(string: impl Display) -> String {
    format!("string {string} may go quiet")
}

pub fn root_on(string: impl Display) -> String {
    format!("root on string {string}")
}

pub const NOTHING_FITS: &str =
    "no shape fits these options in this tuning; leave one out, or name a chord";
pub const BY_FRET_HEAD: &str = "fret  shape  chords";
pub const NO_SHAPE_HOLDS: &str = "No shape holds in this tuning, its strings stand at other distances.\n\
                 Write chords as frets, they are named by their notes: --frets x13331";

pub fn movable_shapes(table: impl Display) -> String {
    format!("Movable shapes on their own roots (root: the string that it is on)\n{table}")
}

pub fn other_open(table: impl Display) -> String {
    format!("Other open chords\n{table}")
}

pub const TO_SEE_ONE: &str =
    "One fret up is the chord a semitone higher. To see one: ringtrue shapes Bb";

pub fn named_by_capo(capo: impl Display) -> String {
    format!(", named like the chords as if the capo at {capo} were the nut")
}

pub fn notes_along(counted: impl Display, table: impl Display) -> String {
    format!("Notes along the strings{counted}\n{table}")
}

pub const SHAPE_AND_ROOT: &str = "shape  root";

pub const MAJOR: &str = "major";
pub const MINOR: &str = "minor";
pub const POWER: &str = "power";

/// `place` and `sounding` follow a comma, where there is anything to say.
pub fn frets_are(
    frets: impl Display,
    chord: impl Display,
    place: impl Display,
    sounding: impl Display,
) -> String {
    format!("{frets} is {chord}{place}{sounding}")
}
