//! Measures how well time is kept track of, and what a backing in the microphone does, on composed
//! playing whose truth is known: timing [SESSIONS], sessions for each guitar.

#[path = "../tests/common/playing.rs"]
mod playing;

use std::path::Path;

use playing::{Manner, Strike, play, trimmed};
use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use rayon::prelude::*;
use ringtrue::fretboard::{Frets, Tuning};
use ringtrue::progression::backing::arrangement;
use ringtrue::progression::band::{levelled, render};
use ringtrue::progression::session::{Beginning, Part, Session, judge};
use ringtrue::progression::start::Found;
use ringtrue::progression::timing::{Beat, Spread, Strums, beats};
use ringtrue::progression::{Feel, Limits, Plan, Progression, Style, Timing, Weights, route};
use ringtrue::synth::compose::{Sound, gauss};
use ringtrue::synth::notes::{self, Guitar, NOTE_RATE_HZ};
use ringtrue::synth::voicings;
use ringtrue::verdict::Verdict;

/// What is played along with.
struct Song {
    part: Part,
    backing: Vec<f32>,
}

/// What was really played: for each beat its strike's time after the beat in ms, and the sounds.
struct Truth {
    offs_ms: Vec<Option<f64>>,
    sounds: Vec<[Sound; 6]>,
    extra: usize,
    start_s: f64,
}

fn main() -> anyhow::Result<()> {
    let sessions: usize = std::env::args().nth(1).map_or(Ok(4), |n| n.parse())?;
    let guitars = trimmed(notes::load(Path::new("fixtures/notes"))?);
    let song = song()?;
    for backing_db in [None, Some(-20.0), Some(-14.0)] {
        let all: Vec<(Truth, Option<Session>)> = (0..guitars.len() * sessions)
            .into_par_iter()
            .map(|i| one(&guitars[i / sessions], &song, backing_db, i as u64))
            .collect();
        println!("{}", line(backing_db, &all, &song.part.beats));
    }
    Ok(())
}

/// Five chords in bars of two beats, so that a strum comes every 1.2 s.
fn song() -> anyhow::Result<Song> {
    let progression = Progression::read("F Bb C Dm Gm C7 F C")?;
    let timing = Timing {
        from_bpm: 100.0,
        to_bpm: 100.0,
        beats: 2,
        bars_each: 1,
        loops: 3,
        count_in_bars: 2,
    };
    let style = Style {
        feel: Feel::Eighths,
        swing: 50.0,
    };
    let tuning = Tuning::default();
    let plan = Plan::new(&progression, &timing)?;
    let way = route(
        &progression.chords(),
        &Limits::default(),
        &Weights::default(),
        true,
        &tuning,
    )?;
    let voicings: Vec<Option<Frets>> = (0..plan.placed.len())
        .map(|i| Some(way.steps[i % way.steps.len()].voicing.frets))
        .collect();
    let mut backing = render(
        &arrangement(&plan, &style, &tuning),
        &plan.grid,
        NOTE_RATE_HZ,
    );
    levelled(&mut backing, NOTE_RATE_HZ);
    let beats = beats(&plan, &style, Strums::Chord);
    Ok(Song {
        part: Part {
            plan,
            beats,
            voicings,
            tuning,
        },
        backing,
    })
}

/// One session: a tenth of the beats missed, a tenth late by 0.2 to 0.45 s, a tenth struck twice, the
/// others 15 ms late with a spread of 20; recorded with the backing so many dB under the playing.
fn one(
    guitar: &Guitar,
    song: &Song,
    backing_db: Option<f64>,
    seed: u64,
) -> (Truth, Option<Session>) {
    // The same playing at every level of the backing.
    let mut rng = SmallRng::seed_from_u64(0x71_4E00 + seed);
    let start_s = rng.random_range(0.4..2.0);
    let mut strikes = Vec::new();
    let (mut offs_ms, mut all_sounds, mut extra) = (Vec::new(), Vec::new(), 0);
    for beat in &song.part.beats {
        let frets = song.part.voicings[beat.placed].unwrap_or(Frets([None; 6]));
        let barre = frets.lowest_held();
        let sounds = voicings::faults(&frets, barre, &mut rng, false);
        let kind = rng.random_range(0..10);
        let off_s = match kind {
            0 => rng.random_range(0.2..0.45),
            _ => 0.015 + 0.02 * gauss(&mut rng),
        };
        all_sounds.push(sounds);
        if kind == 1 {
            offs_ms.push(None);
            continue;
        }
        offs_ms.push(Some(off_s * 1e3));
        let at_s = start_s + beat.at_s + off_s;
        strikes.push(Strike { at_s, sounds });
        if kind == 2 {
            strikes.push(Strike {
                at_s: at_s + rng.random_range(0.35..0.5),
                sounds,
            });
            extra += 1;
        }
    }
    let length_s = start_s + song.backing.len() as f64 / f64::from(NOTE_RATE_HZ);
    let (mut samples, _) = play(guitar, &strikes, &Manner::usual(), length_s, &mut rng);
    if let Some(db) = backing_db {
        let rms = |s: &[f32]| (s.iter().map(|x| x * x).sum::<f32>() / s.len() as f32).sqrt();
        let gain = rms(&samples) / rms(&song.backing) * 10f32.powf(db as f32 / 20.0);
        let at = (start_s * f64::from(NOTE_RATE_HZ)) as usize;
        for (sample, b) in samples[at..].iter_mut().zip(&song.backing) {
            *sample += gain * b;
        }
    }
    let found = judge(
        &samples,
        NOTE_RATE_HZ,
        &song.part,
        Beginning::Unknown,
        Some(&song.backing),
    );
    (
        Truth {
            offs_ms,
            sounds: all_sounds,
            extra,
            start_s,
        },
        found,
    )
}

