//! Sentences on chords, frets, notes, tunings and fingers that make no sense.

use std::fmt::Display;

pub fn no_root(text: impl Display, hint: impl Display) -> String {
    format!(
        "a chord begins with its root, a letter from A to G, then # or b where it has one (as in C, Bb \
         or F#m); {text} does not{hint}"
    )
}

pub fn unknown_kind(text: impl Display, root: impl Display, rest: impl Display) -> String {
    format!(
        "{text} begins with the root {root}, but {rest} after it is no known kind of chord; known are \
         m, 7, maj7, m7, sus2, sus4, 5, 6 and others"
    )
}

pub fn bass_is_no_note(text: impl Display, bass: impl Display) -> String {
    format!("the bass after the slash in {text} must be a note, as in C/G; {bass} is none")
}

pub fn six_frets(text: impl Display, found: impl Display) -> String {
    format!(
        "frets need six entries, string 6 to string 1, as in x13331, or with spaces, as in x 10 12 12 \
         12 10; {text} has {found}"
    )
}

pub fn no_fret(entry: impl Display, text: impl Display) -> String {
    format!(
        "each fret is a number, or x for a string that must not sound, as in x13331; {entry} in {text} \
         is neither"
    )
}

pub fn fret_too_high(highest: impl Display, fret: impl Display, text: impl Display) -> String {
    format!("frets go from 0 (open) to {highest}; {fret} in {text} is past the end of the neck")
}

pub fn nothing_sounds(text: impl Display) -> String {
    format!(
        "at least one string must sound, but in {text} all six are x; give it a fret, as in x13331"
    )
}

pub fn no_shape(chord: impl Display) -> String {
    format!("no shape for {chord} is known in this tuning; write its frets instead, as in x13331")
}

pub fn no_such_voicing(chord: impl Display, wanted: impl Display, known: impl Display) -> String {
    format!("there is no {chord} {wanted}; known are {known}")
}

pub fn no_note(text: impl Display) -> String {
    format!(
        "a note is a letter from A to G, then # or b where it has one (as in C, F# or Bb); {text} is none"
    )
}

pub fn no_such_shape(text: impl Display) -> String {
    format!(
        "a shape is E, A, D, C or G (minor, 7 and the like come from the chord's name); {text} is none"
    )
}

pub fn six_fingers(text: impl Display) -> String {
    format!(
        "fingers are six of 1 (index) to 4 (little finger), string 6 to 1, and x or 0 where no finger \
         is, as in x13331; {text} is not"
    )
}

pub fn no_tuning(text: impl Display) -> String {
    format!(
        "a tuning is a name such as standard or drop d, or six notes from string 6 to string 1, as in \
         DADGAD; {text} is neither"
    )
}

pub fn string_out_of_range(
    string: impl Display,
    note: impl Display,
    low: impl Display,
    high: impl Display,
) -> String {
    format!("string {string} cannot be tuned to {note}: open strings go from {low} to {high}")
}

pub fn capo_too_high(highest: impl Display, fret: impl Display) -> String {
    format!("the capo goes at fret 0 (none) to {highest}; {fret} is too far up")
}

pub fn a4_out_of_range(low: impl Display, high: impl Display, a4_hz: impl Display) -> String {
    format!("A4 goes from {low} to {high} Hz; {a4_hz} is outside")
}

pub fn past_the_neck(fret: impl Display, capo: impl Display, highest: impl Display) -> String {
    format!(
        "fret {fret} above a capo at {capo} is past the end of the neck: together they go to {highest}"
    )
}

pub fn nothing_held(string: impl Display) -> String {
    format!(
        "string {string} is open or must not sound, so that no finger holds it; write x or 0 there"
    )
}

pub fn finger_missing(string: impl Display) -> String {
    format!(
        "a finger for string {string} is missing: 1 index, 2 middle, 3 ring, 4 little finger, as in x13331"
    )
}

pub fn two_frets(finger: impl Display) -> String {
    format!(
        "finger {finger} cannot be at two frets at once; give each string's finger, as in x13331"
    )
}
