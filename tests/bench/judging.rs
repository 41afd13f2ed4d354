//! How long judging takes: cargo bench.

use std::path::Path;

use divan::Bencher;
use ringtrue::audio::{self, Recording};
use ringtrue::fretboard::{Frets, Tuning, library};
use ringtrue::take::{Finder, Take};
use ringtrue::verdict::{Analyser, AnalyserSettings};

const FRETS: &str = "x13331";

fn main() {
    divan::main();
}

/// The bundled strum with silence after it, 3 s.
fn recording() -> Recording {
    let path = Path::new("fixtures/strums/x13331-all-strings-ring.wav");
    let mut recording = audio::read_all(path, 10.0).expect("the bundled strum");
    recording
        .samples
        .resize(3 * recording.rate_hz as usize, 0.0);
    recording
}

fn frets() -> Frets {
    FRETS.parse().expect("frets")
}

fn finder(rate_hz: u32) -> Finder {
    let mut finder = Finder::new(rate_hz);
    finder.expect(&Tuning::default(), Some(&frets()));
    finder
}

fn find(finder: &mut Finder, recording: &Recording) -> Vec<Take> {
    let mut strums = Vec::new();
    finder.push(&recording.samples, &mut strums);
    finder.finish(&mut strums);
    strums
}

/// The strum and what judges it.
fn judge() -> (Take, Analyser) {
    let recording = recording();
    let strum = find(&mut finder(recording.rate_hz), &recording).swap_remove(0);
    let analyser = Analyser::new(AnalyserSettings {
        tuning: Tuning::default(),
        rate_hz: recording.rate_hz,
    });
    (strum, analyser)
}

#[divan::bench]
fn find_the_strum_in_3_s(bencher: Bencher) {
    let recording = recording();
    let mut finder = finder(recording.rate_hz);
    bencher.bench_local(|| find(&mut finder, &recording));
}

#[divan::bench]
fn judge_a_strum(bencher: Bencher) {
    let ((strum, mut analyser), frets) = (judge(), frets());
    bencher.bench_local(|| analyser.analyse(&strum, &frets));
}

#[divan::bench(sample_count = 10, sample_size = 1)]
fn find_the_voicing_that_fits_best(bencher: Bencher) {
    let (strum, mut analyser) = judge();
    let all: Vec<Frets> = library::all(&Tuning::default())
        .iter()
        .map(|v| v.frets)
        .collect();
    bencher.bench_local(|| analyser.best_voicing(&strum, &all));
}
