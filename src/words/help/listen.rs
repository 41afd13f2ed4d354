//! Help of `ringtrue listen`.

pub const ABOUT: &str = "Judge strums as they are played, string by string";
pub const LONG_ABOUT: &str = "\
Judge strums as they are played, string by string

Strum, look up, change one thing, strum again. A first guess comes after half a
second, the verdict after a little more than a second. It stays until the next
strum. On a terminal it fills the screen: the key h plays how the clean chord
sounds, q ends. Both hands can stay on the guitar: with --then the next chord
comes after three clean takes in a row. A foot pedal that sends page or arrow
keys works as n (next chord) and p (pause). Elsewhere, and with --plain or
--json, it writes lines.";
pub const AFTER: &str = "\
Exit status:
  0  listening has ended
  2  it could not begin: an argument is wrong, or there is no microphone. Or the
     recording is damaged or holds no strum. Or a take could not be kept in the
     folder of --save";
pub const THEN: &str =
    "The next chord, by its name or frets; the key n goes to it; may be repeated";
pub const CLEAN: &str = "Go on to the next chord after this many clean takes in a row; 0: never";
pub const SILENCE: &str = "Go on to the next chord after this many seconds without a strum";
pub const INPUT: &str = "Microphone: its name or a part of it; soundcheck lists them";
pub const FROM: &str = "Listen to a recording instead of a microphone";
pub const SAVE: &str = "Keep each take in this folder: the sound, and its verdicts as JSON";
pub const DIARY: &str = "Keep each take in the diary too: in FILE, or in the usual one";
pub const TONES: &str = "Play tones for the verdict: one high: all is right; two low: look at it";
pub const REFERENCE: &str = "First play how the clean chord sounds";
pub const TAKES: &str = "End after this many takes";
pub const LEFT: &str = "Draw chord pictures for a left-handed player: string 6 on the right";
pub const PLAIN: &str = "Write lines, also on a terminal";
pub const JSON: &str = "Write JSON: a line for each event, with one object";
