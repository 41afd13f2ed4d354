//! The figures behind the finder's thresholds: `cargo test --release --test finding_takes --
//! --ignored --nocapture`. Seeds 0 and 1 are those the thresholds were chosen on; FIRST_SEED and SEEDS name
//! others, ONLY a kind of scene, EXPECT the frets of a chord that is meant (which most scenes do not play, or not
//! only), SPEECH a folder of spoken WAV files.

use rand::Rng;
use ringtrue::fretboard::{Frets, Tuning};
use ringtrue::take::{Manner, Take, strums, strums_of};

use super::compose::*;

pub const ALL_GUITARS: [&str; 6] = [
    "archtop",
    "classical",
    "nylon",
    "solid-electric",
    "steel-acoustic",
    "steel-dreadnought",
];

/// How a row of strums is played.
#[derive(Clone, Copy)]
pub struct Row {
    pub gap_s: f64,
    pub step_s: (f64, f64),
    /// Strings that are dead in each chord.
    pub muted: usize,
    /// Share of chords damped before the next one.
    pub damped: f64,
    pub noise_below_db: f64,
    pub peak_dbfs: f64,
}

impl Row {
    pub const PLAIN: Row = Row {
        gap_s: 1.5,
        step_s: (0.005, 0.025),
        muted: 0,
        damped: 0.5,
        noise_below_db: 45.0,
        peak_dbfs: -6.0,
    };
}

/// Eight strums in a row.
pub fn strummed(notes: &SoundLibrary, guitar: &str, rate_hz: u32, row: Row, seed: u64) -> Scene {
    let count = 8;
    let mut scene = Scene::new(rate_hz, 0.7 + row.gap_s * count as f64 + 1.2, seed);
    let mut at_s = 0.6;
    let mut which = scene.rng.random_range(0..CHORDS.len());
    for _ in 0..count {
        if scene.rng.random_bool(0.7) {
            which = scene.rng.random_range(0..CHORDS.len());
        }
        let (midi, mut voices) = chord(which);
        let mut played: Vec<usize> = (0..6).filter(|&i| voices[i] == StringFate::Rings).collect();
        for _ in 0..row.muted {
            if played.len() > 2 {
                let i = scene.rng.random_range(0..played.len());
                voices[played.remove(i)] = StringFate::Muted;
            }
        }
        let next_s = at_s + row.gap_s * scene.rng.random_range(0.95..1.05);
        let early_s = scene.rng.random_range(0.03..0.1);
        let damped = if scene.rng.random_bool(row.damped) {
            (next_s - early_s, 0.08)
        } else {
            (next_s + 0.01, 0.05)
        };
        let struck = Struck {
            at_s,
            midi,
            voices,
            step_s: scene.rng.random_range(row.step_s.0..=row.step_s.1),
            up: scene.rng.random_bool(0.4),
            damped: Some(damped),
            spread_db: 2.5,
        };
        scene.strike(notes, guitar, &struck, Manner::Strummed);
        at_s = next_s;
    }
    scene.room(0.3);
    scene.finish(row.peak_dbfs, row.noise_below_db);
    scene
}

