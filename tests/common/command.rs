//! The program as a user starts it, and recordings made on the spot.

use std::path::{Path, PathBuf};

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

/// Sample rate of the recordings made here.
pub const RATE_HZ: u32 = 44_100;

/// A folder that goes away with the test, and the program started in it.
pub struct Desk {
    folder: TempDir,
}

impl Desk {
    pub fn new() -> Self {
        Desk {
            folder: TempDir::new().expect("a temporary folder"),
        }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// A 16-bit mono WAV file of the samples.
    pub fn recording(&self, name: &str, samples: &[f32]) -> PathBuf {
        let path = self.path(name);
        write_wav(&path, samples);
        path
    }

    /// The program in this folder, free of what the environment says about colours and logs.
    pub fn ringtrue(&self, arguments: &[&str]) -> Command {
        let mut command = Command::cargo_bin("ringtrue").expect("the program is built");
        command
            .current_dir(self.folder.path())
            .env_remove("RINGTRUE_LOG")
            .env_remove("NO_COLOR")
            // Nobody's own diary and guitars.
            .env("XDG_DATA_HOME", self.folder.path().join("data"))
            .args(arguments);
        command
    }

    /// Runs the program to its end.
    pub fn run(&self, arguments: &[&str]) -> Finished {
        let output = self
            .ringtrue(arguments)
            .output()
            .expect("the program starts");
        Finished {
            status: output.status.code().expect("the program ends by itself"),
            out: String::from_utf8(output.stdout).expect("text"),
            err: String::from_utf8(output.stderr).expect("text"),
        }
    }

    /// Runs the program, which is to find nothing wrong.
    #[track_caller]
    pub fn succeeds(&self, arguments: &[&str]) -> Finished {
        let run = self.run(arguments);
        assert_eq!(run.status, 0, "{}{}", run.out, run.err);
        run
    }
}

/// What a finished program left.
pub struct Finished {
    pub status: i32,
    pub out: String,
    pub err: String,
}

impl Finished {
    /// The output's lines, each read as JSON.
    pub fn json(&self) -> Vec<Value> {
        self.out
            .lines()
            .map(|line| serde_json::from_str(line).expect("each line is JSON"))
            .collect()
    }
}

fn write_wav(path: &Path, samples: &[f32]) {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: RATE_HZ,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut wav = hound::WavWriter::create(path, spec).expect("a file");
    for &sample in samples {
        wav.write_sample((sample.clamp(-1.0, 1.0) * 32_767.0) as i16)
            .expect("a sample");
    }
    wav.finalize().expect("a whole file");
}

/// The hiss of a quiet room, its peaks at `loudness`.
pub fn hiss(seconds: f64, loudness: f32) -> Vec<f32> {
    let mut state = 1u32;
    (0..(seconds * f64::from(RATE_HZ)) as usize)
        .map(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            loudness * ((state >> 8) as f32 / (1 << 23) as f32 - 1.0)
        })
        .collect()
}

/// A strum as an ear would take it for one: 0.3 s of a quiet room, then a decaying harmonic tone for
/// each pitch, 10 ms apart, to `seconds` after the first.
pub fn strum(pitches_hz: &[f64], seconds: f64) -> Vec<f32> {
    let start_s = 0.3;
    let mut samples = hiss(start_s + seconds, 2e-4);
    for (i, sample) in samples.iter_mut().enumerate() {
        for (k, &hz) in pitches_hz.iter().enumerate() {
            let t = i as f64 / f64::from(RATE_HZ) - start_s - 0.01 * k as f64;
            *sample += tone(hz, t) as f32;
        }
    }
    samples
}

/// Bb as x13331: 46 53 58 62 65 in MIDI numbers (computed from the standard tuning, ISO 16 pitch).
pub fn bb() -> Vec<f32> {
    strum(&[116.54, 174.61, 233.08, 293.66, 349.23], 2.0)
}

/// Open strings plucked one after another, each so many cents off.
#[allow(dead_code, reason = "each file of tests uses its own part")]
pub fn open_strings(cents: &[f64]) -> Vec<f32> {
    let rate = f64::from(RATE_HZ);
    // Standard tuning, A4 = 440 Hz.
    let nominal = [40, 45, 50, 55, 59, 64].map(|m| 440.0 * 2f64.powf((f64::from(m) - 69.0) / 12.0));
    let mut samples = vec![0.0; RATE_HZ as usize / 2];
    for (hz, cents) in nominal.iter().zip(cents) {
        let f0 = hz * 2f64.powf(cents / 1200.0);
        samples.extend((0..(1.6 * rate) as usize).map(|i| {
            let t = i as f64 / rate;
            let sum: f64 = (1..=12)
                .map(|n| {
                    let n = f64::from(n);
                    let hz = n * f0 * ((1.0 + 6e-5 * n * n) / (1.0 + 6e-5)).sqrt();
                    (std::f64::consts::TAU * hz * t).sin() / n
                })
                .sum();
            (0.15 * 10f64.powf(-t) * sum * ((1.6 - t) / 0.1).min(1.0)) as f32
        }));
        samples.extend(vec![0.0; RATE_HZ as usize / 2]);
    }
    samples
}

/// Ten partials, the higher ones weaker and sooner gone.
fn tone(hz: f64, t: f64) -> f64 {
    if t < 0.0 {
        return 0.0;
    }
    (1..=10)
        .map(|n| {
            let n = f64::from(n);
            0.08 / n * (-t * (1.0 + 0.4 * n)).exp() * (std::f64::consts::TAU * n * hz * t).sin()
        })
        .sum()
}
