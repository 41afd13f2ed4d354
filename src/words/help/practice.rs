//! Help of `ringtrue practice`.

pub const ABOUT: &str = "Lead through a lesson, with both hands on the guitar";
pub const LONG_ABOUT: &str = "\
Lead through a lesson, with both hands on the guitar

A lesson is a TOML file that a teacher writes: its steps are build, place,
climb, name, switch, hold, route and play. Every take is judged string by
string and kept in the diary. Stopping at any moment loses nothing. On a
terminal it fills the screen. Both hands can stay on the guitar: it goes on by
itself. A foot pedal that sends page or arrow keys works as n (next step) and p
(pause); q ends. With --from the lesson listens to a recording.";
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
pub const CHECK: &str = "Only say what the lesson asks for, or what is wrong with it";
pub const FROM: &str = "Listen to a recording instead of a microphone";
pub const SAVE: &str = "Keep the sound of each take too, in a folder beside the diary";
pub const SILENCE: &str = "Go on to the next step after this many seconds without a strum";
pub const ALTERNATE: &str = "Let the steps take turns";
pub const SEED: &str =
    "A number for what the lesson leaves to chance; the same number, the same order";
pub const INPUT: &str = "Microphone: its name or a part of it; soundcheck lists them";
pub const TONES: &str = "Play tones for the verdict: one high: all is right; two low: look at it";
pub const PLAIN: &str = "Write lines, also on a terminal";
pub const LEFT: &str = "Draw chord pictures for a left-handed player: string 6 on the right";
