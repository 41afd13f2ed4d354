//! Help of `ringtrue soundcheck`.

pub const ABOUT: &str = "Check microphone, room and tuning, and learn a guitar";
pub const LONG_ABOUT: &str = "\
Check microphone, room and tuning, and learn a guitar

Listens to the quiet room, then asks for the six open strings one by one and
waits until each is in tune. On a terminal the screen shows the pitch while the
peg turns, and the level. With --guitar, what was learned is kept under that
name, for --guitar of check, listen, practice and play. --delay measures how
late the microphone hears the loudspeaker, and nothing else where the guitar is
known already or none is named.";
pub const AFTER: &str = "\
Exit status:
  0  all strings were heard and are in tune, or the delay was measured
  1  a string of the recording is out of tune
  2  it could not be made: an argument is wrong, there is no microphone, a
     string is missing, or you stopped it";
pub const INPUT: &str = "Microphone: its name or a part of it";
pub const LIST: &str = "List the microphones and end";
pub const FROM: &str =
    "Listen to a recording of the six open strings, 6 to 1, instead of a microphone";
pub const DELAY: &str =
    "Play clicks and measure the delay until they are heard, for playing with a backing";
pub const LEFT: &str =
    "The guitar is strung for a left-handed player: its pictures are mirrored everywhere";
pub const PLAIN: &str = "Write lines, also on a terminal";
