//! One take as the diary keeps it.

use std::ops::RangeInclusive;
use std::path::{Component, Path};
use std::time::Duration;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::Correction;
use crate::fretboard::library::{self, shape_name};
use crate::fretboard::{Frets, Tuning};
use crate::layers::trained;
use crate::listening::saved::{MOST_REMARKS, check_strings};
use crate::progression::grid::TEMPOS_BPM;
use crate::strings::bounds::{self, CENTS, LONGEST_NAME, LONGEST_TEXT, OutOfBounds, TextError};
use crate::take::Manner;
use crate::verdict::{ALL_STRINGS, JudgedTake, StringVerdict, clean};
use crate::words;

/// Moments that the diary holds, in milliseconds since 1970 began: those that [`Timestamp::from_millisecond`] can
/// read back. The milliseconds of the calendar's last second are not among them.
pub const MOMENTS_MS: RangeInclusive<i64> = -377_705_023_201_000..=253_402_207_200_000;
/// A step lasts an hour at most (`practice::lesson_file`), so no change of chord takes longer, in seconds. A
/// chord's end may be heard just after the next strum.
pub(super) const GAP_S: RangeInclusive<f64> = -1.0..=3600.0;
/// A strum belongs to a beat no more than 2 s away (`progression::timing`); twice and a half that, in ms.
pub(super) const OFF_MS: RangeInclusive<f64> = -5000.0..=5000.0;
/// Tempos in beats a minute: those of a backing, and one either way for rounding.
pub(super) const TEMPO_BPM: RangeInclusive<f64> =
    *TEMPOS_BPM.start() - 1.0..=*TEMPOS_BPM.end() + 1.0;
/// A lesson has so many steps at most, or fewer (`practice::lesson_file`).
const STEP: RangeInclusive<f64> = 1.0..=1000.0;
/// Longest name of a file of sound, in characters: what file systems take.
const LONGEST_FILE: usize = 255;

/// Tells whether a text is a file's name and nothing more: neither a way to a folder here nor on another system.
pub(super) fn is_bare_name(name: &str) -> bool {
    let mut parts = Path::new(name).components();
    let only = (parts.next(), parts.next());
    matches!(only, (Some(Component::Normal(part)), None) if part == name)
        && !name.contains(['/', '\\', ':'])
}

/// Moment so many seconds after `began`, to the millisecond: that and the frets tell a take from others.
pub fn moment(began: Timestamp, into_s: f64) -> Timestamp {
    let after = Duration::from_millis((into_s.max(0.0) * 1000.0) as u64);
    began.checked_add(after).unwrap_or(began)
}

/// One take: as a row of the diary, as a JSON line, as a line of the export.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// Moment at which the first stroke fell.
    pub at: Timestamp,
    /// The user's name for the guitar, where one was given.
    pub guitar: Option<String>,
    /// The practice that it belongs to: the lesson's title, when it began, the step's number (from 1).
    pub lesson: Option<String>,
    /// Beginning of that practice.
    pub began: Option<Timestamp>,
    /// Number of the step, from 1.
    pub step: Option<u32>,
    /// The exercise's kind: build, place, climb, name, switch, hold, route, play.
    pub exercise: Option<String>,
    /// Thing asked within the exercise: "barre", "C on string 5".
    pub stage: Option<String>,
    /// The chord's name where it has one.
    pub chord: Option<String>,
    /// The shape and the fret at which it stands: "A-minor shape", 3.
    pub shape: Option<String>,
    /// The fret at which the shape stands.
    pub fret: Option<u8>,
    /// The frets that it was judged against.
    pub frets: Frets,
    /// True where every string that counts did what it should; none where the take was not judged.
    pub clean: Option<bool>,
    /// The frets that were left for these, where the take ends a change of chord.
    #[serde(deserialize_with = "Option::deserialize")]
    pub from: Option<Frets>,
    /// Time from the old chord's end to this take's beginning, in seconds.
    pub gap_s: Option<f64>,
    /// Late by so many ms against its beat, early where negative, where it was played along with a backing;
    /// and the tempo there, in beats a minute.
    pub off_ms: Option<f64>,
    /// Tempo at that beat, in beats a minute.
    pub tempo_bpm: Option<f64>,
    /// Strummed or picked.
    pub manner: Manner,
    /// Common offset of the guitar from the reference pitch, in cents.
    pub tuning_cents: f32,
    /// Faults of the take as a whole, by kind: "too-quiet".
    pub warnings: Vec<String>,
    /// Likely causes: "barre-slack".
    pub causes: Vec<String>,
    /// String 6 to string 1.
    pub strings: [StringVerdict; 6],
    /// The program's version and its model's.
    pub program: String,
    /// The version of the model that judged it.
    pub model: String,
    /// Place where its sound is kept: a file in the folder beside the diary.
    pub sound: Option<String>,
    /// Word of the player on it, where it was heard otherwise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub said: Option<Correction>,
}

