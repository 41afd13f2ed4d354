//! Help of `ringtrue route`.

pub const CHORDS: &str = "Chords, as in \"F Bb C Dm\", \"| F | Bb C |\" or \"|: F | Bb :| x3\"";
pub const FILE: &str =
    "Text file: a list of chords, or a song sheet with the chords above the words";
pub const SHAPES: &str = "Shapes known so far, as in E,A,D (E and A if left out)";
pub const ROOT_STRINGS: &str = "Strings for the root, as in 6 or 6,5 (6 and 5 if left out)";
pub const HIGHEST_FRET: &str = "Highest fret for the barre";
pub const OPEN: &str = "Open chords may be used";
pub const POWER: &str = "Power chords only: root and fifth";
pub const RING_BARRE: &str = "Play the A shape with the ring finger flat across strings 4 to 2";
pub const WEIGHT: &str = "How much a part of the hand's work counts, as in travel=2; parts: travel, shape-change, \
     finger-lifted, stretch, barre, height";
pub const ABOUT: &str = "Find the way over the neck on which the hand works least";
pub const LONG_ABOUT: &str = "\
Find the way over the neck on which the hand works least

It chooses a shape for each chord, so that over the whole progression the hand moves, stretches, lifts fingers and changes shape as little as possible.";
pub const AFTER: &str = "\
Exit status:
  0  done
  2  an argument is wrong, or no way is known that fits";
pub const CLOSED: &str = "The progression is a loop: the way back to its beginning counts";
pub const LEFT: &str = "Draw for a left-handed player: string 6 on the right";
pub const JSON: &str = "Print JSON for programs";
