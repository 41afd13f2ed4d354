//! Help of `ringtrue trial add`.

pub const ABOUT: &str = "Add to a set what you put right";
pub const LONG_ABOUT: &str = "\
Add to a set what you put right

Takes of the diary of which you said that a string was right, with their
sound: practice keeps it beside the diary, listen --save in a folder. They are
marked as your word. Strings that you said nothing of are not counted.";
pub const AFTER: &str = "\
Exit status:
  0  done
  2  the set or the diary cannot be had, or an argument is wrong";
pub const SET: &str = "The set: a folder; it is made where it is missing";
pub const DIARY: &str = "The diary, a file; the usual one if left out";
pub const SAVED: &str = "Folder that listen --save kept takes in; may be given again";
pub const GUITAR_WORDS: &str = "The guitar in words, instead of its name in the diary";
pub const MICROPHONE_WORDS: &str = "The microphone in words";
pub const LICENCE: &str = "What others may do with it, as in \"CC0 1.0\"";
