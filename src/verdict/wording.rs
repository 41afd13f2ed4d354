//! Wording of a take: what a verdict is called, why the recording cannot tell, what is wrong with a take as a
//! whole and what to do about it. The sentences themselves stand in `words`.

use super::string::QUITE_SURE;
use super::{Advice, Cause, JudgedTake, Reason, SURE_ENOUGH, StringVerdict, Verdict, Warning};
use crate::fretboard::{ChordName, NamedFrets};
use crate::words;
pub use crate::words::grammar::capital;
use crate::words::grammar::{high_or_low, listed, off_pitch, percent, place, strings, uncapital};

/// Below this confidence a verdict is worded as "perhaps": it is little better than a toss.
const PERHAPS_BELOW: f32 = 0.6;
/// Cautions to bear in mind wherever practice is proposed; said once, after everything else. Follows
/// the advice of the British Association for Performing Arts Medicine to players.
pub const CARE: &str = words::take::CARE;

impl Verdict {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Clean => words::take::WORD_CLEAN,
            Verdict::Muted => words::take::WORD_MUTED,
            Verdict::Choked => words::take::WORD_CHOKED,
            Verdict::Buzzing => words::take::WORD_BUZZING,
            Verdict::WrongFret => words::take::WORD_WRONG_FRET,
            Verdict::Ringing => words::take::WORD_RINGING,
            Verdict::Silent => words::take::WORD_SILENT,
            Verdict::Unsure => words::take::WORD_UNSURE,
        }
    }
}

/// How sure a verdict is, in a word, where it is not quite sure.
fn doubt(confidence: f32) -> Option<&'static str> {
    match confidence {
        c if c < PERHAPS_BELOW => Some(words::take::PERHAPS),
        c if c < QUITE_SURE => Some(words::take::PROBABLY),
        _ => None,
    }
}

/// Tells how sure what is said of a string is, in a word, where it is not quite sure.
pub fn doubt_of(string: &StringVerdict) -> Option<&'static str> {
    doubt(sureness(string))
}

/// Tells the same of several strings: no surer than of the least sure of them.
pub(super) fn doubt_of_all<'a>(
    strings: impl IntoIterator<Item = &'a StringVerdict>,
) -> Option<&'static str> {
    doubt(strings.into_iter().map(sureness).fold(1.0, f32::min))
}

fn sureness(string: &StringVerdict) -> f32 {
    match string.dead_or_dying() {
        true => 1.0 - string.rings,
        false => string.confidence,
    }
}

/// Gives what one string did, in a few words: "muted: a dead thud". At most 33 characters.
pub fn string_phrase(string: &StringVerdict) -> String {
    let mut phrase = match (string.verdict, string.expected_fret, string.heard_fret) {
        (Verdict::Unsure, ..) => return words::take::unsure(reason_phrase(string.reason)),
        _ if string.dead_or_dying() => return words::take::DEAD_OR_DIES_EARLY.to_owned(),
        (Verdict::Silent, ..) if string.reason == Some(Reason::Faint) => {
            words::take::SILENT_BUT_RESONATES.to_owned()
        }
        (Verdict::Silent, Some(_), _) => words::take::QUIET_AS_USUAL.to_owned(),
        (Verdict::Silent, ..) => words::take::SILENT_AS_IT_SHOULD.to_owned(),
        (Verdict::Muted, ..) => words::take::MUTED.to_owned(),
        (Verdict::Choked, ..) => words::take::CHOKED.to_owned(),
        (Verdict::WrongFret, Some(expected), Some(heard)) => {
            words::take::wrong_fret(place(heard), place(expected))
        }
        (Verdict::Ringing, _, None) => words::take::RINGING.to_owned(),
        (Verdict::Ringing, _, Some(0)) => words::take::RINGING_OPEN.to_owned(),
        (Verdict::Ringing, _, Some(heard)) => words::take::ringing_at(heard),
        (verdict, ..) => verdict.word().to_owned(),
    };
    if let Some(cents) = string.off_cents() {
        phrase += &format!(", {}", off_pitch(cents));
    }
    match doubt_of(string) {
        Some(doubt) => format!("{doubt} {phrase}"),
        None => phrase,
    }
}

fn reason_phrase(reason: Option<Reason>) -> &'static str {
    match reason {
        Some(Reason::TooShort) => words::take::ENDS_TOO_SOON,
        Some(Reason::Balanced) => words::take::COVERED,
        Some(Reason::NotJudged) => words::take::NOT_JUDGED_IN_SHORT,
        Some(Reason::NotAsked) => words::take::NOT_ASKED,
        Some(Reason::MayBuzz) => words::take::THIS_OR_ANOTHER_BUZZES,
        Some(Reason::MutedOrChoked | Reason::Faint) | None => words::take::DOES_NOT_TELL,
    }
}

