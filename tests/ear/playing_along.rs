//! `ringtrue play --from`: composed playing whose every moment is known.

use crate::common::command;
use crate::common::playing;
use crate::common::song;

use command::Desk;
use playing::{PlayingStyle, Strike, mix_in, play};
use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use ringtrue::audio::{read_all, write_wav};
use ringtrue::fretboard::Tuning;
use ringtrue::listening::{Listener, Message};
use ringtrue::progression::backing::arrangement;
use ringtrue::progression::band::sound;
use ringtrue::progression::live::Live;
use ringtrue::progression::performance::{Beginning, Part, judge};
use ringtrue::progression::timing::{StrumPlaces, beats};
use ringtrue::progression::{Feel, HandWeights, Limits, Plan, Progression, Style, Timing};
use ringtrue::synth::notes::{Guitar, NOTE_RATE_HZ};
use ringtrue::synth::room::room;
use ringtrue::verdict::AnalyserSettings;
use serde_json::Value;
use song::{BAR_S, COUNT_IN_S, SONG, STRUCK_MS, strike, strikes};

/// The guitar, read once.
fn guitar() -> &'static Guitar {
    song::guitar()
}

/// Plays; the count-in starts at `start_s`, and the backing is heard so many dB below the playing.
fn recorded(desk: &Desk, start_s: f64, backing_db: Option<f32>) {
    let mut rng = SmallRng::seed_from_u64(5);
    let length_s = start_s + COUNT_IN_S + 8.0 * BAR_S + 1.0;
    let (strikes, manner) = (strikes(start_s), PlayingStyle::usual());
    let (mut samples, _) = play(guitar(), &strikes, &manner, length_s, &mut rng);
    if let Some(db) = backing_db {
        let made = desk.run(&[&["backing", "--out", "backing.wav"][..], &SONG].concat());
        assert_eq!(made.status, 0, "{}", made.err);
        let backing = read_all(&desk.path("backing.wav"), 100.0).unwrap().samples;
        mix_in(&mut samples, &backing, db, start_s);
    }
    write_wav(&desk.path("playing.wav"), NOTE_RATE_HZ, &samples).unwrap();
}

fn judged(desk: &Desk, more: &[&str]) -> Value {
    let run = desk.run(
        &[
            &["play", "--from", "playing.wav", "--json"][..],
            &SONG,
            more,
        ]
        .concat(),
    );
    assert_eq!(run.status, 0, "{}", run.err);
    run.json().remove(0)
}

fn offs(json: &Value) -> Vec<Option<f64>> {
    let strums = json["strums"].as_array().unwrap();
    strums.iter().map(|s| s["off_ms"].as_f64()).collect()
}

/// Every beat has its strum within `within_ms`, late ones too, and none where none was played.
fn assert_offs(json: &Value, within_ms: f64) {
    for (bar, (found, wanted)) in offs(json).iter().zip(STRUCK_MS).enumerate() {
        match (found, wanted.first()) {
            (Some(found), Some(wanted)) => {
                assert!(
                    (found - wanted).abs() < within_ms,
                    "bar {bar}: {found} ms, {wanted} played"
                );
            }
            (None, None) => {}
            other => panic!("bar {bar}: {other:?}"),
        }
    }
}

fn assert_narrow(report: &str) {
    for line in report.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
}

#[test]
fn a_late_a_missed_and_a_doubled_strum_are_found_with_a_backing_twenty_db_down() {
    let desk = Desk::new();
    recorded(&desk, 0.7, Some(-20.0));
    let json = judged(&desk, &[]);
    assert_eq!(json["start"]["found"], "count-in");
    assert!(
        (json["start"]["at_s"].as_f64().unwrap() - 0.7).abs() < 0.002,
        "{}",
        json["start"]
    );
    // 10 ms over a backing 20 dB down.
    assert_offs(&json, 10.0);
    assert_eq!(json["missed"], 1);
    assert_eq!(
        json["extra_s"].as_array().unwrap().len(),
        1,
        "{}",
        json["extra_s"]
    );
    // The middle of 20, 30, 10, 300, 25, 15, 20.
    assert!(
        (json["off"]["middle_ms"].as_f64().unwrap() - 20.0).abs() < 2.0,
        "{}",
        json["off"]
    );
    // Dm to F was tidy, C to Dm once 300 ms late, F to Bb once missed.
    assert_eq!(json["drill"]["from"], "F", "{}", json["drill"]);
    let level = json["backing_db"].as_f64().unwrap();
    assert!((level + 20.0).abs() < 3.0, "{level}");
}

