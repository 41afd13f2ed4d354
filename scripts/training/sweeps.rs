//! What the network for sweeps is fitted to: the levels of bands, frame by frame as the finder has them, of scenes that
//! scripts/training/scenes.py composes.
//!
//! A scene comes as a line of JSON and its samples as `f32`. A stroke is put down by the places in frames of its first and
//! last string, how many strings it has, and the place of their middle; none: 0 strings.

use std::io::BufRead;
use std::path::Path;

use ringtrue::audio::read_all;
use ringtrue::take::sweep;
use serde::Deserialize;

use crate::file::FeatureTable;

/// No scene has more strokes.
const MOST_STROKES: usize = 160;

#[derive(Deserialize)]
struct Scene {
    rate_hz: u32,
    samples: usize,
    /// Seconds of the first and of the last string, number of strings, seconds of their middle.
    strokes: Vec<[f64; 4]>,
}

/// Writes the table of the scenes that come.
pub fn write(out: &Path, scenes: usize, mut from: impl BufRead) -> anyhow::Result<usize> {
    let mut table: Option<(FeatureTable, usize)> = None;
    let (mut line, mut bytes) = (String::new(), Vec::new());
    while from.read_line(&mut line)? > 0 {
        let scene: Scene = serde_json::from_str(&line)?;
        line.clear();
        bytes.resize(4 * scene.samples, 0);
        from.read_exact(&mut bytes)?;
        let samples: Vec<f32> = (bytes.as_chunks().0.iter())
            .map(|&b| f32::from_le_bytes(b))
            .collect();
        let levels = sweep::levels(&samples, scene.rate_hz);
        let (table, numbers) = match &mut table {
            Some(table) => table,
            None => table.insert((create(out, levels.len(), MOST_STROKES)?, levels.len())),
        };
        anyhow::ensure!(
            levels.len() == *numbers,
            "all scenes must be as long as the first"
        );
        anyhow::ensure!(
            scene.strokes.len() <= MOST_STROKES,
            "{} strokes",
            scene.strokes.len()
        );
        let mut row = levels;
        for &[first_s, last_s, strings, middle_s] in &scene.strokes {
            let [first, last, middle] =
                [first_s, last_s, middle_s].map(|s| sweep::place(s, scene.rate_hz) as f32);
            row.extend([first, last, strings as f32, middle]);
        }
        row.resize(*numbers + 4 * MOST_STROKES, 0.0);
        table.push(&row)?;
    }
    let rows = table.map_or(Ok(0), |(table, _)| table.finish())?;
    anyhow::ensure!(rows == scenes, "{scenes} scenes expected, {rows} came");
    Ok(rows)
}

/// Writes the levels of the first `seconds` of a recording, whose strokes nobody asks for.
pub fn write_levels(recording: &Path, seconds: f64, out: &Path) -> anyhow::Result<usize> {
    let sound = read_all(recording, 60.0)?;
    let count = (seconds * f64::from(sound.rate_hz)) as usize;
    let levels = sweep::levels(
        &sound.samples[..count.min(sound.samples.len())],
        sound.rate_hz,
    );
    let mut table = create(out, levels.len(), 0)?;
    table.push(&levels)?;
    table.finish()
}

/// Begins a table for the network of sweeps, of scenes with so many levels.
fn create(out: &Path, levels: usize, strokes: usize) -> anyhow::Result<FeatureTable> {
    let columns = [
        ("levels", &[levels / sweep::BANDS, sweep::BANDS][..]),
        ("strokes", &[strokes, 4][..]),
    ];
    FeatureTable::create(out, sweep::LAYOUT, sweep::CONSTANTS, &columns)
}
