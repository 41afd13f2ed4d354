//! Help of `ringtrue report`.

pub const ABOUT: &str = "Sum up many takes on one page for the teacher, with pictures and sound";
pub const LONG_ABOUT: &str = "\
Sum up many takes on one page for the teacher, with pictures and sound

--chord or --frets name one chord for all recordings. For several chords write a
table into their folder: chords.csv, with the columns file and chord (or frets).
Takes that listen saved know their chord and their verdicts. Otherwise a
recording's name may begin with its chord: F-1.wav, Bb_A-shape.wav,
x13331-monday.wav.";
pub const AFTER: &str = "\
Exit status:
  0  the report was made
  2  it was not, or not of everything: an argument is wrong, a recording cannot
     be read, there is no take, or the page cannot be written";
pub const PATHS: &str = "Recordings, or folders of them";
pub const DIARY: &str = "Sum up the takes of this diary";
pub const SINCE: &str = "From the diary, only takes of this day and later, as in 2026-03-02";
pub const BEFORE: &str = "From the diary, only takes of days before this one";
pub const OUT: &str = "Page to write, one HTML file with all in it";
pub const TITLE: &str = "What the page is called";
pub const LEARNER: &str = "Who practised, for the head of the page";
pub const LAST: &str = "The page of the report before: what has changed since is said first, its notes are carried on; \
     the page that --out replaces, if left out";
pub const CSV: &str =
    "Print the numbers as comma-separated values, a line for each chord and string";
pub const JSON: &str = "Print the numbers as JSON";