#[test]
fn with_headphones_the_start_is_found_from_the_strums() {
    let desk = Desk::new();
    recorded(&desk, 1.1, None);
    let json = judged(&desk, &[]);
    assert_eq!(json["start"]["found"], "best-fit");
    assert!(
        (json["start"]["at_s"].as_f64().unwrap() - 1.12).abs() < 0.02,
        "{}",
        json["start"]
    );
    let told = judged(&desk, &["--start", "1.1"]);
    assert_eq!(told["start"]["found"], "told");
    assert_offs(&told, 5.0);
    for strum in told["strums"].as_array().unwrap() {
        if let Some(strings) = strum["take"]["strings"].as_array() {
            assert_eq!(strings.len(), 6);
            assert_eq!(strum["take"]["chord"], strum["chord"]);
        }
    }
}

#[test]
fn of_a_recording_that_breaks_off_what_is_there_is_judged_and_the_damage_is_said() {
    let desk = Desk::new();
    recorded(&desk, 1.1, None);
    let path = desk.path("playing.wav");
    let whole = std::fs::read(&path).unwrap();
    // Half-way: behind the strum of the fourth bar, before that of the fifth.
    let kept = whole.len() * 50 / 100;
    std::fs::write(&path, &whole[..kept]).unwrap();
    let arguments = ["play", "--from", "playing.wav", "--start", "1.1", "--json"];
    let run = desk.run(&[&arguments[..], &SONG].concat());
    assert_eq!(run.status, 2, "not all was judged: {}", run.err);
    assert!(run.err.contains("breaks off before its end"), "{}", run.err);
    let json = run.json().remove(0);
    let reached = json["strums"].as_array().unwrap().len();
    assert_eq!(reached as u64 + json["not_reached"].as_u64().unwrap(), 8);
    assert!((2..8).contains(&reached), "{json}");
    // With nothing to be heard in it, both are said.
    std::fs::write(&path, &whole[..whole.len() * 5 / 100]).unwrap();
    let run = desk.run(&[&arguments[..], &SONG].concat());
    assert_eq!(run.status, 2);
    assert!(run.err.contains("breaks off before its end"), "{}", run.err);
    assert!(run.err.contains("no strum was found"), "{}", run.err);
}

/// The song as `play` reads it, without the program around it.
fn part() -> Part {
    let timing = Timing {
        from_bpm: 100.0,
        to_bpm: 100.0,
        beats: 2,
        bars_each: 1,
        loops: 2,
        count_in_bars: 2,
    };
    let style = Style {
        feel: Feel::Quarters,
        swing: 50.0,
    };
    let plan = Plan::new(&Progression::read(SONG[0]).unwrap(), &timing).unwrap();
    let wanted = beats(&plan, &style, StrumPlaces::Chord);
    let (limits, weights) = (Limits::default(), HandWeights::default());
    Part::new(plan, wanted, &limits, &weights, false, Tuning::default()).unwrap()
}