/// The one sentence to read first: which strings to look at.
pub fn headline(take: &JudgedTake) -> String {
    if !take.judged() {
        return if take.warnings.is_empty() {
            words::take::NOT_JUDGED.to_owned()
        } else {
            let why: Vec<String> = take.warnings.iter().map(|w| warning(w, take)).collect();
            words::take::not_judged_for(why.join(" "))
        };
    }
    let heard: Vec<String> = voicings_heard(take).map(NamedFrets::to_string).collect();
    match heard.is_empty() {
        false => format!(
            "{}: {}",
            heard.join(words::take::OR),
            uncapital(&strings_headline(take))
        ),
        true => strings_headline(take),
    }
}

/// The voicing that was taken for the one played, where only the chord was named; where that is open, each that it may be.
fn voicings_heard(take: &JudgedTake) -> impl Iterator<Item = &NamedFrets> {
    let heard = take.warnings.iter().find_map(|w| match w {
        Warning::VoicingGuessed { sure, voicings } if *sure >= SURE_ENOUGH => {
            Some(voicings.iter().take(1))
        }
        Warning::VoicingGuessed { voicings, .. } => Some(voicings.iter().take(usize::MAX)),
        _ => None,
    });
    heard.into_iter().flatten()
}

/// Whether it was asked what the string does, and the recording does not tell.
fn is_open(string: &StringVerdict) -> bool {
    string.verdict == Verdict::Unsure && string.reason != Some(Reason::NotAsked)
}

/// The headline of a judged take, as far as its strings go.
fn strings_headline(take: &JudgedTake) -> String {
    if take.almost_nothing_rings() {
        return words::take::ALMOST_NOTHING_RINGS.to_owned();
    }
    let open: Vec<u8> = numbers(take, is_open);
    let faults = faults(take);
    let buzz = take.warnings.iter().find_map(|w| match w {
        Warning::Buzz { strings, .. } => Some(strings),
        _ => None,
    });
    if let Some([one, other]) = buzz
        && faults.is_empty()
        && open.iter().all(|s| [one, other].contains(&s))
    {
        return words::take::one_of_two_buzzes_others_right(one, other);
    }
    if let Some(string) = possible_buzz(take)
        && faults.is_empty()
        && open.is_empty()
    {
        return words::take::may_buzz_others_right(string);
    }
    let told = take.strings.iter().filter(|s| s.verdict != Verdict::Unsure);
    let doubtful = doubt_of_all(told).is_some();
    let main = match faults.len() {
        0 if open.is_empty() && doubtful => return words::take::ALL_SEEM_RIGHT.to_owned(),
        0 if open.is_empty() => return words::take::ALL_AS_IT_SHOULD.to_owned(),
        0 if open.len() == take.strings.len() => {
            return words::take::NOTHING_TOLD.to_owned();
        }
        0 => {
            return words::take::open_others_right(capital(&strings(&open)), doubtful);
        }
        1 | 2 => faults.join(words::take::AND),
        _ => words::take::look_at_strings(strings(&numbers(take, |s| s.verdict.is_fault()))),
    };
    let rest = if open.is_empty() {
        String::new()
    } else {
        words::take::open_too(strings(&open))
    };
    format!("{}{rest}.", capital(&main))
}

/// The string that may buzz, where one may.
fn possible_buzz(take: &JudgedTake) -> Option<u8> {
    take.warnings.iter().find_map(|w| match w {
        Warning::PossibleBuzz { string, .. } => Some(*string),
        _ => None,
    })
}

/// Longest that [`brief`] gets, in characters.
pub const BRIEF: usize = 31;

