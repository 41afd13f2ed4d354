//! What a learner sees while strumming: pictures and verdicts out of a stream.

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use ringtrue::audio::read_all;
use ringtrue::fretboard::{Frets, Tuning};
use ringtrue::listening::{Judge, Listener, Message};
use ringtrue::synth::compose::{Conditions, compose};
use ringtrue::synth::{notes, voicings};
use ringtrue::take::Manner;
use ringtrue::verdict::{AnalyserSettings, Expected, ExpectedVoicing, JudgedTake, Warning};

use crate::common::audio;
use crate::common::guitars::ALL;

fn named(frets: &Frets) -> Expected {
    Expected::Named(ExpectedVoicing::usual(*frets, None, &Tuning::default()))
}

fn settings(rate_hz: u32) -> AnalyserSettings {
    AnalyserSettings {
        tuning: Tuning::default(),
        rate_hz,
    }
}

/// Takes as a file gives them.
fn checked(samples: &[f32], rate_hz: u32, expected: &Expected) -> Vec<JudgedTake> {
    let judged = Judge::new(Tuning::default()).samples(samples, rate_hz, expected);
    judged.into_iter().map(|judged| judged.take).collect()
}

/// What a listener says, each with the seconds of sound after which it said so.
fn heard(samples: &[f32], rate_hz: u32, expected: &Expected, block: usize) -> Vec<(f64, Message)> {
    let mut listener = Listener::new(settings(rate_hz), expected.clone());
    let (mut all, mut now) = (Vec::new(), Vec::new());
    for piece in samples.chunks(block) {
        listener.push(piece, &mut now);
        let at = listener.position() as f64 / f64::from(rate_hz);
        all.extend(now.drain(..).map(|heard| (at, heard)));
    }
    listener.finish(&mut now);
    all.extend(now.drain(..).map(|heard| (f64::INFINITY, heard)));
    all
}

/// Strums of one chord with faults, silence between, as one recording.
fn session(takes: usize, gap_s: f64, seed: u64) -> (Vec<f32>, Frets) {
    let mut rng = SmallRng::seed_from_u64(seed);
    let (frets, barre) = voicings::draw(&mut rng, false);
    let mut all = Vec::new();
    for take in 0..takes {
        let sounds = voicings::faults(&frets, barre, &mut rng, false);
        let guitar = &ALL[take % ALL.len()];
        let made = compose(
            guitar,
            &Tuning::default(),
            &sounds,
            &Conditions::measuring(),
            &mut rng,
        );
        let mut samples = made.samples;
        let fade = samples.len() / 10;
        let length = samples.len();
        for (i, s) in samples[length - fade..].iter_mut().enumerate() {
            *s *= 1.0 - i as f32 / fade as f32;
        }
        all.extend(samples);
        let silence = (gap_s * f64::from(notes::NOTE_RATE_HZ)) as usize;
        all.extend((0..silence).map(|_| rng.random_range(-1e-4..1e-4f32)));
    }
    (all, frets)
}

fn over(heard: &[(f64, Message)]) -> Vec<&JudgedTake> {
    heard
        .iter()
        .filter_map(|(_, h)| match h {
            Message::Over { take, .. } => Some(take),
            _ => None,
        })
        .collect()
}

#[test]
fn live_verdicts_are_those_of_check_on_the_same_samples_in_blocks_of_any_length() {
    for seed in 0..4 {
        let (samples, frets) = session(6, 1.0, seed);
        let rate = notes::NOTE_RATE_HZ;
        let wanted = checked(&samples, rate, &named(&frets));
        assert!(wanted.len() >= 5, "{} takes found", wanted.len());
        for block in [97, 441, 4_800, samples.len()] {
            let all = heard(&samples, rate, &named(&frets), block);
            assert_eq!(over(&all), wanted.iter().collect::<Vec<_>>());
            // What was shown as settled is what it stayed, unless it was withdrawn.
            for (_, h) in &all {
                let Message::Over { number, take, .. } = h else {
                    continue;
                };
                let last_word = all.iter().rev().find_map(|(_, h)| match h {
                    Message::Settled { number: n, take } if n == number => Some(take),
                    _ => None,
                });
                assert_eq!(last_word, Some(take));
            }
        }
    }
}

