//! The rules as a table: what must have been heard, why that points to the cause, and what it says.
//!
//! All of it is common practice among teachers unless a rule names a source. The sentences stand in `words::advice`.

use super::Cause;
use super::hand::HeldBy;
use crate::words::advice::{self, Says};

/// A condition on one string.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Each {
    /// Held by one of these.
    By(&'static [HeldBy]),
    /// Muted or choked.
    Dead,
    /// Muted, or open whether muted or choked: a string that surely dies early was struck.
    Unheard,
    /// Rings with a buzz.
    Buzzes,
    /// Muted, choked, or rings with a buzz.
    DeadOrBuzzes,
    /// Rings, at another fret: open.
    SoundsOpen,
    /// Rings, at another fret: the index finger's barre.
    SoundsBarre,
    /// Rings, at another fret: one up or down.
    OneOff,
    /// Sounds though it must not.
    Sounds,
    /// ... and is pressed down at a fret.
    Pressed,
    /// Clean, but so sharp that it is worth a word ([`off_cents`](crate::verdict::StringVerdict::off_cents)).
    Sharp,
    /// Clean, but sharp or flat by that much.
    Off,
    /// Quiet, which this fingering allows.
    QuietAllowed,
    /// Another usual fingering of the same frets would let it go quiet.
    QuietOtherwise,
    /// The recording cannot tell.
    Unsure,
    /// Between the first and the last string under the barre.
    Inside,
    /// A fingertip holds the string beside it.
    BesideTip,
    /// ... and its own string rings.
    BesideRingingTip,
    /// No fingertip holds a string beside it.
    AwayFromTips,
    /// Thicker than every string that should sound.
    Below,
    /// Edge of the strings that should sound, thick or thin, where most of them are not dead.
    AtEdge,
}

/// A condition on all strings together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum All {
    /// Number of strings that there are at least.
    AtLeast(usize),
    /// No other string that the same finger holds is dead or buzzes.
    AloneUnderBarre,
    /// Strings that fingertips hold, most of which ring.
    TipsRing,
    /// Two thirds of the strings that should sound, three at least.
    MostStrings,
    /// All of them off in one direction.
    SameWay,
    /// Four strings at least are dead, and two at most ring.
    AlmostNothing,
    /// The index finger lies across several strings.
    BarreHeld,
    /// Clean chords at other frets for the most part in the last takes.
    FineElsewhere,
    /// The guitar as a whole is off ([`guitar_is_off`](crate::verdict::Take::guitar_is_off)).
    GuitarOff,
    /// One sweep over the strings, and not one string after the other.
    Strummed,
}

/// One rule.
#[derive(Debug)]
pub struct Rule {
    /// The cause that it names.
    pub cause: Cause,
    /// Reason why what was heard points to the cause.
    pub reason: &'static str,
    /// Conditions on each string that the rule is about.
    pub each: &'static [Each],
    /// Conditions on all together.
    pub all: &'static [All],
    /// Sentences that it says.
    pub says: Says,
}

const HELD: &[HeldBy] = &[HeldBy::Barre, HeldBy::Across, HeldBy::Tip];
const EXPECTED: &[HeldBy] = &[HeldBy::Barre, HeldBy::Across, HeldBy::Tip, HeldBy::Open];

