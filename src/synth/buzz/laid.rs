//! Contact laid onto real strums: for learning, so that what a real strum has beside its strings is not taken for buzz.
//!
//! Whether the strums themselves buzz is not known. They are taken for clean: most are, and the same strum stands with
//! contact and without it.

use rand::Rng;
use rand::rngs::SmallRng;

use super::recorded::RecordedGuitars;
use super::twins::{JUDGED_S, Swell, Twins, at, octaves_db};
use super::{AUDIBLE_DB, Aim, BuzzTake, BuzzTruth, LEAST_JUDGED_S, Maker, Material, OCTAVES_HZ};
use crate::fretboard::{Frets, STRINGS, Tuning};
use crate::strings::Moments;
use crate::synth::compose::Composed;
use crate::synth::effects::{add, add_background, band_limit, equalise};

/// A real strum.
#[derive(Debug, Clone)]
pub struct RealStrum {
    /// Mono samples at [`NOTE_RATE_HZ`](crate::synth::notes::NOTE_RATE_HZ).
    pub samples: Vec<f32>,
    /// Frets that are played.
    pub frets: Frets,
    /// Moments in samples.
    pub moments: Moments,
}

/// What a strum is varied by, so that a few stand for more: a smooth equaliser in dB, background in dB under the peak, and
/// the shares of strums with that and with a phone's band limits. Choices.
const EQUALISER_DB: f64 = 4.0;
const NOISE_DB: (f64, f64) = (35.0, 65.0);
const NOISY: f64 = 0.5;
const PHONE: f64 = 0.15;
/// By how much laid contact lifts the octave of the take that it lifts most, in dB.
const LIFTS_DB: (f64, f64) = (AUDIBLE_DB, 14.0);
/// Makers whose contact can be taken apart from the note that it was made for.
pub const MAKERS: [Maker; 3] = [Maker::Bursts, Maker::Limited, Maker::Hits];

/// A take with contact of `maker` on one string, or with none where that is `None`.
pub fn lay(
    strum: &RealStrum,
    maker: Option<Maker>,
    material: &Material<'_>,
    tuning: &Tuning,
    rng: &mut SmallRng,
) -> BuzzTake {
    let mut samples = strum.samples.clone();
    equalise(&mut samples, EQUALISER_DB, rng);
    if rng.random_bool(NOISY) {
        add_background(&mut samples, NOISE_DB, rng);
    }
    if rng.random_bool(PHONE) {
        let low_hz = rng.random_range(70.0..220.0);
        band_limit(&mut samples, low_hz, rng.random_range(4000.0..12_000.0));
    }
    let moments = strum.moments;
    let mut onsets = strum.frets.0.map(|fret| fret.map(|_| moments.first));
    if let Some(last) = onsets.iter_mut().flatten().last() {
        *last = moments.last;
    }
    let mut take = BuzzTake {
        made: Composed {
            samples,
            onsets,
            end: moments.end,
            gain: 1.0,
            dies_s: [None; STRINGS],
            level_db: [0.0; STRINGS],
        },
        frets: strum.frets,
        truth: [BuzzTruth::Clean; STRINGS],
        computed: [false; STRINGS],
        met_a_fret: false,
        lifts_db: [0.0; OCTAVES_HZ.len()],
        hits_s: [0.0; STRINGS],
        swells: [None; STRINGS],
        free: None,
        distractor: None,
        rattle_db: 0.0,
    };
    let Some(maker) = maker else { return take };
    let notes = RecordedGuitars {
        guitars: material.guitars,
        tuning,
        transpose: 0.0,
        varied: true,
    };
    let fretted: Vec<(usize, u8)> = (0..STRINGS)
        .filter_map(|s| Some((s, strum.frets.0[s]?)))
        .collect();
    let (string, fret) = fretted[rng.random_range(0..fretted.len())];
    let make = maker.drawn(notes, material.contact, rng);
    let twins = make.twins((string, fret), Aim::Buzz, rng);
    let target_db = rng.random_range(LIFTS_DB.0..LIFTS_DB.1);
    let Some((struck, lifts_db)) = laid(&take.made, moments.first, &twins, target_db) else {
        return take;
    };
    let without = std::mem::replace(&mut take.made.samples, struck);
    take.free = Some(Composed {
        samples: without,
        ..take.made.clone()
    });
    take.truth[string] = BuzzTruth::Buzzes {
        excess_db: target_db,
    };
    take.lifts_db = lifts_db;
    take.hits_s[string] = twins.hits_s;
    take.swells[string] = Some(twins.swell);
    take
}

