//! Sentences on playing along with a backing.

use std::fmt::Display;

pub const NO_STRUM: &str = "no strum was found; play along once more, nearer to the microphone";
pub const NO_STRUM_OVER_THE_BACKING: &str = "no strum was found: the backing is too loud in the microphone; use headphones, or turn it down";
pub const USE_HEADPHONES: &str =
    "the microphone hears the backing: use headphones, or turn it down";
pub const ON_THE_BEAT: &str = "on the beat";

pub fn in_time(
    came: impl Display,
    count: impl Display,
    in_time_ms: impl Display,
    missed: impl Display,
    extra: impl Display,
) -> String {
    format!(
        "{came} of {count} strums came in time (within {in_time_ms:.0} ms), {missed} missed{extra}."
    )
}

pub fn usually(usual: impl Display, spread: impl Display) -> String {
    format!("Usually {usual}; two strums in three are within {spread:.0} ms of that.")
}

pub fn drill_alone(from: impl Display, to: impl Display, why: impl Display) -> String {
    format!("Practise this change alone: {from} to {to}. {why}")
}

pub const NOTHING_STANDS_OUT: &str = "No change stands out; play it a little faster next time.";

pub fn broken_off(left: impl Display) -> String {
    format!("You stopped early: {left} more strums were to come; they are not counted.")
}

pub fn backing_heard(at_s: impl Display) -> String {
    format!("The backing is heard in the recording; its count-in starts at {at_s:.2} s.")
}

pub const START_FROM_STRUMS: &str = "I could not hear the count-in; I found the start from your strums. Early and late are \
             compared with your own average.";

pub const OTHER_START: &str =
    "The strums also fit another start; name it with --start SECONDS to be certain.";

pub fn backing_too_loud(below: impl Display) -> String {
    format!(
        "The backing is too loud in the microphone ({below:.0} dB below the playing; 20 are wanted): \
             use headphones, or turn it down. The program removed it as far as possible. Strings may still be judged wrongly, and a drum may count as a strum that you missed. \
             Extra strums are not counted."
    )
}

pub const BY_BAR_HEAD: &str = "\nbar beat  chord   time          silence  strings";
pub const BY_CHANGE_HEAD: &str =
    "\nchange           times  missed  time          spread   silence  clean";

pub fn change_missed(missed: impl Display, of: impl Display) -> String {
    format!("missed {missed} of {of} times")
}

pub fn uneven_by(spread_ms: impl Display) -> String {
    format!("uneven by {spread_ms:.0} ms")
}

pub fn change_clean(clean: impl Display, of: impl Display) -> String {
    format!("clean {clean} of {of} times")
}

pub fn silent_before(gap: impl Display) -> String {
    format!("silent for {gap:.0} ms before it")
}

pub const HEARING: &str = "Begin with the volume of the headphones turned down and raise it only \
    until you hear the beat. This program cannot measure how loud it is at your ear: if you \
    cannot follow somebody talking beside you it is too loud. 80 dB(A) are safe for 40 hours a \
    week, every 3 dB more for half as long.";

pub const DELAY_UNKNOWN: &str = "How late sound reaches this program is not known: run ringtrue \
    soundcheck and name the guitar with --guitar. Until then early and late are compared with your own \
    average, unless the microphone hears the backing.";

pub const FEELS: &str = "the feel is whole, quarters, eighths or shuffle";

pub fn swing_out_of_range(swing: impl Display) -> String {
    format!("--swing is from 50 (even eighths) to 75 percent of the beat; {swing} is not")
}

pub fn one_file_for_both(out: impl Display) -> String {
    format!("--out and --midi both name {out}; give each a file of its own")
}

pub fn loudness(lufs: impl Display, peak: impl Display) -> String {
    format!(", {lufs:.1} LUFS, peak {peak:.1} dBTP")
}

pub fn volume_out_of_range(db: impl Display) -> String {
    format!("--volume is from -60 to 0 dB, 0 as loud as the file; {db} is not")
}

pub const LOUDSPEAKER_GONE: &str =
    "the loudspeaker is gone: unplugged, or the sound system has stopped";
pub const STRUMS_WANTED: &str = "strums are wanted once a chord, a beat or an eighth";

pub fn bars_to_come(bars: impl Display, tempo: impl Display, beats: impl Display) -> String {
    format!("{bars} bars, {tempo:.0} beats a minute; {beats} beats are counted in.")
}

pub const STRUM_TO_BEGIN: &str = "Strum once, or press a key, to begin.";
pub const KEYS_TO_BEGIN: &str = "any key: begin   q ends";
pub const NOT_BEGUN: &str = "it was not begun; nothing was played";
pub const GOING_THROUGH: &str = "Going through what was played ...";
pub const JUDGED_UNTIL_THEN: &str = "stopped early; what was heard until then is judged";

pub fn judged_until_error(error: impl Display) -> String {
    format!("{error}; what was heard until then is judged")
}

pub fn sound_lost(seconds: impl Display) -> String {
    format!("{seconds:.2} s of sound were lost on the way; strums there may be missed or wrong")
}

pub fn late(ms: impl Display) -> String {
    format!("{ms} ms late")
}

pub fn early(ms: impl Display) -> String {
    format!("{ms} ms early")
}

pub fn it_was(reasons: impl Display) -> String {
    format!("It was {reasons}.")
}

pub const ALL: &str = "all";

/// A change of chord.
pub fn change(from: impl Display, to: impl Display) -> String {
    format!("{from} to {to}")
}

pub const MISSED: &str = "missed";

pub fn extra(count: impl Display) -> String {
    format!(", {count} extra")
}

/// The eighth after a beat.
pub fn and_of(beat: impl Display) -> String {
    format!("{beat}and")
}

pub fn notes_in_file(file: impl Display, notes: impl Display) -> String {
    format!("{file}: {notes} notes")
}
