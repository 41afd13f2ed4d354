//! Moments at which the strings are struck.

use std::ops::Range;

use rand::Rng;
use rand::rngs::SmallRng;

use super::{Conditions, StringSound, at};
use crate::fretboard::STRINGS;
use crate::take::Manner;

/// Silence kept before the first onset, in seconds.
const LEAD_S: f64 = 0.3;
/// Share of strums that go down, from string 6 to string 1. A choice: most accented strums do.
const DOWN: f64 = 0.7;
/// From string to string of a picked pass, in seconds. A choice: an easy tempo.
const PICKED_STEP_S: Range<f64> = 0.45..0.7;
/// By how much the steps of one strum, and of one pass, differ from their mean, as factors. A choice: a hand slows down and
/// quickens over the strings, and keeps time between strokes.
const UNEVEN: Range<f64> = 0.5..1.5;
const PICKED_UNEVEN: Range<f64> = 0.9..1.1;

/// The strokes of a take, as places among its samples.
pub(super) struct StrokePlaces {
    /// Places at which the strings are struck, strings 6 to 1.
    pub onsets: [Option<usize>; STRINGS],
    /// Place of the first one; 0 where none is struck.
    pub first: usize,
    /// Place of the last one; where one would be where none is struck.
    pub last: usize,
    /// One string at a time.
    pub picked: bool,
}

impl StrokePlaces {
    /// Struck strings lie within the outermost ones that do anything.
    pub fn draw(
        sounds: &[StringSound; STRINGS],
        conditions: &Conditions,
        rng: &mut SmallRng,
    ) -> Self {
        let picked = conditions.manner == Manner::Picked;
        let step_s = if picked {
            rng.random_range(PICKED_STEP_S)
        } else {
            rng.random_range(conditions.step_s.0..=conditions.step_s.1)
        };
        let down = rng.random_bool(DOWN);
        let mut onsets = [None; STRINGS];
        let mut at_s = LEAD_S;
        for i in 0..STRINGS {
            let string = if down { i } else { STRINGS - 1 - i };
            if sounds[string] != StringSound::Nothing {
                onsets[string] = Some(at(at_s));
                at_s += step_s * rng.random_range(if picked { PICKED_UNEVEN } else { UNEVEN });
            }
        }
        let struck = || onsets.iter().flatten().copied();
        StrokePlaces {
            first: struck().min().unwrap_or(0),
            last: struck().max().unwrap_or(at(LEAD_S)),
            onsets,
            picked,
        }
    }
}
