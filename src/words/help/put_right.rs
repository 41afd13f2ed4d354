//! Help of `ringtrue put-right`.

pub const ABOUT: &str = "Say how a take in the diary really was";
pub const LONG_ABOUT: &str = "\
Say how a take in the diary really was

The diary keeps what was heard and what you say; progress and the report count
what you say. Without an option it lists the last takes, 1 the last one.";
pub const AFTER: &str = "\
Exit status:
  0  done
  2  the diary cannot be opened, there is no such take, or an argument is wrong";
pub const DIARY: &str = "The diary, a file; the usual one if left out";
pub const TAKE: &str = "Which take, counted back: 1 is the last one";
pub const STRING: &str = "This string (6 to 1) was right; may be repeated";
pub const ANOTHER_CHORD: &str = "Another chord was played";
pub const FORGET: &str = "Do not count this take";
pub const AS_HEARD: &str = "Take back what you said: it was as it was heard";
