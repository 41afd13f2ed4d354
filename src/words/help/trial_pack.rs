//! Help of `ringtrue trial pack`.

pub const ABOUT: &str = "Make one file of a set, to send to others";
pub const LONG_ABOUT: &str = "\
Make one file of a set, to send to others

The set is checked first. The sounds are written anew, numbered, without
tags; no names of files, folders or people and no dates are in the file. The
words about guitar, microphone and licence go along: they are shown before.";
pub const AFTER: &str = "\
Exit status:
  0  the file is written, or you said no
  2  the set is not as it should be, or an argument is wrong";
pub const SET: &str = "The set: a folder with a truth.csv";
pub const OUT: &str = "The file to write, as in my-set.tar";
pub const GUITAR_WORDS: &str = "Other words about the guitar, or \"\" for none";
pub const MICROPHONE_WORDS: &str = "Other words about the microphone, or \"\" for none";
pub const LICENCE: &str = "What others may do with it, as in \"CC0 1.0\"";
pub const YES: &str = "Do not ask before writing";