impl Entry {
    /// Reads a line of the diary's own.
    ///
    /// # Errors
    /// Text that is something else, and what no program has kept: numbers out of their range, texts too long,
    /// a sound that is no file of the diary's folder.
    pub fn from_json(text: &str) -> Result<Entry, TextError> {
        let entry: Entry = serde_json::from_str(text)?;
        entry.check()?;
        Ok(entry)
    }

    fn check(&self) -> Result<(), OutOfBounds> {
        for (what, text, most) in [
            ("guitar", self.guitar.as_deref(), LONGEST_NAME),
            ("lesson", self.lesson.as_deref(), LONGEST_TEXT),
            ("exercise", self.exercise.as_deref(), LONGEST_NAME),
            ("stage", self.stage.as_deref(), LONGEST_TEXT),
            ("chord", self.chord.as_deref(), LONGEST_NAME),
            ("shape", self.shape.as_deref(), LONGEST_NAME),
            ("program", Some(&*self.program), LONGEST_NAME),
            ("model", Some(&*self.model), LONGEST_NAME),
            ("sound", self.sound.as_deref(), LONGEST_FILE),
        ] {
            bounds::text(what, text.unwrap_or_default(), most)?;
        }
        for (what, words) in [("warnings", &self.warnings), ("causes", &self.causes)] {
            bounds::list(what, words, MOST_REMARKS)?;
            for word in words {
                bounds::text(words::diary::KIND_OF_WARNING, word, LONGEST_NAME)?;
            }
        }
        bounds::maybe("step", self.step, &STEP)?;
        bounds::maybe("fret", self.fret, &(0.0..=Frets::HIGHEST.into()))?;
        bounds::maybe("gap_s", self.gap_s, &GAP_S)?;
        bounds::maybe("off_ms", self.off_ms, &OFF_MS)?;
        bounds::maybe("tempo_bpm", self.tempo_bpm, &TEMPO_BPM)?;
        bounds::number("tuning_cents", self.tuning_cents, &CENTS)?;
        check_strings(&self.strings, &self.frets)?;
        if self.said.as_ref().is_some_and(|said| !said.is_possible()) {
            return Err(OutOfBounds::Other {
                what: words::diary::STRINGS_SAID,
                found: format!("{:?}", self.said),
            });
        }
        match &self.sound {
            Some(name) if !is_bare_name(name) => Err(OutOfBounds::Other {
                what: words::diary::SOUND_NAME,
                found: format!("{name:?}"),
            }),
            _ => Ok(()),
        }
    }

    /// A take played at `at`, with nothing said about the practice around it. Clean where no string
    /// has a fault and at most one stays unsure.
    pub fn of(take: &JudgedTake, at: Timestamp, tuning: &Tuning) -> Entry {
        let named = library::name_voicing(&take.frets, tuning);
        let shape = named.and_then(|n| Some((shape_name(n.shape?, n.chord.quality), n.at?)));
        Entry {
            at,
            guitar: None,
            lesson: None,
            began: None,
            step: None,
            exercise: None,
            stage: None,
            chord: take.chord.clone(),
            fret: shape.as_ref().map(|(_, at)| *at),
            shape: shape.map(|(name, _)| name),
            frets: take.frets,
            clean: clean(take, &ALL_STRINGS),
            from: None,
            gap_s: None,
            off_ms: None,
            tempo_bpm: None,
            manner: take.manner,
            tuning_cents: finite(take.tuning_cents).unwrap_or(0.0),
            warnings: take.warnings.iter().map(kind_of).collect(),
            causes: take.advice.iter().map(|a| kind_of(&a.cause)).collect(),
            // Neither JSON nor the database knows what is no number.
            strings: take.strings.map(|s| StringVerdict {
                rings: finite(s.rings).unwrap_or(0.5).clamp(0.0, 1.0),
                confidence: finite(s.confidence).unwrap_or(0.0).clamp(0.0, 1.0),
                cents: s.cents.and_then(finite),
                // The diary has no column for it.
                level_db: None,
                ..s
            }),
            program: env!("CARGO_PKG_VERSION").to_owned(),
            model: trained::mark(),
            sound: None,
            said: None,
        }
    }
}

fn finite(number: f32) -> Option<f32> {
    number.is_finite().then_some(number)
}

/// The word that a kind is written as, alone or as the `kind` of an object.
fn kind_of(kind: &impl Serialize) -> String {
    match serde_json::to_value(kind) {
        Ok(serde_json::Value::String(word)) => word,
        Ok(serde_json::Value::Object(fields)) => fields
            .get("kind")
            .and_then(|kind| kind.as_str())
            .unwrap_or_default()
            .to_owned(),
        _ => String::new(),
    }
}
