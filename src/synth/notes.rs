//! Recorded single notes, by guitar: the material of composed takes.

use std::path::Path;

use crate::words;

/// Rate of every bundled note, in Hz.
pub const NOTE_RATE_HZ: u32 = 44_100;

/// One recorded note, cut at its onset.
#[derive(Debug, Clone)]
pub struct Note {
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
    pub notes: Vec<Note>,
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
pub fn all(fixtures: &Path) -> anyhow::Result<Vec<Guitar>> {
    let mut guitars = load(&fixtures.join("notes"))?;
    guitars.extend(load(&fixtures.join("bank"))?);
    Ok(guitars)
}

/// Notes of the archtop whose treble swells late: their string probably touches a fret.
const MAY_TOUCH_A_FRET: [&str; 2] = ["m051v3r1", "m051v4r1"];

/// Leaves out the notes that may touch a fret, so that the others can stand for clean ones.
pub fn leave_contact_out(guitars: &mut [Guitar]) {
    for guitar in guitars.iter_mut().filter(|g| g.name == "archtop") {
        let touches = |note: &Note| MAY_TOUCH_A_FRET.contains(&note.file.as_str());
        guitar.notes.retain(|note| !touches(note));
    }
}

/// Reads the guitars listed in `folder/index.csv` (columns file, guitar, kind, string, fret, midi, dynamic, seconds).
///
/// # Errors
/// When the index or a file named in it cannot be read.
pub fn load(folder: &Path) -> anyhow::Result<Vec<Guitar>> {
    let mut guitars: Vec<Guitar> = Vec::new();
    let index = std::fs::read_to_string(folder.join("index.csv"))?;
    for line in index.lines().skip(1).filter(|l| !l.is_empty()) {
        let field: Vec<&str> = line.split(',').collect();
        anyhow::ensure!(field.len() >= 6, words::networks::six_columns(line));
        let guitar = match guitars.iter_mut().position(|g| g.name == field[1]) {
            Some(at) => &mut guitars[at],
            None => {
                guitars.push(Guitar {
                    name: field[1].into(),
                    notes: vec![],
                    dead_strikes: vec![],
                });
                guitars.last_mut().expect("just pushed")
            }
        };
        let samples = || -> anyhow::Result<Vec<f32>> {
            let mut samples =
                crate::audio::read_all(&folder.join(field[0]), LONGEST_NOTE_S)?.samples;
            let head = &samples[..samples.len().min(NOTE_RATE_HZ as usize / 2)];
            let rms = (head.iter().map(|s| s * s).sum::<f32>() / head.len().max(1) as f32).sqrt();
            let gain = NOTE_RMS / rms.max(1e-6);
            samples.iter_mut().for_each(|s| *s *= gain);
            Ok(samples)
        };
        match field[2] {
            "note" => {
                let place = match (field[3].parse::<usize>(), field[4].parse::<u8>()) {
                    (Ok(string), Ok(fret)) => Some((6 - string, fret)),
                    _ => None,
                };
                let file = Path::new(field[0]).file_stem().unwrap_or_default();
                guitar.notes.push(Note {
                    file: file.to_string_lossy().into_owned(),
                    midi: field[5].parse()?,
                    place,
                    samples: samples()?,
                });
            }
            "dead-strike" => guitar.dead_strikes.push(samples()?),
            _ => {}
        }
    }
    Ok(guitars)
}
