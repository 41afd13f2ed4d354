//! Help of `ringtrue check`.

pub const ABOUT: &str = "Judge recordings of a chord, string by string";
pub const LONG_ABOUT: &str = "\
Judge recordings of a chord, string by string

Without --frets and --chord, each strum is compared with all chord shapes that
are known here. It is judged where one of them is surely the one played.";
pub const AFTER: &str = "\
Exit status:
  0  every string that could be judged is as it should be
  1  at least one string is not
  2  something could not be judged: an argument or a file is wrong, no strum was
     found in a file, or no string of it could be judged";
pub const FILES: &str = "Recordings: WAV, FLAC, MP3, M4A, Vorbis or Opus in OGG or WebM";
pub const LEFT: &str = "Mirror the picture for a left-handed guitar";
pub const JSON: &str = "Write JSON: a line for each file, with one object";
