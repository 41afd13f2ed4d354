//! From a pattern of verdicts to its likely cause in the hand, and one change to try first.

use serde::{Deserialize, Serialize};

/// Likely causes of what was heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// Several strings are off the guitar's tuning alike, or one is flat: no finger does that.
    TuneFirst,
    /// Everything is dull at once: a palm or sleeve on the strings, or old strings.
    AllDull,
    /// Everything dies early at this one fret, and not at others.
    FretOfGuitar,
    /// The strings that the barre alone holds are dead or buzz; the fingertips' strings ring.
    BarreSlack,
    /// One inner string of the barre alone is dead or buzzes: it lies in the crease of a joint.
    BarreCrease,
    /// Strings sound open: no finger holds them.
    NothingDown,
    /// A fingertip's string sounds the barre's fret.
    FingerNotDown,
    /// Strings sound one fret off: the hand has slipped.
    HandSlipped,
    /// A string is dead beside a finger that bends over it.
    FingerLeans,
    /// A fingertip's own string is dead or dies early.
    FingerFlat,
    /// A fingertip's string buzzes.
    FarFromFret,
    /// A low string rings that should be quiet.
    LowStringRings,
    /// Another string rings that should be quiet.
    OtherStringRings,
    /// A string is sharp: pressed too hard, or pulled sideways.
    PressedSharp,
    /// A string is quiet that this fingering lets go quiet: no fault.
    UsualQuiet,
    /// The strum does not tell what a string did.
    Covered,
}

/// A likely cause and one change to try.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Advice {
    pub cause: Cause,
    /// The strings that it explains, 6 to 1.
    pub strings: Vec<u8>,
    /// What was heard and what it likely comes from: one or two sentences.
    pub what: String,
    /// The one change to try first: one or two sentences.
    #[serde(rename = "try")]
    pub try_first: String,
}