/// A few words for a line of a long list: "look at 4 and 3", after the chord where it was guessed.
pub fn brief(take: &JudgedTake) -> String {
    let guess = take.warnings.iter().find_map(|w| match *w {
        Warning::ChordGuessed { sure } => Some(sure),
        _ => None,
    });
    let chord = take.chord.as_deref().unwrap_or_default();
    if !take.judged() {
        return match (guess, take.warnings.last()) {
            (None, Some(Warning::VoicingGuessed { .. })) => words::take::shape_not_sure(chord),
            (Some(_), _) if take.chord.is_none() => words::take::NO_CHORD_KNOWN.to_owned(),
            (Some(sure), _) if sure < SURE_ENOUGH => words::take::perhaps(chord, percent(sure)),
            (_, Some(why)) => words::take::not_judged_since(warning_phrase(why)),
            (_, None) => words::take::NOT_JUDGED_IN_SHORT.to_owned(),
        };
    }
    if take.almost_nothing_rings() {
        return words::take::NOTHING_RINGS_IN_SHORT.to_owned();
    }
    let faults = numbers(take, |s| s.verdict.is_fault());
    let open = numbers(take, is_open);
    let (what, those) = match (faults.is_empty(), open.is_empty(), possible_buzz(take)) {
        (false, ..) => (words::take::LOOK_AT, faults),
        (true, false, _) => (words::take::UNSURE_OF, open),
        (true, true, Some(string)) => (words::take::LISTEN_TO, vec![string]),
        (true, true, None) => (words::take::RIGHT_IN_SHORT, vec![]),
    };
    let mut heard = voicings_heard(take);
    let start = match (guess, heard.next().filter(|_| heard.next().is_none())) {
        (Some(_), _) => format!("{chord}: {what}"),
        (
            None,
            Some(NamedFrets {
                at: Some(at @ 1..), ..
            }),
        ) => words::take::chord_at(chord, at, what),
        (None, Some(_)) => words::take::chord_open(chord, what),
        (None, None) => what.to_owned(),
    };
    let long = format!("{start} {}", listed(&those));
    if those.len() == take.strings.len() {
        words::take::all_six(&start)
    } else if long.chars().count() > BRIEF {
        words::take::so_many_strings(start, those.len())
    } else {
        long.trim_end().to_owned()
    }
}

/// Gives what is wrong with the take as a whole and what to do, in one or two sentences. `take` is the
/// take that the warning belongs to.
pub fn warning(warning: &Warning, take: &JudgedTake) -> String {
    let no_frets = take.frets.sounding().next().is_none();
    let chord = match &take.chord {
        Some(name) if no_frets => name.clone(),
        Some(name) => format!("{name} ({})", take.frets),
        None => take.frets.to_string(),
    };
    let what = match *warning {
        Warning::WrongChord { heard: None } => words::take::not_this_chord(&chord),
        Warning::WrongChord { heard: Some(heard) } => {
            let what = words::take::another_chord(&chord, heard);
            return match off_place(&heard, take) {
                Some((way, back)) => words::take::same_shape_off(&what, way, back),
                None => format!("{what} {}", what_to_do(warning)),
            };
        }
        Warning::OutOfTune { cents } => words::take::out_of_tune(cents.abs()),
        Warning::TooQuiet { .. } => words::take::VERY_QUIET.to_owned(),
        Warning::Clipped { share } => words::take::overloaded(percent(share)),
        Warning::TooShort { seconds } => words::take::too_short(seconds),
        Warning::TooNoisy { .. } => words::take::TOO_NOISY.to_owned(),
        Warning::SoundLost { .. } => words::take::SOUND_LOST.to_owned(),
        Warning::Buzz {
            strings: [one, other],
            ..
        } => words::take::one_of_two_buzzes(one, other),
        Warning::PossibleBuzz { string, .. } => words::take::may_buzz(string),
        Warning::Rattle { .. } => words::take::RATTLE.to_owned(),
        Warning::ChordGuessed { .. } if no_frets => words::take::NO_CHORD_FITS.to_owned(),
        Warning::ChordGuessed { sure } if sure >= SURE_ENOUGH => {
            return words::take::chord_guessed(&chord, percent(sure));
        }
        Warning::ChordGuessed { sure } => words::take::chord_guessed_unsure(&chord, percent(sure)),
        Warning::VoicingGuessed { sure, .. } if sure >= SURE_ENOUGH => {
            return words::take::voicing_guessed(take.frets, percent(sure));
        }
        Warning::VoicingGuessed { voicings, .. } => {
            let which: Vec<String> = voicings.iter().map(NamedFrets::to_string).collect();
            let typed = voicings.iter().map(|v| match v.frets.to_string() {
                spaced if spaced.contains(' ') => format!("--frets \"{spaced}\""),
                plain => format!("--frets {plain}"),
            });
            return words::take::may_be(
                which.join(words::take::OR),
                what_to_do(warning).trim_end_matches('.'),
                typed.collect::<Vec<_>>().join(words::take::OR),
            );
        }
    };
    format!("{what} {}", what_to_do(warning))
}

