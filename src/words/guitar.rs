//! Sentences on chords, fingers and what a soundcheck has kept.

use std::fmt::{Debug, Display};

pub const GERMAN_H: &str = " (the German H is B)";
pub const LEGEND: &str =
    "Fingers: 1 index, 2 middle, 3 ring, 4 little; ━ one across.\nStrings: x not played, o open.";

pub fn in_the_shape(shape: impl Display) -> String {
    format!("in the {shape} shape")
}

pub fn as_an_open_chord(chord: impl Display, frets: impl Display) -> String {
    format!("{chord} as an open chord ({frets})")
}

pub const GUITARS_NAME: &str = "the guitar's name";
pub const MICROPHONES_NAME: &str = "the microphone's name";
pub const OPEN_NOTES: &str = "open (MIDI notes of the strings)";
pub const SIX_OPEN_NOTES: &str = "open: six MIDI notes, strings 6 to 1, were";
pub const SIX_STRINGS: &str = "strings: six, numbered 6 to 1 in that order, or none were";
pub const OPEN_CHORD: &str = "open chord";

pub fn minor_shape(shape: impl Display) -> String {
    format!("{shape}-minor shape")
}

pub fn power_chord(shape: impl Display) -> String {
    format!("{shape} power chord")
}

pub fn shape_at_fret(shape: impl Display, at: impl Display) -> String {
    format!("{shape} at fret {at}")
}

pub fn at_fret(at: impl Display) -> String {
    format!("at fret {at}")
}

pub fn chord_as_place(chord: impl Display, place: impl Display, frets: impl Display) -> String {
    format!("{chord} as the {place} ({frets})")
}

pub fn there_is(names: impl Display) -> String {
    format!(" (there is {names})")
}

pub fn no_such_guitar(name: impl Debug, known: impl Display) -> String {
    format!(
        "no guitar is called {name:?} here{known}; make a soundcheck with --guitar {name:?} first"
    )
}

pub fn no_name_for_a_guitar(name: impl Debug) -> String {
    format!(
        "{name:?} cannot be a guitar's name: letters, digits, spaces, - and _ were expected, as in \
         \"old dreadnought\""
    )
}

pub fn profile_damaged(path: impl Display, what: impl Display) -> String {
    format!("{path}: {what}; make the soundcheck again")
}

pub fn shape(name: impl Display) -> String {
    format!("{name} shape")
}

pub fn shape_open(shape: impl Display) -> String {
    format!("{shape}, open")
}

/// Name of a barre over all six strings.
pub fn barre_at(fret: impl Display) -> String {
    format!("barre at fret {fret}")
}

/// Name of a barre over the strings from one on, the lowest first.
pub fn barre_from(fret: impl Display, string: impl Display) -> String {
    format!("barre at fret {fret}, from string {string}")
}

pub fn the_voicing(place: impl Display, frets: impl Display) -> String {
    format!("the {place} ({frets})")
}