/// Accompaniment as it is played: few strings, chords stopped early, the touch of the hand when it
/// stops the strings and when it comes back to them, dead strokes in between.
pub fn comped(notes: &SoundLibrary, guitar: &str, rate_hz: u32, dead: f64, seed: u64) -> Scene {
    let mut scene = Scene::new(rate_hz, 12.0, seed);
    let mut at_s = 0.6;
    let mut which = 0;
    while at_s < 10.5 {
        if scene.rng.random_bool(0.6) {
            which = scene.rng.random_range(0..CHORDS.len());
        }
        let (midi, mut voices) = chord(which);
        let mut played: Vec<usize> = (0..6).filter(|&i| voices[i] == StringFate::Rings).collect();
        while played.len() > 3 && scene.rng.random_bool(0.5) {
            let i = scene.rng.random_range(0..played.len());
            voices[played.remove(i)] = StringFate::Absent;
        }
        let gap_s = scene.rng.random_range(0.35..1.2);
        let next_s = at_s + gap_s;
        let stopped_s = if scene.rng.random_bool(0.5) {
            scene.rng.random_range(at_s + 0.2..next_s - 0.03)
        } else {
            next_s - scene.rng.random_range(0.0..0.06)
        };
        let t60_s = scene.rng.random_range(0.05..0.12);
        let struck = Struck {
            at_s,
            midi,
            voices,
            step_s: scene.rng.random_range(0.002..0.015),
            up: scene.rng.random_bool(0.4),
            damped: Some((stopped_s, t60_s)),
            spread_db: 3.0,
        };
        scene.strike(notes, guitar, &struck, Manner::Strummed);
        let back_s = next_s - scene.rng.random_range(0.03..0.15);
        let mut touches = Vec::new();
        if scene.rng.random_bool(0.6) {
            touches.push((stopped_s, -20.0));
        }
        if scene.rng.random_bool(0.4) {
            touches.push((back_s, -24.0));
        }
        if gap_s > 0.6 && scene.rng.random_bool(dead) {
            let stroke_s = at_s + gap_s * scene.rng.random_range(0.45..0.55);
            touches.extend((0..4).map(|i| (stroke_s + 0.008 * f64::from(i), -12.0)));
        }
        if scene.rng.random_bool(0.4) {
            // The hands move to the next chord: a scrape that ends in the strum.
            let long_s = scene.rng.random_range(0.04..0.15);
            let level = 0.12 * 10f64.powf(5.0 * scene.gauss() / 20.0);
            scene.scrape(next_s - long_s, next_s, level);
        }
        for (t, level_db) in touches {
            let gain = 10f64.powf((level_db + 5.0 * scene.gauss()) / 20.0);
            let i = scene.rng.random_range(0..notes.dead_strikes.len());
            scene.add(notes.dead_strikes[i].samples(), t, gain, 1.0, None);
        }
        at_s = next_s;
    }
    scene.room(0.3);
    scene.finish(-6.0, 45.0);
    scene
}

/// Two slow passes over the strings.
pub fn picked(
    notes: &SoundLibrary,
    guitar: &str,
    rate_hz: u32,
    gap_s: (f64, f64),
    muted: usize,
    noise: f64,
    seed: u64,
) -> Scene {
    let mut scene = Scene::new(rate_hz, 2.0 * (6.0 * gap_s.1 + 2.5) + 0.5, seed);
    let mut at_s = 0.6;
    for _ in 0..2 {
        let which = scene.rng.random_range(0..CHORDS.len() - 1);
        let (midi, mut voices) = chord(which);
        let mut played: Vec<usize> = (0..6).filter(|&i| voices[i] == StringFate::Rings).collect();
        for _ in 0..muted {
            let i = scene.rng.random_range(0..played.len());
            voices[played.remove(i)] = StringFate::Muted;
        }
        let step_s = scene.rng.random_range(gap_s.0..=gap_s.1);
        let end_s = at_s + 6.0 * step_s + 2.0;
        let up = scene.rng.random_bool(0.3);
        let struck = Struck {
            at_s,
            midi,
            voices,
            step_s,
            up,
            damped: Some((end_s - 0.1, 0.1)),
            spread_db: 2.5,
        };
        scene.strike(notes, guitar, &struck, Manner::Picked);
        at_s = end_s;
    }
    scene.room(0.3);
    scene.finish(-6.0, noise);
    scene
}

