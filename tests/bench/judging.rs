//! How long judging takes: cargo bench.

use std::path::Path;

use criterion::{Criterion, criterion_group, criterion_main};
use ringtrue::audio;
use ringtrue::fretboard::{Frets, Tuning, library};
use ringtrue::take::Finder;
use ringtrue::verdict::{Analyser, AnalyserSettings};

fn judging(bench: &mut Criterion) {
    let path = Path::new("fixtures/strums/x13331-all-strings-ring.wav");
    let mut recording = audio::read_all(path, 10.0).expect("the bundled strum");
    recording
        .samples
        .resize(3 * recording.rate_hz as usize, 0.0);
    let frets: Frets = "x13331".parse().expect("frets");
    let mut strums = Vec::new();
    let mut finder = Finder::new(recording.rate_hz);
    finder.expect(&Tuning::default(), Some(&frets));
    finder.push(&recording.samples, &mut strums);
    finder.finish(&mut strums);
    let mut analyser = Analyser::new(AnalyserSettings {
        tuning: Tuning::default(),
        rate_hz: recording.rate_hz,
    });
    bench.bench_function("judge a strum of a 3 s recording", |b| {
        b.iter(|| analyser.analyse(&strums[0], &frets))
    });
    bench.bench_function("find the strum in 3 s", |b| {
        b.iter(|| {
            strums.clear();
            finder.push(&recording.samples, &mut strums);
            finder.finish(&mut strums);
            strums.len()
        })
    });
    finder.push(&recording.samples, &mut strums);
    finder.finish(&mut strums);
    let all: Vec<Frets> = library::all(&Tuning::default())
        .iter()
        .map(|v| v.frets)
        .collect();
    let mut slow = bench.benchmark_group("library");
    slow.sample_size(10);
    slow.bench_function("find the voicing that fits best", |b| {
        b.iter(|| analyser.best_voicing(&strums[0], &all))
    });
}

criterion_group!(benches, judging);
criterion_main!(benches);
