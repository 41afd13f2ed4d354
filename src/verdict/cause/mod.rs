//! Likely causes in the hand of a pattern of verdicts, and one change to try first.
//!
//! The rules are a table ([`rules`]); what holds the strings comes from the fingering ([`Hand`]). A
//! rule speaks of strings of which its conditions were heard, and of no others.
//!
//! [`Hand`] says what holds each string: the index finger's barre, another finger across, a fingertip, nothing. At
//! most two causes are told. Where a later rule explains the same strings, its words are added as "Or ...". The
//! takes before count three times. A fault after two good takes asks for another strum first. Advice that was given
//! twice gives way to the next thing to try. Dullness at one fret alone is put down to the guitar where chords
//! elsewhere rang.

mod engine;
mod facts;
mod hand;
pub mod rules;
#[cfg(test)]
mod tests;
mod words;

pub use hand::{FingersError, Hand, HeldBy};

use serde::{Deserialize, Serialize};

use super::{JudgedTake, Reason, Verdict};

/// Likely causes of what was heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// Several strings are off the guitar's tuning alike, or one is flat: no finger does that.
    TuneFirst,
    /// Almost no string rings: the hand lies on them without pressing, or damps them.
    NothingRings,
    /// Most strings are dull at once: a palm or sleeve on the strings, or old strings.
    AllDull,
    /// Most strings die early at this one fret, and not at others.
    FretOfGuitar,
    /// The strings that the barre alone holds are dead or buzz; the fingertips' strings ring.
    BarreSlack,
    /// One inner string of the barre alone is dead or buzzes: it lies in the crease of a joint.
    BarreCrease,
    /// Most strings buzz: a hard strum, or strings that lie low.
    StrumHard,
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
    /// The strum did not reach a string: an open one that is dead with no finger near, or one at the edge of the stroke.
    StrumMissed,
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
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Advice {
    /// The likely cause.
    pub cause: Cause,
    /// The strings that it explains, 6 to 1.
    pub strings: Vec<u8>,
    /// Sentence on what was heard and what it likely comes from: one or two sentences.
    pub what: String,
    /// The one change to try first: one or two sentences.
    #[serde(rename = "try")]
    pub try_first: String,
}

impl JudgedTake {
    /// Explains the verdicts: fills [`JudgedTake::advice`] by how `hand` holds the chord, and takes a string
    /// that its fingering lets go quiet for silent rather than at fault.
    ///
    /// `history` are the takes before this one, the oldest first; it may be empty.
    pub fn explain(&mut self, hand: &Hand, history: &[JudgedTake]) {
        let judged = self.judged();
        for (string, free) in self.strings.iter_mut().zip(hand.free) {
            if free && judged {
                (string.verdict, string.reason) = (Verdict::Unsure, Some(Reason::NotAsked));
            }
            let quiet = matches!(string.verdict, Verdict::Muted | Verdict::Choked);
            if quiet && hand.may_go_quiet == Some(string.string) {
                string.verdict = Verdict::Silent;
            }
        }
        let history = if hand.moves { &[] } else { history };
        self.advice = if judged {
            engine::advise(self, hand, history)
        } else {
            Vec::new()
        };
    }
}
