//! Sentences of the rules about a likely cause, and what to try.
//!
//! Gaps in braces are filled from the take: `{S}` and `{s}` are its strings, `{does}` what they did, `{perhaps}` how sure that
//! is. Of `[one|many]` the
//! word is said that fits so many strings. The gaps are those of `verdict::cause::words`.

use std::fmt::Display;

/// Sentences of one rule; an empty one is not said.
#[derive(Debug, Clone, Copy)]
pub struct Says {
    /// Sentence on what was heard and what it likely comes from. Empty: never told by itself.
    pub what: &'static str,
    /// The one change to try first.
    pub try_first: &'static str,
    /// Advice where that was said of the last takes too, and it has not helped.
    pub then: &'static str,
    /// The cause as a further explanation of strings that another rule speaks of.
    pub otherwise: &'static str,
}

/// The sentence with each `{gap}` filled and of each `[one|many]` the word that fits.
pub fn fill(template: &str, is_one: bool, gap: &dyn Fn(&str) -> String) -> String {
    let mut text = String::new();
    let mut rest = template;
    while let Some(at) = rest.find(['{', '[']) {
        text += &rest[..at];
        let close = if rest[at..].starts_with('{') {
            '}'
        } else {
            ']'
        };
        let Some(end) = rest[at..].find(close).map(|end| at + end) else {
            break;
        };
        let inner = &rest[at + 1..end];
        match inner.split_once('|') {
            Some((one, many)) => text += if is_one { one } else { many },
            None => text += &gap(inner),
        }
        rest = &rest[end + 1..];
    }
    text + rest
}

/// Sentence for where another rule explains the same strings.
pub fn or_else(otherwise: impl Display) -> String {
    format!(" Or {otherwise}.")
}

pub const STRUM_ONCE_MORE: &str =
    "Strum once more before you change anything: in your last takes [it was|they were] right.";
pub const FINGER_ACROSS_STRINGS: &str = "the finger across the strings";
pub const ITS_FINGER: &str = "its finger";
pub const THEIR_FINGERS: &str = "their fingers";
pub const DO_NOT_RING_AS_THEY_SHOULD: &str = "do not ring as they should";

/// "the finger on string 4 leans".
pub fn leaning(fingers: impl Display, is_one: bool) -> String {
    let lean = if is_one { "leans" } else { "lean" };
    format!("{fingers} {lean}")
}

/// Name of what moves along the neck, where so many strings are off.
pub fn whole(strings: usize) -> &'static str {
    if strings > 1 { "hand" } else { "finger" }
}

/// "22 to 25".
pub fn range(least: impl Display, most: impl Display) -> String {
    format!("{least} to {most}")
}

/// No sentence.
pub const NOTHING: Says = Says {
    what: "",
    try_first: "",
    then: "",
    otherwise: "",
};

pub const SEVERAL_STRINGS_OFF: Says = Says {
    what: "{S} are {cents} cents {pitch} against the other strings. Several alike: that is the tuning, not your hand.",
    try_first: "Tune the guitar first, then strum again.",
    ..NOTHING
};

pub const BARRE_DAMPS_ALL: Says = Says {
    what: "{S} are dead all at once: the barre touches the strings without pressing them down, or the strumming hand lies on them.",
    try_first: "Set the barre alone right behind its fret, and press before you strum. When it rings, add the fingertips.",
    then: "Hold the chord and pick one string after the other, to see which of them ring. Keep the strumming hand off the strings.",
    ..NOTHING
};

pub const HAND_DAMPS_ALL: Says = Says {
    what: "{S} are dead all at once: the fingers touch the strings without pressing them down, or the strumming hand lies on them.",
    try_first: "Press before you strum, each fingertip close behind its fret, and keep the strumming hand off the strings.",
    then: "Strum the open strings alone. When they ring, add one finger after the other.",
    ..NOTHING
};

pub const DULL_AT_THIS_FRET: Says = Says {
    what: "Most strings {do} at this fret, while your last chords at other frets rang. That may be the guitar: a dead spot or a high fret.",
    try_first: "Play the same shape one fret higher or lower. If it rings there, have the guitar looked at.",
    ..NOTHING
};

pub const ALL_DULL: Says = Says {
    what: "Most strings {do}. It may be a palm or a sleeve on them, a hand that does not press yet, or old strings.",
    try_first: "Keep the heel of the strumming hand off the strings and press before you strum. If it stays dull, play the shape one fret higher: if only this fret is dull, it may be the guitar.",
    then: "Strum the open strings alone. If they are dull too, put on new strings before you change anything in your hand.",
    ..NOTHING
};

pub const ALL_BUZZ: Says = Says {
    what: "Most strings buzz, more than one finger can do: a very hard strum does that, or strings that lie low over the frets.",
    try_first: "Strum the same chord half as hard. If it still buzzes, have the height of the strings looked at.",
    ..NOTHING
};

pub const SOUNDS_OPEN: Says = Says {
    what: "{S} {perhaps}[sounds|sound] open: no finger presses [it|them] down.",
    try_first: "Put that finger down right behind the fret before you strum, and check that it stands on the right string.",
    ..NOTHING
};

pub const SOUNDS_THE_BARRE: Says = Says {
    what: "{S} {perhaps}[sounds|sound] the barre's fret ({barre}): {finger} [is|are] not down, or on the wrong string.",
    try_first: "Look which string that finger stands on, and press it down behind its fret.",
    ..NOTHING
};

pub const ONE_FRET_OFF: Says = Says {
    what: "{S} {perhaps}[sounds|sound] one fret too {way}: the hand has slipped, or began at the wrong fret.",
    try_first: "Look at the fret before you strum, and move the {whole} a fret {back}.",
    otherwise: "the hand stands a fret too {way}",
    ..NOTHING
};

