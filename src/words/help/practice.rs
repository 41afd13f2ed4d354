//! Help of `ringtrue practice`.

pub const ABOUT: &str = "Lead through a lesson, with both hands on the guitar";
pub const LONG_ABOUT: &str = "\
Lead through a lesson, with both hands on the guitar

A lesson is a TOML file that a teacher writes: its steps are build, place,
climb, name, switch, hold, route and play. Every take is judged string by
string and kept in the diary. Stopping at any moment loses nothing. On a
terminal it fills the screen. Both hands may stay on the guitar: it goes on by
itself, and foot pedals that send page or arrow keys go on (n) and pause (p); q
ends. With --from the same lesson runs over a recording.";
pub const AFTER: &str = "\
Exit status:
  0  the practice has ended
  2  it could not begin: an argument or the lesson is wrong, there is no
     microphone, or nothing was heard in the recording";
pub const LESSON: &str =
    "The lesson: a TOML file, or the name of one that comes with the program (--list)";
pub const LIST: &str = "List the lessons that come with the program";
pub const NEW: &str =
    "Write a template for a lesson of your own into this file; - is standard output";
pub const CHECK: &str = "Say what the lesson asks for, or what is wrong with it, and end";
pub const FROM: &str = "Run the lesson over a recording";
pub const SAVE: &str = "Keep the sound of each take too, in a folder beside the diary";
pub const SILENCE: &str = "Go on to the next step after so many seconds without a strum";
pub const ALTERNATE: &str = "Let the steps take turns";
pub const SEED: &str = "Draw what the lesson leaves to chance from this number";
pub const INPUT: &str = "Microphone: its name or a part of it; soundcheck lists them";
pub const TONES: &str =
    "Play a tone for each verdict: one high, as it should be; two low, look at it";
pub const PLAIN: &str = "Write lines, also on a terminal";
pub const LEFT: &str = "Draw chord pictures for a left-handed player: string 6 on the right";
pub const VOLUME: &str = "Volume of a backing in dB, 0 as loud as a file";
