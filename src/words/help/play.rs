//! Help of `ringtrue play`.

pub const ABOUT: &str =
    "Play along with a backing and see whether each chord came in time and clean";
pub const LONG_ABOUT: &str = "\
Play along with a backing and see whether each chord came in time and clean

Wear headphones: the microphone should hear the guitar alone. On a terminal it begins with a strum or a key. The screen shows bar, beat, chord and what comes next. At the end come a table by bar and by change, how steady it was and which change to drill. Two bars are counted in; --count-in says how many. Every strum that was judged goes into the diary. With --from the same is said of a recording.";
pub const AFTER: &str = "\
Exit status:
  0  it was played and judged
  2  it was not, or not to its end: an argument is wrong, there is no microphone
     or loudspeaker, no strum was found, or the recording is damaged";
pub const STRUM: &str = "Where strums are wanted: chord (once for each), beat or eighth";
pub const CLOSED: &str = "The progression is a loop: the way back to its beginning counts";
pub const FROM: &str = "Judge this recording of somebody playing along";
pub const START: &str = "Where the count-in starts in that recording; found if left out";
pub const INPUT: &str = "Microphone: its name or a part of it; soundcheck lists them";
pub const SAVE: &str = "Keep what the microphone heard in this file, WAV";
pub const LEFT: &str = "Draw chord pictures for a left-handed player: string 6 on the right";
pub const PLAIN: &str = "Write lines, also on a terminal";
pub const JSON: &str = "Print JSON for programs";