#[test]
fn the_first_picture_comes_within_0_6_s_and_the_verdict_within_1_3_s_of_the_strum() {
    let (mut strums, mut first_in_time, mut settled_in_time) = (0, 0, 0);
    for seed in 10..16 {
        let (samples, frets) = session(6, 1.0, seed);
        let all = heard(&samples, notes::NOTE_RATE_HZ, &named(&frets), 441);
        for (_, h) in &all {
            let Message::Over { number, take, .. } = h else {
                continue;
            };
            if take.manner != Manner::Strummed {
                continue;
            }
            strums += 1;
            let first = all.iter().find_map(|(at, h)| match h {
                Message::First { number: n, .. } | Message::Settled { number: n, .. }
                    if n == number =>
                {
                    Some(*at)
                }
                _ => None,
            });
            let settled = all.iter().find_map(|(at, h)| match h {
                Message::Settled { number: n, .. } if n == number => Some(*at),
                _ => None,
            });
            // What is allowed, less 50 ms for computing and 40 ms for the sound to reach the program.
            first_in_time += usize::from(first.unwrap() - take.start_s <= 0.6 - 0.09);
            settled_in_time += usize::from(settled.unwrap() - take.start_s <= 1.3 - 0.09);
        }
    }
    assert!(strums >= 30);
    // Very slow strums, and what may be the first note of a pass, take longer.
    assert!(
        first_in_time * 100 >= strums * 90,
        "{first_in_time} of {strums}"
    );
    assert!(
        settled_in_time * 100 >= strums * 90,
        "{settled_in_time} of {strums}"
    );
}

#[test]
fn a_take_with_lost_sound_is_never_judged_and_the_next_one_is() {
    let (samples, frets) = session(3, 1.5, 1);
    let rate = notes::NOTE_RATE_HZ;
    let wanted = checked(&samples, rate, &named(&frets));
    assert_eq!(wanted.len(), 3);
    let hole = ((wanted[1].start_s + 0.3) * f64::from(rate)) as usize;
    let lost = rate as usize / 20;
    let mut listener = Listener::new(settings(rate), named(&frets));
    let mut all = Vec::new();
    listener.push(&samples[..hole], &mut all);
    listener.lost(lost as u64, &mut all);
    listener.push(&samples[hole + lost..], &mut all);
    listener.finish(&mut all);
    let all: Vec<_> = all.into_iter().map(|h| (0.0, h)).collect();
    let takes = over(&all);
    assert_eq!(takes.len(), 3);
    assert!(
        matches!(takes[1].warnings[..], [Warning::SoundLost { seconds }] if (seconds - 0.05).abs() < 1e-3)
    );
    assert!(!takes[1].judged());
    // What to try may differ: the take with the hole is none of those that went before.
    for i in [0, 2] {
        assert_eq!(takes[i].strings, wanted[i].strings);
        assert_eq!(takes[i].warnings, wanted[i].warnings);
    }
}

#[test]
fn however_much_was_lost_the_next_take_is_judged() {
    let (strum, frets) = session(1, 1.5, 2);
    let rate = notes::NOTE_RATE_HZ;
    let mut rng = SmallRng::seed_from_u64(3);
    // A quiet room, for three seconds, first.
    let room = (0..3 * rate).map(|_| rng.random_range(-1e-4..1e-4f32));
    let samples: Vec<f32> = room.chain(strum).collect();
    let wanted = checked(&samples, rate, &named(&frets));
    assert_eq!(wanted.len(), 1);
    let mut listener = Listener::new(settings(rate), named(&frets));
    let mut all = Vec::new();
    listener.push(&samples[..rate as usize / 10], &mut all);
    listener.lost(60 * u64::from(rate), &mut all);
    listener.push(&samples, &mut all);
    listener.finish(&mut all);
    let all: Vec<_> = all.into_iter().map(|h| (0.0, h)).collect();
    let takes = over(&all);
    assert_eq!(takes.len(), 1, "{all:?}");
    assert!(takes[0].judged(), "{:?}", takes[0].warnings);
    // To the sample, onsets lie where the frames since the stream's beginning put them.
    let verdicts = |take: &JudgedTake| take.strings.map(|s| s.verdict);
    assert_eq!(verdicts(takes[0]), verdicts(&wanted[0]));
}

#[test]
fn talking_near_the_microphone_brings_nothing_to_the_screen() {
    for name in ["talking-high.flac", "talking-low.flac"] {
        let file = audio::fixture("not-guitar").join(name);
        let talk = read_all(&file, 600.0).unwrap();
        let frets: Frets = "x13331".parse().unwrap();
        let all = heard(&talk.samples, talk.rate_hz, &named(&frets), 480);
        let judged = over(&all).iter().filter(|t| t.judged()).count();
        assert_eq!(judged, 0, "{name}: {all:?}");
    }
}
