//! Scenes composed from recorded single notes, so that every onset in them is known.

use std::collections::BTreeMap;
use std::f64::consts::PI;
use std::path::{Path, PathBuf};

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use ringtrue::audio::read_all;
use ringtrue::take::Manner;

/// A single recorded note at 44.1 kHz; `head` is its first sample within 26 dB of its peak.
pub struct NoteSound {
    midi: f64,
    samples: Vec<f32>,
    head: usize,
}

impl NoteSound {
    pub fn samples(&self) -> &[f32] {
        &self.samples
    }
}

/// Recorded notes, guitar by guitar, and the sounds that are no notes.
pub struct SoundLibrary {
    pub guitars: BTreeMap<String, Vec<NoteSound>>,
    pub dead_strikes: Vec<NoteSound>,
    pub body_noises: Vec<(String, Vec<f32>)>,
}

const NOTE_RATE_HZ: u32 = 44_100;

/// Reads a whole recording: its rate in Hz, its samples.
pub fn read(path: &Path) -> (u32, Vec<f32>) {
    let recording = read_all(path, 600.0).unwrap();
    (recording.rate_hz, recording.samples)
}

pub fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures")
}

impl SoundLibrary {
    /// Reads the notes of some guitars from the fixtures, with the dead strikes and knocks.
    pub fn read(guitars: &[&str]) -> SoundLibrary {
        let folder = fixtures().join("notes");
        let mut notes = SoundLibrary {
            guitars: BTreeMap::new(),
            dead_strikes: Vec::new(),
            body_noises: Vec::new(),
        };
        let mut index = csv::Reader::from_path(folder.join("index.csv")).unwrap();
        for row in index.records() {
            let row = row.unwrap();
            let note_wanted = &row[2] != "note" || guitars.contains(&&row[1]);
            if !note_wanted {
                continue;
            }
            let (rate, samples) = read(&folder.join(&row[0]));
            assert_eq!(rate, NOTE_RATE_HZ);
            let peak = samples.iter().fold(0.0f32, |m, s| m.max(s.abs()));
            let head = samples.iter().position(|s| s.abs() > 0.05 * peak).unwrap();
            let midi = row[5].parse().unwrap_or(0.0);
            let note = NoteSound {
                midi,
                samples,
                head,
            };
            match &row[2] {
                "note" => notes
                    .guitars
                    .entry(row[1].to_string())
                    .or_default()
                    .push(note),
                "dead-strike" => notes.dead_strikes.push(note),
                _ => notes.body_noises.push((row[0].to_string(), note.samples)),
            }
        }
        notes
    }
}

/// What one string of a struck chord does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StringFate {
    Rings,
    Muted,
    /// Not struck at all.
    Absent,
}

/// One chord, struck: MIDI note and behaviour from string 6 to string 1.
#[derive(Debug, Clone)]
pub struct Struck {
    pub at_s: f64,
    pub midi: [f64; 6],
    pub voices: [StringFate; 6],
    pub step_s: f64,
    pub up: bool,
    /// When the hand damps the strings, and the T60 it leaves them, if it does.
    pub damped: Option<(f64, f64)>,
    pub spread_db: f64,
}

/// A take as it was composed.
#[derive(Debug, Clone)]
pub struct Truth {
    pub onsets_s: Vec<f64>,
    pub manner: Manner,
}

/// A recording being composed.
pub struct Scene {
    pub rate_hz: u32,
    pub samples: Vec<f32>,
    pub truth: Vec<Truth>,
    pub rng: SmallRng,
}

impl Scene {
    pub fn new(rate_hz: u32, seconds: f64, seed: u64) -> Scene {
        Scene {
            rate_hz,
            samples: vec![0.0; (seconds * f64::from(rate_hz)) as usize],
            truth: Vec::new(),
            rng: SmallRng::seed_from_u64(seed),
        }
    }

    pub fn gauss(&mut self) -> f64 {
        let (a, b): (f64, f64) = (self.rng.random_range(1e-12..1.0), self.rng.random());
        (-2.0 * a.ln()).sqrt() * (2.0 * PI * b).cos()
    }

    /// Adds one chord, and its truth as one take.
    pub fn strike(&mut self, notes: &SoundLibrary, guitar: &str, struck: &Struck, manner: Manner) {
        let mut onsets_s = Vec::new();
        let mut at_s = struck.at_s;
        let order: Vec<usize> = if struck.up {
            (0..6).rev().collect()
        } else {
            (0..6).collect()
        };
        for string in order {
            if struck.voices[string] == StringFate::Absent {
                continue;
            }
            let gain = 10f64.powf(self.gauss() * struck.spread_db / 20.0);
            let cents = self.gauss() * 3.0;
            let midi = struck.midi[string];
            let muted = struck.voices[string] == StringFate::Muted;
            let pool = &notes.guitars[guitar];
            let nearest = pool
                .iter()
                .map(|n| (n.midi - midi).abs())
                .fold(f64::INFINITY, f64::min);
            let same: Vec<&NoteSound> = pool
                .iter()
                .filter(|n| (n.midi - midi).abs() < nearest + 0.1)
                .collect();
            let mut note = same[self.rng.random_range(0..same.len())];
            let mut ratio = 2f64.powf((midi - note.midi + cents / 100.0) / 12.0);
            let mut damp = struck.damped;
            if muted {
                if self.rng.random_bool(0.5) && !notes.dead_strikes.is_empty() {
                    note = &notes.dead_strikes[self.rng.random_range(0..notes.dead_strikes.len())];
                    ratio = 1.0;
                } else {
                    damp = Some((at_s, self.rng.random_range(0.04..0.14)));
                }
            }
            self.add(
                &note.samples[note.head.saturating_sub(60)..],
                at_s - note.head.min(60) as f64 / f64::from(NOTE_RATE_HZ),
                gain,
                ratio,
                damp,
            );
            onsets_s.push(at_s);
            at_s += struck.step_s * self.rng.random_range(0.85..1.15);
        }
        self.truth.push(Truth { onsets_s, manner });
    }