/// A warning that keeps takes of a list from being judged, without the figures of any one of them:
/// "Too quiet. Move the microphone nearer …".
pub fn general_warning(warning: &Warning) -> String {
    match warning {
        // What to do says what is missing.
        Warning::ChordGuessed { .. } => what_to_do(warning).to_owned(),
        _ => format!(
            "{}. {}",
            capital(warning_phrase(warning)),
            what_to_do(warning)
        ),
    }
}

fn what_to_do(warning: &Warning) -> &'static str {
    match warning {
        Warning::WrongChord { .. } => words::take::COMPARE_FINGERS,
        Warning::OutOfTune { .. } => words::take::TUNE_IT,
        Warning::TooQuiet { .. } => words::take::MICROPHONE_NEARER,
        Warning::Clipped { .. } => words::take::MICROPHONE_AWAY,
        Warning::TooShort { .. } => words::take::LET_IT_RING,
        Warning::TooNoisy { .. } => words::take::QUIETER_ROOM,
        Warning::Buzz { .. } => words::take::PLUCK_EACH_ALONE,
        Warning::PossibleBuzz { .. } => words::take::PLUCK_IT_ALONE,
        Warning::Rattle { .. } => words::take::LOOK_FOR_WHAT_IS_LOOSE,
        Warning::SoundLost { .. } => words::take::CLOSE_PROGRAMS,
        Warning::ChordGuessed { .. } => words::take::SAY_WHICH_CHORD,
        Warning::VoicingGuessed { .. } => words::take::GIVE_THE_FRETS,
    }
}

fn warning_phrase(warning: &Warning) -> &'static str {
    match warning {
        Warning::WrongChord { .. } => words::take::ANOTHER_CHORD_IN_SHORT,
        Warning::OutOfTune { .. } => words::take::OUT_OF_TUNE_IN_SHORT,
        Warning::TooQuiet { .. } => words::take::TOO_QUIET_IN_SHORT,
        Warning::Clipped { .. } => words::take::OVERLOADED_IN_SHORT,
        Warning::TooShort { .. } => words::take::TOO_SHORT_IN_SHORT,
        Warning::TooNoisy { .. } => words::take::TOO_NOISY_IN_SHORT,
        Warning::SoundLost { .. } => words::take::SOUND_LOST_IN_SHORT,
        Warning::Buzz { .. } => words::take::BUZZ_IN_SHORT,
        Warning::PossibleBuzz { .. } => words::take::POSSIBLE_BUZZ_IN_SHORT,
        Warning::Rattle { .. } => words::take::RATTLE_IN_SHORT,
        Warning::ChordGuessed { .. } => words::take::NO_CHORD_IN_SHORT,
        Warning::VoicingGuessed { .. } => words::take::SHAPE_IN_SHORT,
    }
}

/// Which way a hand is off that holds the shape of a take a fret from its place, and where it is to go.
fn off_place(heard: &NamedFrets, take: &JudgedTake) -> Option<(&'static str, &'static str)> {
    let is_off_by = |by: i8| match take.frets.sounding().next() {
        Some(_) => take.frets.moved(by) == Some(heard.frets),
        // Any shape of the chord was meant.
        None => {
            let wanted = take.chord.as_deref().map(str::parse::<ChordName>);
            let moved = wanted
                .and_then(Result::ok)
                .map(|chord| chord.transposed(by.rem_euclid(12) as u8));
            let is_it = moved
                .zip(heard.chord)
                .is_some_and(|(a, b)| a.sounds_like(&b));
            is_it && heard.shape.is_some() && heard.frets.moved(-by).is_some()
        }
    };
    match (is_off_by(1), is_off_by(-1)) {
        (true, _) => Some((high_or_low(true), words::take::TOWARDS_NUT)),
        (_, true) => Some((high_or_low(false), words::take::TOWARDS_BODY)),
        _ => None,
    }
}

/// "The whole guitar is 23 cents sharp…", where that is worth a word and the advice does not say it.
pub fn tuning_note(take: &JudgedTake) -> Option<String> {
    let cents = take.tuning_cents;
    let said = |a: &Advice| a.cause == Cause::TuneFirst;
    (take.judged() && take.guitar_is_off() && !take.advice.iter().any(said))
        .then(|| words::take::guitar_off(off_pitch(cents)))
}

