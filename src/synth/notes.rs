//! Recorded single notes, by guitar: the material of composed takes.

use std::path::Path;

use serde::Deserialize;

use super::table::{TableError, rows};

/// Rate of every bundled note, in Hz.
pub const NOTE_RATE_HZ: u32 = 44_100;

/// One recorded note, cut at its onset.
#[derive(Debug, Clone)]
pub struct RecordedNote {
    /// Name of its file without folder and ending; empty where it was not read from one.
    pub file: String,
    /// MIDI note as labelled.
    pub midi: u8,
    /// String index (0 = string 6) and fret, where known.
    pub place: Option<(usize, u8)>,
    /// Mono samples at [`NOTE_RATE_HZ`], scaled so that the first half second has an RMS of 0.1.
    pub samples: Vec<f32>,
}

/// All that was recorded of one guitar.
#[derive(Debug, Clone)]
pub struct Guitar {
    /// Name of the guitar in the table of notes.
    pub name: String,
    /// Its recorded notes, in the table's order.
    pub notes: Vec<RecordedNote>,
    /// Strikes over fully damped strings, scaled like the notes; empty for most guitars.
    pub dead_strikes: Vec<Vec<f32>>,
}

/// RMS over the first half second that notes are scaled to, so that a composed take's balance is
/// the composer's choice and not the recordist's.
pub const NOTE_RMS: f32 = 0.1;
/// No bundled note lasts longer, in seconds.
const LONGEST_NOTE_S: f64 = 10.0;

/// Reads all recorded guitars that `fixtures` holds: those of its `notes`, then those of sound banks. Tables and networks
/// know a guitar by its place in this list.
///
/// # Errors
/// As [`load`].
pub fn all(fixtures: &Path) -> Result<Vec<Guitar>, TableError> {
    let mut guitars = load(&fixtures.join("notes"))?;
    guitars.extend(load(&fixtures.join("bank"))?);
    Ok(guitars)
}

/// Notes of the archtop whose treble swells late: their string probably touches a fret.
const MAY_TOUCH_A_FRET: [&str; 2] = ["m051v3r1", "m051v4r1"];

/// Leaves out the notes that may touch a fret, so that the others can stand for clean ones.
pub fn leave_contact_out(guitars: &mut [Guitar]) {
    for guitar in guitars.iter_mut().filter(|g| g.name == "archtop") {
        let touches = |note: &RecordedNote| MAY_TOUCH_A_FRET.contains(&note.file.as_str());
        guitar.notes.retain(|note| !touches(note));
    }
}

/// A row of the table of notes.
#[derive(Deserialize)]
struct Row {
    file: String,
    guitar: String,
    kind: String,
    string: Option<usize>,
    fret: Option<u8>,
    midi: Option<u8>,
}

/// Reads the guitars listed in `folder/index.csv` (columns file, guitar, kind, string, fret, midi, dynamic, seconds).
///
/// # Errors
/// When the index or a file named in it cannot be read.
pub fn load(folder: &Path) -> Result<Vec<Guitar>, TableError> {
    load_those(folder, |_| true)
}

/// Reads one of the guitars that [`load`] reads; `None` where none has this name.
///
/// # Errors
/// As [`load`], of this guitar alone.
pub fn load_one(folder: &Path, name: &str) -> Result<Option<Guitar>, TableError> {
    let mut guitars = load_those(folder, |guitar| guitar == name)?;
    Ok(guitars.pop())
}

fn load_those(folder: &Path, wanted: impl Fn(&str) -> bool) -> Result<Vec<Guitar>, TableError> {
    let mut guitars: Vec<Guitar> = Vec::new();
    let rows: Vec<Row> = rows(&folder.join("index.csv"))?;
    for row in rows.into_iter().filter(|row| wanted(&row.guitar)) {
        let at = guitars.iter().position(|g| g.name == row.guitar);
        let at = at.unwrap_or_else(|| {
            guitars.push(Guitar {
                name: row.guitar.clone(),
                notes: vec![],
                dead_strikes: vec![],
            });
            guitars.len() - 1
        });
        let samples = || scaled(&folder.join(&row.file));
        match &*row.kind {
            "note" => {
                let midi = row.midi.ok_or_else(|| TableError::Missing {
                    file: row.file.clone(),
                    column: "midi",
                })?;
                let file = Path::new(&row.file).file_stem().unwrap_or_default();
                guitars[at].notes.push(RecordedNote {
                    file: file.to_string_lossy().into_owned(),
                    midi,
                    place: row.string.zip(row.fret).map(|(s, fret)| (6 - s, fret)),
                    samples: samples()?,
                });
            }
            "dead-strike" => guitars[at].dead_strikes.push(samples()?),
            _ => {}
        }
    }
    Ok(guitars)
}

/// A recording at the level that all are brought to.
fn scaled(path: &Path) -> Result<Vec<f32>, TableError> {
    let mut samples = crate::audio::read_all(path, LONGEST_NOTE_S)?.samples;
    let head = &samples[..samples.len().min(NOTE_RATE_HZ as usize / 2)];
    let rms = (head.iter().map(|s| s * s).sum::<f32>() / head.len().max(1) as f32).sqrt();
    let gain = NOTE_RMS / rms.max(1e-6);
    samples.iter_mut().for_each(|s| *s *= gain);
    Ok(samples)
}