    /// Adds a sound recorded at 44.1 kHz, at a pitch ratio, damped from a time on.
    pub fn add(
        &mut self,
        sound: &[f32],
        at_s: f64,
        gain: f64,
        ratio: f64,
        damped: Option<(f64, f64)>,
    ) {
        let rate = f64::from(self.rate_hz);
        let step = ratio * f64::from(NOTE_RATE_HZ) / rate;
        let first = (at_s * rate).ceil().max(0.0) as usize;
        for i in first..self.samples.len() {
            let x = (i as f64 - at_s * rate) * step;
            if x >= sound.len() as f64 {
                break;
            }
            // Straight lines between samples: what that adds lies far above the partials that count.
            let (before, share) = (x as usize, x.fract());
            let ahead = sound.get(before + 1).copied().unwrap_or(0.0);
            let value = f64::from(sound[before]) * (1.0 - share) + f64::from(ahead) * share;
            let t = i as f64 / rate;
            let damp = match damped {
                Some((from_s, t60_s)) if t > from_s => (-6.9078 * (t - from_s) / t60_s).exp(),
                _ => 1.0,
            };
            self.samples[i] += (value * gain * damp) as f32;
        }
    }

    /// A hand moving over wound strings: noise that swells and fades.
    pub fn scrape(&mut self, from_s: f64, to_s: f64, level: f64) {
        let rate = f64::from(self.rate_hz);
        let (from, to) = ((from_s * rate) as usize, (to_s * rate) as usize);
        let mut last = 0.0;
        for i in from..to.min(self.samples.len()) {
            let x = (i - from) as f64 / (to - from) as f64;
            let white: f64 = self.rng.random_range(-1.0..1.0);
            last = 0.6 * last + 0.4 * white;
            self.samples[i] += (level * (PI * x).sin() * last) as f32;
        }
    }

    /// A small room: sparse echoes that die away within `t60_s`.
    pub fn room(&mut self, t60_s: f64) {
        let rate = f64::from(self.rate_hz);
        let dry = self.samples.clone();
        for _ in 0..50 {
            let delay_s = self.rng.random_range(0.003..t60_s);
            let gain = 0.12 * self.gauss() * (-6.9078 * delay_s / t60_s).exp();
            let delay = (delay_s * rate) as usize;
            if delay >= dry.len() {
                continue;
            }
            for (wet, &s) in self.samples[delay..].iter_mut().zip(&dry) {
                *wet += s * gain as f32;
            }
        }
    }

    /// Sets the peak level, then adds noise that much below it (noise power against peak power of
    /// a sine at the peak level).
    pub fn finish(&mut self, peak_dbfs: f64, noise_below_db: f64) {
        let peak = self.samples.iter().fold(1e-9f32, |m, s| m.max(s.abs()));
        let level = 10f64.powf(peak_dbfs / 20.0);
        let gain = level as f32 / peak;
        let noise = level / 2f64.sqrt() * 10f64.powf(-noise_below_db / 20.0);
        let mut pink = 0.0;
        for i in 0..self.samples.len() {
            let mut draw = || self.rng.random_range(-1.0..1.0) * 3f64.sqrt();
            let white = draw();
            pink = 0.97 * pink + 0.24 * draw();
            let n = noise * (white + pink) / 2f64.sqrt();
            self.samples[i] = self.samples[i] * gain + n as f32;
        }
    }
}

/// Common chords as MIDI notes from string 6 to string 1 (common practice); 0 where not played.
pub const CHORDS: [[u8; 6]; 13] = [
    [0, 48, 55, 60, 64, 67],
    [0, 46, 53, 58, 62, 65],
    [0, 47, 54, 59, 63, 66],
    [41, 48, 53, 57, 60, 65],
    [45, 52, 57, 61, 64, 69],
    [0, 45, 52, 57, 61, 64],
    [0, 48, 52, 55, 60, 64],
    [43, 47, 50, 55, 59, 67],
    [40, 47, 52, 56, 59, 64],
    [0, 45, 52, 57, 60, 64],
    [0, 0, 50, 57, 62, 66],
    [0, 48, 55, 60, 63, 67],
    [43, 50, 55, 0, 0, 0],
];

/// The chord as notes and voices, all ringing.
pub fn chord(index: usize) -> ([f64; 6], [StringFate; 6]) {
    let notes = CHORDS[index % CHORDS.len()];
    (
        notes.map(f64::from),
        notes.map(|n| {
            if n == 0 {
                StringFate::Absent
            } else {
                StringFate::Rings
            }
        }),
    )
}
