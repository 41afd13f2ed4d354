//! The rules as a table: what must have been heard, why that points to the cause, and the words.
//!
//! All of it is common practice among teachers unless a rule names a source. Words in `{}` are filled
//! in by [`super::wording`]; `[one|many]` stands for the word that goes with one string or with several.

use super::Cause;
use super::hand::Held;

/// A condition on one string.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Each {
    /// Held by one of these.
    By(&'static [Held]),
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
    /// Clean, but sharp by [`STRING_OFF_CENTS`](super::super::wording::STRING_OFF_CENTS) or more.
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
    /// At the thick or the thin edge of the strings that should sound, most of which are not dead.
    AtEdge,
}

/// A condition on all strings together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum All {
    /// So many strings at least.
    AtLeast(usize),
    /// No other string that the same finger holds is dead or buzzes.
    AloneUnderBarre,
    /// There are strings that fingertips hold, and most of them ring.
    TipsRing,
    /// Two thirds of the strings that should sound, three at least.
    MostStrings,
    /// All of them off in one direction.
    SameWay,
    /// Four strings at least are dead, and two at most ring.
    AlmostNothing,
    /// The index finger lies across several strings.
    BarreHeld,
    /// In the last takes, chords at other frets were clean for the most part.
    FineElsewhere,
    /// The guitar as a whole is off by [`GUITAR_OFF_CENTS`](super::super::wording::GUITAR_OFF_CENTS) or more.
    GuitarOff,
    /// In one sweep, not string by string.
    Strummed,
}

/// One rule.
#[derive(Debug)]
pub struct Rule {
    /// The cause that it names.
    pub cause: Cause,
    /// Why what was heard points to the cause.
    pub reason: &'static str,
    /// Conditions on each string that the rule is about.
    pub each: &'static [Each],
    /// Conditions on all together.
    pub all: &'static [All],
    /// Sentence on what was heard and what it likely comes from. Empty: never told by itself.
    pub what: &'static str,
    /// The one change to try first.
    pub try_first: &'static str,
    /// Advice where that was said of the last takes too, and it has not helped; may be empty.
    pub then: &'static str,
    /// The cause as a further explanation of strings that another rule speaks of; may be empty.
    pub otherwise: &'static str,
}

const HELD: &[Held] = &[Held::Barre, Held::Across, Held::Tip];
const EXPECTED: &[Held] = &[Held::Barre, Held::Across, Held::Tip, Held::Open];

const NO_RULE: Rule = Rule {
    cause: Cause::Covered,
    reason: "",
    each: &[],
    all: &[],
    what: "",
    try_first: "",
    then: "",
    otherwise: "",
};

