//! Strings coupled by the bridge: what strings that nobody strikes give back of those that are struck.
//!
//! The bridge moves with the sum of all strings and with the blow of each stroke. Each free string takes in what lies near its
//! own partials. What it gives back is not taken in again by the others: it is far fainter.

use std::ops::Range;

use fourier::num_complex::Complex32;
use rand::Rng;
use rand::rngs::SmallRng;

use super::notes::NOTE_RATE_HZ;
use super::random::gauss;
use crate::decibels;
use crate::fretboard::{STRINGS, Tuning, usual_b};
use crate::spectrum::partials::{flexible_hz, partial_hz, shifted_hz};

/// What a free string gives back of an impulse at the bridge, in dB. Chosen so that a partial that is struck elsewhere in tune
/// comes back about 15 dB down within half a second: notes of a guitar whose other strings were free hold them 20 to 30 dB down
/// (`fixtures/measured/composed-strums.md`), few of which are in tune.
const GIVEN_BACK_DB: f64 = -95.0;
/// How much more the bridge moves by the blow of a stroke than by the highest sample, in dB. Chosen so that free strings
/// resonate as they do before phones: see the test below.
const BLOW_DB: f64 = 47.0;
/// How both differ from guitar to guitar, from string to string, and from partial to partial, in dB (standard deviations). The
/// first two give the spread that was measured. The last is a choice: a bridge gives way more at some frequencies.
const BY_GUITAR_DB: f64 = 5.0;
const BY_STRING_DB: f64 = 5.0;
const BY_PARTIAL_DB: f64 = 3.0;
/// By which power of its number a partial gives back less. A choice, between a bridge that gives way to all alike and one that
/// gives way to low ones.
const FALLS: Range<f64> = 0.0..1.0;
/// Partials of a free string that are computed.
const PARTIALS: usize = 14;
/// T60 of a free string's fundamental in seconds, and what each further partial adds to its loss, as a share. A choice, near
/// what open strings have that are struck.
const T60_S: Range<f64> = 1.5..5.0;
const LOSS_A_PARTIAL: f64 = 0.15;
/// How far free strings are off the guitar's tuning, in cents, and off the usual stiffness, in decades (standard deviations).
const OFF_CENTS: f64 = 4.0;
const OFF_STIFFNESS: f64 = 0.2;

