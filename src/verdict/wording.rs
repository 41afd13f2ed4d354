//! Every sentence about a take: what a verdict is called, why the recording cannot tell, what is
//! wrong with a take as a whole and what to do about it.

use super::{Advice, Cause, Reason, SURE_ENOUGH, StringVerdict, Take, Verdict, Warning};
use crate::fretboard::{ChordName, NamedFrets};

/// Below this confidence a verdict is worded as "probably": more than one in five such verdicts is
/// wrong.
pub const PROBABLY_BELOW: f32 = 0.8;
/// Below this confidence a verdict is worded as "perhaps": it is little better than a toss.
pub const PERHAPS_BELOW: f32 = 0.6;
/// A string that is off the guitar's own tuning by at least this is mentioned. Amateurs hear about
/// 10 cents in an interval (Hill and Summers, JASA 121 (2007) 2376), but fretting alone sharpens by
/// some 2 to 6 (Anderson and Beausoleil, JASA 156(1) (2024) 683), a real hand by more.
pub const STRING_OFF_CENTS: f32 = 20.0;
/// A whole guitar off the reference pitch by at least this is mentioned: below, nobody playing
/// along would notice much (common practice).
pub const GUITAR_OFF_CENTS: f32 = 20.0;

/// Cautions to bear in mind wherever practice is proposed; said once, after everything else. Follows
/// the advice of the British Association for Performing Arts Medicine to players.
pub const CARE: &str = "Stop when it hurts, and rest your hands every half hour. Do not press through pain; if it stays, see a doctor or someone else qualified.";

impl Verdict {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Clean => "clean",
            Verdict::Muted => "muted",
            Verdict::Choked => "choked",
            Verdict::Buzzing => "buzzing",
            Verdict::WrongFret => "wrong fret",
            Verdict::Ringing => "ringing",
            Verdict::Silent => "silent",
            Verdict::Unsure => "unsure",
        }
    }
}

/// How sure a verdict is, in a word, where it is not quite sure.
fn doubt(confidence: f32) -> Option<&'static str> {
    match confidence {
        c if c < PERHAPS_BELOW => Some("perhaps"),
        c if c < PROBABLY_BELOW => Some("probably"),
        _ => None,
    }
}

/// Tells how sure what is said of a string is, in a word, where it is not quite sure.
pub fn doubt_of(string: &StringVerdict) -> Option<&'static str> {
    doubt(sureness(string))
}

fn sureness(string: &StringVerdict) -> f32 {
    match string.dead_or_dying() {
        true => 1.0 - string.rings,
        false => string.confidence,
    }
}

/// The fret as it is said: "open" or its number.
fn place(fret: u8) -> String {
    if fret == 0 {
        "open".to_owned()
    } else {
        fret.to_string()
    }
}

/// Gives what one string did, in a few words: "muted: a dead thud". At most 33 characters.
pub fn string_phrase(string: &StringVerdict) -> String {
    let mut phrase = match (string.verdict, string.expected_fret, string.heard_fret) {
        (Verdict::Unsure, ..) => return format!("unsure: {}", reason_phrase(string.reason)),
        _ if string.dead_or_dying() => return "dead, or dies early".to_owned(),
        (Verdict::Silent, ..) if string.reason == Some(Reason::Faint) => {
            "silent: resonates faintly".to_owned()
        }
        (Verdict::Silent, Some(_), _) => "quiet, as is usual here".to_owned(),
        (Verdict::Silent, ..) => "silent, as it should be".to_owned(),
        (Verdict::Muted, ..) => "muted: a dead thud".to_owned(),
        (Verdict::Choked, ..) => "choked: dies early".to_owned(),
        (Verdict::WrongFret, Some(expected), Some(heard)) => {
            format!("wrong fret: {}, not {}", place(heard), place(expected))
        }
        (Verdict::Ringing, _, None) => "ringing: should be quiet".to_owned(),
        (Verdict::Ringing, _, Some(0)) => "ringing open: unwanted".to_owned(),
        (Verdict::Ringing, _, Some(heard)) => format!("ringing at {heard}: unwanted"),
        (verdict, ..) => verdict.word().to_owned(),
    };
    if let (Verdict::Clean, Some(cents)) = (string.verdict, string.cents)
        && cents.abs() >= STRING_OFF_CENTS
    {
        phrase += &format!(", {}", off_pitch(cents));
    }
    match doubt_of(string) {
        Some(doubt) => format!("{doubt} {phrase}"),
        None => phrase,
    }
}