/// All rules, the most useful first: a guitar out of tune or a whole hand that damps spoils
/// everything after it; then wrong notes, dead strings, buzz, strings that should be quiet, pitch.
pub const RULES: &[Rule] = &[
    Rule {
        cause: Cause::TuneFirst,
        reason: "no hand pulls several strings off alike; tuning does",
        each: &[Each::Off],
        all: &[All::AtLeast(2), All::SameWay],
        what: "{S} are {cents} cents {pitch} against the other strings. Several alike: that is the tuning, not your hand.",
        try_first: "Tune the guitar first, then strum again.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::NothingRings,
        reason: "a barre that touches the strings without pressing them damps them all, under the fingertips too",
        each: &[Each::By(EXPECTED), Each::Dead],
        all: &[All::AlmostNothing, All::BarreHeld],
        what: "{S} are dead all at once: the barre touches the strings without pressing them down, or the strumming hand lies on them.",
        try_first: "Set the barre alone right behind its fret, and press before you strum. When it rings, add the fingertips.",
        then: "Hold the chord and pick one string after the other, to see which of them ring. Keep the strumming hand off the strings.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::NothingRings,
        reason: "strings that no finger has in common are dead all at once where a hand lies on them, or presses none of them",
        each: &[Each::By(EXPECTED), Each::Dead],
        all: &[All::AlmostNothing],
        what: "{S} are dead all at once: the fingers touch the strings without pressing them down, or the strumming hand lies on them.",
        try_first: "Press before you strum, each fingertip close behind its fret, and keep the strumming hand off the strings.",
        then: "Strum the open strings alone. When they ring, add one finger after the other.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::FretOfGuitar,
        reason: "a dead spot or a high fret stays where it is on the neck, while a hand's fault moves along with it (dead spots: Fleischer, ASA 1999)",
        each: &[Each::By(EXPECTED), Each::Dead],
        all: &[All::MostStrings, All::FineElsewhere],
        what: "Most strings {do} at this fret, while your last chords at other frets rang. That may be the guitar: a dead spot or a high fret.",
        try_first: "Play the same shape one fret beside it. If it rings there, have the guitar looked at.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::AllDull,
        reason: "what damps all strings alike lies across all of them",
        each: &[Each::By(EXPECTED), Each::Dead],
        all: &[All::MostStrings],
        what: "Most strings {do}. It may be a palm or a sleeve on them, a hand that does not press yet, or old strings.",
        try_first: "Keep the heel of the strumming hand off the strings and press before you strum. If it stays dull, play the shape one fret beside: where only this fret is dull, it may be the guitar.",
        then: "Strum the open strings alone. If they are dull too, new strings come before any change in the hand.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::StrumHard,
        reason: "strings touch the frets when struck hard, in good playing too (Woodhouse 2017)",
        each: &[Each::By(EXPECTED), Each::Buzzes],
        all: &[All::MostStrings],
        what: "Most strings buzz, more than one finger can do: a very hard strum does that, or strings that lie low over the frets.",
        try_first: "Strum the same chord half as hard. If it still buzzes, have the height of the strings looked at.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::NothingDown,
        reason: "a string sounds its open note only where nothing presses it down",
        each: &[Each::By(HELD), Each::SoundsOpen],
        what: "{S} [sounds|sound] open: no finger presses [it|them] down.",
        try_first: "Put that finger down right behind the fret before you strum, and check that it stands on the right string.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::FingerNotDown,
        reason: "the barre lies under every fingertip, so its fret is what a string sounds when the fingertip does not press",
        each: &[Each::By(&[Held::Tip, Held::Across]), Each::SoundsBarre],
        what: "{S} [sounds|sound] the barre's fret ({barre}): {finger} [is|are] not down, or on the wrong string.",
        try_first: "Look which string that finger stands on, and press it down behind its fret.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::HandSlipped,
        reason: "a hand that has moved takes its strings along by one fret",
        each: &[Each::By(HELD), Each::OneOff],
        all: &[All::SameWay],
        what: "{S} [sounds|sound] one fret too {way}: the hand has slipped, or began at the wrong fret.",
        try_first: "Look at the fret before you strum, and move the {whole} a fret {back}.",
        otherwise: "the hand stands a fret too {way}",
        ..NO_RULE
    },
    Rule {
        cause: Cause::BarreCrease,
        reason: "the finger is soft at the creases of its joints, and a string that lies in one is not pressed",
        each: &[Each::By(&[Held::Barre]), Each::Inside, Each::DeadOrBuzzes],
        all: &[All::AloneUnderBarre, All::TipsRing],
        what: "Of the strings under the barre {s} alone {does}: it probably lies in a crease of your finger.",
        try_first: "Shift the index finger a little along its length, up or down, until the string lies on firm flesh.",
        then: "Turn the index finger a little onto its outer, harder side, and sit right behind the fret.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::BarreSlack,
        reason: "where fingertips' strings ring and the barre's do not, the barre alone is to blame",
        each: &[Each::By(&[Held::Barre]), Each::DeadOrBuzzes],
        all: &[All::TipsRing],
        what: "{S} {does}, and only the barre holds [it|them].",
        try_first: "Press the barre a little more: close behind the fret, the index finger turned a little onto its outer, harder side.",
        then: "Bring the elbow nearer to your body and let the arm's weight pull the barre back, rather than squeezing with the thumb.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::UsualQuiet,
        reason: "a ring finger that lies across strings 4 to 2 can hardly be arched off string 1",
        each: &[Each::Dead, Each::QuietOtherwise],
        otherwise: "you hold strings 4 to 2 with the ring finger: string 1 may then stay quiet",
        ..NO_RULE
    },
    Rule {
        cause: Cause::FingerLeans,
        reason: "nothing presses an open string; what stops it is a finger beside it that bends over",
        each: &[Each::By(&[Held::Open]), Each::Dead, Each::BesideTip],
        what: "{S} {does} though no finger belongs there: probably {beside leans} on [it|them].",
        try_first: "Bend that finger's last joint more, so that it comes down on its tip and clears the next string.",
        then: "Bring the wrist a little forward, under the neck: the fingers then come down steeper.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::BarreSlack,
        reason: "a finger other than the index that lies across several strings presses the outer ones least",
        each: &[Each::By(&[Held::Across]), Each::DeadOrBuzzes],
        what: "{S} {does}: {finger} does not press all of its strings.",
        try_first: "Lay the finger's soft last part flat across the strings and push it close behind the fret; let the joint bend back.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::FingerFlat,
        reason: "a fingertip that comes down flat or short of the fret does not press its string down",
        each: &[Each::By(&[Held::Tip]), Each::Dead],
        what: "{S} {does}: {finger} probably [comes|come] down flat.",
        try_first: "Press with the fingertip, last joint bent, close to the fret.",
        then: "Lift that finger, place it first, and build the rest of the chord around it.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::StrumMissed,
        reason: "a stroke begins too late or ends too soon, never in between; a string so missed and a dead one sound alike",
        each: &[Each::By(EXPECTED), Each::Unheard, Each::AtEdge],
        all: &[All::Strummed],
        otherwise: "the strum did not reach {s}: let the strumming hand go a little further",
        ..NO_RULE
    },
    Rule {
        cause: Cause::FingerLeans,
        reason: "a finger that bends over stops the string beside it",
        each: &[Each::By(HELD), Each::Dead, Each::BesideRingingTip],
        otherwise: "{beside leans} on {s}",
        ..NO_RULE
    },
    Rule {
        cause: Cause::BarreSlack,
        reason: "a barre that has not settled lets the fingertips slip too, so it comes first",
        each: &[Each::By(&[Held::Barre]), Each::DeadOrBuzzes],
        what: "{S} {does} under the barre, and strings under the fingertips are at fault too.",
        try_first: "Set the barre alone first, right behind the fret and a little on its outer side; when it rings, add the fingertips.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::StrumMissed,
        reason: "an open string with no finger near it is dead only where it is not struck, or something else lies on it",
        each: &[Each::By(&[Held::Open]), Each::Dead, Each::AwayFromTips],
        what: "{S} {does}, and no finger is near: the palm touched [it|them], or the strum hardly reached [it|them].",
        try_first: "Strum wider, over all strings that should sound, the palm clear of them.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::FarFromFret,
        reason: "a string pressed far from its fret, or lightly, rattles on it",
        each: &[Each::By(&[Held::Tip]), Each::Buzzes],
        what: "{S} [buzzes|buzz]: {finger} probably [stands|stand] too far from the fret, or [presses|press] too lightly.",
        try_first: "Move that finger right behind its fret; that needs less force than pressing harder.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::FretOfGuitar,
        reason: "no finger is on an open string, so its buzz comes from the guitar or the strum",
        each: &[Each::By(&[Held::Open]), Each::Buzzes],
        what: "{S} [buzzes|buzz] open, where no finger is: that comes from a hard strum or from the guitar.",
        try_first: "Strum softer. If it still buzzes, have the nut and the height of the strings looked at.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::LowStringRings,
        reason: "a string sounds a fret only where something presses it down, and over there only the barre does",
        each: &[Each::Sounds, Each::Pressed, Each::Below],
        what: "{S} [sounds|sound] at fret {heard} and should be quiet: the finger reaches over and presses [it|them] down.",
        try_first: "Draw that finger back until its tip only touches the string beyond, without pressing it.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::LowStringRings,
        reason: "a low string that nothing touches rings whenever the strum reaches it",
        each: &[Each::Sounds, Each::Below],
        what: "{S} [rings|ring] though [it|they] should be quiet.",
        try_first: "Let the tip of the finger on string {root} rest lightly against the string beside it, or begin the strum at string {root}.",
        then: "Strum slowly from string {root} on a few times, watching where the stroke begins.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::OtherStringRings,
        reason: "a string between or above the fingers is kept quiet by the flesh of a finger beside it",
        each: &[Each::Sounds],
        what: "{S} [rings|ring] though [it|they] should be quiet.",
        try_first: "Let a finger beside it lie a little flatter, so that it touches the string without pressing.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::PressedSharp,
        reason: "pressing or pulling stretches a string and sharpens it; nothing in the hand flattens one",
        each: &[Each::By(HELD), Each::Sharp],
        what: "{S} [is|are] {cents} cents sharp against your guitar's own tuning: pressed too hard, or pulled sideways.",
        try_first: "Press only as hard as it takes to ring, straight down.",
        then: "Pick that string open and compare: if it is sharp there too, tune it.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::TuneFirst,
        reason: "a finger cannot flatten a string, and none is on an open one",
        each: &[Each::Off],
        what: "{S} [is|are] {cents} cents {pitch} against the other strings, and no finger does that.",
        try_first: "Tune [it|them] first.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::TuneFirst,
        reason: "all strings alike is the tuning, not the hand",
        each: &[Each::By(EXPECTED)],
        all: &[All::GuitarOff],
        what: "The whole guitar is {guitar}; the verdicts allow for that.",
        try_first: "Tune it first where you play with others.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::UsualQuiet,
        reason: "a ring finger that lies across strings 4 to 2 can hardly be arched off string 1",
        each: &[Each::QuietAllowed],
        what: "{S} is quiet, as is usual with the ring finger across strings 4 to 2: no fault.",
        try_first: "Leave it, or use a finger for each string where you want string {first} to sound.",
        ..NO_RULE
    },
    Rule {
        cause: Cause::Covered,
        reason: "picked alone a string has nothing beside it that sounds the same partials",
        each: &[Each::Unsure],
        all: &[All::Strummed],
        what: "The strum does not tell what {s} did.",
        try_first: "Hold the chord and pick its strings one at a time, half a second each; such a recording is judged string by string.",
        ..NO_RULE
    },
];