/// The strum with what the fret adds to `twins`, so loud that it lifts one octave by `target_db`, and what it does to all
/// of them; nothing where it begins too late.
fn laid(
    strum: &Composed,
    first: usize,
    twins: &Twins,
    target_db: f64,
) -> Option<(Vec<f32>, [f64; OCTAVES_HZ.len()])> {
    let contact: Vec<f32> = std::iter::zip(&twins.struck, &twins.free)
        .map(|(struck, free)| struck - free)
        .collect();
    let end = strum.end.min(strum.samples.len());
    let mut beside = vec![0f32; strum.samples.len()];
    add(&mut beside[first..], &contact, 1.0);
    let windows = windows(&twins.swell, first, end);
    let shares: Vec<[f64; OCTAVES_HZ.len()]> = windows
        .map(|window| {
            let (own, of_contact) = (
                octaves_db(&strum.samples, window.clone()),
                octaves_db(&beside, window),
            );
            std::array::from_fn(|k| 10f64.powf((of_contact[k] - own[k]) / 10.0))
        })
        .collect();
    let most = shares.iter().flatten().copied().fold(0.0, f64::max);
    if most < 1e-9 {
        return None;
    }
    let gain = (10f64.powf(target_db / 10.0) - 1.0) / most;
    let lifts_db = std::array::from_fn(|k| {
        let share = shares.iter().map(|s| s[k]).fold(0.0, f64::max);
        10.0 * (1.0 + gain * share).log10()
    });
    let mut struck = strum.samples.clone();
    add(&mut struck, &beside, gain.sqrt() as f32);
    Some((struck, lifts_db))
}

/// The parts that are judged, those that the strum has.
fn windows(
    swell: &Swell,
    first: usize,
    end: usize,
) -> impl Iterator<Item = std::ops::Range<usize>> + use<> {
    swell
        .windows_s()
        .map(move |from_s| first + at(from_s)..(first + at(from_s + JUDGED_S)).min(end))
        .filter(|part| part.end >= part.start + at(LEAST_JUDGED_S))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::synth::buzz::tests::GUITAR;
    use rand::SeedableRng;

    #[test]
    fn laid_contact_lifts_an_octave_by_what_is_told_and_leaves_the_twin_as_it_was() {
        let material = Material {
            guitars: [&GUITAR; STRINGS],
            contact: &[],
        };
        let frets: Frets = "x02210".parse().expect("a voicing");
        let samples: Vec<f32> = (0..88_200)
            .map(|i| {
                let t = i as f32 / 44_100.0;
                let tone = (std::f32::consts::TAU * 220.0 * t).sin();
                let treble = 0.01 * (std::f32::consts::TAU * 2_100.0 * t).sin();
                if i < 10_000 {
                    0.0
                } else {
                    0.2 * (tone + treble)
                }
            })
            .collect();
        let strum = RealStrum {
            samples,
            frets,
            moments: Moments {
                first: 10_000,
                last: 10_300,
                end: 88_200,
            },
        };
        let mut laid_on = 0;
        for seed in 0..8 {
            let mut rng = SmallRng::seed_from_u64(seed);
            let maker = MAKERS[1 + seed as usize % 2];
            let take = lay(&strum, Some(maker), &material, &Tuning::default(), &mut rng);
            let Some(free) = &take.free else { continue };
            laid_on += 1;
            let mut again = SmallRng::seed_from_u64(seed);
            let clean = lay(&strum, None, &material, &Tuning::default(), &mut again);
            assert_eq!(free.samples, clean.made.samples);
            let string = take.swells.iter().position(Option::is_some);
            let swell = take.swells[string.expect("one string")].expect("it swells");
            let lift_db = windows(&swell, 10_000, 88_200)
                .flat_map(|part| {
                    let both = [&take.made.samples, &free.samples]
                        .map(|samples| octaves_db(samples, part.clone()));
                    (0..OCTAVES_HZ.len()).map(move |k| both[0][k] - both[1][k])
                })
                .fold(0.0, f64::max);
            let told = take.lifts_db.iter().copied().fold(0.0, f64::max);
            assert!((lift_db - told).abs() < 1.5, "{lift_db} dB, {told} dB told");
        }
        assert!(laid_on >= 5, "{laid_on} of 8");
    }
}
