//! Composed takes stay the ones that were published: the same seed gives the same take.
//!
//! A draw that is added, left out or moved shifts all that follow it, and a take becomes another one. What is held here
//! are places and levels, not bits: those differ from processor to processor.

use std::path::Path;

use approx::assert_abs_diff_eq;
use rand::SeedableRng;
use rand::rngs::SmallRng;
use ringtrue::fretboard::{STRINGS, Tuning};
use ringtrue::synth::buzz::{Maker, Material, Subject, contact, draw, draw_real};
use ringtrue::synth::compose::{Composed, Conditions, Given, compose_with};
use ringtrue::synth::voicings;
use ringtrue::take::Manner;

use crate::common::guitars::{ALL, guitar};

/// Stretches whose level is held.
const STRETCHES: usize = 4;
/// Levels are held to this, in dB: they are written down to a hundredth, and another draw changes them by far more.
const TO_DB: f64 = 0.02;

/// What a take is known by again: the sum of its onsets, its end, the sum of its strings' levels in dB, and the level of
/// each of its equal stretches in dBFS.
type Print = (usize, usize, f64, [f64; STRETCHES]);

fn print_of(made: &Composed) -> Print {
    let each = made.samples.len() / STRETCHES;
    let level_db = |k: usize| {
        let part = &made.samples[k * each..(k + 1) * each];
        let power = part.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>();
        10.0 * (power / each as f64).max(1e-12).log10()
    };
    let onsets = made.onsets.iter().flatten().sum();
    let levels_db = made.level_db.iter().sum();
    (onsets, made.end, levels_db, std::array::from_fn(level_db))
}

fn hold(made: &Composed, print: Print) {
    let (onsets, end, levels_db, stretches_db) = print_of(made);
    assert_eq!((onsets, end), (print.0, print.1));
    assert_abs_diff_eq!(levels_db, print.2, epsilon = TO_DB);
    for (level_db, held_db) in std::iter::zip(stretches_db, print.3) {
        assert_abs_diff_eq!(level_db, held_db, epsilon = TO_DB);
    }
}

fn composed(conditions: &Conditions, wide: bool, seed: u64) -> Composed {
    let mut rng = SmallRng::seed_from_u64(seed);
    let (frets, barre) = voicings::draw(&mut rng, wide);
    let sounds = voicings::faults(&frets, barre, &mut rng, wide);
    let guitar = &ALL[seed as usize % ALL.len()];
    let given = Given {
        free: frets.0.map(|fret| fret.or(Some(0))),
        ..Given::default()
    };
    let tuning = Tuning::default();
    compose_with(guitar, &tuning, &sounds, &given, conditions, &mut rng)
}

#[test]
fn a_seed_gives_the_take_that_it_gave() {
    let all_that_can_happen = Conditions {
        ends_early: 1.0,
        after_another: 1.0,
        phone: 1.0,
        compressed: 1.0,
        clipped: 1.0,
        torn: 1.0,
        disguised: 1.0,
        along: 1.0,
        ..Conditions::training()
    };
    let picked = Conditions {
        manner: Manner::Picked,
        ..Conditions::measuring()
    };
    let all = [
        (Conditions::measuring(), false),
        (Conditions::bare_room(), false),
        (Conditions::compressing(), false),
        (Conditions::training(), true),
        (picked, false),
        (all_that_can_happen, true),
    ];
    let made = all
        .into_iter()
        .flat_map(|(conditions, wide)| (1..=4).map(move |seed| composed(&conditions, wide, seed)));
    let prints: [Print; 24] = [
        // measuring
        (88534, 82357, -5.101, [-24.15, -26.80, -32.29, -35.81]),
        (97742, 85446, 10.576, [-16.08, -14.50, -20.12, -23.23]),
        (72282, 81837, -2.764, [-23.26, -23.91, -31.18, -37.18]),
        (70420, 80937, -4.954, [-19.78, -19.03, -24.06, -28.04]),
        // bare room
        (88534, 82357, -5.101, [-23.08, -25.06, -31.40, -35.56]),
        (97742, 85446, 10.576, [-20.78, -19.33, -24.80, -27.77]),
        (72282, 81837, -2.764, [-29.42, -30.30, -37.17, -42.81]),
        (70420, 80937, -4.954, [-22.50, -21.04, -25.30, -28.86]),
        // compressing
        (88534, 82357, -5.101, [-29.61, -31.91, -32.26, -32.28]),
        (97742, 85446, 10.576, [-25.67, -26.34, -27.25, -27.84]),
        (72282, 81837, -2.764, [-29.98, -32.18, -35.58, -37.34]),
        (70420, 80937, -4.954, [-27.57, -29.04, -30.59, -31.21]),
        // training
        (67702, 80066, -4.871, [-33.25, -36.79, -41.03, -42.79]),
        (90432, 83112, -11.018, [-29.01, -27.06, -29.95, -32.76]),
        (68068, 30785, 4.055, [-29.40, -20.93, -22.63, -25.27]),
        (79636, 84789, -21.464, [-23.93, -24.16, -29.24, -32.66]),
        // picked
        (455534, 204206, -5.101, [-34.82, -32.94, -33.67, -41.05]),
        (541604, 233122, 10.576, [-26.63, -26.31, -25.03, -28.41]),
        (319859, 180893, -2.764, [-31.02, -26.30, -26.87, -38.78]),
        (289962, 167169, -4.954, [-26.86, -25.72, -28.57, -33.20]),
        // all
        (67702, 51848, -19.346, [-29.57, -28.61, -33.20, -26.12]),
        (90432, 68902, -1.523, [-24.94, -25.15, -26.80, -25.07]),
        (68068, 36049, 4.055, [-29.32, -20.12, -22.39, -20.86]),
        (79636, 49567, 17.045, [-11.57, -8.87, -14.83, -13.28]),
    ];
    for (made, print) in made.zip(prints) {
        hold(&made, print);
    }
}