/// All rules, the most useful first: a guitar out of tune or a whole hand that damps spoils
/// everything after it; then wrong notes, dead strings, buzz, strings that should be quiet, pitch.
pub const RULES: &[Rule] = &[
    Rule {
        cause: Cause::TuneFirst,
        reason: "no hand pulls several strings off alike; tuning does",
        each: &[Each::Off],
        all: &[All::AtLeast(2), All::SameWay],
        says: advice::SEVERAL_STRINGS_OFF,
    },
    Rule {
        cause: Cause::NothingRings,
        reason: "a barre that touches the strings without pressing them damps them all, under the fingertips too",
        each: &[Each::By(EXPECTED), Each::Dead],
        all: &[All::AlmostNothing, All::BarreHeld],
        says: advice::BARRE_DAMPS_ALL,
    },
    Rule {
        cause: Cause::NothingRings,
        reason: "strings that no finger has in common are dead all at once where a hand lies on them, or presses none of them",
        each: &[Each::By(EXPECTED), Each::Dead],
        all: &[All::AlmostNothing],
        says: advice::HAND_DAMPS_ALL,
    },
    Rule {
        cause: Cause::FretOfGuitar,
        reason: "a dead spot or a high fret stays where it is on the neck, while a hand's fault moves along with it (dead spots: Fleischer, ASA 1999)",
        each: &[Each::By(EXPECTED), Each::Dead],
        all: &[All::MostStrings, All::FineElsewhere],
        says: advice::DULL_AT_THIS_FRET,
    },
    Rule {
        cause: Cause::AllDull,
        reason: "what damps all strings alike lies across all of them",
        each: &[Each::By(EXPECTED), Each::Dead],
        all: &[All::MostStrings],
        says: advice::ALL_DULL,
    },
    Rule {
        cause: Cause::StrumHard,
        reason: "strings touch the frets when struck hard, in good playing too (Woodhouse 2017)",
        each: &[Each::By(EXPECTED), Each::Buzzes],
        all: &[All::MostStrings],
        says: advice::ALL_BUZZ,
    },
    Rule {
        cause: Cause::NothingDown,
        reason: "a string sounds its open note only where nothing presses it down",
        each: &[Each::By(HELD), Each::SoundsOpen],
        all: &[],
        says: advice::SOUNDS_OPEN,
    },
    Rule {
        cause: Cause::FingerNotDown,
        reason: "the barre lies under every fingertip, so its fret is what a string sounds when the fingertip does not press",
        each: &[Each::By(&[HeldBy::Tip, HeldBy::Across]), Each::SoundsBarre],
        all: &[],
        says: advice::SOUNDS_THE_BARRE,
    },
    Rule {
        cause: Cause::HandSlipped,
        reason: "a hand that has moved takes its strings along by one fret",
        each: &[Each::By(HELD), Each::OneOff],
        all: &[All::SameWay],
        says: advice::ONE_FRET_OFF,
    },
    Rule {
        cause: Cause::BarreCrease,
        reason: "the finger is soft at the creases of its joints, and a string that lies in one is not pressed",
        each: &[Each::By(&[HeldBy::Barre]), Each::Inside, Each::DeadOrBuzzes],
        all: &[All::AloneUnderBarre, All::TipsRing],
        says: advice::BARRE_CREASE,
    },
    Rule {
        cause: Cause::BarreSlack,
        reason: "where fingertips' strings ring and the barre's do not, the barre alone is to blame",
        each: &[Each::By(&[HeldBy::Barre]), Each::DeadOrBuzzes],
        all: &[All::TipsRing],
        says: advice::BARRE_SLACK,
    },
    Rule {
        cause: Cause::UsualQuiet,
        reason: "a ring finger that lies across strings 4 to 2 can hardly be arched off string 1",
        each: &[Each::Dead, Each::QuietOtherwise],
        all: &[],
        says: advice::QUIET_WITH_RING_FINGER_TOO,
    },
    Rule {
        cause: Cause::FingerLeans,
        reason: "nothing presses an open string; what stops it is a finger beside it that bends over",
        each: &[Each::By(&[HeldBy::Open]), Each::Dead, Each::BesideTip],
        all: &[],
        says: advice::FINGER_LEANS,
    },
    Rule {
        cause: Cause::BarreSlack,
        reason: "a finger other than the index that lies across several strings presses the outer ones least",
        each: &[Each::By(&[HeldBy::Across]), Each::DeadOrBuzzes],
        all: &[],
        says: advice::FINGER_ACROSS,
    },
    Rule {
        cause: Cause::FingerFlat,
        reason: "a fingertip that comes down flat or short of the fret does not press its string down",
        each: &[Each::By(&[HeldBy::Tip]), Each::Dead],
        all: &[],
        says: advice::FINGER_FLAT,
    },
    Rule {
        cause: Cause::StrumMissed,
        reason: "a stroke begins too late or ends too soon, never in between; a string so missed and a dead one sound alike",
        each: &[Each::By(EXPECTED), Each::Unheard, Each::AtEdge],
        all: &[All::Strummed],
        says: advice::STRUM_MISSED_TOO,
    },
    Rule {
        cause: Cause::FingerLeans,
        reason: "a finger that bends over stops the string beside it",
        each: &[Each::By(HELD), Each::Dead, Each::BesideRingingTip],
        all: &[],
        says: advice::FINGER_LEANS_TOO,
    },
    Rule {
        cause: Cause::BarreSlack,
        reason: "a barre that has not settled lets the fingertips slip too, so it comes first",
        each: &[Each::By(&[HeldBy::Barre]), Each::DeadOrBuzzes],
        all: &[],
        says: advice::BARRE_AND_TIPS,
    },
    Rule {
        cause: Cause::StrumMissed,
        reason: "an open string with no finger near it is dead only where it is not struck, or something else lies on it",
        each: &[Each::By(&[HeldBy::Open]), Each::Dead, Each::AwayFromTips],
        all: &[],
        says: advice::OPEN_STRING_DEAD,
    },
    Rule {
        cause: Cause::FarFromFret,
        reason: "a string pressed far from its fret, or lightly, rattles on it",
        each: &[Each::By(&[HeldBy::Tip]), Each::Buzzes],
        all: &[],
        says: advice::FAR_FROM_FRET,
    },
    Rule {
        cause: Cause::FretOfGuitar,
        reason: "no finger is on an open string, so its buzz comes from the guitar or the strum",
        each: &[Each::By(&[HeldBy::Open]), Each::Buzzes],
        all: &[],
        says: advice::OPEN_STRING_BUZZES,
    },
    Rule {
        cause: Cause::LowStringRings,
        reason: "a string sounds a fret only where something presses it down, and over there only the barre does",
        each: &[Each::Sounds, Each::Pressed, Each::Below],
        all: &[],
        says: advice::LOW_STRING_PRESSED,
    },
    Rule {
        cause: Cause::LowStringRings,
        reason: "a low string that nothing touches rings whenever the strum reaches it",
        each: &[Each::Sounds, Each::Below],
        all: &[],
        says: advice::LOW_STRING_RINGS,
    },
    Rule {
        cause: Cause::OtherStringRings,
        reason: "a string between or above the fingers is kept quiet by the flesh of a finger beside it",
        each: &[Each::Sounds],
        all: &[],
        says: advice::OTHER_STRING_RINGS,
    },
    Rule {
        cause: Cause::PressedSharp,
        reason: "pressing or pulling stretches a string and sharpens it; nothing in the hand flattens one",
        each: &[Each::By(HELD), Each::Sharp],
        all: &[],
        says: advice::PRESSED_SHARP,
    },
    Rule {
        cause: Cause::TuneFirst,
        reason: "a finger cannot flatten a string, and none is on an open one",
        each: &[Each::Off],
        all: &[],
        says: advice::STRING_OFF,
    },
    Rule {
        cause: Cause::TuneFirst,
        reason: "all strings alike is the tuning, not the hand",
        each: &[Each::By(EXPECTED)],
        all: &[All::GuitarOff],
        says: advice::GUITAR_OFF,
    },
    Rule {
        cause: Cause::UsualQuiet,
        reason: "a ring finger that lies across strings 4 to 2 can hardly be arched off string 1",
        each: &[Each::QuietAllowed],
        all: &[],
        says: advice::QUIET_WITH_RING_FINGER,
    },
    Rule {
        cause: Cause::Covered,
        reason: "picked alone a string has nothing beside it that sounds the same partials",
        each: &[Each::Unsure],
        all: &[All::Strummed],
        says: advice::NOT_TOLD,
    },
];
