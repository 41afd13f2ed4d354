//! Words in pictures, and sentences on them for those who cannot see them.

use std::fmt::Display;

pub fn with_a_capo(capo: impl Display) -> String {
    format!(" with a capo at fret {capo}")
}

pub fn played_at(manner: impl Display, at: impl Display) -> String {
    format!("It was {manner} at {at}.")
}

pub const CHROMA_TITLES: [&str; 3] = [
    "Which notes sound, in whatever octave, against the loudest. A string's overtones sound other \
     notes too",
    "Which notes sound, in whatever octave, against the loudest",
    "Which notes sound",
];
pub const CHROMA_HEARD_TITLE: &str =
    "Which notes sound, in whatever octave, against the loudest; overtones among them";
pub const NOTE_OF_STRING: &str = "note of string";
pub const OVERTONE_OF_STRING: &str = "overtone of string";
pub const NO_CHORD_KNOWN: &str = "No chord known";
pub const TOO_LITTLE_SOUND: &str = "Too little sound follows the strum.";
pub const CHORD_NOT_KNOWN: &str = "How long each string rings is drawn once the chord is known.";
pub const RINGDOWN_TITLES: [&str; 3] = [
    "How long each string rings: higher is louder, in dB under the loudest of the take",
    "How long each string rings: higher is louder, in dB",
    "How long each string rings, in dB",
];
pub const RINGDOWN_LEGENDS: [&str; 3] = [
    "thick line: this string; dashed: cannot be told from another string; diamonds: a note that \
     should not sound; thin: noise",
    "thick: this string; dashed: may be another string's; diamonds: should not sound",
    "dashed: may be another string's",
];
pub const ONLY_SHARED: &str = "no line: another string has all of its partials (overtones) too; the verdict rests on how loud \
     they are";
pub const ONLY_SHARED_SHORT: &str = "no line: another string has all of its overtones too";
pub const NOTHING_STANDS_OUT: &str =
    "no line: none of its own partials (overtones) stands out of the others and the noise";
pub const NOTHING_STANDS_OUT_SHORT: &str = "no line: nothing of its own stands out";
pub const SECONDS_AFTER_FIRST: &str = "seconds after the first stroke";
pub const SPECTROGRAM_TITLES: [&str; 3] = [
    "Spectrogram: all pitches over time; black is the loudest, white 60 dB softer; triangles: a \
     string is struck",
    "Spectrogram: all pitches over time; triangles: a string is struck",
    "Spectrogram; triangles: strings struck",
];
pub const SPECTRUM_TITLES: [&str; 3] = [
    "Spectrum: what sounds at which pitch in the first second, in dB under the loudest; dashed: \
     what noise alone gives",
    "Spectrum: what sounds at which pitch, in dB; dashed: noise alone",
    "Spectrum: what sounds at which pitch, in dB",
];
pub const SPECTRUM_PICKED_TITLE: &str = "Spectrum: what sounds at which pitch after each pluck, the loudest of all, in dB; dashed: what \
     noise alone gives";
pub const PARTIALS_TITLES: [&str; 3] = [
    "String by string: its partials (overtones). Number 1 is its own note; height: how far it \
     stands out, in dB",
    "String by string: its overtones by number; height: how far it stands out, in dB",
    "String by string: its overtones, by number",
];
pub const PARTIAL_OWN: &str = "this string's alone";
pub const PARTIAL_SHARED: &str = "another string's too";
pub const PARTIAL_MISSING: &str = "should stand out, does not";
pub const PARTIAL_OF_ANOTHER_FRET: &str = "of another fret";
pub const LIST_HEAD: &str = "take        at  6 5 4 3 2 1";

pub fn take_head(neck: impl Display) -> String {
    format!("string note {neck}")
}

pub const BEST_FIT: &str = "Best fit";

pub fn capo_at(capo: impl Display) -> String {
    format!(", capo at {capo}")
}

pub fn drawn_fret(fret: impl Display) -> String {
    format!("(drawn: fret {fret})")
}

pub const FRET: &str = "fret";
pub const ALL: &str = "all";
pub const TAKES: &str = "takes";
pub const STRUMMED: &str = "strummed";
pub const PICKED: &str = "picked";
pub const EXPECTED: &str = "Expected";

pub fn held_against(
    held_against: impl Display,
    what: impl Display,
    manner: impl Display,
    at: impl Display,
) -> String {
    format!("{held_against}: {what}, {manner} at {at}.")
}

pub fn played(what: impl Display, manner: impl Display, at: impl Display) -> String {
    format!("{what}, {manner} at {at}")
}

/// A chord that was named, and another one sounds.
pub fn expected(chord: impl Display) -> String {
    format!("{EXPECTED}: {chord}")
}

pub fn perhaps(played: impl Display) -> String {
    format!("perhaps {played}")
}

// The key of a picture.
pub const BOX_EXPECTED: &str = "expected";
pub const BOX_HEARD: &str = "heard";

// A string's note and place.
pub fn note_not_played(note: impl Display) -> String {
    format!("{note}, x")
}

pub fn note_open(note: impl Display) -> String {
    format!("{note}, open")
}

pub fn note_at_fret(note: impl Display, fret: impl Display) -> String {
    format!("{note}, fret {fret}")
}
