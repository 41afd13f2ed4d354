//! Takes of a recording as JSON, written and read: the object of `check --json` and of the file that
//! `listen --save` writes beside a recording, with the guitar and the moment where they were noted.

use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::disk::{self, DiskError};
use crate::fretboard::{Frets, STRINGS, Tuning, string_number};
use crate::strings::bounds::{self, CENTS, LONGEST_NAME, LONGEST_TEXT, OutOfBounds, TextError};
use crate::take::Manner;
use crate::verdict::{
    Advice, ExpectedVoicing, JudgedTake, Reason, StringVerdict, Verdict, Warning, wording,
};
use crate::words;

/// No file beside a recording is longer, in bytes: 16,000 takes of 2 kB, some ten hours of strumming.
const LONGEST_SAVED: u64 = 32 * 1024 * 1024;

/// No recording is longer, in seconds: eleven days. A choice.
const START_S: RangeInclusive<f64> = 0.0..=1e6;
/// Frets that may be heard: one above the last is looked for too (`fretboard::frets_beside`).
const HEARD_FRETS: RangeInclusive<f64> = 0.0..=Frets::HIGHEST as f64 + 1.0;
/// Most warnings, causes or pieces of advice of one take: more than there are kinds. A choice.
pub const MOST_REMARKS: usize = 40;

/// A recording's takes as they were judged.
#[derive(Debug, Clone, Deserialize)]
pub struct Saved {
    /// The takes, in the order of time.
    pub takes: Vec<SavedTake>,
    /// Name that the player gives the guitar.
    pub guitar: Option<String>,
    /// Moment of the recording, where that is known.
    pub recorded_at: Option<Moment>,
}

/// A moment by RFC 3339, or by the clock on the wall alone.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(try_from = "String")]
pub struct Moment {
    /// Moment by the clock on the wall there: its own where it names an offset, this computer's where it is in
    /// UTC.
    pub on_the_wall: DateTime,
    /// Everywhere.
    pub at: Timestamp,
}

impl TryFrom<String> for Moment {
    type Error = jiff::Error;

    fn try_from(text: String) -> Result<Moment, jiff::Error> {
        let here = TimeZone::system();
        let at = text.parse::<Timestamp>();
        // Text in UTC is no date and time of a wall; without any offset it is no moment.
        match (text.parse::<DateTime>(), at) {
            (Ok(on_the_wall), Ok(at)) => Ok(Moment { on_the_wall, at }),
            (Ok(on_the_wall), Err(_)) => Ok(Moment {
                on_the_wall,
                at: here.to_timestamp(on_the_wall)?,
            }),
            (Err(_), at) => at.map(|at| Moment {
                on_the_wall: here.to_datetime(at),
                at,
            }),
        }
    }
}

/// One take as it was judged.
#[derive(Debug, Clone, Deserialize)]
pub struct SavedTake {
    /// Moment of the first stroke, in seconds from the start of the recording.
    #[serde(default)]
    pub start_s: f64,
    /// Strummed or picked; strummed where the file says nothing.
    #[serde(default = "strummed")]
    pub manner: Manner,
    /// The chord's name where it has one.
    pub chord: Option<String>,
    /// The frets that it was judged against.
    pub frets: Frets,
    /// Common offset of the guitar from the reference pitch, in cents.
    pub tuning_cents: Option<f32>,
    /// Faults of the take as a whole.
    #[serde(default)]
    pub warnings: Vec<SavedWarning>,
    /// String 6 to string 1.
    pub strings: [StringVerdict; STRINGS],
    /// Likely causes and what to try, the most useful first.
    #[serde(default)]
    pub advice: Vec<Advice>,
}

/// Fault of a take as a whole, in words.
#[derive(Debug, Clone, Deserialize)]
pub struct SavedWarning {
    /// Kind of the warning, as "too-quiet".
    pub kind: String,
    /// The warning as people read it.
    pub text: String,
}

/// Distance at which a take may stand from where it was saved to be the same one, in seconds: the same sound in
/// another kind of file begins up to 48 ms later.
pub const SAME_TAKE_S: f64 = 0.2;