fn reason_phrase(reason: Option<Reason>) -> &'static str {
    match reason {
        Some(Reason::TooShort) => "the sound ends too soon",
        Some(Reason::Balanced) => "other strings cover it",
        Some(Reason::NotJudged) => "not judged",
        Some(Reason::NotAsked) => "not asked for",
        Some(Reason::MutedOrChoked | Reason::Faint) | None => "the sound does not tell",
    }
}

/// The one sentence to read first: which strings to look at.
pub fn headline(take: &Take) -> String {
    if !take.judged() {
        return if take.warnings.is_empty() {
            "This take was not judged.".to_owned()
        } else {
            let why: Vec<String> = take.warnings.iter().map(|w| warning(w, take)).collect();
            format!("Not judged. {}", why.join(" "))
        };
    }
    let heard: Vec<String> = voicings_heard(take).map(NamedFrets::to_string).collect();
    match heard.is_empty() {
        false => format!(
            "{}: {}",
            heard.join(", or "),
            uncapital(&strings_headline(take))
        ),
        true => strings_headline(take),
    }
}

/// The voicing that was taken for the one played, where only the chord was named; where that is open, each that it may be.
fn voicings_heard(take: &Take) -> impl Iterator<Item = &NamedFrets> {
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
fn strings_headline(take: &Take) -> String {
    if take.almost_nothing_rings() {
        return "Almost nothing rings: the hand touches the strings without pressing them down, or damps them.".to_owned();
    }
    let open: Vec<u8> = numbers(take, is_open);
    let faults = faults(take);
    let main = match faults.len() {
        0 if open.is_empty() => return "Every string is as it should be.".to_owned(),
        0 if open.len() == take.strings.len() => {
            return "The recording does not tell what any string did. Strum again and let the chord ring.".to_owned();
        }
        0 => {
            return format!(
                "{} could not be judged; the others are as they should be.",
                capital(&strings(&open))
            );
        }
        1 | 2 => faults.join(", and "),
        _ => format!(
            "Look at {}",
            strings(&numbers(take, |s| s.verdict.is_fault()))
        ),
    };
    let rest = if open.is_empty() {
        String::new()
    } else {
        format!("; {} could not be judged", strings(&open))
    };
    format!("{}{rest}.", capital(&main))
}

/// Longest that [`brief`] gets, in characters.
pub const BRIEF: usize = 31;

/// A few words for a line of a long list: "look at 4 and 3", after the chord where it was guessed.
pub fn brief(take: &Take) -> String {
    let guess = take.warnings.iter().find_map(|w| match *w {
        Warning::ChordGuessed { sure } => Some(sure),
        _ => None,
    });
    let chord = take.chord.as_deref().unwrap_or_default();
    if !take.judged() {
        return match (guess, take.warnings.last()) {
            (None, Some(Warning::VoicingGuessed { .. })) => {
                format!("{chord}: which shape is not sure")
            }
            (Some(_), _) if take.chord.is_none() => "no chord known here".to_owned(),
            (Some(sure), _) if sure < SURE_ENOUGH => {
                format!("perhaps {chord}, {}", percent(sure))
            }
            (_, Some(why)) => format!("not judged: {}", warning_phrase(why)),
            (_, None) => "not judged".to_owned(),
        };
    }
    if take.almost_nothing_rings() {
        return "almost nothing rings".to_owned();
    }
    let faults = numbers(take, |s| s.verdict.is_fault());
    let open = numbers(take, is_open);
    let (what, those) = match (faults.is_empty(), open.is_empty()) {
        (false, _) => ("look at", faults),
        (true, false) => ("unsure of", open),
        (true, true) => ("as it should be", vec![]),
    };
    let mut heard = voicings_heard(take);
    let start = match (guess, heard.next().filter(|_| heard.next().is_none())) {
        (Some(_), _) => format!("{chord}: {what}"),
        (
            None,
            Some(NamedFrets {
                at: Some(at @ 1..), ..
            }),
        ) => format!("{chord} at {at}: {what}"),
        (None, Some(_)) => format!("{chord} open: {what}"),
        (None, None) => what.to_owned(),
    };
    let long = format!("{start} {}", listed(&those));
    if those.len() == take.strings.len() {
        format!("{start} all six")
    } else if long.chars().count() > BRIEF {
        format!("{start} {} strings", those.len())
    } else {
        long.trim_end().to_owned()
    }
}

/// Gives what is wrong with the take as a whole and what to do, in one or two sentences. `take` is the
/// take that the warning belongs to.
pub fn warning(warning: &Warning, take: &Take) -> String {
    let no_frets = take.frets.sounding().next().is_none();
    let chord = match &take.chord {
        Some(name) if no_frets => name.clone(),
        Some(name) => format!("{name} ({})", take.frets),
        None => take.frets.to_string(),
    };
    let what = match *warning {
        Warning::WrongChord { heard: None } => format!("That was not {chord}."),
        Warning::WrongChord { heard: Some(heard) } => {
            let what = format!("That was not {chord}, but {heard}.");
            return match off_place(&heard, take) {
                Some((way, back)) => format!(
                    "{what} It is the same shape one fret too {way}: move the hand a fret {back}."
                ),
                None => format!("{what} {}", what_to_do(warning)),
            };
        }
        Warning::OutOfTune { cents } => format!(
            "The guitar is out of tune by about {:.0} cents.",
            cents.abs()
        ),
        Warning::TooQuiet { .. } => "The strum is very quiet.".to_owned(),
        Warning::Clipped { share } => format!(
            "The recording is overloaded: {} of it is cut off at full level.",
            percent(share)
        ),
        Warning::TooShort { seconds } => {
            format!("Only {seconds:.1} s of sound follow the strum.")
        }
        Warning::TooNoisy { .. } => "The background is too loud against the strum.".to_owned(),
        Warning::SoundLost { .. } => "The computer lost some of the sound.".to_owned(),
        Warning::Rattle { .. } => "Something rattles that follows no single string.".to_owned(),
        Warning::ChordGuessed { .. } if no_frets => {
            "No chord was named, and none that is known here fits.".to_owned()
        }
        Warning::ChordGuessed { sure } if sure >= SURE_ENOUGH => {
            return format!(
                "No chord was named: {chord} fits best, {} sure.",
                percent(sure)
            );
        }
        Warning::ChordGuessed { sure } => format!(
            "No chord was named: {chord} fits best, but only {} sure.",
            percent(sure)
        ),
        Warning::VoicingGuessed { sure, .. } if sure >= SURE_ENOUGH => {
            return format!(
                "Of all that is known of this name {} fits best, {} sure.",
                take.frets,
                percent(sure)
            );
        }
        Warning::VoicingGuessed { voicings, .. } => {
            let which: Vec<String> = voicings.iter().map(NamedFrets::to_string).collect();
            let typed = voicings.iter().map(|v| match v.frets.to_string() {
                spaced if spaced.contains(' ') => format!("--frets \"{spaced}\""),
                plain => format!("--frets {plain}"),
            });
            return format!(
                "This may be {}. {}: {}.",
                which.join(", or "),
                what_to_do(warning).trim_end_matches('.'),
                typed.collect::<Vec<_>>().join(", or ")
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
        Warning::WrongChord { .. } => {
            "Compare your fingers with the frets, or name the chord that you play."
        }
        Warning::OutOfTune { .. } => "Tune it and record again, or say how it is tuned.",
        Warning::TooQuiet { .. } => {
            "Move the microphone nearer or turn its level up, and record again."
        }
        Warning::Clipped { .. } => {
            "Move the microphone away or turn its level down, and record again."
        }
        Warning::TooShort { .. } => "Let the chord ring for two seconds, and record again.",
        Warning::TooNoisy { .. } => "Record in a quieter room, or move the microphone nearer.",
        Warning::Rattle { .. } => {
            "Look for what is loose on the guitar or in the room, and lay a hand on it."
        }
        Warning::SoundLost { .. } => "Strum again; close other programs if it happens often.",
        Warning::ChordGuessed { .. } => "Say which chord: add --chord Bb or --frets x13331.",
        Warning::VoicingGuessed { .. } => "Give the frets in place of the name.",
    }
}

fn warning_phrase(warning: &Warning) -> &'static str {
    match warning {
        Warning::WrongChord { .. } => "another chord",
        Warning::OutOfTune { .. } => "out of tune",
        Warning::TooQuiet { .. } => "too quiet",
        Warning::Clipped { .. } => "overloaded",
        Warning::TooShort { .. } => "too short",
        Warning::TooNoisy { .. } => "too noisy",
        Warning::SoundLost { .. } => "sound lost",
        Warning::Rattle { .. } => "a rattle",
        Warning::ChordGuessed { .. } => "no chord named",
        Warning::VoicingGuessed { .. } => "which shape is not sure",
    }
}

/// Which way a hand is off that holds the shape of a take a fret from its place, and where it is to go.
fn off_place(heard: &NamedFrets, take: &Take) -> Option<(&'static str, &'static str)> {
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
        (true, _) => Some(("high", TOWARDS_NUT)),
        (_, true) => Some(("low", TOWARDS_BODY)),
        _ => None,
    }
}

pub(super) const TOWARDS_NUT: &str = "towards the nut";
pub(super) const TOWARDS_BODY: &str = "towards the body";

/// "23 cents sharp".
pub(super) fn off_pitch(cents: f32) -> String {
    let way = if cents > 0.0 { "sharp" } else { "flat" };
    format!("{:.0} cents {way}", cents.abs())
}

/// "The whole guitar is 23 cents sharp…", where that is worth a word and the advice does not say it.
pub fn tuning_note(take: &Take) -> Option<String> {
    let cents = take.tuning_cents;
    let said = |a: &Advice| a.cause == Cause::TuneFirst;
    (take.judged() && cents.abs() >= GUITAR_OFF_CENTS && !take.advice.iter().any(said)).then(|| {
        format!(
            "The whole guitar is {}; the verdicts allow for that.",
            off_pitch(cents)
        )
    })
}

/// What one string, and what several, did that have a fault: "does not ring", "do not ring". The headline, the table
/// and the cause of a take all say it in these words.
pub(super) fn does(string: &StringVerdict) -> (&'static str, &'static str) {
    match string.verdict {
        _ if string.dead_or_dying() => ("is dead or dies early", "are dead or die early"),
        Verdict::Muted => ("does not ring", "do not ring"),
        Verdict::Choked => ("dies early", "die early"),
        Verdict::Buzzing => ("buzzes", "buzz"),
        Verdict::WrongFret => ("sounds at the wrong fret", "sound at the wrong fret"),
        _ => ("sounds but should be quiet", "sound but should be quiet"),
    }
}

/// A cause in a few words, as a heading or after a colon.
pub fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::TuneFirst => "the guitar is out of tune",
        Cause::NothingRings => "the hand damps the strings",
        Cause::AllDull => "most strings are dull",
        Cause::FretOfGuitar => "this fret of the guitar",
        Cause::BarreSlack => "the barre presses too little",
        Cause::BarreCrease => "a string lies in a crease of the finger",
        Cause::StrumHard => "a very hard strum, or low strings",
        Cause::NothingDown => "no finger is down",
        Cause::FingerNotDown => "a finger is not down, or on the wrong string",
        Cause::HandSlipped => "the hand is a fret off",
        Cause::FingerLeans => "a finger leans on the string beside it",
        Cause::FingerFlat => "a finger comes down flat",
        Cause::FarFromFret => "a finger too far from its fret",
        Cause::StrumMissed => "the strum does not reach the string",
        Cause::LowStringRings => "a low string is not kept quiet",
        Cause::OtherStringRings => "a string is not kept quiet",
        Cause::PressedSharp => "a string is pressed sharp",
        Cause::UsualQuiet => "quiet, as is usual with this fingering",
        Cause::Covered => "other strings cover it",
    }
}

