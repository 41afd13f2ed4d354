//! Sentences of the core on the page for browsers alone; the page's own texts stand beside it in `site.mjs`.

pub const PLAYS_ALONG: &str =
    "This step plays along with a backing. The page leaves it out; the program has it.";
pub const LESSON_TUNING_UNKNOWN: &str = "No shapes are known in this lesson's tuning.";
pub const TUNING_UNKNOWN: &str =
    "no shapes are known in this tuning: write the frets, as in 000000";
pub const NO_TAKE: &str = "There is no take to report on yet.";
