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

/// What to bear in mind wherever practice is proposed; said once, after everything else. Follows
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

/// How sure what is said of a string is, in a word, where it is not quite sure.
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

/// What one string did, in a few words: "muted: a dead thud". At most 33 characters.
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
    match voicing_heard(take) {
        Some(voicing) => format!("{voicing}: {}", uncapital(&strings_headline(take))),
        None => strings_headline(take),
    }
}

/// The voicing that was taken for the one played, where only the chord was named.
fn voicing_heard(take: &Take) -> Option<&NamedFrets> {
    take.warnings.iter().find_map(|w| match w {
        Warning::VoicingGuessed { voicings, .. } => voicings.iter().next(),
        _ => None,
    })
}

/// The headline of a judged take, as far as its strings go.
fn strings_headline(take: &Take) -> String {
    if take.almost_nothing_rings() {
        return "Almost nothing rings: the hand touches the strings without pressing them down, or damps them.".to_owned();
    }
    let open: Vec<u8> = numbers(take, |s| s.verdict == Verdict::Unsure);
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
    let open = numbers(take, |s| s.verdict == Verdict::Unsure);
    let (what, those) = match (faults.is_empty(), open.is_empty()) {
        (false, _) => ("look at", faults),
        (true, false) => ("unsure of", open),
        (true, true) => ("as it should be", vec![]),
    };
    let start = match (guess, voicing_heard(take)) {
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

/// What is wrong with the take as a whole and what to do, in one or two sentences. `take` is the
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

/// What a string did in most takes in which it was at fault, after its name: "most often died early".
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
mod tests {
    use super::*;
    use crate::fretboard::Frets;
    use crate::verdict::Candidates;
    use crate::verdict::examples::{bb, not_judged, with};

    const WARNINGS: [Warning; 10] = [
        Warning::Rattle { sure: 0.8 },
        Warning::SoundLost { seconds: 0.2 },
        Warning::WrongChord { heard: None },
        Warning::OutOfTune { cents: -62.0 },
        Warning::TooQuiet { peak_dbfs: -58.0 },
        Warning::Clipped { share: 0.002 },
        Warning::TooShort { seconds: 0.12 },
        Warning::TooNoisy { snr_db: 4.0 },
        Warning::ChordGuessed { sure: 0.5 },
        Warning::ChordGuessed { sure: 0.999 },
    ];

    #[test]
    fn the_headline_names_the_strings_to_look_at_from_low_to_high() {
        use Verdict::*;
        let cases: [(&[(u8, Verdict)], &str); 12] = [
            (&[], "Every string is as it should be."),
            (&[(3, Muted), (4, Muted)], "Strings 4 and 3 do not ring."),
            (&[(4, Muted)], "String 4 does not ring."),
            (&[(2, Choked)], "String 2 dies early."),
            (&[(1, Buzzing), (5, Buzzing)], "Strings 5 and 1 buzz."),
            (&[(3, WrongFret)], "String 3 sounds at the wrong fret."),
            (&[(6, Ringing)], "String 6 sounds but should be quiet."),
            (
                &[(6, Ringing), (1, Muted)],
                "String 1 does not ring, and string 6 sounds but should be quiet.",
            ),
            (
                &[(6, Ringing), (1, Muted), (2, Choked)],
                "Look at strings 6, 2 and 1.",
            ),
            (
                &[(1, Unsure)],
                "String 1 could not be judged; the others are as they should be.",
            ),
            (
                &[(5, Muted), (2, Unsure), (1, Unsure)],
                "String 5 does not ring; strings 2 and 1 could not be judged.",
            ),
            (
                &[
                    (6, Unsure),
                    (5, Unsure),
                    (4, Unsure),
                    (3, Unsure),
                    (2, Unsure),
                    (1, Unsure),
                ],
                "The recording does not tell what any string did. Strum again and let the chord ring.",
            ),
        ];
        for (changes, sentence) in cases {
            let take = changes.iter().fold(bb(), |take, &(string, verdict)| {
                with(take, string, verdict, 0.95)
            });
            assert_eq!(headline(&take), sentence);
        }
    }

    #[test]
    fn a_headline_is_no_surer_than_its_verdicts() {
        let one = with(bb(), 4, Verdict::Muted, 0.7);
        assert_eq!(headline(&one), "String 4 probably does not ring.");
        let both = with(one, 3, Verdict::Muted, 0.55);
        assert_eq!(headline(&both), "Strings 4 and 3 probably do not ring.");
        let toss = with(bb(), 6, Verdict::Ringing, 0.55);
        assert_eq!(
            headline(&toss),
            "String 6 perhaps sounds but should be quiet."
        );
    }

    #[test]
    fn a_string_that_is_dead_or_dies_early_surely_does_not_ring() {
        let mut take = with(
            with(bb(), 4, Verdict::Choked, 0.55),
            3,
            Verdict::Choked,
            0.9,
        );
        let open = &mut take.strings[2];
        (open.rings, open.reason) = (0.02, Some(Reason::MutedOrChoked));
        assert_eq!(string_phrase(open), "dead, or dies early");
        assert_eq!(doubt_of(open), None);
        assert!(open.is_true_of(Verdict::Muted) && open.is_true_of(Verdict::Choked));
        assert!(!open.is_true_of(Verdict::Clean));
        assert!(!take.strings[3].is_true_of(Verdict::Muted));
        assert_eq!(
            headline(&take),
            "String 4 is dead or dies early, and string 3 dies early."
        );
    }

    #[test]
    fn every_warning_is_plain_sentences_that_say_what_to_do() {
        for kind in WARNINGS {
            let take = not_judged(kind);
            let text = warning(&kind, &take);
            assert!(
                text.starts_with(char::is_uppercase) && text.ends_with('.'),
                "{text}"
            );
            let asks = [
                "Strum again",
                "Compare",
                "Look for",
                "Tune",
                "Move",
                "Let the",
                "Record",
                "Say which",
            ];
            let sure = matches!(kind, Warning::ChordGuessed { sure } if sure >= SURE_ENOUGH);
            assert_eq!(asks.iter().any(|ask| text.contains(ask)), !sure, "{text}");
            for jargon in ["dB", "SNR", "onset", "partial", "peak", "sample"] {
                assert!(!text.contains(jargon), "{text}");
            }
            assert!(headline(&take).starts_with("Not judged. "));
        }
    }

    fn named(frets: &str) -> NamedFrets {
        NamedFrets::of(
            &frets.parse().unwrap(),
            &crate::fretboard::Tuning::default(),
        )
    }

    #[test]
    fn the_chord_heard_instead_is_named_and_a_shape_a_fret_off_is_said_to_be_one() {
        let says = |heard: &str| {
            let heard = Some(named(heard));
            warning(&Warning::WrongChord { heard }, &bb())
        };
        assert_eq!(
            says("x32010"),
            "That was not Bb (x13331), but C as an open chord (x32010). Compare your fingers with the frets, or name the chord that you play."
        );
        assert_eq!(
            says("x24442"),
            "That was not Bb (x13331), but B as the A shape at fret 2 (x24442). It is the same shape one fret too high: move the hand a fret towards the nut."
        );
        assert!(
            says("x02220").contains("one fret too low: move the hand a fret towards the body.")
        );
        assert!(
            !says("x35553").contains("same shape"),
            "two frets are no slip"
        );
    }

    #[test]
    fn a_shape_a_fret_off_is_told_where_the_chord_alone_was_named() {
        let take = of_chord_alone("C");
        let says = |heard: &str| {
            let heard = Some(named(heard));
            warning(&Warning::WrongChord { heard }, &take)
        };
        assert!(says("x46664").starts_with(
            "That was not C, but Db as the A shape at fret 4 (x46664). It is the same shape one fret too high"
        ));
        assert!(says("799877").contains("one fret too low"));
        assert!(!says("x57775").contains("same shape"));
        assert!(!says("022100").contains("same shape"));
    }

    /// A take that was not judged, of a chord whose shape nobody named.
    fn of_chord_alone(chord: &str) -> Take {
        let mut take = not_judged(Warning::WrongChord { heard: None });
        take.chord = Some(chord.to_owned());
        take.frets = Frets([None; 6]);
        take
    }

    #[test]
    fn the_voicing_taken_for_the_one_played_is_in_the_first_line() {
        let guessed = |mut take: Take, sure| {
            let voicings = Candidates::of(["x13331", "688766"].map(named));
            let guessed = Warning::VoicingGuessed { sure, voicings };
            take.warnings = vec![guessed];
            take
        };
        let dead = guessed(with(bb(), 4, Verdict::Muted, 0.95), 0.97);
        assert_eq!(
            headline(&dead),
            "Bb as the A shape at fret 1 (x13331): string 4 does not ring."
        );
        assert_eq!(brief(&dead), "Bb at 1: look at 4");
        let open = guessed(of_chord_alone("Bb"), 0.6);
        assert_eq!(
            headline(&open),
            "Not judged. This may be Bb as the A shape at fret 1 (x13331), or Bb as the E shape at fret 6 (688766). Give the frets in place of the name: --frets x13331, or --frets 688766."
        );
        assert_eq!(brief(&open), "Bb: which shape is not sure");
    }

    #[test]
    fn frets_of_two_digits_are_typed_between_quotes() {
        let voicings = Candidates::of(["x 10 12 12 12 10", "355433"].map(named));
        let open = Warning::VoicingGuessed {
            sure: 0.5,
            voicings,
        };
        let text = warning(&open, &of_chord_alone("G"));
        assert!(
            text.ends_with("--frets \"x 10 12 12 12 10\", or --frets 355433."),
            "{text}"
        );
    }

    #[test]
    fn almost_nothing_rings_is_said_instead_of_six_faults() {
        let dead = |strings: &[u8]| {
            let take = bb();
            strings
                .iter()
                .fold(take, |t, s| with(t, *s, Verdict::Muted, 0.9))
        };
        assert!(headline(&dead(&[5, 4, 3, 2])).starts_with("Almost nothing rings: "));
        assert!(headline(&dead(&[5, 4, 3, 2, 1])).starts_with("Almost nothing rings: "));
        assert_eq!(brief(&dead(&[5, 4, 3, 2, 1])), "almost nothing rings");
        assert_eq!(
            headline(&dead(&[4, 3, 2])),
            "Strings 4, 3 and 2 do not ring."
        );
    }

    #[test]
    fn the_sureness_of_a_guess_is_never_rounded_to_certainty() {
        let says = |sure| warning(&Warning::ChordGuessed { sure }, &bb());
        assert!(says(0.999).contains("over 99 % sure"));
        assert!(says(0.004).contains("less than 1 % sure"));
        assert!(says(0.714).contains("but only 71 % sure"));
    }

    #[test]
    fn phrases_keep_to_their_length() {
        for verdict in Verdict::ALL {
            for confidence in [0.1, 0.7, 0.9] {
                let mut take = bb();
                for string in 1..=6 {
                    take = with(take, string, verdict, confidence);
                }
                for string in &mut take.strings {
                    string.heard_fret = string.heard_fret.map(|_| 12);
                    string.cents = Some(-45.0);
                    let phrase = string_phrase(string);
                    assert!(phrase.chars().count() <= 33, "{phrase}");
                }
                take.chord = Some("Bbmaj7".to_owned());
                take.strings[0].verdict = Verdict::Silent;
                assert!(brief(&take).chars().count() <= BRIEF, "{}", brief(&take));
                take.warnings.push(Warning::ChordGuessed { sure: 0.97 });
                assert!(brief(&take).chars().count() <= BRIEF, "{}", brief(&take));
            }
        }
        for kind in WARNINGS {
            assert!(brief(&not_judged(kind)).chars().count() <= BRIEF);
        }
    }

    #[test]
    fn cents_are_mentioned_only_where_they_are_heard() {
        let mut take = bb();
        assert_eq!(string_phrase(&take.strings[1]), "clean");
        take.strings[1].cents = Some(-24.6);
        assert_eq!(string_phrase(&take.strings[1]), "clean, 25 cents flat");
        take.tuning_cents = 19.0;
        assert_eq!(tuning_note(&take), None);
        take.tuning_cents = 23.0;
        assert!(tuning_note(&take).is_some_and(|note| note.contains("23 cents sharp")));
    }

    #[test]
    fn a_line_of_a_list_is_brief() {
        let dead = with(with(bb(), 4, Verdict::Muted, 0.9), 3, Verdict::Muted, 0.9);
        let guessed = |mut take: Take, sure| {
            take.warnings.insert(0, Warning::ChordGuessed { sure });
            take
        };
        assert_eq!(brief(&bb()), "as it should be");
        assert_eq!(brief(&dead), "look at 4 and 3");
        assert_eq!(brief(&with(bb(), 2, Verdict::Unsure, 0.4)), "unsure of 2");
        assert_eq!(brief(&guessed(dead, 0.97)), "Bb: look at 4 and 3");
        assert_eq!(brief(&guessed(bb(), 0.97)), "Bb: as it should be");
        let open = not_judged(Warning::ChordGuessed { sure: 0.714 });
        assert_eq!(brief(&open), "perhaps Bb, 71 %");
        let mut unknown = open.clone();
        unknown.chord = None;
        unknown.frets = crate::fretboard::Frets([None; 6]);
        assert_eq!(brief(&unknown), "no chord known here");
        assert!(headline(&unknown).contains("none that is known here fits"));
        let noisy = not_judged(Warning::TooNoisy { snr_db: 3.0 });
        assert_eq!(brief(&noisy), "not judged: too noisy");
        assert_eq!(brief(&guessed(noisy, 0.97)), "not judged: too noisy");
    }
}
