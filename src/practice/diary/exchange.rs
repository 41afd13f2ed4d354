//! The diary out of its file and back: CSV, JSON lines, and takes that `listen` has saved.

use std::io::{self, BufRead, Write};
use std::path::Path;
use std::time::Duration;

use jiff::Timestamp;

use super::Entry;
use crate::disk;
use crate::fretboard::{STRINGS, Tuning, string_number};
use crate::listening::saved::{Saved, SavedTake};
use crate::take::Manner;

/// No recording is longer, in seconds: eleven days.
const LONGEST_RECORDING_S: f64 = 1e6;

/// Writes the takes as JSON, one object a line.
///
/// # Errors
/// Where `out` cannot be written.
pub fn write_json(out: &mut dyn Write, entries: &[Entry]) -> io::Result<()> {
    for entry in entries {
        serde_json::to_writer(&mut *out, entry).map_err(io::Error::from)?;
        writeln!(out)?;
    }
    Ok(())
}

/// Writes the takes as CSV with a heading: a line a take.
///
/// # Errors
/// Where `out` cannot be written.
pub fn write_csv(out: &mut dyn Write, entries: &[Entry]) -> io::Result<()> {
    let mut csv = csv::Writer::from_writer(out);
    let mut heading: Vec<String> = [
        "at",
        "guitar",
        "lesson",
        "began",
        "step",
        "exercise",
        "stage",
        "chord",
        "shape",
        "fret",
        "frets",
        "clean",
        "from",
        "gap_s",
        "off_ms",
        "tempo_bpm",
        "manner",
        "tuning_cents",
        "warnings",
        "causes",
        "program",
        "model",
        "sound",
    ]
    .map(str::to_owned)
    .to_vec();
    for string in (0..STRINGS).map(string_number) {
        for column in ["verdict", "heard_fret", "rings", "confidence", "cents"] {
            heading.push(format!("{column}_{string}"));
        }
    }
    csv.write_record(&heading)?;
    for entry in entries {
        csv.write_record(line(entry))?;
    }
    csv.flush()
}

fn line(entry: &Entry) -> Vec<String> {
    fn text<T: ToString>(value: &Option<T>) -> String {
        value.as_ref().map_or_else(String::new, T::to_string)
    }
    let manner = match entry.manner {
        Manner::Strummed => "strummed",
        Manner::Picked => "picked",
    };
    let mut line = vec![
        entry.at.to_string(),
        text(&entry.guitar),
        text(&entry.lesson),
        text(&entry.began),
        text(&entry.step),
        text(&entry.exercise),
        text(&entry.stage),
        text(&entry.chord),
        text(&entry.shape),
        text(&entry.fret),
        entry.frets.to_string(),
        text(&entry.clean),
        text(&entry.from),
        text(&entry.gap_s),
        text(&entry.off_ms),
        text(&entry.tempo_bpm),
        manner.to_owned(),
        entry.tuning_cents.to_string(),
        entry.warnings.join(" "),
        entry.causes.join(" "),
        entry.program.clone(),
        entry.model.clone(),
        text(&entry.sound),
    ];
    for string in &entry.strings {
        line.extend([
            string.verdict.word().to_owned(),
            text(&string.heard_fret),
            string.rings.to_string(),
            string.confidence.to_string(),
            text(&string.cents),
        ]);
    }
    line
}

/// Reads takes from a file of JSON lines: the diary's own, or saved takes with the time of their
/// recording.
///
/// # Errors
/// What is wrong, as a sentence with the line's number; nothing is then taken over.
pub fn read(path: &Path) -> Result<Vec<Entry>, String> {
    let name = path.display();
    disk::check_plain(path).map_err(|error| error.to_string())?;
    let file = std::fs::File::open(path).map_err(|e| format!("{name}: cannot be read: {e}"))?;
    let mut entries = Vec::new();
    for (i, text) in io::BufReader::new(file).lines().enumerate() {
        let text = text.map_err(|e| format!("{name}, line {}: {e}", i + 1))?;
        if text.trim().is_empty() {
            continue;
        }
        let more = one(&text).map_err(|why| {
            format!(
                "{name}, line {}: this is no take that ringtrue has written ({why}); nothing was taken over",
                i + 1
            )
        })?;
        entries.extend(more);
    }
    Ok(entries)
}

fn one(text: &str) -> Result<Vec<Entry>, String> {
    let saved: Saved = match serde_json::from_str::<Entry>(text) {
        Ok(entry) => return Ok(vec![entry]),
        Err(no_entry) => serde_json::from_str(text).map_err(|no_saved| {
            // Whichever form it was meant to be, its own complaint is the useful one.
            match text.contains("\"takes\"") {
                true => no_saved.to_string(),
                false => no_entry.to_string(),
            }
        })?,
    };
    let recorded_at = saved
        .recorded_at
        .ok_or("it does not say when it was recorded: recorded_at is missing")?;
    let takes = saved.takes.iter();
    takes
        .map(|take| of_saved(take, recorded_at.at, saved.guitar.clone()))
        .collect()
}

fn of_saved(
    saved: &SavedTake,
    recorded_at: Timestamp,
    guitar: Option<String>,
) -> Result<Entry, String> {
    let into_s = saved.start_s.clamp(0.0, LONGEST_RECORDING_S);
    let at = recorded_at
        .checked_add(Duration::from_secs_f64(into_s))
        .map_err(|e| e.to_string())?;
    Ok(Entry {
        guitar,
        warnings: saved.warnings.iter().map(|w| w.kind.clone()).collect(),
        ..Entry::of(&saved.take(), at, &Tuning::default())
    })
}