/// Gives what a string did in most takes in which it was at fault, after its name: "most often died early".
pub fn most_often(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Clean | Verdict::Silent => "was most often as it should be",
        Verdict::Muted => "most often did not ring",
        Verdict::Choked => "most often died early",
        Verdict::Buzzing => "most often buzzed",
        Verdict::WrongFret => "most often sounded at the wrong fret",
        Verdict::Ringing => "most often sounded but should be quiet",
        Verdict::Unsure => "could most often not be told",
    }
}

/// One clause for each kind of fault of the take: "strings 4 and 3 do not ring".
fn faults(take: &Take) -> Vec<String> {
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
        let surest = those.iter().map(|s| sureness(s)).fold(0.0, f32::max);
        match doubt(surest) {
            Some(doubt) => format!("{who} {doubt} {does}"),
            None => format!("{who} {does}"),
        }
    };
    kinds.map(clause).collect()
}

fn numbers(take: &Take, keep: impl Fn(&StringVerdict) -> bool) -> Vec<u8> {
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

/// "string 4", "strings 6, 4 and 3".
pub(super) fn strings(numbers: &[u8]) -> String {
    let noun = if numbers.len() == 1 {
        "string"
    } else {
        "strings"
    };
    format!("{noun} {}", listed(numbers))
}

/// "6, 4 and 3".
pub(super) fn listed(numbers: &[u8]) -> String {
    let words: Vec<String> = numbers.iter().map(u8::to_string).collect();
    match words.as_slice() {
        [all @ .., last] if !all.is_empty() => format!("{} and {last}", all.join(", ")),
        _ => words.concat(),
    }
}

/// With a small first letter, as after a colon; a chord's name keeps its own.
fn uncapital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_lowercase().chain(letters).collect()
    })
}

/// With a capital letter.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// A share as people say it: whole percents, none and all only where it is exactly that.
fn percent(share: f32) -> String {
    let percent = f64::from(share) * 100.0;
    if percent > 0.0 && percent < 1.0 {
        "less than 1 %".to_owned()
    } else if percent > 99.0 && percent < 100.0 {
        "over 99 %".to_owned()
    } else {
        format!("{percent:.0} %")
    }
}

#[cfg(test)]
mod tests;