/// Checks that strings are six, 6 to 1, expected at these frets, and their numbers possible.
///
/// # Errors
/// What is not so.
pub fn check_strings(strings: &[StringVerdict; STRINGS], frets: &Frets) -> Result<(), OutOfBounds> {
    for (index, string) in strings.iter().enumerate() {
        if string.string != string_number(index) {
            return Err(OutOfBounds::Other {
                what: words::recording::STRINGS_IN_ORDER,
                found: string.string.to_string(),
            });
        }
        if string.expected_fret != frets.0[index] {
            return Err(OutOfBounds::Other {
                what: words::recording::STRINGS_AT_THEIR_FRETS,
                found: words::recording::another_fret(string.string, frets),
            });
        }
        bounds::maybe("heard_fret", string.heard_fret, &HEARD_FRETS)?;
        bounds::probability("rings", string.rings)?;
        bounds::probability("confidence", string.confidence)?;
        bounds::maybe("cents", string.cents, &CENTS)?;
    }
    Ok(())
}

impl Saved {
    /// Reads the object that `check --json` and `listen --save` write.
    ///
    /// # Errors
    /// Text that is something else, and what no program has heard: numbers out of their range, texts too long.
    pub fn from_json(text: &str) -> Result<Saved, TextError> {
        let saved: Saved = serde_json::from_str(text)?;
        if let Some(guitar) = &saved.guitar {
            bounds::text(words::recording::GUITARS_NAME, guitar, LONGEST_NAME)?;
        }
        saved.takes.iter().try_for_each(SavedTake::check)?;
        Ok(saved)
    }

    /// The take at a moment of the recording, in seconds.
    pub fn nearest(&self, start_s: f64) -> Option<&SavedTake> {
        let off = |take: &&SavedTake| (take.start_s - start_s).abs();
        let nearest = self.takes.iter().min_by(|a, b| off(a).total_cmp(&off(b)))?;
        (off(&nearest) <= SAME_TAKE_S).then_some(nearest)
    }
}

impl Saved {
    /// The voicing that all its takes were held against, with the usual fingers; `None` where there are several or
    /// none.
    pub fn voicing(&self, tuning: &Tuning) -> Option<ExpectedVoicing> {
        let first = self.takes.first()?;
        let same = self.takes.iter().all(|take| take.frets == first.frets);
        same.then(|| first.voicing(tuning))
    }
}

impl SavedTake {
    /// Gives what it was held against, with the usual fingers.
    pub fn voicing(&self, tuning: &Tuning) -> ExpectedVoicing {
        ExpectedVoicing::usual(self.frets, self.chord.clone(), tuning)
    }

    fn check(&self) -> Result<(), OutOfBounds> {
        bounds::number("start_s", self.start_s, &START_S)?;
        bounds::maybe("tuning_cents", self.tuning_cents, &CENTS)?;
        let chord = self.chord.as_deref().unwrap_or_default();
        bounds::text(words::recording::CHORDS_NAME, chord, LONGEST_NAME)?;
        check_strings(&self.strings, &self.frets)?;
        bounds::list("warnings", &self.warnings, MOST_REMARKS)?;
        for warning in &self.warnings {
            bounds::text(words::recording::WARNINGS_KIND, &warning.kind, LONGEST_NAME)?;
            bounds::text("a warning", &warning.text, LONGEST_TEXT)?;
        }
        bounds::list(
            words::recording::PIECES_OF_ADVICE,
            &self.advice,
            MOST_REMARKS,
        )?;
        for advice in &self.advice {
            bounds::text("advice", &advice.what, LONGEST_TEXT)?;
            bounds::text("advice", &advice.try_first, LONGEST_TEXT)?;
            bounds::list(
                words::recording::STRINGS_OF_ADVICE,
                &advice.strings,
                STRINGS,
            )?;
            for &string in &advice.strings {
                bounds::number(
                    words::recording::STRINGS_NUMBER,
                    string,
                    &(1.0..=STRINGS as f64),
                )?;
            }
        }
        Ok(())
    }

    /// The take; what was wrong with it as a whole is only in [`Self::warnings`].
    pub fn take(&self) -> JudgedTake {
        JudgedTake {
            start_s: self.start_s,
            manner: self.manner,
            chord: self.chord.clone(),
            frets: self.frets,
            tuning_cents: self.tuning_cents.unwrap_or(0.0),
            warnings: Vec::new(),
            strings: self.strings,
            advice: self.advice.clone(),
        }
    }
}

