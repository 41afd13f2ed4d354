//! A single string, the smallest exercise there is: place the finger, and pluck.

use crate::common::{command, guitars};

use std::path::Path;

use command::{Desk, hiss};
use rand::SeedableRng;
use rand::rngs::SmallRng;
use ringtrue::audio::read_all;
use ringtrue::fretboard::{Frets, STRINGS, Tuning};
use ringtrue::listening::Judge;
use ringtrue::synth::compose::{Conditions, StringSound, compose};
use ringtrue::synth::notes::{Guitar, NOTE_RATE_HZ};
use ringtrue::verdict::{Expected, ExpectedVoicing, JudgedTake, StringVerdict, Verdict};

/// One note in so many is judged: the others say the same, and take long.
const EVERY: usize = 13;

fn guitar() -> &'static Guitar {
    guitars::guitar("solid-electric")
}

/// Some of the recorded notes: string (0 = string 6), fret, and the note in a quiet room.
fn plucked() -> impl Iterator<Item = (usize, u8, Vec<f32>)> {
    guitar().notes.iter().step_by(EVERY).filter_map(|note| {
        let (string, fret) = note.place?;
        Some((string, fret, in_a_room(&note.samples)))
    })
}

fn in_a_room(samples: &[f32]) -> Vec<f32> {
    [&hiss(0.3, 2e-4)[..], samples, &hiss(0.5, 2e-4)].concat()
}

fn takes(
    judge: &mut Judge,
    samples: &[f32],
    rate_hz: u32,
    string: usize,
    fret: u8,
) -> Vec<JudgedTake> {
    let mut frets = Frets([None; STRINGS]);
    frets.0[string] = Some(fret);
    let meant = ExpectedVoicing::usual(frets, None, &Tuning::default());
    let judged = judge.samples(samples, rate_hz, &Expected::Named(meant));
    judged.into_iter().map(|judged| judged.take).collect()
}

/// What is said of the string in the only take there is.
fn said(judge: &mut Judge, samples: &[f32], string: usize, fret: u8) -> Option<StringVerdict> {
    let takes = takes(judge, samples, NOTE_RATE_HZ, string, fret);
    let [take] = &takes[..] else { return None };
    Some(take.strings[string])
}

#[test]
fn a_recorded_note_at_its_own_fret_is_clean() {
    let mut judge = Judge::new(Tuning::default());
    for (string, fret, samples) in plucked() {
        let said = said(&mut judge, &samples, string, fret);
        let verdict = said.map(|s| s.verdict);
        assert_eq!(verdict, Some(Verdict::Clean), "string {string} fret {fret}");
    }
}

#[test]
fn a_recorded_note_one_or_two_frets_off_is_a_wrong_fret_that_is_named() {
    let mut judge = Judge::new(Tuning::default());
    for (which, (string, fret, samples)) in plucked().enumerate() {
        let asked = match which % 4 {
            0 => fret + 1,
            1 => fret + 2,
            2 => fret - 1,
            _ => fret.saturating_sub(2),
        };
        let said = said(&mut judge, &samples, string, asked);
        let heard = said.map(|s| (s.verdict, s.heard_fret));
        let wanted = Some((Verdict::WrongFret, Some(fret)));
        assert_eq!(heard, wanted, "string {string}, fret {fret} for {asked}");
    }
}

#[test]
fn a_string_that_dies_early_and_a_dead_one_are_takes_of_their_own() {
    let mut judge = Judge::new(Tuning::default());
    let quiet = Conditions {
        noise_db: (55.0, 56.0),
        phone: 0.0,
        ..Conditions::measuring()
    };
    let (mut wrong, mut all) = (0, 0);
    for (seed, string) in (0..2).flat_map(|seed| (0..STRINGS).map(move |s| (seed, s))) {
        for sound in [StringSound::Thud(3), StringSound::Choked(3)] {
            let mut rng = SmallRng::seed_from_u64(seed);
            let mut sounds = [StringSound::Nothing; STRINGS];
            sounds[string] = sound;
            let made = compose(guitar(), &Tuning::default(), &sounds, &quiet, &mut rng);
            let said = said(&mut judge, &made.samples, string, 3);
            let dead = said.is_some_and(|s| matches!(s.verdict, Verdict::Muted | Verdict::Choked));
            all += 1;
            wrong += usize::from(!dead);
            if !dead {
                println!("string {string} {sound:?}: {said:?}");
            }
        }
    }
    assert!(8 * wrong <= all, "{wrong} of {all}");
}

#[test]
fn check_tells_which_fret_sounds() {
    let desk = Desk::new();
    let note = guitar().notes.iter().find(|n| n.place == Some((2, 4)));
    let samples = in_a_room(&note.expect("string 4, fret 4").samples);
    desk.recording("take.wav", &samples);
    let right = desk.run(&["check", "take.wav", "--frets", "xx4xxx"]);
    assert_eq!(right.status, 0, "{}{}", right.out, right.err);
    let wrong = desk.run(&["check", "take.wav", "--frets", "xx3xxx"]);
    assert_eq!(wrong.status, 1, "{}{}", wrong.out, wrong.err);
    assert!(wrong.out.contains("wrong fret: 4, not 3"), "{}", wrong.out);
}

/// Where a chord is meant none comes; one string alone looks more like a voice. README says so.
#[test]
fn of_somebody_who_talks_for_eight_seconds_one_take_comes_at_most() {
    let mut judge = Judge::new(Tuning::default());
    for name in ["talking-high", "talking-low"] {
        let path = Path::new("fixtures/not-guitar").join(format!("{name}.flac"));
        let sound = read_all(&path, 60.0).expect("the file is there");
        let takes = takes(&mut judge, &sound.samples, sound.rate_hz, 2, 3);
        assert!(takes.len() <= 1, "{name}: {takes:?}");
    }
}
