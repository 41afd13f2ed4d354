//! The chords before and after.

use std::ops::Range;

use rand::Rng;
use rand::rngs::SmallRng;

use super::strings::{Pitch, voice};
use super::stroke::StrokePlaces;
use super::{StringSound, at};
use crate::decibels;
use crate::fretboard::STRINGS;
use crate::synth::effects::add;
use crate::synth::notes::{Guitar, NOTE_RATE_HZ};
use crate::synth::random::gauss;

// All of these are choices: any chord, let go of as hands do.

/// Frets of the chords before and after.
const FRETS: Range<u8> = 0..9;
/// Share of strings that did not sound before, and of those that sound after.
const SILENT_BEFORE: f64 = 0.4;
const SOUNDS_AFTER: f64 = 0.6;
/// How long before the take's beginning the chord before was struck, in seconds.
const BEGUN_S: Range<f64> = 0.3..0.9;
/// How long before the new chord, or its own stroke, a string is let go of, and the T60 of its end, in seconds.
const LET_GO_S: Range<f64> = 0.0..0.12;
const LET_GO_T60_S: Range<f64> = 0.03..0.2;
/// Mean and standard deviation of the levels of the chord before, in dB.
const BEFORE_DB: (f64, f64) = (-2.0, 4.0);
/// How long the take's first moment is faded in, in seconds.
const FADE_IN_S: f64 = 0.02;
/// The T60 with which a chord stops as the next one begins, in seconds.
const STOPPED_T60_S: f64 = 0.1;

/// The factor from sample to sample of what dies with this T60, in seconds.
fn decay(t60_s: f64) -> f64 {
    (-6.9078 / (t60_s * f64::from(NOTE_RATE_HZ))).exp()
}

fn die(samples: &mut [f32], step: f64) {
    let mut gain = 1f64;
    for s in samples {
        *s *= gain as f32;
        gain *= step;
    }
}

/// Any chord that rang before and is stopped, or not quite, as this one begins.
pub(super) fn add_previous_chord(
    samples: &mut [f32],
    guitar: &Guitar,
    pitch: &Pitch<'_>,
    stroke: &StrokePlaces,
    rng: &mut SmallRng,
) {
    for (string, own_onset) in stroke.onsets.iter().enumerate() {
        if rng.random_bool(SILENT_BEFORE) {
            continue;
        }
        let fret = rng.random_range(FRETS);
        let mut tail = voice(guitar, pitch, (string, fret), StringSound::Rings(fret), rng);
        let begun = at(rng.random_range(BEGUN_S));
        if tail.len() <= begun + stroke.first {
            continue;
        }
        tail.drain(..begun);
        // The string is let go a little before the new chord, or struck anew at its own onset.
        let stop = own_onset
            .unwrap_or(stroke.first)
            .saturating_sub(at(rng.random_range(LET_GO_S)));
        if stop >= tail.len() {
            continue;
        }
        die(&mut tail[stop..], decay(rng.random_range(LET_GO_T60_S)));
        let (mean_db, spread_db) = BEFORE_DB;
        let level = decibels::to_amplitude((gauss(rng) * spread_db + mean_db) as f32);
        let fade = at(FADE_IN_S);
        tail.iter_mut()
            .take(fade)
            .enumerate()
            .for_each(|(i, s)| *s *= i as f32 / fade as f32);
        add(samples, &tail, level);
    }
}

/// The next chord begins at `end`: what rings is stopped there and something else sounds.
pub(super) fn add_next_chord(
    samples: &mut [f32],
    guitar: &Guitar,
    pitch: &Pitch<'_>,
    end: usize,
    rng: &mut SmallRng,
) {
    die(&mut samples[end..], decay(STOPPED_T60_S));
    // As it was recorded.
    let pitch = Pitch {
        transpose: 0.0,
        cents: 0.0,
        ..*pitch
    };
    for string in 0..STRINGS {
        if rng.random_bool(SOUNDS_AFTER) {
            let fret = rng.random_range(FRETS);
            let sound = voice(
                guitar,
                &pitch,
                (string, fret),
                StringSound::Rings(fret),
                rng,
            );
            add(&mut samples[end..], &sound, 1.0);
        }
    }
}
