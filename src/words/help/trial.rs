//! Help of `ringtrue trial`.

pub const ABOUT: &str = "Find out how right the verdicts are on your guitar";
pub const LONG_ABOUT: &str = "\
Find out how right the verdicts are on your guitar

Leads through some thirty strums: each is announced, to be played clean or with
one fault on purpose. At the end it says how many were told rightly. The strums
and what you did are kept as a labelled set. Strike twice, or press x, and a
strum is thrown away. Where something else was heard you are asked whether it
was done as asked. Broken off, the same command goes on.";
pub const AFTER: &str = "\
Exit status:
  0  the trial, or this part of it, has ended
  2  it could not begin: an argument is wrong, or there is no microphone;
     or a strum could not be kept; or there was none";
pub const MINUTES: &str = "Length in minutes: 3, 5 or 10, with six strums a minute";
pub const CHORDS: &str = "Chords that you can play, as in \"F Bb x32010\"";
pub const FAULTS: &str =
    "Faults that you can do: touched, lifted, slack, rings, high, buzzes, missed, or none";
pub const LICENCE: &str = "Licence that others get for the strums, as in CC0-1.0";
pub const OUT: &str = "Folder that the strums are kept in; one of the guitar's if left out";
pub const ANEW: &str = "Begin another trial, though the last one is not over";
pub const SEED: &str = "Draw the plan from this number";
pub const FORGET: &str = "Take back what a trial learnt of the guitar, and end";
pub const PLAN: &str = "Write what is to be played, in its order, and end; for --from";
pub const FROM: &str =
    "Hear a recording of the strums, in the plan's order, instead of a microphone";
pub const INPUT: &str = "Microphone: its name or a part of it; soundcheck lists them";
pub const LEFT: &str = "Draw chord pictures for a left-handed player: string 6 on the right";
pub const PLAIN: &str = "Write lines, also on a terminal";
pub const JSON: &str = "Write the result as JSON, one object";
