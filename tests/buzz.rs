//! Buzz, from the sound to the verdict, on computed takes whose truth is known.

use rand::SeedableRng;
use rand::rngs::SmallRng;
use ringtrue::fretboard::{Frets, Tuning};
use ringtrue::synth::distractor::Distractor;
use ringtrue::synth::instrument::Instrument;
use ringtrue::synth::notes::NOTE_RATE_HZ;
use ringtrue::synth::strum::{Deed, Part, Stroke, strum};
use ringtrue::take::{Manner, strums};
use ringtrue::verdict::{Analyser, Settings, Take, Verdict, Warning};

/// Judges the computed chord with `deed` on one string (index 0 = string 6).
fn judged(frets: &str, buzzing: Option<usize>, stroke: &Stroke, rattle: bool) -> Take {
    let tuning = Tuning::default();
    let frets: Frets = frets.parse().expect("frets");
    let parts = std::array::from_fn(|s| {
        frets.0[s].map(|fret| Part {
            fret,
            deed: match buzzing {
                Some(string) if string == s => Deed::Buzzes { strength: 0.9 },
                _ => Deed::Rings,
            },
        })
    });
    let mut rng = SmallRng::seed_from_u64(3);
    let struck = strum(&Instrument::usual(&tuning), &parts, stroke, 2.0, &mut rng);
    let mut samples = struck.samples;
    if rattle {
        let first = struck
            .onsets
            .iter()
            .flatten()
            .min()
            .copied()
            .expect("struck");
        Distractor::Rattle.add(&mut samples, first, &mut SmallRng::seed_from_u64(2));
    }
    let peak = samples.iter().fold(0f32, |p, s| p.max(s.abs()));
    samples.iter_mut().for_each(|s| *s *= 0.5 / peak);
    let found = strums(&samples, NOTE_RATE_HZ);
    assert_eq!(found.len(), 1, "one take");
    let settings = Settings {
        tuning,
        rate_hz: NOTE_RATE_HZ,
    };
    Analyser::new(settings).analyse(&found[0], &frets)
}

fn buzzing(take: &Take) -> Vec<u8> {
    let buzzes = |s: &&ringtrue::verdict::StringVerdict| s.verdict == Verdict::Buzzing;
    take.strings
        .iter()
        .filter(buzzes)
        .map(|s| s.string)
        .collect()
}

#[test]
fn a_string_that_strikes_a_fret_is_named_and_no_other_is() {
    for (string, frets) in [(1, "x24442"), (2, "x24442"), (1, "133211")] {
        let take = judged(frets, Some(string), &Stroke::usual(), false);
        assert_eq!(buzzing(&take), [6 - string as u8], "{frets}: {take:?}");
    }
}

#[test]
fn a_clean_chord_does_not_buzz_calm_or_hard_strummed_or_picked() {
    let mut hard = Stroke::usual();
    hard.pluck.aside_m *= 1.5;
    let picked = Stroke {
        manner: Manner::Picked,
        step_s: 0.6,
        ..Stroke::usual()
    };
    for stroke in [Stroke::usual(), hard, picked] {
        for frets in ["x24442", "133211", "x32010"] {
            let take = judged(frets, None, &stroke, false);
            assert!(buzzing(&take).is_empty(), "{frets} {stroke:?}: {take:?}");
        }
    }
}

#[test]
fn a_rattle_that_follows_no_string_is_told_as_such() {
    let take = judged("x24442", None, &Stroke::usual(), true);
    assert!(buzzing(&take).is_empty(), "{take:?}");
    let rattles = |w: &Warning| matches!(w, Warning::Rattle { .. });
    assert!(take.warnings.iter().any(rattles), "{:?}", take.warnings);
}