/// Slow passes over the strings, each followed by a strum of the chord when the next string would be due.
pub fn picked_then_strummed(notes: &SoundLibrary, guitar: &str, rate_hz: u32, seed: u64) -> Scene {
    let mut scene = Scene::new(rate_hz, 14.0, seed);
    let mut at_s = 0.6;
    for _ in 0..2 {
        let which = scene.rng.random_range(0..CHORDS.len() - 1);
        let (midi, voices) = chord(which);
        let step_s = scene.rng.random_range(0.45..0.7);
        let strokes = voices.iter().filter(|v| **v != StringFate::Absent).count();
        let strum_s = at_s + step_s * strokes as f64;
        let end_s = strum_s + 2.0;
        let up = scene.rng.random_bool(0.3);
        let struck = Struck {
            at_s,
            midi,
            voices,
            step_s,
            up,
            damped: Some((strum_s, 0.05)),
            spread_db: 2.5,
        };
        scene.strike(notes, guitar, &struck, Manner::Picked);
        let struck = Struck {
            at_s: strum_s,
            step_s: scene.rng.random_range(0.005..0.025),
            damped: Some((end_s - 0.1, 0.1)),
            ..struck
        };
        scene.strike(notes, guitar, &struck, Manner::Strummed);
        at_s = end_s;
    }
    scene.room(0.3);
    scene.finish(-6.0, 45.0);
    scene
}

/// Found takes held against the truth.
#[derive(Default)]
pub struct FinderScore {
    pub wanted: usize,
    pub found: usize,
    pub false_takes: usize,
    pub onset_errors_ms: Vec<f64>,
    pub pass_onsets: (usize, usize),
}

impl FinderScore {
    pub fn add(&mut self, scene: &Scene, found: &[Take]) {
        self.wanted += scene.truth.len();
        let mut used = vec![false; found.len()];
        for truth in &scene.truth {
            let hit = found.iter().enumerate().find(|(i, f)| {
                !used[*i]
                    && f.manner == truth.manner
                    && (f.first_stroke_s() - truth.onsets_s[0]).abs() < 0.07
            });
            let Some((i, strum)) = hit else {
                continue;
            };
            used[i] = true;
            self.found += 1;
            self.onset_errors_ms
                .push((strum.first_stroke_s() - truth.onsets_s[0]) * 1000.0);
            if truth.manner == Manner::Picked {
                let rate = f64::from(strum.rate_hz);
                let times: Vec<f64> = strum
                    .onsets
                    .iter()
                    .map(|o| (strum.first + *o as u64) as f64 / rate)
                    .collect();
                self.pass_onsets.1 += truth.onsets_s.len();
                self.pass_onsets.0 += truth
                    .onsets_s
                    .iter()
                    .filter(|t| times.iter().any(|f| (f - **t).abs() < 0.03))
                    .count();
            }
        }
        self.false_takes += used.iter().filter(|u| !**u).count();
    }

    pub fn line(&mut self, name: &str) {
        let e = &mut self.onset_errors_ms;
        e.sort_by(f64::total_cmp);
        let at = |q: f64| {
            if e.is_empty() {
                f64::NAN
            } else {
                e[((e.len() - 1) as f64 * q) as usize]
            }
        };
        let mut abs: Vec<f64> = e.iter().map(|x| x.abs()).collect();
        abs.sort_by(f64::total_cmp);
        let abs95 = abs
            .get((abs.len().max(1) - 1) * 95 / 100)
            .copied()
            .unwrap_or(f64::NAN);
        println!(
            "{name:44} found {:4}/{:4}  false {:3}  onset ms: 5% {:6.1} median {:5.1} 95% {:5.1} |95%| {:5.1}  pass onsets {}/{}",
            self.found,
            self.wanted,
            self.false_takes,
            at(0.05),
            at(0.5),
            at(0.95),
            abs95,
            self.pass_onsets.0,
            self.pass_onsets.1
        );
    }
}

