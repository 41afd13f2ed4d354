//! Likely causes: what each is called, and what the rules say of it.

pub const TUNE_FIRST: &str = "the guitar is out of tune";
pub const NOTHING_RINGS: &str = "the hand damps the strings";
pub const ALL_DULL: &str = "most strings are dull";
pub const FRET_OF_GUITAR: &str = "this fret of the guitar";
pub const BARRE_SLACK: &str = "the barre presses too little";
pub const BARRE_CREASE: &str = "a string lies in a crease of the finger";
pub const STRUM_HARD: &str = "a very hard strum, or low strings";
pub const NOTHING_DOWN: &str = "no finger is down";
pub const FINGER_NOT_DOWN: &str = "a finger is not down, or on the wrong string";
pub const HAND_SLIPPED: &str = "the hand is a fret off";
pub const FINGER_LEANS: &str = "a finger leans on the string beside it";
pub const FINGER_FLAT: &str = "a finger lies too flat";
pub const FAR_FROM_FRET: &str = "a finger too far from its fret";
pub const STRUM_MISSED: &str = "the strum does not reach the string";
pub const LOW_STRING_RINGS: &str = "a low string is not kept quiet";
pub const OTHER_STRING_RINGS: &str = "a string is not kept quiet";
pub const PRESSED_SHARP: &str = "a string is pressed sharp";
pub const USUAL_QUIET: &str = "quiet, as is usual with this fingering";
pub const COVERED: &str = "other strings cover it";
