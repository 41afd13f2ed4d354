//! The columns of what the network for buzz is fitted to.
//!
//! Of a mixed take the guitar is `synth::mixed::number`; 1000: none. The maker is its place in `Maker::ALL`; 9: none. A take
//! that is free has no fret; it follows the one that has. Wide ones were made under training conditions. Distractors: 0 none, 1
//! rattle, 2 squeak, 3 bright, 4 a rattle that may be heard or not. Lifts: octave by octave what the strings that strike do to
//! the take in dB, and for how long in seconds. A string has its fret (-1: no note), its truth (0 clean, 1 buzzes, -1
//! between), whether it was computed, its excess in dB, and the beginning of its swell in seconds. A row of lines has its
//! frequency in Hz (0: none), then its numbers.

use std::path::Path;

use ringtrue::fretboard::STRINGS;
use ringtrue::strings::buzz;
use ringtrue::strings::buzz::treble::{
    BAND_WIDTH, BANDS, PULSE_WIDTH, PULSES, ROW_WIDTH, ROWS, SeenTreble,
};

use crate::file::{Column, FeatureTable};

const COLUMNS: [Column; 14] = [
    ("guitar", &[]),
    ("take", &[]),
    ("maker", &[]),
    ("free", &[]),
    ("wide", &[]),
    ("available_s", &[]),
    ("spread_s", &[]),
    ("met_a_fret", &[]),
    ("distractor", &[]),
    ("lifts", &[4]),
    ("strings", &[STRINGS, 5]),
    ("lines", &[STRINGS, ROWS, 1 + ROW_WIDTH]),
    ("pulses", &[STRINGS, PULSES, PULSE_WIDTH]),
    ("bands", &[BANDS, BAND_WIDTH]),
];

/// Begins a table for the network of buzz.
pub fn create(out: &Path) -> anyhow::Result<FeatureTable> {
    FeatureTable::create(out, buzz::LAYOUT, buzz::CONSTANTS, &COLUMNS)
}

/// Appends the lines of each string, its pulses, and the bands.
pub fn put_seen(row: &mut Vec<f32>, seen: &SeenTreble) {
    for string in &seen.strings {
        let end = row.len() + ROWS * (1 + ROW_WIDTH);
        for (hz, numbers) in string
            .iter()
            .flat_map(|s| s.hz.iter().zip(s.rows.chunks_exact(ROW_WIDTH)))
        {
            row.push(*hz);
            row.extend(numbers);
        }
        row.resize(end, 0.0);
    }
    for string in &seen.strings {
        match string {
            Some(string) => row.extend(&string.pulses),
            None => row.extend([0.0; PULSES * PULSE_WIDTH]),
        }
    }
    row.extend(&seen.bands);
}