#[test]
#[ignore = "prints figures, takes minutes"]
fn composed_takes() {
    let notes = SoundLibrary::read(&ALL_GUITARS);
    let number = |name: &str, usual: u64| {
        std::env::var(name).map_or(usual, |s| s.parse().expect("a whole number"))
    };
    let first = number("FIRST_SEED", 0);
    let seeds = first..first + number("SEEDS", 2);
    let only = std::env::var("ONLY").unwrap_or_default();
    let rate = 44_100;
    let rows = [
        ("apart 1.5", Row::PLAIN),
        (
            "apart 0.7",
            Row {
                gap_s: 0.7,
                ..Row::PLAIN
            },
        ),
        (
            "apart 0.5",
            Row {
                gap_s: 0.5,
                ..Row::PLAIN
            },
        ),
        (
            "apart 0.35",
            Row {
                gap_s: 0.35,
                ..Row::PLAIN
            },
        ),
        (
            "apart 0.3",
            Row {
                gap_s: 0.3,
                ..Row::PLAIN
            },
        ),
        (
            "apart 0.5, all damped",
            Row {
                gap_s: 0.5,
                damped: 1.0,
                ..Row::PLAIN
            },
        ),
        (
            "slow 25-60 ms, apart 1.5",
            Row {
                step_s: (0.025, 0.06),
                ..Row::PLAIN
            },
        ),
        (
            "two ring, apart 1.5",
            Row {
                muted: 5,
                ..Row::PLAIN
            },
        ),
        (
            "two muted, apart 0.5",
            Row {
                gap_s: 0.5,
                muted: 2,
                ..Row::PLAIN
            },
        ),
        (
            "quiet, 30 dB, apart 1.5",
            Row {
                peak_dbfs: -35.0,
                noise_below_db: 30.0,
                ..Row::PLAIN
            },
        ),
        (
            "noisy, 20 dB, apart 1.0",
            Row {
                gap_s: 1.0,
                noise_below_db: 20.0,
                ..Row::PLAIN
            },
        ),
    ];
    let expected: Option<Frets> = std::env::var("EXPECT").ok().map(|f| f.parse().unwrap());
    let found = |samples: &[f32]| match expected {
        Some(frets) => strums_of(samples, rate, &Tuning::default(), &frets),
        None => strums(samples, rate),
    };
    let measure = |name: &str, scene: &dyn Fn(&str, u64) -> Scene| {
        if !name.contains(&only) {
            return;
        }
        let mut score = FinderScore::default();
        for guitar in ALL_GUITARS {
            for seed in seeds.clone() {
                let scene = scene(guitar, seed);
                score.add(&scene, &found(&scene.samples));
            }
        }
        score.line(name);
    };
    for (name, row) in rows {
        measure(name, &|guitar, seed| {
            strummed(&notes, guitar, rate, row, seed)
        });
    }
    for (name, dead) in [("comped", 0.0), ("comped, dead strokes", 0.4)] {
        measure(name, &|guitar, seed| {
            comped(&notes, guitar, rate, dead, seed)
        });
    }
    measure("picked, then strummed in time", &|guitar, seed| {
        picked_then_strummed(&notes, guitar, rate, seed)
    });
    for (name, gap_s, muted, noise) in [
        ("picked 0.45-0.7", (0.45, 0.7), 0, 45.0),
        ("picked 0.2-0.4", (0.2, 0.4), 0, 45.0),
        ("picked 0.8-1.4", (0.8, 1.4), 0, 45.0),
        ("picked 0.45-0.7, two muted", (0.45, 0.7), 2, 45.0),
        ("picked 0.45-0.7, noise 25 dB", (0.45, 0.7), 0, 25.0),
    ] {
        measure(name, &|guitar, seed| {
            picked(&notes, guitar, rate, gap_s, muted, noise, seed)
        });
    }
}

/// Reads 16-bit WAV files of a folder named in an environment variable.
fn wavs(variable: &str) -> Vec<(String, u32, Vec<f32>)> {
    let Ok(folder) = std::env::var(variable) else {
        return Vec::new();
    };
    let mut paths: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    paths.sort();
    paths
        .into_iter()
        .filter(|p| p.extension().is_some_and(|e| e == "wav"))
        .map(|p| {
            let mut reader = hound::WavReader::open(&p).unwrap();
            let rate = reader.spec().sample_rate;
            let samples = reader
                .samples::<i16>()
                .map(|s| f32::from(s.unwrap()) / 32768.0)
                .collect();
            (
                p.file_name().unwrap().to_string_lossy().into_owned(),
                rate,
                samples,
            )
        })
        .collect()
}

