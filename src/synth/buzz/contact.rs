//! Recorded notes of a bass whose string meets a fret: the only real contact that is known.
//!
//! Contact is told by physics, not by ear: the treble swells, or holds, while the note itself falls.

use std::path::Path;

use serde::Deserialize;

use super::twins::{at, scale};
use crate::synth::notes::NOTE_RATE_HZ;
use crate::synth::table::{TableError, rows};

/// Course of the contact.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Course {
    /// Contact from the attack on.
    Attack,
    /// The treble rises once more while the note falls.
    Late {
        /// Moment of the peak, in seconds after the stroke.
        peak_s: f64,
    },
}

/// A recorded note whose string meets a fret.
#[derive(Debug, Clone)]
pub struct RattlingNote {
    /// MIDI note as labelled.
    pub midi: u8,
    /// Course of its contact.
    pub course: Course,
    /// Mono samples at [`NOTE_RATE_HZ`], scaled like notes, from the stroke on.
    pub samples: Vec<f32>,
}

/// No note is longer, in seconds.
const LONGEST_S: f64 = 10.0;

/// A row of the table of notes.
#[derive(Deserialize)]
struct Row {
    file: String,
    midi: u8,
    kind: Kind,
    rise_to_s: Option<f64>,
}

#[derive(Deserialize)]
#[serde(rename_all = "lowercase")]
enum Kind {
    Late,
    Attack,
}

/// Reads the notes listed in `folder/index.csv` (columns file, midi, dynamic, kind, rise_from_s, rise_to_s, peak_db).
///
/// # Errors
/// When the list or a file named in it cannot be read, or is not at [`NOTE_RATE_HZ`].
pub fn load(folder: &Path) -> Result<Vec<RattlingNote>, TableError> {
    let rows: Vec<Row> = rows(&folder.join("index.csv"))?;
    let note = |row: Row| {
        let recording = crate::audio::read_all(&folder.join(&row.file), LONGEST_S)?;
        if recording.rate_hz != NOTE_RATE_HZ {
            return Err(TableError::Rate {
                file: row.file,
                rate_hz: NOTE_RATE_HZ,
            });
        }
        let mut samples = recording.samples;
        scale(&mut samples);
        let course = match (row.kind, row.rise_to_s) {
            (Kind::Attack, _) => Course::Attack,
            (Kind::Late, Some(peak_s)) => Course::Late { peak_s },
            (Kind::Late, None) => {
                return Err(TableError::Missing {
                    file: row.file,
                    column: "rise_to_s",
                });
            }
        };
        Ok(RattlingNote {
            midi: row.midi,
            course,
            samples,
        })
    };
    rows.into_iter().map(note).collect()
}

/// Leaves out the notes of some pitches, so that what is measured on them was not learnt from them.
pub fn without(notes: &[RattlingNote], pitches: &[u8]) -> Vec<RattlingNote> {
    notes
        .iter()
        .filter(|note| !pitches.contains(&note.midi))
        .cloned()
        .collect()
}

impl RattlingNote {
    /// Its fundamental as labelled, in Hz.
    pub(super) fn hz(&self) -> f64 {
        440.0 * 2f64.powf((f64::from(self.midi) - 69.0) / 12.0)
    }

    /// Where the middle of its contact is, in samples.
    pub(super) fn peak(&self) -> usize {
        match self.course {
            Course::Attack => at(ATTACK_PEAK_S),
            Course::Late { peak_s } => at(peak_s),
        }
    }
}

/// Contact from the attack on is plain so long after the stroke, in seconds: the pluck's own treble is over.
const ATTACK_PEAK_S: f64 = 0.25;
