//! A song played untidily, with every moment known.

use ringtrue::fretboard::Frets;
use ringtrue::synth::compose::StringSound;
use ringtrue::synth::notes::Guitar;

use super::guitars::ARCHTOP_TRIMMED;
use super::playing::Strike;

/// What `play` is given: four chords, each a bar of two beats at 100, twice.
pub const SONG: [&str; 5] = [
    "F Bb C Dm",
    "--tempo=100",
    "--beats=2",
    "--loops=2",
    "--count-in=2",
];
const SHAPES: [&str; 4] = ["133211", "x13331", "x35553", "x57765"];
/// Seconds of a bar, and of the count-in.
pub const BAR_S: f64 = 1.2;
pub const COUNT_IN_S: f64 = 2.4;
/// When each bar is struck, in ms after its beat; bar 3 very late, bar 5 left out, bar 6 twice.
pub const STRUCK_MS: [&[f64]; 8] = [
    &[20.0],
    &[30.0],
    &[10.0],
    &[300.0],
    &[25.0],
    &[],
    &[15.0, 450.0],
    &[20.0],
];

/// What it is played on.
pub fn guitar() -> &'static Guitar {
    &ARCHTOP_TRIMMED
}

/// One strum of a bar's chord; `again`: while it rings.
pub fn strike(bar: usize, at_s: f64, again: bool) -> Strike {
    let frets: Frets = SHAPES[bar % SHAPES.len()].parse().unwrap();
    Strike {
        at_s,
        sounds: frets
            .0
            .map(|f| f.map_or(StringSound::Nothing, StringSound::Rings)),
        again,
    }
}

/// Its strums, where the count-in starts at `start_s`.
pub fn strikes(start_s: f64) -> Vec<Strike> {
    let bars = STRUCK_MS.iter().enumerate();
    bars.flat_map(|(bar, struck)| {
        struck.iter().enumerate().map(move |(index, ms)| {
            let at_s = start_s + COUNT_IN_S + BAR_S * bar as f64 + ms / 1e3;
            strike(bar, at_s, index > 0)
        })
    })
    .collect()
}
