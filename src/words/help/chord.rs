//! Help of the options that name a chord and a tuning.

pub const FRETS: &str = "Frets, string 6 to 1: x13331 or \"x 10 12 12 12 10\"";
pub const CHORD: &str = "Chord, as in Bb, F#m, C7, Dsus4; any of its shapes";
pub const SHAPE: &str = "Shape of the chord: E, A, D, C or G";
pub const AT: &str = "The fret that the shape is played at";
pub const FINGERS: &str = "Your fingers, strings 6 to 1: 1 to 4, x for none";
pub const TUNING: &str = "Tuning: drop d, open g, or six notes as in DADGAD";
pub const CAPO: &str = "Fret of the capo; frets and chord are counted from it";
pub const A4: &str = "Frequency of A4 in Hz, 440 if left out";