/// Faults of a file of what was said of a recording.
#[derive(Debug, thiserror::Error)]
pub enum SavedError {
    /// File that cannot be read.
    #[error(transparent)]
    Disk(#[from] DiskError),
    /// File that holds something else.
    #[error("{}", words::recording::no_saved_take(path.display()))]
    NoTake {
        /// The file.
        path: PathBuf,
        /// Fault of the file.
        source: TextError,
    },
}

/// Tells where the file beside a recording would be.
pub fn path_beside(recording: &Path) -> PathBuf {
    recording.with_extension("json")
}

/// Reads the file beside a recording; `None` where there is none.
///
/// # Errors
/// As [`read`].
pub fn beside(recording: &Path) -> Result<Option<Saved>, SavedError> {
    let path = path_beside(recording);
    match path.exists() {
        true => read(&path).map(Some),
        false => Ok(None),
    }
}

/// Reads what was saved.
///
/// # Errors
/// A file that cannot be read, or that holds something else, as a sentence.
pub fn read(path: &Path) -> Result<Saved, SavedError> {
    let text = disk::read_text(path, LONGEST_SAVED)?;
    Saved::from_json(&text).map_err(|source| SavedError::NoTake {
        path: path.to_owned(),
        source,
    })
}

/// A take as it stands in a file's "takes": what [`SavedTake`] reads.
#[derive(Debug, Serialize)]
pub struct TakeObject {
    start_s: Value,
    manner: Manner,
    chord: Option<String>,
    frets: String,
    tuning_cents: Value,
    warnings: Vec<Map<String, Value>>,
    strings: Vec<StringObject>,
    advice: Vec<Advice>,
}

#[derive(Debug, Serialize)]
struct StringObject {
    string: u8,
    expected_fret: Option<u8>,
    verdict: Verdict,
    heard_fret: Option<u8>,
    rings: Value,
    confidence: Value,
    cents: Value,
    level_db: Value,
    reason: Option<Reason>,
}

/// A take as it stands in a file's "takes".
pub fn take_object(take: &JudgedTake) -> Value {
    serde_json::to_value(TakeObject::from(take)).unwrap_or(Value::Null)
}

impl From<&JudgedTake> for TakeObject {
    fn from(take: &JudgedTake) -> Self {
        TakeObject {
            start_s: rounded(take.start_s, 3),
            manner: take.manner,
            chord: take.chord.clone(),
            frets: take.frets.to_string(),
            tuning_cents: rounded(take.tuning_cents.into(), 1),
            warnings: take.warnings.iter().map(|w| warning(w, take)).collect(),
            strings: take
                .strings
                .iter()
                .map(|s| StringObject {
                    string: s.string,
                    expected_fret: s.expected_fret,
                    verdict: s.verdict,
                    heard_fret: s.heard_fret,
                    rings: rounded(s.rings.into(), 3),
                    confidence: rounded(s.confidence.into(), 3),
                    cents: s.cents.map_or(Value::Null, |c| rounded(c.into(), 1)),
                    level_db: s.level_db.map_or(Value::Null, |db| rounded(db.into(), 1)),
                    reason: s.reason,
                })
                .collect(),
            advice: take.advice.clone(),
        }
    }
}

/// The warning's kind and data, and its sentence as `text`.
fn warning(warning: &Warning, take: &JudgedTake) -> Map<String, Value> {
    let mut object = match serde_json::to_value(warning) {
        Ok(Value::Object(object)) => object,
        other => unreachable!("a warning is an object with a kind, not {other:?}"),
    };
    for value in object.values_mut() {
        // A string's number is whole.
        if let Some(number) = value.as_f64().filter(|_| value.is_f64()) {
            *value = rounded(number, 4);
        }
    }
    object.insert("text".into(), wording::warning(warning, take).into());
    object
}

/// The number to so many decimals; null where it is none (JSON knows no NaN).
fn rounded(number: f64, decimals: i32) -> Value {
    let scale = 10f64.powi(decimals);
    // Adding zero turns -0.0 into 0.0.
    serde_json::Number::from_f64((number * scale).round() / scale + 0.0)
        .map_or(Value::Null, Value::Number)
}

fn strummed() -> Manner {
    Manner::Strummed
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verdict::examples::{bb, with};
    use serde_json::json;

    #[test]
    fn a_warning_has_whole_numbers_for_strings() {
        let mut take = bb();
        let (string, sure) = (4, 0.7);
        take.warnings.push(Warning::PossibleBuzz { string, sure });
        assert_eq!(
            json!(take_object(&take))["warnings"],
            json!([{
                "kind": "possible-buzz",
                "string": 4,
                "sure": 0.7,
                "text": "It is not sure whether string 4 buzzes. Pluck it alone and listen. \
                         If it buzzes, press it closer behind the fret.",
            }])
        );
    }

    fn written() -> String {
        let take = with(bb(), 3, Verdict::Muted, 0.9);
        json!({ "file": "a.wav", "takes": [take_object(&take)] }).to_string()
    }

    #[test]
    fn what_was_written_is_read_back() {
        let saved: Saved = serde_json::from_str(&written()).unwrap();
        let take = saved.nearest(0.4).unwrap();
        assert_eq!(take.frets.to_string(), "x13331");
        assert_eq!(take.chord.as_deref(), Some("Bb"));
        assert_eq!(take.strings[3].verdict, Verdict::Muted);
        assert!(saved.nearest(1.0).is_none(), "that is another take");
    }

    #[test]
    fn guitar_and_moment_are_read_where_they_are_noted() {
        let read = |extra: &str| -> Result<Saved, _> {
            serde_json::from_str(&written().replacen('{', &format!("{{{extra},"), 1))
        };
        let local =
            read(r#""guitar":"old one","recorded_at":"2026-03-02T18:30:00+05:00""#).unwrap();
        assert_eq!(
            local.recorded_at.unwrap().on_the_wall.to_string(),
            "2026-03-02T18:30:00"
        );
        assert_eq!(local.guitar.as_deref(), Some("old one"));
        assert!(
            read(r#""recorded_at":"2026-03-02T18:30:00Z""#)
                .unwrap()
                .recorded_at
                .is_some()
        );
        assert!(read(r#""recorded_at":"yesterday""#).is_err());
    }

    #[test]
    fn numbers_that_nobody_has_heard_are_refused_with_their_range() {
        let text = written();
        assert!(Saved::from_json(&text).is_ok());
        let long = "x".repeat(401);
        for (from, to, said) in [
            (
                r#""start_s":0.312"#,
                r#""start_s":-1.0"#,
                "start_s is a number from 0 to 1000000; -1",
            ),
            (r#""start_s":0.312"#, r#""start_s":1e300"#, "start_s"),
            (r#""start_s":0.312"#, r#""start_s":1e999"#, "out of range"),
            (
                r#""string":6"#,
                r#""string":5"#,
                "strings are told from 6 to 1",
            ),
            (
                r#""string":6"#,
                r#""string":255"#,
                "strings are told from 6 to 1",
            ),
            (
                r#""expected_fret":null"#,
                r#""expected_fret":3"#,
                "another expected_fret of string 6",
            ),
            (
                r#""heard_fret":null"#,
                r#""heard_fret":26"#,
                "heard_fret is a number from 0 to 25; 26",
            ),
            (
                r#""cents":null"#,
                r#""cents":1e30"#,
                "cents is a number from -300 to 300",
            ),
            (
                r#""frets":"x13331""#,
                r#""frets":"x13339999""#,
                "frets need six",
            ),
            (
                r#""chord":"Bb""#,
                &format!(r#""chord":"{long}""#),
                "at most 60 characters; 401 came",
            ),
            (
                r#""warnings":[]"#,
                &format!(r#""warnings":[{{"kind":"a","text":"{long}"}}]"#),
                "a warning has at most 400",
            ),
            (
                r#""advice":[]"#,
                r#""advice":[{"cause":"barre-slack","strings":[9],"what":"","try":""}]"#,
                "a string's number is a number from 1 to 6; 9",
            ),
        ] {
            let wrong = text.replacen(from, to, 1);
            assert_ne!(wrong, text, "{from} in {text}");
            let error = Saved::from_json(&wrong).expect_err(to).to_string();
            assert!(error.contains(said), "{to}: {error}");
        }
        let rings = text.find("\"rings\":").unwrap();
        let after = rings + text[rings..].find(',').unwrap();
        for odd in ["1.01", "-0.5", "1e30"] {
            let wrong = format!("{}\"rings\":{odd}{}", &text[..rings], &text[after..]);
            let error = Saved::from_json(&wrong).expect_err(odd).to_string();
            assert!(error.contains("rings is a number from 0 to 1"), "{error}");
        }
    }
}
