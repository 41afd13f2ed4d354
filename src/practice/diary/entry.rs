//! One take as the diary keeps it.

use std::time::Duration;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::fretboard::library::{self, shape_name};
use crate::fretboard::{Frets, Tuning};
use crate::strings::Network;
use crate::take::Manner;
use crate::verdict::{ALL_STRINGS, StringVerdict, Take, clean};

/// So many seconds after `began`, to the millisecond: that and the frets tell a take from others.
pub fn moment(began: Timestamp, into_s: f64) -> Timestamp {
    let after = Duration::from_millis((into_s.max(0.0) * 1000.0) as u64);
    began.checked_add(after).unwrap_or(began)
}

/// One take: as a row of the diary, as a JSON line, as a line of the export.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// When the first string was struck.
    pub at: Timestamp,
    pub guitar: Option<String>,
    /// The practice that it belongs to: the lesson's title, when it began, the step's number (from 1).
    pub lesson: Option<String>,
    pub began: Option<Timestamp>,
    pub step: Option<u32>,
    /// The exercise's kind: build, place, climb, name, switch, hold, route, play.
    pub exercise: Option<String>,
    /// What was asked within the exercise: "barre", "C on string 5".
    pub stage: Option<String>,
    pub chord: Option<String>,
    /// The shape and the fret at which it stands: "A-minor shape", 3.
    pub shape: Option<String>,
    pub fret: Option<u8>,
    pub frets: Frets,
    /// Whether every string that counts did what it should; none where the take was not judged.
    pub clean: Option<bool>,
    /// The frets that were left for these, where the take ends a change of chord.
    #[serde(deserialize_with = "Option::deserialize")]
    pub from: Option<Frets>,
    /// From the old chord's end to this take's beginning, in seconds.
    pub gap_s: Option<f64>,
    /// Late by so many ms against its beat, early where negative, where it was played along with a backing;
    /// and the tempo there, in beats a minute.
    pub off_ms: Option<f64>,
    pub tempo_bpm: Option<f64>,
    pub manner: Manner,
    pub tuning_cents: f32,
    /// What was wrong with the take as a whole, by kind: "too-quiet".
    pub warnings: Vec<String>,
    /// Likely causes: "barre-slack".
    pub causes: Vec<String>,
    /// String 6 to string 1.
    pub strings: [StringVerdict; 6],
    /// The program's version and its model's.
    pub program: String,
    pub model: String,
    /// Where its sound is kept: a file in the folder beside the diary.
    pub sound: Option<String>,
}

impl Entry {
    /// A take played at `at`, with nothing said about the practice around it. Clean where no string
    /// has a fault and at most one stays unsure.
    pub fn of(take: &Take, at: Timestamp, tuning: &Tuning) -> Entry {
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
                rings: finite(s.rings).unwrap_or(0.5),
                confidence: finite(s.confidence).unwrap_or(0.0),
                cents: s.cents.and_then(finite),
                // The diary has no column for it.
                level_db: None,
                ..s
            }),
            program: env!("CARGO_PKG_VERSION").to_owned(),
            model: Network::built_in_id(),
            sound: None,
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