fn line(backing_db: Option<f64>, all: &[(Truth, Option<Session>)], beats: &[Beat]) -> String {
    let (mut errors, mut middles, mut means, mut spreads) = (vec![], vec![], vec![], vec![]);
    let (mut right, mut beats_seen, mut extra_right) = (0, 0, 0);
    let (mut strings, mut strings_right, mut false_alarms, mut clean) = (0, 0, 0, 0);
    let (mut starts, mut by_count_in, mut bleeds) = (0, 0, vec![]);
    for (truth, session) in all {
        let Some(session) = session else { continue };
        // The clock of a start found in the strums is theirs: only the match can be right.
        let shift_ms = (session.start.at_s - truth.start_s) * 1e3;
        starts += usize::from(shift_ms.abs() < 60.0);
        by_count_in += usize::from(session.start.found == Found::CountIn);
        bleeds.extend(session.bleed_db);
        extra_right += usize::from(session.extra_s.len() == truth.extra);
        let (mut wanted, mut got) = (vec![], vec![]);
        for (index, outcome) in session.outcomes.iter().enumerate() {
            beats_seen += 1;
            match (truth.offs_ms[index], outcome.off_ms) {
                (None, None) => right += 1,
                (Some(off), Some(found)) => {
                    let error = found + shift_ms - off;
                    if error.abs() < 60.0 {
                        right += 1;
                        errors.push(error);
                        wanted.push(off);
                        got.push(found + shift_ms);
                    }
                }
                _ => {}
            }
            let Some(take) = &session.takes[index] else {
                continue;
            };
            for (string, sound) in truth.sounds[index].iter().enumerate() {
                let said = take.strings[string].verdict;
                let should = match (take.frets.0[string], sound) {
                    (Some(fret), Sound::Rings(f)) if *f == fret => Verdict::Clean,
                    (Some(_), Sound::Rings(_)) => Verdict::WrongFret,
                    (Some(_), Sound::Choked(_)) => Verdict::Choked,
                    (Some(_), _) => Verdict::Muted,
                    (None, Sound::Rings(_)) => Verdict::Ringing,
                    (None, _) => Verdict::Silent,
                };
                strings += 1;
                strings_right += usize::from(said == should);
                if !should.is_fault() {
                    clean += 1;
                    false_alarms += usize::from(said.is_fault());
                }
            }
        }
        if let (Some(a), Some(b)) = (Spread::of(&wanted), Spread::of(&got)) {
            middles.push((a.middle_ms - b.middle_ms).abs());
            means.push((a.mean_ms - b.mean_ms).abs());
            spreads.push((a.spread_ms - b.spread_ms).abs());
        }
    }
    let share = |part: usize, of: usize| part as f64 / of.max(1) as f64;
    let within = |ms: f64| {
        share(
            errors.iter().filter(|e| e.abs() <= ms).count(),
            errors.len(),
        )
    };
    let largest = |v: &[f64]| v.iter().copied().fold(0.0, f64::max);
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len().max(1) as f64;
    format!(
        "backing {} | {} beats, {} sessions | beats rightly matched {:.3}, extra strums counted right {:.2} | onset within 5 ms {:.3}, 10 ms {:.3} | error of a session's middle mean {:.1} worst {:.1}, mean {:.1} worst {:.1}, spread {:.1} worst {:.1} ms | start within 60 ms {:.2}, by count-in {:.2} | level measured {:.1} dB | strings {strings}, verdict right {:.4}, false alarms {:.4} | {}",
        backing_db.map_or("none".into(), |d| format!("{d} dB")),
        beats_seen,
        all.iter().filter(|(_, s)| s.is_some()).count(),
        share(right, beats_seen),
        share(extra_right, all.len()),
        within(5.0),
        within(10.0),
        mean(&middles),
        largest(&middles),
        mean(&means),
        largest(&means),
        mean(&spreads),
        largest(&spreads),
        share(starts, all.len()),
        share(by_count_in, all.len()),
        mean(&bleeds),
        share(strings_right, strings),
        share(false_alarms, clean),
        beats.len(),
    )
}