/// Says what one string, and what several, did that have a fault: "does not ring", "do not ring". The headline, the table
/// and the cause of a take all say it in these words.
pub(super) fn does(string: &StringVerdict) -> (&'static str, &'static str) {
    match string.verdict {
        _ if string.dead_or_dying() => (words::take::IS_DEAD_OR_DIES, words::take::ARE_DEAD_OR_DIE),
        Verdict::Muted => (words::take::DOES_NOT_RING, words::take::DO_NOT_RING),
        Verdict::Choked => (words::take::DIES_EARLY, words::take::DIE_EARLY),
        Verdict::Buzzing => (words::take::BUZZES, words::take::BUZZ),
        Verdict::WrongFret => (
            words::take::SOUNDS_WRONG_FRET,
            words::take::SOUND_WRONG_FRET,
        ),
        _ => (words::take::SOUNDS_UNWANTED, words::take::SOUND_UNWANTED),
    }
}

/// A cause in a few words, as a heading or after a colon.
pub fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::TuneFirst => words::cause::TUNE_FIRST,
        Cause::NothingRings => words::cause::NOTHING_RINGS,
        Cause::AllDull => words::cause::ALL_DULL,
        Cause::FretOfGuitar => words::cause::FRET_OF_GUITAR,
        Cause::BarreSlack => words::cause::BARRE_SLACK,
        Cause::BarreCrease => words::cause::BARRE_CREASE,
        Cause::StrumHard => words::cause::STRUM_HARD,
        Cause::NothingDown => words::cause::NOTHING_DOWN,
        Cause::FingerNotDown => words::cause::FINGER_NOT_DOWN,
        Cause::HandSlipped => words::cause::HAND_SLIPPED,
        Cause::FingerLeans => words::cause::FINGER_LEANS,
        Cause::FingerFlat => words::cause::FINGER_FLAT,
        Cause::FarFromFret => words::cause::FAR_FROM_FRET,
        Cause::StrumMissed => words::cause::STRUM_MISSED,
        Cause::LowStringRings => words::cause::LOW_STRING_RINGS,
        Cause::OtherStringRings => words::cause::OTHER_STRING_RINGS,
        Cause::PressedSharp => words::cause::PRESSED_SHARP,
        Cause::UsualQuiet => words::cause::USUAL_QUIET,
        Cause::Covered => words::cause::COVERED,
    }
}

/// Gives what a string did in most takes in which it was at fault, after its name: "most often died early".
pub fn most_often(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Clean | Verdict::Silent => words::take::OFTEN_RIGHT,
        Verdict::Muted => words::take::OFTEN_DID_NOT_RING,
        Verdict::Choked => words::take::OFTEN_DIED_EARLY,
        Verdict::Buzzing => words::take::OFTEN_BUZZED,
        Verdict::WrongFret => words::take::OFTEN_WRONG_FRET,
        Verdict::Ringing => words::take::OFTEN_UNWANTED,
        Verdict::Unsure => words::take::OFTEN_NOT_TOLD,
    }
}

/// One clause for each kind of fault of the take: "strings 4 and 3 do not ring".
fn faults(take: &JudgedTake) -> Vec<String> {
    let order = [
        Verdict::Muted,
        Verdict::Choked,
        Verdict::Buzzing,
        Verdict::WrongFret,
        Verdict::Ringing,
    ];
    let rank = |s: &StringVerdict| match s.dead_or_dying() {
        // Between the two that it may be.
        true => 1,
        false => 2 * order.iter().take_while(|&&v| v != s.verdict).count(),
    };
    let mut faulty: Vec<&StringVerdict> = (take.strings.iter())
        .filter(|s| s.verdict.is_fault())
        .collect();
    faulty.sort_by_key(|s| rank(s));
    let kinds = faulty.chunk_by(|a, b| does(a) == does(b));
    let clause = |those: &[&StringVerdict]| {
        let who = strings(&those.iter().map(|s| s.string).collect::<Vec<_>>());
        let (one, many) = does(those[0]);
        let does = if those.len() == 1 { one } else { many };
        match doubt_of_all(those.iter().copied()) {
            Some(doubt) => format!("{who} {doubt} {does}"),
            None => format!("{who} {does}"),
        }
    };
    kinds.map(clause).collect()
}

fn numbers(take: &JudgedTake, keep: impl Fn(&StringVerdict) -> bool) -> Vec<u8> {
    take.strings
        .iter()
        .filter(|s| keep(s))
        .map(|s| s.string)
        .collect()
}

/// "String 4", "Strings 6, 4 and 3": as a sentence begins.
pub fn strings_named(numbers: &[u8]) -> String {
    capital(&strings(numbers))
}

#[cfg(test)]
mod tests;
