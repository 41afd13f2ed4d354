//! The diary out of its file and back: CSV, JSON lines, and takes that `listen` has saved.

use std::io::{self, BufRead, Write};
use std::path::Path;

use jiff::Timestamp;
use serde::Deserialize;

use super::Entry;
use crate::fretboard::{STRINGS, Tuning, string_number};
use crate::take::Manner;
use crate::verdict::{Cause, StringVerdict, Take};

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

/// A take as `check --json` and `listen --save` write it, as far as the diary wants it.
#[derive(Deserialize)]
struct Saved {
    takes: Vec<SavedTake>,
    recorded_at: Option<Timestamp>,
    guitar: Option<String>,
}

#[derive(Deserialize)]
struct SavedTake {
    start_s: Option<f64>,
    manner: Manner,
    chord: Option<String>,
    frets: String,
    tuning_cents: Option<f32>,
    #[serde(default)]
    warnings: Vec<SavedWarning>,
    strings: [StringVerdict; STRINGS],
    #[serde(default)]
    advice: Vec<SavedAdvice>,
}

#[derive(Deserialize)]
struct SavedWarning {
    kind: String,
}

#[derive(Deserialize)]
struct SavedAdvice {
    cause: Cause,
}

/// Reads takes from a file of JSON lines: the diary's own, or saved takes with the time of their
/// recording.
///
/// # Errors
/// What is wrong, as a sentence with the line's number; nothing is then taken over.
pub fn read(path: &Path) -> Result<Vec<Entry>, String> {
    let name = path.display();
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
    let takes = saved.takes.into_iter();
    takes
        .map(|take| take.entry(recorded_at, saved.guitar.clone()))
        .collect()
}

impl SavedTake {
    fn entry(self, recorded_at: Timestamp, guitar: Option<String>) -> Result<Entry, String> {
        let start_s = self
            .start_s
            .filter(|s| s.is_finite())
            .unwrap_or(0.0)
            .clamp(0.0, 1e6);
        let take = Take {
            start_s,
            manner: self.manner,
            chord: self.chord,
            frets: self.frets.parse().map_err(|e| format!("{e}"))?,
            tuning_cents: self.tuning_cents.unwrap_or(0.0),
            warnings: Vec::new(),
            strings: self.strings,
            advice: Vec::new(),
        };
        let at = recorded_at
            .checked_add(std::time::Duration::from_millis((start_s * 1000.0) as u64))
            .map_err(|e| e.to_string())?;
        let word = |cause: &Cause| {
            serde_json::to_value(cause)
                .ok()?
                .as_str()
                .map(str::to_owned)
        };
        Ok(Entry {
            guitar,
            warnings: self.warnings.into_iter().map(|w| w.kind).collect(),
            causes: self.advice.iter().filter_map(|a| word(&a.cause)).collect(),
            ..Entry::of(&take, at, &Tuning::default())
        })
    }
}
