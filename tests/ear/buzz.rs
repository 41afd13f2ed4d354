//! Buzz, from the sound to the verdict, on computed takes whose truth is known.

use std::path::Path;

use rand::SeedableRng;
use rand::rngs::SmallRng;
use ringtrue::audio::read_all;
use ringtrue::fretboard::{Frets, STRINGS, Tuning};
use ringtrue::listening::{Listener, Message};
use ringtrue::synth::buzz::{BuzzTruth, Maker, Material, Subject, contact, draw};
use ringtrue::synth::compose::Conditions;
use ringtrue::synth::distractor::Distractor;
use ringtrue::synth::instrument::Instrument;
use ringtrue::synth::notes::NOTE_RATE_HZ;
use ringtrue::synth::strum::{Behaviour, Gesture, StringPart, strum};
use ringtrue::take::{Manner, strums};
use ringtrue::verdict::{
    Analyser, AnalyserSettings, Expected, ExpectedVoicing, JudgedTake, Verdict, Warning,
};

use crate::common::guitars::guitar;

/// Judges the computed chord with `behaviour` on one string (index 0 = string 6).
fn judged(frets: &str, buzzing: Option<usize>, stroke: &Gesture, rattle: bool) -> JudgedTake {
    let tuning = Tuning::default();
    let frets: Frets = frets.parse().expect("frets");
    let parts = std::array::from_fn(|s| {
        frets.0[s].map(|fret| StringPart {
            fret,
            behaviour: match buzzing {
                Some(string) if string == s => Behaviour::Buzzes { strength: 0.9 },
                _ => Behaviour::Rings,
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
    let settings = AnalyserSettings {
        tuning,
        rate_hz: NOTE_RATE_HZ,
    };
    Analyser::new(settings).analyse(&found[0], &frets)
}

fn buzzing(take: &JudgedTake) -> Vec<u8> {
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
        let take = judged(frets, Some(string), &Gesture::usual(), false);
        assert_eq!(buzzing(&take), [6 - string as u8], "{frets}: {take:?}");
    }
}

#[test]
fn a_string_that_strikes_a_fret_is_named_where_strings_are_picked_one_by_one() {
    let picked = Gesture {
        manner: Manner::Picked,
        step_s: 0.6,
        ..Gesture::usual()
    };
    let named = (0..STRINGS).filter(|&string| {
        let take = judged("133211", Some(string), &picked, false);
        assert_eq!(take.manner, Manner::Picked);
        let buzzing = buzzing(&take);
        assert!(buzzing.iter().all(|s| *s == 6 - string as u8), "{take:?}");
        !buzzing.is_empty()
    });
    // Of these it hears three, of what `demo` makes, which is plainer, 21 of 24 (`fixtures/measured/buzz.md`).
    let named = named.count();
    assert!(named >= 2, "{named} of 6");
}

#[test]
fn a_clean_chord_does_not_buzz_calm_or_hard_strummed_or_picked() {
    let mut hard = Gesture::usual();
    hard.pluck.aside_m *= 1.5;
    let picked = Gesture {
        manner: Manner::Picked,
        step_s: 0.6,
        ..Gesture::usual()
    };
    for stroke in [Gesture::usual(), hard, picked] {
        for frets in ["x24442", "133211", "x32010"] {
            let take = judged(frets, None, &stroke, false);
            assert!(buzzing(&take).is_empty(), "{frets} {stroke:?}: {take:?}");
        }
    }
}

#[test]
fn a_rattle_that_follows_no_string_is_told_as_such() {
    let take = judged("x24442", None, &Gesture::usual(), true);
    assert!(buzzing(&take).is_empty(), "{take:?}");
    let rattles = |w: &Warning| matches!(w, Warning::Rattle { .. });
    assert!(take.warnings.iter().any(rattles), "{:?}", take.warnings);
}

#[test]
fn sound_that_was_lost_on_its_way_is_no_buzz() {
    let tuning = Tuning::default();
    let settings = AnalyserSettings {
        tuning,
        rate_hz: NOTE_RATE_HZ,
    };
    let path = Path::new("fixtures/strums/x13331-all-strings-ring.wav");
    let whole = read_all(path, 60.0).expect("the recording is there");
    assert_eq!(whole.rate_hz, NOTE_RATE_HZ);
    let frets: Frets = "x13331".parse().expect("frets");
    let onset = strums(&whole.samples, NOTE_RATE_HZ)[0].start_s();
    for (after_s, gap_s) in [(0.2, 0.005), (0.35, 0.06), (0.5, 0.02), (0.8, 0.04)] {
        let at = |s: f64| ((onset + s) * f64::from(NOTE_RATE_HZ)) as usize;
        let mut torn = whole.samples.clone();
        torn.drain(at(after_s)..at(after_s + gap_s));
        let found = strums(&torn, NOTE_RATE_HZ);
        let take = Analyser::new(settings).analyse(&found[0], &frets);
        assert!(buzzing(&take).is_empty(), "{after_s} s: {take:?}");
        assert_eq!(take.warnings, [], "{after_s} s");
    }
}

/// Seeds of takes of which one string begins to strike a fret more than a second after the stroke, and is heard to. They
/// show what follows from that, not how often it is heard.
const LATE: [u64; 3] = [65, 120, 221];

#[test]
fn a_buzz_that_begins_late_puts_the_verdict_right() {
    let contact = contact::load(Path::new("fixtures/contact")).expect("the notes are there");
    let material = Material {
        guitars: [guitar("solid-electric"); STRINGS],
        contact: &contact,
    };
    let tuning = Tuning::default();
    let settings = AnalyserSettings {
        tuning,
        rate_hz: NOTE_RATE_HZ,
    };
    for seed in LATE {
        let mut rng = SmallRng::seed_from_u64(seed);
        let about = (Subject::Buzz { strings: 1 }, Maker::Bursts);
        let conditions = Conditions::measuring();
        let take = draw(&material, &tuning, about, &conditions, false, &mut rng);
        let string = (0..STRINGS).find(|&s| matches!(take.truth[s], BuzzTruth::Buzzes { .. }));
        let string = string.expect("one buzzes");
        let swell = take.swells[string].expect("it was made to");
        assert!(swell.from_s > 1.0, "{swell:?}");

        let expected = Expected::Named(ExpectedVoicing::usual(take.frets, None, &tuning));
        let mut listener = Listener::new(settings, expected);
        let mut heard = Vec::new();
        listener.push(&take.made.samples, &mut heard);
        listener.finish(&mut heard);
        let settled = heard.iter().filter_map(|heard| match heard {
            Message::Settled { number: 1, take } => Some(buzzing(take)),
            _ => None,
        });
        let late = vec![6 - string as u8];
        assert_eq!(settled.collect::<Vec<_>>(), [vec![], late.clone()]);
        // A recording of the same sound gives the last word.
        let found = strums(&take.made.samples, NOTE_RATE_HZ);
        let whole = Analyser::new(settings).analyse(&found[0], &take.frets);
        assert_eq!(buzzing(&whole), late);
    }
}
