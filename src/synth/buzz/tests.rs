use super::*;
use crate::synth::modal;
use crate::synth::notes::{Guitar, NOTE_RATE_HZ};
use rand::SeedableRng;
use std::path::Path;
use std::sync::LazyLock;

/// A guitar, whose hundreds of partials take most of a second to sum.
pub static GUITAR: LazyLock<Guitar> = LazyLock::new(|| modal::guitar(5));

/// The bundled contact.
pub static CONTACT: LazyLock<Vec<RattlingNote>> = LazyLock::new(|| {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/contact");
    contact::load(&folder).expect("the bundled contact")
});

/// ... of two pitches, enough for tests.
static TWO_PITCHES: LazyLock<Vec<RattlingNote>> = LazyLock::new(|| {
    let two = CONTACT.iter().filter(|note| [36, 60].contains(&note.midi));
    two.cloned().collect()
});

fn takes(maker: Maker, subject: Subject, seeds: std::ops::Range<u64>) -> Vec<BuzzTake> {
    let material = Material {
        guitars: [&GUITAR; STRINGS],
        contact: &TWO_PITCHES,
    };
    seeds
        .map(|seed| {
            let mut rng = SmallRng::seed_from_u64(seed);
            draw(
                &material,
                &Tuning::default(),
                (subject, maker),
                &Conditions::measuring(),
                false,
                &mut rng,
            )
        })
        .collect()
}

fn buzzing(take: &BuzzTake) -> usize {
    let truth = take.truth.iter();
    truth
        .filter(|t| matches!(t, BuzzTruth::Buzzes { .. }))
        .count()
}

#[test]
fn takes_about_buzz_hold_as_many_buzzing_strings_as_asked_at_most_and_clean_ones_none() {
    for maker in Maker::ALL {
        let one = takes(maker, Subject::Buzz { strings: 1 }, 0..4);
        let three = takes(maker, Subject::Buzz { strings: 3 }, 4..9);
        let clean = takes(maker, Subject::Clean, 6..9);
        assert!(one.iter().all(|take| buzzing(take) <= 1));
        assert!(three.iter().all(|take| buzzing(take) <= 3));
        assert!(clean.iter().all(|take| buzzing(take) == 0));
        let [one, three] = [one, three].map(|takes| takes.iter().map(buzzing).sum::<usize>());
        assert!(one >= 1 && three >= 1, "{maker:?}: {one} and {three}");
        let computed = clean.iter().flat_map(|take| take.computed);
        assert!(computed.filter(|c| *c).count() >= 1, "{maker:?}");
    }
}

#[test]
fn a_struck_take_is_louder_in_the_treble_than_its_twin_by_the_told_lift_and_finite() {
    for maker in Maker::ALL {
        for take in takes(maker, Subject::Buzz { strings: 1 }, 20..23) {
            assert!(take.made.samples.iter().all(|s| s.is_finite()));
            let Some(string) = take
                .truth
                .iter()
                .position(|t| matches!(t, BuzzTruth::Buzzes { .. }))
            else {
                continue;
            };
            let BuzzTruth::Buzzes { excess_db } = take.truth[string] else {
                unreachable!()
            };
            let free = take.free.as_ref().expect("a twin");
            let onset = take.made.onsets[string].expect("it is struck");
            let swell = take.swells[string].expect("it strikes a fret");
            let last = take.made.end.min(onset + at(LATEST_S));
            let lift = swell
                .windows_s()
                .map(|from_s| onset + at(from_s))
                .filter(|from| from + at(LEAST_JUDGED_S) <= last)
                .flat_map(|from| {
                    let to = (from + at(JUDGED_S)).min(last);
                    OCTAVES_HZ.map(|low| {
                        let power = |take: &Composed| {
                            band_power(&take.samples, from..to, low) / f64::from(take.gain).powi(2)
                        };
                        10.0 * (power(&take.made) / power(free)).log10()
                    })
                })
                .fold(0.0, f64::max);
            assert!(excess_db >= AUDIBLE_DB);
            assert!(
                (lift - excess_db).abs() < 1.0,
                "{maker:?}: {lift} dB measured, {excess_db} dB told"
            );
        }
    }
}

/// Power of an octave within a part, by the discrete Fourier transform of the whole take as it is written down.
fn band_power(samples: &[f32], part: std::ops::Range<usize>, low_hz: f64) -> f64 {
    let mut planner = fourier::Planner::new();
    let mut bins: Vec<_> = samples
        .iter()
        .map(|s| fourier::num_complex::Complex32::new(*s, 0.0))
        .collect();
    let count = bins.len();
    planner
        .plan(count, fourier::FftDirection::Forward)
        .process(&mut bins);
    for (k, bin) in bins.iter_mut().enumerate() {
        let hz = k.min(count - k) as f64 * f64::from(NOTE_RATE_HZ) / count as f64;
        if !(low_hz..2.0 * low_hz).contains(&hz) {
            *bin = Default::default();
        }
    }
    planner
        .plan(count, fourier::FftDirection::Inverse)
        .process(&mut bins);
    bins[part].iter().map(|bin| f64::from(bin.norm_sqr())).sum()
}

#[test]
fn the_same_seed_gives_the_same_take_and_another_one_another() {
    for maker in Maker::ALL {
        let subject = Subject::Buzz { strings: 2 };
        let [a, b] = [(); 2].map(|()| takes(maker, subject, 40..41));
        let other = takes(maker, subject, 41..42);
        assert_eq!(a[0].made.samples, b[0].made.samples);
        assert_eq!(a[0].truth, b[0].truth);
        assert_ne!(a[0].made.samples, other[0].made.samples);
    }
}

#[test]
fn a_real_note_lifts_the_treble_over_its_twin_and_pitches_can_be_left_out() {
    let draw = |contact: &[RattlingNote], seed: u64| {
        let material = Material {
            guitars: [&GUITAR; STRINGS],
            contact,
        };
        let mut rng = SmallRng::seed_from_u64(seed);
        draw_real(
            &material,
            &Tuning::default(),
            &Conditions::measuring(),
            &mut rng,
        )
    };
    let buzzing = (0..8)
        .filter_map(|seed| draw(&TWO_PITCHES, seed))
        .filter(|take| self::buzzing(take) == 1)
        .count();
    assert!(buzzing >= 3, "{buzzing} of 8 takes buzz");
    let low: Vec<_> = contact::without(&TWO_PITCHES, &[36]);
    assert!(!low.is_empty() && low.iter().all(|note| note.midi == 60));
    assert!(draw(&contact::without(&TWO_PITCHES, &[36, 60]), 1).is_none());
}