pub const BARRE_CREASE: Says = Says {
    what: "Of the strings under the barre {s} alone {does}: it probably lies in a crease of your finger.",
    try_first: "Shift the index finger a little along its length, up or down, until the string lies on firm flesh.",
    then: "Turn the index finger a little onto its outer, harder side, and sit right behind the fret.",
    ..NOTHING
};

pub const BARRE_SLACK: Says = Says {
    what: "{S} {does}, and only the barre holds [it|them].",
    try_first: "Press the barre a little more: close behind the fret, the index finger turned a little onto its outer, harder side.",
    then: "Bring the elbow nearer to your body and let the arm's weight pull the barre back, rather than squeezing with the thumb.",
    ..NOTHING
};

pub const QUIET_WITH_RING_FINGER_TOO: Says = Says {
    otherwise: "you hold strings 4 to 2 with the ring finger: string 1 may then stay quiet",
    ..NOTHING
};

pub const FINGER_LEANS: Says = Says {
    what: "{S} {does} though no finger belongs there: probably {beside leans} on [it|them].",
    try_first: "Bend that finger's last joint more, so that it stands on its tip and does not touch the next string.",
    then: "Bring the wrist a little forward, under the neck: the fingers then come down steeper.",
    ..NOTHING
};

pub const FINGER_ACROSS: Says = Says {
    what: "{S} {does}: {finger} does not press all of its strings.",
    try_first: "Lay the finger's soft last part flat across the strings and push it close behind the fret; let the joint bend back.",
    ..NOTHING
};

pub const FINGER_FLAT: Says = Says {
    what: "{S} {does}: {finger} probably [lies|lie] too flat.",
    try_first: "Press with the fingertip, last joint bent, close to the fret.",
    then: "Lift that finger, place it first, and build the rest of the chord around it.",
    ..NOTHING
};

pub const STRUM_MISSED_TOO: Says = Says {
    otherwise: "the strum did not reach {s}: let the strumming hand go a little further",
    ..NOTHING
};

pub const FINGER_LEANS_TOO: Says = Says {
    otherwise: "{beside leans} on {s}",
    ..NOTHING
};

pub const BARRE_AND_TIPS: Says = Says {
    what: "{S} {does} under the barre, and strings under the fingertips are at fault too.",
    try_first: "Set the barre alone first, right behind the fret and a little on its outer side; when it rings, add the fingertips.",
    ..NOTHING
};

pub const OPEN_STRING_DEAD: Says = Says {
    what: "{S} {does}, and no finger is near: the palm touched [it|them], or the strum hardly reached [it|them].",
    try_first: "Strum over all strings that should sound, and keep the palm off them.",
    ..NOTHING
};

pub const FAR_FROM_FRET: Says = Says {
    what: "{S} {perhaps}[buzzes|buzz]: {finger} [is|are] probably too far from the fret, or [presses|press] too lightly.",
    try_first: "Move that finger right behind its fret; that needs less force than pressing harder.",
    ..NOTHING
};

pub const OPEN_STRING_BUZZES: Says = Says {
    what: "{S} {perhaps}[buzzes|buzz] open, where no finger is: that comes from a hard strum or from the guitar.",
    try_first: "Strum softer. If it still buzzes, have the nut and the height of the strings looked at.",
    ..NOTHING
};

pub const LOW_STRING_PRESSED: Says = Says {
    what: "{S} {perhaps}[sounds|sound] at fret {heard} and should be quiet: the finger reaches over and presses [it|them] down.",
    try_first: "Pull that finger back until its tip only touches this string, without pressing it.",
    ..NOTHING
};

pub const LOW_STRING_RINGS: Says = Says {
    what: "{S} {perhaps}[rings|ring] though [it|they] should be quiet.",
    try_first: "Let the tip of the finger on string {root} rest lightly against the string beside it, or begin the strum at string {root}.",
    then: "Strum slowly from string {root} on a few times, watching where the stroke begins.",
    ..NOTHING
};

pub const OTHER_STRING_RINGS: Says = Says {
    what: "{S} {perhaps}[rings|ring] though [it|they] should be quiet.",
    try_first: "Let a finger beside it lie a little flatter, so that it touches the string without pressing.",
    ..NOTHING
};

pub const PRESSED_SHARP: Says = Says {
    what: "{S} [is|are] {cents} cents sharp against your guitar's own tuning: pressed too hard, or pulled sideways.",
    try_first: "Press only as hard as it takes to ring, straight down.",
    then: "Pick that string open and compare: if it is sharp there too, tune it.",
    ..NOTHING
};

pub const STRING_OFF: Says = Says {
    what: "{S} [is|are] {cents} cents {pitch} against the other strings, and no finger does that.",
    try_first: "Tune [it|them] first.",
    ..NOTHING
};

pub const GUITAR_OFF: Says = Says {
    what: "The whole guitar is {guitar}; the verdicts allow for that.",
    try_first: "Tune it first where you play with others.",
    ..NOTHING
};

pub const QUIET_WITH_RING_FINGER: Says = Says {
    what: "{S} is quiet, as is usual with the ring finger across strings 4 to 2: no fault.",
    try_first: "Leave it, or use a finger for each string where you want string {first} to sound.",
    ..NOTHING
};

pub const NOT_TOLD: Says = Says {
    what: "The strum does not show what {s} did.",
    try_first: "Hold the chord and pick its strings one at a time, half a second each; such a recording is judged string by string.",
    ..NOTHING
};
