//! Real strums whose strings are known: chords cut out of recordings that a six-channel pickup labelled.

use std::path::Path;

use serde::Deserialize;

use super::table::{TableError, rows};
use crate::fretboard::{Frets, STRINGS, Tuning};
use crate::take::{Manner, Take};

/// Onsets this close belong to one chord, in seconds.
const CHORD_S: f64 = 0.060;
/// A note that ends less than this before a chord may still be heard in it, in seconds.
const DYING_S: f64 = 0.050;
/// Fewest strings of a chord.
const FEWEST: usize = 3;
/// No labelled recording lasts longer, in seconds.
const LONGEST_S: f64 = 120.0;

/// A real chord and what was really played.
#[derive(Debug, Clone)]
pub struct LabelledStrum {
    /// The sound, cut out, with its onsets.
    pub strum: Take,
    /// Frets that were played, from the labels.
    pub frets: Frets,
    /// Strings (index 0 = string 6) that did not sound, nor ring over from before.
    pub quiet: Vec<usize>,
}

struct Label {
    onset_s: f64,
    end_s: f64,
    string: usize,
    midi: f64,
}

/// Cuts every chord of three or more strings that all last `length_s` after the last of them is struck,
/// up to that moment. `recording` is a sound file; `notes` a table onset_s, duration_s, string, midi.
///
/// # Errors
/// When a file cannot be read.
pub fn strums(
    recording: &Path,
    notes: &Path,
    length_s: f64,
    tuning: &Tuning,
) -> Result<Vec<LabelledStrum>, TableError> {
    let recording = crate::audio::read_all(recording, LONGEST_S)?;
    let labels = labels(notes)?;
    let rate = f64::from(recording.rate_hz);
    let mut strums = Vec::new();
    let mut at = 0;
    while at < labels.len() {
        let start_s = labels[at].onset_s;
        let end = at
            + labels[at..]
                .iter()
                .take_while(|l| l.onset_s <= start_s + CHORD_S)
                .count();
        let (before, chord) = (&labels[..at], &labels[at..end]);
        at = end;
        let last_s = chord.iter().map(|l| l.onset_s).fold(start_s, f64::max);
        let stop_s = last_s + length_s;
        let mut frets = Frets([None; STRINGS]);
        for note in chord {
            let fret = note.midi.round() - f64::from(tuning.midi(note.string, 0));
            frets.0[note.string] = (0.0..=f64::from(Frets::HIGHEST))
                .contains(&fret)
                .then_some(fret as u8);
        }
        let lasts = chord.iter().all(|l| l.end_s >= stop_s)
            && labels.get(end).is_none_or(|next| next.onset_s >= stop_s);
        if frets.sounding().count() < FEWEST || !lasts {
            continue;
        }
        let first = ((start_s - Take::PRE_ROLL_S).max(0.0) * rate) as usize;
        let stop = ((stop_s * rate) as usize).min(recording.samples.len());
        let mut onsets = vec![
            (start_s * rate) as usize - first,
            (last_s * rate) as usize - first,
        ];
        onsets.dedup();
        let strum = Take {
            samples: recording.samples[first..stop].to_vec(),
            rate_hz: recording.rate_hz,
            first: first as u64,
            onsets,
            manner: Manner::Strummed,
            middle: None,
            cut_by_next: true,
        };
        let rings_over = |string: usize| {
            before
                .iter()
                .any(|l| l.string == string && l.end_s > start_s - DYING_S)
        };
        let quiet = (0..STRINGS)
            .filter(|&s| frets.0[s].is_none() && !rings_over(s))
            .collect();
        strums.push(LabelledStrum {
            strum,
            frets,
            quiet,
        });
    }
    Ok(strums)
}

/// A row of the table of notes.
#[derive(Deserialize)]
struct Row {
    onset_s: f64,
    duration_s: f64,
    string: usize,
    midi: f64,
}

fn labels(path: &Path) -> Result<Vec<Label>, TableError> {
    let rows: Vec<Row> = rows(path)?;
    let label = |row: Row| Label {
        onset_s: row.onset_s,
        end_s: row.onset_s + row.duration_s,
        string: 6 - row.string,
        midi: row.midi,
    };
    let mut labels: Vec<Label> = rows.into_iter().map(label).collect();
    labels.sort_by(|a, b| a.onset_s.total_cmp(&b.onset_s));
    Ok(labels)
}
