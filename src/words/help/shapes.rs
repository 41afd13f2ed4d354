//! Help of `ringtrue shapes`.

pub const ABOUT: &str = "List and draw chord shapes: of a chord, on a root string, around a fret";
pub const LONG_ABOUT: &str = "\
List and draw chord shapes: of a chord, on a root string, around a fret

Without any option it prints the movable shapes, the open chords and the notes along strings 6 and 5. Chords are named, and frets counted, from the capo.";
pub const AFTER: &str = "\
Exit status:
  0  done
  2  an argument is wrong, or no shape is known that fits";
pub const CHORD: &str = "Chord to draw, as in Bb, F#m, C7, Dsus4 or C/G";
pub const FRETS: &str =
    "Frets to name and draw, string 6 to string 1, as in x13331 or \"x 10 12 12 12 10\"";
pub const SHAPE: &str = "Only this shape: E, A, D, C or G";
pub const ROOT_STRING: &str = "Only with the root on this string: 6, 5 or 4";
pub const AROUND: &str = "Only where the hand stands within two frets of this one";
pub const NOTES: &str =
    "Print the notes along strings 6 and 5, or along the root string; without a chord, these alone";
pub const LEFT: &str = "Draw for a left-handed player: string 6 on the right";
pub const JSON: &str = "Print JSON for programs";
