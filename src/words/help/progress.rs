//! Help of `ringtrue progress`.

pub const ABOUT: &str = "Show what the diary tells, and what to practise next";
pub const LONG_ABOUT: &str = "\
Show what the diary tells, and what to practise next

What comes next: chords whose last 20 takes were often not clean, and chords
not played for long; each with its reason. Then tables by day, chord, shape,
fret, string and change of chord, each share with how sure it is.";
pub const AFTER: &str = "\
Exit status:
  0  done
  2  the diary cannot be opened, or an argument is wrong";
pub const DIARY: &str = "The diary, a file; the usual one if left out";
pub const DAYS: &str = "Only the last days, this many";
pub const SINCE: &str = "Only takes from this day on, as in 2026-11-01";
pub const BEFORE: &str = "Only takes from before this day";
pub const CHORD: &str = "Only this chord, as in Bb";
pub const GUITAR: &str = "Only this guitar";
pub const CSV: &str = "Print the takes instead, as comma-separated values, a line for each";
pub const JSON: &str = "Print the takes instead, as JSON, one object a line; --import reads it";
pub const PICTURE: &str = "Draw a picture of it too: a file that ends in .png or .svg";
pub const IMPORT: &str =
    "Add takes from files: JSON lines as --json prints them, or takes that listen saved";
pub const FORGET: &str =
    "Delete the takes for good, with their sound; to delete all of them add --yes";
pub const YES: &str = "Do not ask before deleting";