/// Each bar is struck up to 0.4 s late, half of the bars again 0.25 to 0.45 s after that, while the chord rings.
#[test]
fn of_a_chord_struck_twice_the_strum_nearer_to_its_beat_is_taken_for_it() {
    const START_S: f64 = 0.5;
    let part = part();
    let mut wrong = Vec::new();
    for seed in 0..4 {
        let mut rng = SmallRng::seed_from_u64(seed);
        let mut strikes: Vec<Strike> = Vec::new();
        let late = rng.random_range(0.0..0.35);
        let played: Vec<Vec<f64>> = (0..STRUCK_MS.len())
            .map(|bar| {
                let first = late + rng.random_range(-0.05..0.05);
                let mut struck = vec![first];
                if rng.random_bool(0.5) {
                    struck.push(first + rng.random_range(0.25..0.45));
                }
                for (index, late) in struck.iter().enumerate() {
                    let at_s = START_S + COUNT_IN_S + BAR_S * bar as f64 + late;
                    strikes.push(strike(bar, at_s, index > 0));
                }
                struck
            })
            .collect();
        let length_s = START_S + COUNT_IN_S + 9.0 * BAR_S + 1.0;
        let (samples, _) = play(
            guitar(),
            &strikes,
            &PlayingStyle::usual(),
            length_s,
            &mut rng,
        );
        let beginning = Beginning::At(START_S);
        let performance = judge(&samples, NOTE_RATE_HZ, &part, beginning, None).unwrap();
        for (bar, (outcome, struck)) in performance.outcomes.iter().zip(&played).enumerate() {
            // All come late, so the first is the nearer one.
            let wanted_ms = 1e3 * struck[0];
            let near = |off: f64| (off - wanted_ms).abs() < 10.0;
            if !outcome.off_ms.is_some_and(near) {
                wrong.push((seed, bar, outcome.off_ms, struck.clone()));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:?}");
}

#[test]
fn a_backing_too_loud_in_the_microphone_is_said() {
    let desk = Desk::new();
    recorded(&desk, 0.7, Some(-6.0));
    let run = desk.run(&[&["play", "--from", "playing.wav"][..], &SONG].concat());
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(
        run.out
            .contains("The backing is too loud in the microphone"),
        "{}",
        run.out
    );
    assert!(
        run.out.contains("Practise this change alone: F to Bb"),
        "{}",
        run.out
    );
    assert_narrow(&run.out);
}

#[test]
fn the_report_fits_on_eighty_columns_where_the_start_was_found_from_the_strums() {
    let desk = Desk::new();
    recorded(&desk, 1.1, None);
    let run = desk.run(&[&["play", "--from", "playing.wav"][..], &SONG].concat());
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(
        run.out.contains("I could not hear the count-in"),
        "{}",
        run.out
    );
    assert_narrow(&run.out);
}

#[test]
fn where_nobody_plays_it_is_said() {
    let desk = Desk::new();
    desk.recording("silence.wav", &vec![0.0; 200_000]);
    let run = desk.run(&[&["play", "--from", "silence.wav"][..], &SONG].concat());
    assert_eq!(run.status, 2);
    assert!(
        run.err.contains("silence.wav: no strum was found"),
        "{}",
        run.err
    );
    let missing = desk.run(&["play", "F", "--from", "none.wav"]);
    assert_eq!(missing.status, 2);
    assert!(missing.err.contains("none.wav"), "{}", missing.err);
}

#[cfg(unix)]
#[test]
fn where_no_temporary_file_can_be_made_its_folder_is_named() {
    let desk = Desk::new();
    desk.recording("silence.wav", &[0.0; 20_000]);
    let mut play = desk.ringtrue(&[&["play", "--from", "silence.wav"][..], &SONG].concat());
    let run = play.env("TMPDIR", desk.path("none")).output().unwrap();
    assert_eq!(run.status.code(), Some(2));
    let said = String::from_utf8(run.stderr).unwrap();
    assert!(said.contains("temporary file"), "{said}");
    assert!(said.contains("none: cannot be written"), "{said}");
}

/// How performances with rests came out.
#[derive(Debug, Default, PartialEq)]
struct Rests {
    /// Strums told in bars of rest, at their beat or beside it.
    made_up: usize,
    /// Strums that were played, and those of them told within 10 ms.
    played: usize,
    told: usize,
}

/// What comes between the loudspeaker and what is judged.
#[derive(Debug, Clone, Copy)]
enum Channel {
    Straight,
    Room,
    Evened,
}

/// Where the count-in starts in them.
const START_S: f64 = 0.5;

/// Playing in which only some bars are struck.
struct Rested {
    samples: Vec<f32>,
    part: Part,
    backing: Vec<f32>,
    /// When each bar was struck that was.
    at_s: Vec<f64>,
}

/// Playing in which only some bars are struck, the backing so many dB below a bar that is.
fn rested(struck: [bool; 8], backing_db: f32, way: Channel, feel: Feel, seed: u64) -> Rested {
    const SPREAD_S: f64 = 0.03;
    let mut part = part();
    let style = Style { feel, swing: 50.0 };
    part.beats = beats(&part.plan, &style, StrumPlaces::Chord);
    let hits = arrangement(&part.plan, &style, &Tuning::default());
    let backing = sound(&hits, &part.plan, 1.0, NOTE_RATE_HZ);
    let mut rng = SmallRng::seed_from_u64(seed);
    let strikes: Vec<Strike> = (0..struck.len())
        .filter(|bar| struck[*bar])
        .map(|bar| {
            let late_s = rng.random_range(-SPREAD_S..=SPREAD_S);
            strike(bar, bar_at_s(bar) + late_s, false)
        })
        .collect();
    let length_s = START_S + COUNT_IN_S + 8.0 * BAR_S + 1.0;
    let (mut samples, _) = play(
        guitar(),
        &strikes,
        &PlayingStyle::usual(),
        length_s,
        &mut rng,
    );
    let mut heard = backing.clone();
    if matches!(way, Channel::Room) {
        room(&mut heard, (0.3, 0.5), (4.0, 10.0), &mut rng);
    }
    // A bar that is struck has this RMS, within some dB.
    let rms = (heard.iter().map(|s| s * s).sum::<f32>() / heard.len() as f32).sqrt();
    let gain = 0.08 / rms * 10f32.powf(backing_db / 20.0);
    let at = (START_S * f64::from(NOTE_RATE_HZ)) as usize;
    for (sample, b) in samples[at..].iter_mut().zip(&heard) {
        *sample += gain * b;
    }
    if matches!(way, Channel::Evened) {
        evened(&mut samples);
    }
    Rested {
        samples,
        part,
        backing,
        at_s: strikes.iter().map(|strike| strike.at_s).collect(),
    }
}

/// When the strum of a bar is wanted.
fn bar_at_s(bar: usize) -> f64 {
    START_S + COUNT_IN_S + BAR_S * bar as f64
}

/// How playing with rests came out.
fn rests(struck: [bool; 8], backing_db: f32, way: Channel, feel: Feel, seed: u64) -> Rests {
    let Rested {
        samples,
        part,
        backing,
        at_s,
    } = rested(struck, backing_db, way, feel, seed);
    let beginning = Beginning::At(START_S);
    let Some(performance) = judge(&samples, NOTE_RATE_HZ, &part, beginning, Some(&backing)) else {
        return Rests {
            played: at_s.len(),
            ..Rests::default()
        };
    };
    let offs: Vec<Option<f64>> = performance.outcomes.iter().map(|o| o.off_ms).collect();
    let made_up = (0..8).filter(|bar| !struck[*bar] && offs[*bar].is_some());
    let bars = (0..8).filter(|bar| struck[*bar]).zip(&at_s);
    let near = |(bar, at_s): &(usize, &f64)| {
        let late_ms = 1e3 * (*at_s - bar_at_s(*bar));
        offs[*bar].is_some_and(|off| (off - late_ms).abs() < 10.0)
    };
    Rests {
        made_up: made_up.count() + performance.extra_s.len(),
        played: at_s.len(),
        told: bars.filter(near).count(),
    }
}

/// What a microphone's own control of its level does: loud sound is turned down at once, and comes back within half a second.
fn evened(samples: &mut [f32]) {
    let (mut level, back) = (0f32, (-1.0 / (0.5 * NOTE_RATE_HZ as f32)).exp());
    for sample in samples {
        level = (level * back).max(sample.abs());
        *sample *= (0.05 / level.max(0.05)).sqrt();
    }
}

#[test]
fn where_the_player_rests_the_backings_drums_are_no_strums() {
    let none = [false; 8];
    let few = [true, false, false, false, false, true, false, false];
    let most = [true, true, true, false, true, true, true, true];
    for (struck, way, db) in [
        (none, Channel::Room, -10.0),
        (few, Channel::Room, -10.0),
        (most, Channel::Room, -10.0),
        (few, Channel::Straight, -20.0),
        (few, Channel::Evened, -10.0),
    ] {
        let found = rests(struck, db, way, Feel::Quarters, 1);
        println!("{struck:?} {way:?} {db} dB: {found:?}");
        assert_eq!(found.made_up, 0, "{struck:?} {way:?} {db} dB");
        // A level that goes up and down moves what is heard of a strum's beginning.
        if !matches!(way, Channel::Evened) {
            assert_eq!(found.told, found.played, "{struck:?} {way:?} {db} dB");
        }
    }
}

/// When strums are told while the music plays, by what `play` does with what the listener hears.
fn told(
    samples: &[f32],
    part: &Part,
    backing: Vec<f32>,
    beginning: Beginning,
    start_s: f64,
) -> Vec<f64> {
    let settings = AnalyserSettings {
        tuning: part.tuning,
        rate_hz: NOTE_RATE_HZ,
    };
    let mut listener = Listener::new(settings, part.expected(0).unwrap());
    listener.beside_music(true);
    let mut live = Live::new(backing, NOTE_RATE_HZ);
    let (mut told, mut heard) = (Vec::new(), Vec::new());
    for (index, block) in samples.chunks(1024).enumerate() {
        let at_s = listener.now_s() - start_s - Listener::SETTLES_S;
        if let Some(expected) = part
            .nearest(at_s)
            .and_then(|beat| part.expected(beat.placed))
        {
            listener.expect(expected);
        }
        listener.push(block, &mut heard);
        let so_far = &samples[..1024 * index];
        for heard in heard.drain(..) {
            if let Message::Settled { take, .. } = heard
                && live.counts(so_far, part, beginning, take.start_s)
            {
                told.push(take.start_s);
            }
        }
    }
    told
}

#[test]
fn while_the_music_plays_no_drum_of_the_backing_is_told_as_a_strum() {
    let struck = [true, false, false, false, false, true, false, false];
    let Rested {
        samples,
        part,
        backing,
        at_s,
    } = rested(struck, -10.0, Channel::Room, Feel::Quarters, 1);
    // As `play` knows it: not how late sound is heard.
    let beginning = Beginning::live(START_S - 0.1, None);
    let told = told(&samples, &part, backing, beginning, START_S);
    let near = |a: &f64, b: &f64| (a - b).abs() < 0.1;
    let is_struck = |told: &f64| at_s.iter().any(|struck| near(struck, told));
    assert!(told.iter().all(is_struck), "{told:?}");
    let is_told = |struck: &f64| told.iter().any(|told| near(struck, told));
    assert!(at_s.iter().all(is_told), "{at_s:?} {told:?}");
}
