//! Sentences on a take: on its strings, on it as a whole, and on what kept it from being judged.

use std::fmt::Display;

pub const CARE: &str = "Stop when it hurts, and rest your hands every half hour. Do not press through pain; if it \
     stays, see a doctor or someone else qualified.";
pub const WORD_CLEAN: &str = "clean";
pub const WORD_MUTED: &str = "muted";
pub const WORD_CHOKED: &str = "choked";
pub const WORD_BUZZING: &str = "buzzing";
pub const WORD_WRONG_FRET: &str = "wrong fret";
pub const WORD_RINGING: &str = "ringing";
pub const WORD_SILENT: &str = "silent";
pub const WORD_UNSURE: &str = "unsure";
pub const PERHAPS: &str = "perhaps";
pub const PROBABLY: &str = "probably";
pub const NOT_JUDGED_IN_SHORT: &str = "not judged";
pub const LOOK_AT: &str = "look at";
pub const UNSURE_OF: &str = "unsure of";
pub const LISTEN_TO: &str = "listen to";
pub const ANOTHER_CHORD_IN_SHORT: &str = "another chord";
pub const TOO_QUIET_IN_SHORT: &str = "too quiet";
pub const OVERLOADED_IN_SHORT: &str = "overloaded";
pub const TOO_SHORT_IN_SHORT: &str = "too short";
pub const TOO_NOISY_IN_SHORT: &str = "too noisy";
pub const SOUND_LOST_IN_SHORT: &str = "sound lost";
pub const BUZZ_IN_SHORT: &str = "a buzz";
pub const POSSIBLE_BUZZ_IN_SHORT: &str = "a possible buzz";
pub const RATTLE_IN_SHORT: &str = "a rattle";
pub const DIES_EARLY: &str = "dies early";
pub const DIE_EARLY: &str = "die early";
pub const BUZZES: &str = "buzzes";
pub const BUZZ: &str = "buzz";
pub const DEAD_OR_DIES_EARLY: &str = "dead, or dies early";
pub const SILENT_BUT_RESONATES: &str = "silent: resonates faintly";
pub const QUIET_AS_USUAL: &str = "quiet, as is usual here";
pub const SILENT_AS_IT_SHOULD: &str = "silent, as it should be";
pub const MUTED: &str = "muted: a dead thud";
pub const CHOKED: &str = "choked: dies early";

pub fn wrong_fret(heard: impl Display, expected: impl Display) -> String {
    format!("wrong fret: {heard}, not {expected}")
}

pub const RINGING: &str = "ringing: should be quiet";
pub const RINGING_OPEN: &str = "ringing open: unwanted";

pub fn ringing_at(heard: impl Display) -> String {
    format!("ringing at {heard}: unwanted")
}

pub const ENDS_TOO_SOON: &str = "the sound ends too soon";
pub const COVERED: &str = "other strings cover it";
pub const THIS_OR_ANOTHER_BUZZES: &str = "it or another one buzzes";
pub const NOT_ASKED: &str = "not asked for";
pub const DOES_NOT_TELL: &str = "the sound does not show it";
pub const NOT_JUDGED: &str = "This take was not judged.";
pub const ALMOST_NOTHING_RINGS: &str =
    "Almost nothing rings: the hand touches the strings without pressing them down, or damps them.";
pub const ALL_AS_IT_SHOULD: &str = "Every string is as it should be.";
pub const ALL_SEEM_RIGHT: &str = "Every string seems to be as it should.";
pub const NOTHING_TOLD: &str =
    "The recording does not show what the strings did. Strum again and let the chord ring.";

/// `doubtful`: not all of the others are sure.
pub fn open_others_right(strings: impl Display, doubtful: bool) -> String {
    let are = match doubtful {
        true => "seem to be as they should",
        false => "are as they should be",
    };
    format!("{strings} could not be judged; the others {are}.")
}

pub fn open_too(strings: impl Display) -> String {
    format!("; {strings} could not be judged")
}

pub fn shape_not_sure(chord: impl Display) -> String {
    format!("{chord}: which shape is not sure")
}

pub const NO_CHORD_KNOWN: &str = "no chord known here";
pub const NOTHING_RINGS_IN_SHORT: &str = "almost nothing rings";
pub const RIGHT_IN_SHORT: &str = "as it should be";

pub fn not_this_chord(chord: impl Display) -> String {
    format!("That was not {chord}.")
}

pub fn another_chord(chord: impl Display, heard: impl Display) -> String {
    format!("That was not {chord}, but {heard}.")
}

pub fn same_shape_off(what: impl Display, way: impl Display, back: impl Display) -> String {
    format!("{what} It is the same shape one fret too {way}: move the hand a fret {back}.")
}

pub fn out_of_tune(cents: impl Display) -> String {
    format!("The guitar is out of tune by about {cents:.0} cents.")
}

pub const VERY_QUIET: &str = "The strum is very quiet.";

pub fn overloaded(share: impl Display) -> String {
    format!("The recording is overloaded: {share} of it is cut off at full level.")
}

pub fn too_short(seconds: impl Display) -> String {
    format!("Only {seconds:.1} s of sound follow the strum.")
}

pub const TOO_NOISY: &str = "The background is too loud against the strum.";
pub const SOUND_LOST: &str = "The computer lost some of the sound.";

pub fn one_of_two_buzzes(one: impl Display, other: impl Display) -> String {
    format!("Something buzzes: string {one} or string {other}.")
}

pub fn one_of_two_buzzes_others_right(one: impl Display, other: impl Display) -> String {
    format!("Something buzzes: string {one} or string {other}; the others are as they should be.")
}