/// Adds what strings give back that are free at a fret, 0 for an open one; `None` where a string is struck or damped. Others are
/// struck at `onsets`, places among the samples, and the whole guitar is `cents` off.
pub fn resonate<'a>(
    samples: &mut [f32],
    onsets: impl IntoIterator<Item = &'a usize>,
    free: &[Option<u8>; STRINGS],
    (tuning, cents): (&Tuning, f64),
    rng: &mut SmallRng,
) {
    let rate = f64::from(NOTE_RATE_HZ);
    let guitar_db = GIVEN_BACK_DB + BY_GUITAR_DB * gauss(rng);
    let falls = rng.random_range(FALLS);
    let peak = samples.iter().fold(0f32, |peak, s| peak.max(s.abs()));
    let mut bridge = samples.to_vec();
    for &onset in onsets {
        bridge[onset] += peak * decibels::to_amplitude(BLOW_DB as f32);
    }
    for (string, fret) in free.iter().enumerate() {
        let Some(fret) = *fret else { continue };
        let b = usual_b(string, fret + tuning.capo) * 10f64.powf(OFF_STIFFNESS * gauss(rng));
        let off_cents = cents + OFF_CENTS * gauss(rng);
        let f0_hz = flexible_hz(shifted_hz(tuning.hz(string, fret), off_cents), b);
        let t60_s = rng.random_range(T60_S);
        let string_db = guitar_db + BY_STRING_DB * gauss(rng);
        for n in 1..=PARTIALS {
            let turn = std::f64::consts::TAU * partial_hz(f0_hz, b, n) / rate;
            let loss = 1.0 + LOSS_A_PARTIAL * (n - 1) as f64;
            let stays = 10f64.powf(-3.0 * loss / (t60_s * rate));
            let step = Complex32::from_polar(stays as f32, turn as f32);
            let given_back = decibels::to_amplitude(string_db + BY_PARTIAL_DB * gauss(rng));
            let gain = (given_back / (n as f64).powf(falls)) as f32;
            let mut state = Complex32::default();
            for (sample, moved) in samples.iter_mut().zip(&bridge) {
                state = state * step + moved;
                *sample += gain * state.re;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;

    use super::*;
    use crate::spectrum::{LinePlan, quantile};
    use crate::synth::compose::{Conditions, StringSound, compose};
    use crate::synth::modal;
    use crate::synth::notes::Guitar;

    /// Pairs of a string that is struck and a free one whose partials coincide: the one cannot be told in the other's sound.
    const COINCIDE: [(usize, usize); 3] = [(0, 4), (0, 5), (1, 5)];
    /// Under the strongest partial of the struck string lies the fundamental of the free one by so many dB, 0.3 to 1.3 s after the
    /// stroke: medians by pair, and what nine in ten of a pair stay under. Recordings by phones of open strings of some fifteen
    /// guitars, the others free (MIT, Matthieu Hodgkinson; six of the guitars are in fixtures/strums/phone-strings).
    const MEDIANS_DB: Range<f32> = -54.0..-39.0;
    const NINE_IN_TEN_DB: Range<f32> = -45.0..-29.0;
    /// Half the width of what chance makes of so few draws, in dB.
    const CHANCE_DB: f32 = 2.0;
    const GUITARS: u64 = 3;
    const DRAWS: u64 = 12;

    #[test]
    fn free_strings_of_computed_guitars_resonate_as_those_of_real_ones() {
        let mut levels_db: [[Vec<f32>; STRINGS]; STRINGS] = Default::default();
        for guitar in (0..GUITARS).map(modal::guitar) {
            for (struck, levels_db) in levels_db.iter_mut().enumerate() {
                let alone = note(&guitar, struck);
                for draw in 0..DRAWS {
                    let resonances = resonances(&alone, struck, draw);
                    for (levels_db, level_db) in levels_db.iter_mut().zip(resonances) {
                        levels_db.push(level_db);
                    }
                }
            }
        }
        let pairs = (0..STRINGS).flat_map(|struck| (0..STRINGS).map(move |free| (struck, free)));
        let apart = pairs.filter(|pair| pair.0 != pair.1 && !COINCIDE.contains(pair));
        for (struck, free) in apart {
            let all = &levels_db[struck][free];
            for (share, measured_db) in [(0.5, MEDIANS_DB), (0.9, NINE_IN_TEN_DB)] {
                let level_db = quantile(&mut all.clone(), share);
                let near = measured_db.start - CHANCE_DB..measured_db.end + CHANCE_DB;
                assert!(
                    near.contains(&level_db),
                    "{struck} {free}: {level_db} dB, share {share}"
                );
            }
        }
    }

    /// A note of an open string, in hardly any room, and where it is struck.
    fn note(guitar: &Guitar, struck: usize) -> (Vec<f32>, usize) {
        let mut sounds = [StringSound::Nothing; STRINGS];
        sounds[struck] = StringSound::Rings(0);
        let conditions = Conditions {
            noise_db: (90.0, 91.0),
            phone: 0.0,
            room_db: (90.0, 91.0),
            ..Conditions::measuring()
        };
        let mut rng = SmallRng::seed_from_u64(struck as u64);
        let made = compose(guitar, &Tuning::default(), &sounds, &conditions, &mut rng);
        (made.samples, made.onsets[struck].expect("it is struck"))
    }

    /// The fundamental of each string that is free beside a note, below its strongest partial, in dB.
    fn resonances((alone, onset): &(Vec<f32>, usize), struck: usize, draw: u64) -> [f32; STRINGS] {
        let (tuning, rate) = (Tuning::default(), f64::from(NOTE_RATE_HZ));
        let mut free = [Some(0); STRINGS];
        free[struck] = None;
        let mut samples = alone.clone();
        let mut rng = SmallRng::seed_from_u64(draw);
        resonate(&mut samples, [onset], &free, (&tuning, 0.0), &mut rng);
        let mut plan = LinePlan::new(rate);
        let mut spectrum = plan.spectrum();
        let at = |seconds: f64| onset + (seconds * rate) as usize;
        plan.fill(&samples[at(0.3)..at(1.3)], &mut spectrum);
        let near_db = |hz: f64| spectrum.peak_db(hz as f32, 2.0);
        let partials = (1..=PARTIALS).map(|n| near_db(n as f64 * tuning.hz(struck, 0)));
        let strongest_db = partials.fold(f32::MIN, f32::max);
        std::array::from_fn(|string| near_db(tuning.hz(string, 0)) - strongest_db)
    }
}
