//! What the network for first strokes is fitted to: the strums of composed sessions, as the program finds and hears them.
//!
//! The moment its first stroke falls is in seconds after the onset that the finder gave; NaN where none is near.

use std::path::Path;

use rayon::prelude::*;
use ringtrue::audio::read_all;
use ringtrue::progression::first_stroke::{self, HEARD, SOUNDS};
use ringtrue::progression::performance::heard;
use ringtrue::synth::modal;
use ringtrue::synth::notes::{self, Guitar, NOTE_RATE_HZ};

use crate::file::{Column, FeatureTable};
use crate::sessions::{played, trimmed};

/// How many sessions, and from which seed.
#[derive(clap::Args)]
pub struct Counts {
    /// Seed of all draws
    #[arg(long)]
    seed: u64,
    /// Sessions of each guitar
    #[arg(long)]
    sessions: usize,
    /// Guitars that are drawn, computed by their modes
    #[arg(long)]
    drawn: u64,
}

/// Backings that the sessions of a table are played to, one after the other, in dB under the playing.
const LEARNED_DB: [Option<f64>; 4] = [None, Some(-20.0), Some(-14.0), Some(-8.0)];
/// Beats that a chord of theirs takes, likewise: what rings over differs with how soon strums follow each other.
const LEARNED_BEATS: [u32; 2] = [1, 2];
/// Sessions that are played before what is heard of them is written.
const AT_ONCE: usize = 64;
/// No recording that golden inputs come from lasts longer; its strums lie so far apart. In seconds.
const LONGEST_S: f64 = 60.0;
const CLOSEST_S: f64 = 0.5;
/// A strum that is found is the one struck so many seconds before it at most, or after it.
const LEARNED_NEAR_S: (f64, f64) = (0.25, 0.08);

const COLUMNS: [Column; 3] = [
    ("guitar", &[]),
    ("moment_s", &[]),
    ("sounds", &[SOUNDS, HEARD]),
];

/// Begins a table for the network of first strokes.
fn create(out: &Path) -> anyhow::Result<FeatureTable> {
    let constants = first_stroke::CONSTANTS;
    FeatureTable::create(out, first_stroke::LAYOUT, constants, &COLUMNS)
}

/// Writes the table.
pub fn write(out: &Path, counts: &Counts) -> anyhow::Result<usize> {
    let mut guitars = notes::load(Path::new("fixtures/notes"))?;
    guitars.extend((0..counts.drawn).map(|n| modal::guitar(counts.seed + n)));
    let guitars = trimmed(guitars);
    let mut table = create(out)?;
    let all: Vec<usize> = (0..guitars.len() * counts.sessions).collect();
    for part in all.chunks(AT_ONCE) {
        let rows: Vec<Vec<f32>> = (part.par_iter())
            .map(|&i| {
                let which = i / counts.sessions;
                rows(which, &guitars[which], i, counts.seed)
            })
            .collect::<anyhow::Result<_>>()?;
        for rows in &rows {
            table.push(rows)?;
        }
    }
    table.finish()
}

/// Writes what is heard of the first strums of a recording, whose moments nobody asks for.
pub fn write_heard(recording: &Path, most: usize, out: &Path) -> anyhow::Result<usize> {
    let sound = read_all(recording, LONGEST_S)?;
    let mut table = create(out)?;
    for (_, sounds) in heard(&sound.samples, sound.rate_hz, None, CLOSEST_S)
        .iter()
        .take(most)
    {
        table.push(&[&[0.0, f32::NAN], &sounds.concat()[..]].concat())?;
    }
    table.finish()
}

/// The rows of session number `i` of a table, of guitar number `which`.
fn rows(which: usize, guitar: &Guitar, i: usize, seed: u64) -> anyhow::Result<Vec<f32>> {
    let db = LEARNED_DB[i % LEARNED_DB.len()];
    let beats_each = LEARNED_BEATS[i / LEARNED_DB.len() % LEARNED_BEATS.len()];
    let played = played(guitar, beats_each, db, seed + i as u64)?;
    let backing = db.map(|_| (&played.song.backing as _, played.truth.start_s));
    let closest_s = played.song.part.closest_s();
    let mut rows: Vec<f32> = Vec::new();
    for (found_s, sounds) in heard(&played.samples, NOTE_RATE_HZ, backing, closest_s) {
        let after = |s: &f64| s - found_s;
        let near = played.strikes.iter().map(|s| after(&s.at_s));
        let near = near.min_by(|a, b| a.abs().total_cmp(&b.abs()));
        let near = near.filter(|s| (-LEARNED_NEAR_S.0..LEARNED_NEAR_S.1).contains(s));
        rows.extend([which as f32, near.map_or(f32::NAN, |s| s as f32)]);
        sounds.iter().for_each(|sound| rows.extend(sound));
    }
    Ok(rows)
}