#[test]
#[ignore = "prints figures"]
fn no_guitar() {
    for (name, rate, samples) in wavs("SPEECH") {
        let found = strums(&samples, rate);
        println!(
            "speech {name}: {:.0} s, false {}",
            samples.len() as f64 / f64::from(rate),
            found.len()
        );
    }
    let notes = SoundLibrary::read(&[]);
    for (kind, pool) in [("knocks", 0), ("dead strikes", 1)] {
        let mut total = 0;
        let mut count = 0;
        for seed in 0..6 {
            let mut scene = Scene::new(44_100, 12.0, seed);
            let mut at_s = 0.5;
            while at_s < 11.0 {
                let sound = if pool == 0 {
                    &notes.body_noises[scene.rng.random_range(0..notes.body_noises.len())].1
                } else {
                    let i = scene.rng.random_range(0..notes.dead_strikes.len());
                    notes.dead_strikes[i].samples()
                };
                scene.add(sound, at_s, 1.0, 1.0, None);
                count += 1;
                at_s += scene.rng.random_range(0.4..1.2);
            }
            scene.room(0.3);
            scene.finish(-6.0, 45.0);
            total += strums(&scene.samples, 44_100).len();
        }
        println!("{kind}: {count} in 72 s, false {total}");
    }
}

/// Recordings of the judge: chords of three or more notes within 60 ms, by their labels.
#[test]
#[ignore = "prints figures; a report only, nothing is chosen by it"]
fn real_strums() {
    let folder = fixtures().join("strums/guitarset");
    for name in ["00_BN1-129-Eb_comp", "03_Jazz2-110-Bb_comp"] {
        let (rate, samples) = read(&folder.join(format!("{name}_mic.flac")));
        let mut notes: Vec<f64> = csv::Reader::from_path(folder.join(format!("{name}_notes.csv")))
            .unwrap()
            .records()
            .map(|r| r.unwrap()[0].parse().unwrap())
            .collect();
        notes.sort_by(f64::total_cmp);
        let mut groups: Vec<Vec<f64>> = Vec::new();
        for t in notes {
            match groups.last_mut() {
                Some(g) if t - g[0] < 0.06 => g.push(t),
                _ => groups.push(vec![t]),
            }
        }
        let found = strums(&samples, rate);
        let near = |t: f64| found.iter().find(|f| (f.first_stroke_s() - t).abs() < 0.06);
        let chords: Vec<&Vec<f64>> = groups.iter().filter(|g| g.len() >= 3).collect();
        let hits: Vec<f64> = chords
            .iter()
            .filter_map(|g| near(g[0]).map(|f| (f.first_stroke_s() - g[0]) * 1000.0))
            .collect();
        let elsewhere = found
            .iter()
            .filter(|f| {
                !groups
                    .iter()
                    .any(|g| (f.first_stroke_s() - g[0]).abs() < 0.06)
            })
            .count();
        let few = found.len() - elsewhere - hits.len();
        let mut errors: Vec<f64> = hits.iter().map(|e| e.abs()).collect();
        errors.sort_by(f64::total_cmp);
        println!(
            "{name}: chords {} found {}, takes on one or two notes {few}, elsewhere {elsewhere}, \
             picked {}, onset error ms median {:.1}",
            chords.len(),
            hits.len(),
            found.iter().filter(|f| f.manner == Manner::Picked).count(),
            errors.get(errors.len() / 2).copied().unwrap_or(f64::NAN),
        );
    }
}

#[test]
#[ignore = "prints figures"]
fn plain_noise() {
    for (name, peak) in [("loud", -20.0), ("quiet", -60.0)] {
        let mut scene = Scene::new(44_100, 120.0, 5);
        scene.samples[0] = 1.0;
        scene.finish(peak, 0.0);
        println!(
            "noise {name}: false {} in 120 s",
            strums(&scene.samples, 44_100).len()
        );
    }
}
