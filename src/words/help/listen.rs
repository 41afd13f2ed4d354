//! Help of `ringtrue listen`.

pub const ABOUT: &str = "Judge strums as they are played, string by string";
pub const LONG_ABOUT: &str = "\
Judge strums as they are played, string by string

Strum, look up, read, adjust, strum again: the first guess is there after
half a second, the verdict after a good second, and it stays until the next
strum. On a terminal it fills the screen: h plays how the clean chord sounds, q
ends. Both hands may stay on the guitar: with --then it goes on after three
clean takes in a row. Foot pedals that send page or arrow keys go on (n) and
pause (p). Elsewhere, and with --plain or --json, it writes lines.";
pub const AFTER: &str = "\
Exit status:
  0  listening has ended
  2  it could not begin: an argument is wrong, or there is no microphone. Or the
     recording is damaged or holds no strum. Or a take could not be kept in the
     folder of --save";
pub const THEN: &str = "A further chord or its frets, reached with the key n; may be given again";
pub const CLEAN: &str = "Go on to the next chord after so many clean takes in a row; 0 never does";
pub const SILENCE: &str = "Go on to the next chord after so many seconds without a strum";
pub const INPUT: &str = "Microphone: its name or a part of it; soundcheck lists them";
pub const FROM: &str = "Hear a recording instead of a microphone";
pub const SAVE: &str = "Keep each take in this folder: the sound, and its verdicts as JSON";
pub const DIARY: &str = "Keep each take in the diary too: in FILE, or in the usual one";
pub const TONES: &str =
    "Play a tone for each verdict: one high, as it should be; two low, look at it";
pub const REFERENCE: &str = "Play how the clean chord sounds, to begin with";
pub const TAKES: &str = "End after so many takes";
pub const LEFT: &str = "Draw chord pictures for a left-handed player: string 6 on the right";
pub const PLAIN: &str = "Write lines, also on a terminal";
pub const JSON: &str = "Write JSON, one object a line and event";
