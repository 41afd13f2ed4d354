//! Help of `ringtrue demo`.

pub const ABOUT: &str =
    "Write the sound of a chord to a file: clean, or with a fault on any string";
pub const LONG_ABOUT: &str = "\
Write the sound of a chord to a file: clean, or with a fault on any string

The strings are computed, not recorded. The same options give the same file.";
pub const AFTER: &str = "\
Faults, as in --fault 3=muted --fault 2=buzzing:
  muted        a finger only touches the string: a thud
  choked       half pressed: it sounds, and dies within a third of a second
  buzzing      it strikes a fret while it rings
  rattling     half pressed, right over its own fret: it buzzes, and dies sooner
  fret-N       it rings at fret N instead
  ringing      a string that should be quiet rings, open (fret-N: at fret N)
  missed       it is not struck at all

Exit status:
  0  the file was written
  2  it was not: an argument is wrong, or the file cannot be written";
pub const OUT: &str = "The file to write, a WAV file";
pub const FAULTS: &str = "A fault on a string, as in 3=muted; may be repeated";
pub const UP: &str = "From string 1 to string 6";
pub const PICKED: &str = "Pick the strings one at a time";
pub const STEP: &str = "Time from one string to the next, in milliseconds: 5 is fast, 40 slow";
pub const NO_PLECTRUM: &str = "Pluck with the fingers: softer than the plectrum";
pub const HARD: &str =
    "Strike hard, as when playing loud; a clean string then meets the frets for a moment";
pub const SEED: &str = "Another guitar and another hand for every number; 0 is the usual guitar";