pub fn may_buzz(string: impl Display) -> String {
    format!("It is not sure whether string {string} buzzes.")
}

pub fn may_buzz_others_right(string: impl Display) -> String {
    format!("String {string} may buzz; apart from that every string is as it should be.")
}

pub const RATTLE: &str = "Something rattles, and no single string does it.";
pub const NO_CHORD_FITS: &str = "No chord was named, and none that is known here fits.";

pub fn chord_guessed(chord: impl Display, sure: impl Display) -> String {
    format!("No chord was named: {chord} fits best, {sure} sure.")
}

pub fn chord_guessed_unsure(chord: impl Display, sure: impl Display) -> String {
    format!("No chord was named: {chord} fits best, but only {sure} sure.")
}

pub fn voicing_guessed(frets: impl Display, sure: impl Display) -> String {
    format!("Of all known shapes of this chord {frets} fits best, {sure} sure.")
}

pub fn may_be(which: impl Display, what_to_do: impl Display, typed: impl Display) -> String {
    format!("This may be {which}. {what_to_do}: {typed}.")
}

/// Several voicings, one of which it is.
#[cfg(all(feature = "page", target_arch = "wasm32"))]
pub fn not_judged_may_be(voicings: &[String]) -> String {
    format!("Not judged. This may be {}.", voicings.join(", or "))
}

pub const COMPARE_FINGERS: &str =
    "Compare your fingers with the frets, or name the chord that you play.";
pub const TUNE_IT: &str = "Tune it and record again, or say how it is tuned.";
pub const MICROPHONE_NEARER: &str =
    "Move the microphone nearer or turn its level up, and record again.";
pub const MICROPHONE_AWAY: &str =
    "Move the microphone away or turn its level down, and record again.";
pub const LET_IT_RING: &str = "Let the chord ring for two seconds, and record again.";
pub const QUIETER_ROOM: &str = "Record in a quieter room, or move the microphone nearer.";
pub const PLUCK_EACH_ALONE: &str =
    "Pluck each of them alone to hear which it is, and press it closer behind the fret.";
pub const PLUCK_IT_ALONE: &str =
    "Pluck it alone and listen. If it buzzes, press it closer behind the fret.";
pub const LOOK_FOR_WHAT_IS_LOOSE: &str =
    "Look for what is loose on the guitar or in the room, and lay a hand on it.";
pub const CLOSE_PROGRAMS: &str = "Strum again; close other programs if it happens often.";
pub const SAY_WHICH_CHORD: &str = "Say which chord: add --chord Bb or --frets x13331.";
pub const GIVE_THE_FRETS: &str = "Give the frets in place of the name.";
pub const OUT_OF_TUNE_IN_SHORT: &str = "out of tune";
pub const NO_CHORD_IN_SHORT: &str = "no chord named";
pub const SHAPE_IN_SHORT: &str = "which shape is not sure";
pub const TOWARDS_NUT: &str = "towards the nut";
pub const TOWARDS_BODY: &str = "towards the body";

pub fn guitar_off(off_pitch: impl Display) -> String {
    format!("The whole guitar is {off_pitch}; the verdicts allow for that.")
}

pub const IS_DEAD_OR_DIES: &str = "is dead or dies early";
pub const ARE_DEAD_OR_DIE: &str = "are dead or die early";
pub const DOES_NOT_RING: &str = "does not ring";
pub const DO_NOT_RING: &str = "do not ring";
pub const SOUNDS_WRONG_FRET: &str = "sounds at the wrong fret";
pub const SOUND_WRONG_FRET: &str = "sound at the wrong fret";
pub const SOUNDS_UNWANTED: &str = "sounds but should be quiet";
pub const SOUND_UNWANTED: &str = "sound but should be quiet";
pub const OFTEN_RIGHT: &str = "was most often as it should be";
pub const OFTEN_DID_NOT_RING: &str = "most often did not ring";
pub const OFTEN_DIED_EARLY: &str = "most often died early";
pub const OFTEN_BUZZED: &str = "most often buzzed";
pub const OFTEN_WRONG_FRET: &str = "most often sounded at the wrong fret";
pub const OFTEN_UNWANTED: &str = "most often sounded but should be quiet";
pub const OFTEN_NOT_TOLD: &str = "could most often not be told";

pub fn unsure(why: impl Display) -> String {
    format!("unsure: {why}")
}

pub fn perhaps(chord: impl Display, sure: impl Display) -> String {
    format!("perhaps {chord}, {sure}")
}

pub fn not_judged_since(why: impl Display) -> String {
    format!("not judged: {why}")
}

pub fn not_judged_for(why: impl Display) -> String {
    format!("Not judged. {why}")
}

pub fn look_at_strings(strings: impl Display) -> String {
    format!("Look at {strings}")
}

pub fn all_six(start: impl Display) -> String {
    format!("{start} all six")
}

pub fn try_first(what: impl Display) -> String {
    format!("Try: {what}")
}

pub fn chord_at(chord: impl Display, at: impl Display, what: impl Display) -> String {
    format!("{chord} at {at}: {what}")
}

pub fn chord_open(chord: impl Display, what: impl Display) -> String {
    format!("{chord} open: {what}")
}

/// Name of several strings, where their numbers have no room.
pub fn so_many_strings(start: impl Display, count: impl Display) -> String {
    format!("{start} {count} strings")
}

/// Voicings one of which it may be.
pub const OR: &str = ", or ";
/// Faults one after the other.
pub const AND: &str = ", and ";
