//! Our spectra, pitch classes and onsets against those of general libraries: numpy 2.4.6 (Fourier transform), scipy 1.17.1
//! (windows, peaks) and librosa 0.11.0 (chroma_stft, onset_detect), as `scripts/reference` wrote them down.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use ringtrue::audio::read_all;
use ringtrue::spectrum::{Frames, LinePlan, LineSpectrum, chroma};
use ringtrue::take::{Take, strums};

#[derive(serde::Deserialize)]
struct Reference {
    sounds: BTreeMap<String, Sound>,
    playing_onsets_s: BTreeMap<String, Vec<f64>>,
}

#[derive(serde::Deserialize)]
struct Sound {
    from_s: f64,
    long_s: f64,
    lines_hz_db: Vec<(f64, f32)>,
    /// By line and frame.
    frames_db: Vec<Vec<f32>>,
    chroma: [f32; 12],
    onsets_s: Vec<f64>,
}

fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures")
}

fn reference() -> Reference {
    let text = std::fs::read_to_string(fixtures().join("reference/strums.json")).unwrap();
    let reference: Reference = serde_json::from_str(&text).unwrap();
    assert_eq!(reference.sounds.len(), 3);
    assert_eq!(reference.playing_onsets_s.len(), 2);
    reference
}

/// Every bundled strum: what the libraries make of it, the rate, the stretch that they read.
fn stretches() -> Vec<(Sound, u32, Vec<f32>)> {
    let read = |(name, sound): (String, Sound)| {
        let recording = read_all(&fixtures().join("strums").join(name), 10.0).unwrap();
        let rate = f64::from(recording.rate_hz);
        let from = (sound.from_s * rate) as usize;
        let part = recording.samples[from..from + (sound.long_s * rate) as usize].to_vec();
        (sound, recording.rate_hz, part)
    };
    reference().sounds.into_iter().map(read).collect()
}

fn spectrum(rate_hz: u32, samples: &[f32]) -> LineSpectrum {
    let mut plan = LinePlan::new(f64::from(rate_hz));
    let mut spectrum = plan.spectrum();
    plan.fill(samples, &mut spectrum);
    spectrum
}

fn takes(path: &Path) -> Vec<Take> {
    let recording = read_all(path, 120.0).unwrap();
    strums(&recording.samples, recording.rate_hz)
}

#[test]
fn lines_lie_where_and_are_as_strong_as_a_long_fourier_transform_says() {
    for (sound, rate_hz, samples) in stretches() {
        let spectrum = spectrum(rate_hz, &samples);
        for (hz, db) in sound.lines_hz_db {
            let (heard_hz, _) = spectrum.line_near(hz as f32, 2.0);
            let heard_db = spectrum.at_db(hz as f32);
            assert!((heard_hz - hz).abs() < 0.05, "{heard_hz} Hz for {hz}");
            // The nearest bin is read, at most a sixth of a hertz away.
            assert!(
                (heard_db - db).abs() < 0.2,
                "{heard_db} dB for {db} at {hz} Hz"
            );
        }
    }
}

#[test]
fn levels_over_time_are_those_of_single_frequencies() {
    let mut compared = 0;
    for (sound, rate_hz, samples) in stretches() {
        let mut frames = Frames::new(f64::from(rate_hz));
        frames.fill(&samples, 20);
        for ((hz, _), levels) in sound.lines_hz_db.iter().zip(&sound.frames_db) {
            let most = levels.iter().copied().fold(f32::MIN, f32::max);
            // Between bins levels are interpolated, and where a line has faded its neighbours' skirts are read.
            for (frame, db) in levels
                .iter()
                .enumerate()
                .filter(|(_, db)| **db > most - 6.0)
            {
                let heard_db = frames.at_db(frame, *hz as f32);
                assert!(
                    (heard_db - db).abs() < 0.5,
                    "{heard_db} dB for {db} at {hz} Hz, frame {frame}"
                );
                compared += 1;
            }
        }
    }
    assert!(compared > 300, "{compared} levels compared");
}

#[test]
fn pitch_classes_are_those_of_a_folded_spectrum() {
    for (sound, rate_hz, samples) in stretches() {
        let heard = chroma::heard(&spectrum(rate_hz, &samples), 440.0, 0.0).map(|a| a * a);
        let dot = |a: &[f32], b: &[f32]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f32>();
        let (a, b) = (&heard[..], &sound.chroma[..]);
        let alike = dot(a, b) / (dot(a, a) * dot(b, b)).sqrt();
        // Ours puts a line on the nearest class, theirs spreads it over three (0.13 on both neighbours).
        assert!(alike > 0.95, "{alike}: {heard:?} for {:?}", sound.chroma);
    }
}

#[test]
fn a_take_begins_where_an_onset_is() {
    for (name, sound) in reference().sounds {
        let found = takes(&fixtures().join("strums").join(&name));
        assert_eq!(found.len(), 1, "{name}");
        let start_s = found[0].first_stroke_s();
        let near = sound.onsets_s.iter().any(|t| (t - start_s).abs() < 0.02);
        assert!(
            near,
            "{name}: {start_s} s, not near any of {:?}",
            sound.onsets_s
        );
    }
    for (name, onsets_s) in reference().playing_onsets_s {
        let found = takes(&fixtures().join("strums/guitarset").join(&name));
        let near = |s: &&Take| {
            onsets_s
                .iter()
                .any(|t| (t - s.first_stroke_s()).abs() < 0.05)
        };
        let share = found.iter().filter(near).count() as f64 / found.len() as f64;
        assert!(
            found.len() > 10 && share > 0.9,
            "{name}: {share} of {}",
            found.len()
        );
    }
}
