//! Recording of a take: the room, the noise, the device.

use std::ops::Range;

use rand::Rng;
use rand::rngs::SmallRng;

use super::Conditions;
use crate::decibels;
use crate::synth::effects::{add_background, band_limit, compress, equalise, overdrive, tear};
use crate::synth::room::room;

/// Band limits of a phone, in Hz. A choice, wider than any one phone's.
const PHONE_LOW_HZ: Range<f64> = 70.0..220.0;
const PHONE_HIGH_HZ: Range<f64> = 4000.0..12000.0;
/// Peaks of recordings, in dBFS. A choice: from soft to as loud as goes without clipping.
const PEAK_DBFS: Range<f32> = -16.0..-2.0;

/// Records sound whose first stroke falls at `first`. Gives the factor that brought it to its level at last.
pub(super) fn record(
    samples: &mut [f32],
    first: usize,
    conditions: &Conditions,
    rng: &mut SmallRng,
) -> f32 {
    if conditions.equaliser_db > 0.0 {
        equalise(samples, conditions.equaliser_db, rng);
    }
    room(samples, conditions.room_t60_s, conditions.room_db, rng);
    add_background(samples, conditions.noise_db, rng);
    if rng.random_bool(conditions.phone) {
        let low_hz = rng.random_range(PHONE_LOW_HZ);
        let high_hz = rng.random_range(PHONE_HIGH_HZ);
        band_limit(samples, low_hz, high_hz);
    }
    // Where the probability is none, nothing is drawn: these came later, and older seeds stay as they were.
    if conditions.compressed > 0.0 && rng.random_bool(conditions.compressed) {
        compress(samples, rng);
    }
    if conditions.clipped > 0.0 && rng.random_bool(conditions.clipped) {
        overdrive(samples, rng);
    }
    if conditions.torn > 0.0 && rng.random_bool(conditions.torn) {
        tear(&mut samples[first..], rng);
    }
    let peak = samples.iter().fold(1e-9f32, |p, s| p.max(s.abs()));
    let gain = decibels::to_amplitude(rng.random_range(PEAK_DBFS)) / peak;
    samples.iter_mut().for_each(|s| *s *= gain);
    gain
}