#[test]
fn a_seed_gives_the_take_about_buzz_that_it_gave() {
    let contact = contact::load(Path::new("fixtures/contact")).expect("the notes are there");
    let material = Material {
        guitars: [guitar("solid-electric"); STRINGS],
        contact: &contact,
    };
    let tuning = Tuning::default();
    let held: [((Maker, Subject), u64, bool, Print); 9] = [
        (
            (Maker::Modal, Subject::Buzz { strings: 1 }),
            1,
            false,
            (87107, 124785, 3.901, [-20.39, -23.76, -27.73, -28.99]),
        ),
        (
            (Maker::Modal, Subject::Clean),
            3,
            true,
            (43016, 63310, 8.704, [-30.26, -25.98, -28.35, -26.67]),
        ),
        (
            (Maker::Grid, Subject::Buzz { strings: 1 }),
            1,
            false,
            (93430, 126781, -0.369, [-22.65, -24.10, -28.68, -27.21]),
        ),
        (
            (Maker::Bursts, Subject::Buzz { strings: 1 }),
            1,
            false,
            (94118, 125239, -6.106, [-26.54, -26.10, -30.99, -31.73]),
        ),
        (
            (Maker::Bursts, Subject::Buzz { strings: 3 }),
            2,
            true,
            (85465, 129904, 9.144, [-19.51, -22.94, -28.58, -33.54]),
        ),
        (
            (Maker::Limited, Subject::Buzz { strings: 1 }),
            1,
            false,
            (84249, 125423, -6.245, [-27.53, -30.73, -34.11, -32.08]),
        ),
        (
            (Maker::Limited, Subject::Rattle),
            4,
            false,
            (58800, 126014, 0.347, [-21.77, -26.41, -32.67, -27.10]),
        ),
        (
            (Maker::Hits, Subject::Buzz { strings: 3 }),
            2,
            true,
            (89312, 131281, 22.107, [-26.57, -30.19, -37.21, -41.72]),
        ),
        (
            (Maker::Waves, Subject::Buzz { strings: 1 }),
            1,
            false,
            (90768, 126523, 11.489, [-14.91, -17.86, -22.55, -22.10]),
        ),
    ];
    for ((maker, subject), seed, wide, print) in held {
        let mut rng = SmallRng::seed_from_u64(seed);
        let conditions = match wide {
            true => Conditions::training(),
            false => Conditions::measuring(),
        };
        let about = (subject, maker);
        hold(
            &draw(&material, &tuning, about, &conditions, wide, &mut rng).made,
            print,
        );
    }
    let mut rng = SmallRng::seed_from_u64(5);
    let real = draw_real(&material, &tuning, &Conditions::measuring(), &mut rng);
    hold(
        &real.expect("one").made,
        (91166, 125356, 1.039, [-24.07, -26.52, -32.09, -29.09]),
    );
}
