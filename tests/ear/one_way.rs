//! A file and a stream are told the same of the same sound, whichever command hears it.

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::path::{Path, PathBuf};

use rand::SeedableRng;
use rand::rngs::SmallRng;
use ringtrue::audio::write_wav;
use ringtrue::cli::{Console, run_on};
use ringtrue::fretboard::Tuning;
use ringtrue::synth::compose::{Conditions, compose};
use ringtrue::synth::{notes, voicings};
use ringtrue::take::Manner;
use serde_json::Value;

use crate::common::guitars::ALL;

/// Runs a command: what it prints, and what it complains about.
fn run(arguments: &[&str]) -> (String, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let console = Console {
        out: &mut out,
        err: &mut err,
        colour: false,
    };
    let all = ["ringtrue"].iter().chain(arguments).map(OsString::from);
    run_on(console, all);
    (
        String::from_utf8(out).unwrap(),
        String::from_utf8(err).unwrap(),
    )
}

/// What a command prints, one JSON object a line.
fn printed(arguments: &[&str]) -> Vec<Value> {
    let lines = run(arguments).0;
    let objects = lines.lines().map(serde_json::from_str);
    objects.collect::<Result<_, _>>().unwrap()
}

/// The takes of a file as `check` judges them.
fn checked(file: &str, chord: &[&str]) -> Vec<Value> {
    let objects = printed(&[&["check", file, "--json"], chord].concat());
    objects[0]["takes"].as_array().unwrap().clone()
}

/// The takes of a file as they stand when `listen` has heard it to the end.
fn listened(file: &str, chord: &[&str]) -> Vec<Value> {
    let mut takes = BTreeMap::new();
    for event in printed(&[&["listen", "--from", file, "--json"], chord].concat()) {
        let number = event["number"].as_u64();
        match event["event"].as_str().unwrap() {
            "settled" => {
                takes.insert(number.unwrap(), event["take"].clone());
            }
            "withdrawn" => {
                takes.remove(&number.unwrap());
            }
            _ => {}
        }
    }
    takes.into_values().collect()
}

/// Holds file and stream against each other; gives how many takes both have.
fn held(file: &Path, chord: &[&str]) -> usize {
    let name = file.to_str().unwrap();
    let takes = checked(name, chord);
    assert_eq!(takes, listened(name, chord), "{name} {chord:?}");
    takes.len()
}

fn files(folder: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let entries = std::fs::read_dir(folder).unwrap();
    let mut files: Vec<PathBuf> = entries.map(|e| e.unwrap().path()).collect();
    files.retain(|f| f.is_file() && f.extension().is_some_and(|e| e != "csv" && e != "md"));
    files.sort();
    files
}

#[test]
fn every_recording_of_the_fixtures_is_told_alike_as_a_file_and_as_a_stream() {
    let mut takes = 0;
    for folder in ["strums", "strums/guitarset", "formats", "not-guitar"] {
        for file in files(&format!("fixtures/{folder}")) {
            takes += held(&file, &["--frets", "x13331"]);
        }
    }
    // The three bundled strums, and most of the two recordings of comping.
    assert!(takes > 40, "{takes}");
    for file in files("fixtures/strums") {
        assert!(held(&file, &[]) > 0);
    }
}

#[test]
fn composed_strums_and_picked_passes_are_told_alike_as_a_file_and_as_a_stream() {
    let folder = tempfile::tempdir().unwrap();
    let guitars = &*ALL;
    let (mut takes, mut made) = (0, 0);
    for (index, manner) in [Manner::Strummed, Manner::Picked]
        .into_iter()
        .cycle()
        .take(24)
        .enumerate()
    {
        let mut rng = SmallRng::seed_from_u64(7_700 + index as u64);
        let (frets, barre) = voicings::draw(&mut rng, false);
        let sounds = voicings::faults(&frets, barre, &mut rng, false);
        let conditions = Conditions {
            manner,
            ..Conditions::measuring()
        };
        let guitar = &guitars[index % guitars.len()];
        let samples = compose(guitar, &Tuning::default(), &sounds, &conditions, &mut rng).samples;
        let file = folder.path().join(format!("{index}.wav"));
        write_wav(&file, notes::NOTE_RATE_HZ, &samples).unwrap();
        takes += held(&file, &["--frets", &frets.to_string()]);
        made += 1;
    }
    assert!(takes >= made, "{takes} takes of {made}");
}

#[test]
fn a_pass_that_the_chord_alone_makes_plain_is_found_by_check_too() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("pass.wav");
    let name = file.to_str().unwrap();
    let faults = ["--fault", "1=choked", "--fault", "4=choked"];
    let pass = ["demo", "--frets", "xx2225", "--picked", "--seed", "131"];
    let (_, complaints) = run(&[&pass[..], &faults, &["--out", name]].concat());
    assert_eq!(complaints, "");
    let takes = checked(name, &["--frets", "xx2225"]);
    assert_eq!(takes.len(), 1, "{takes:?}");
    assert_eq!(takes[0]["manner"], "picked");
    assert_eq!(held(&file, &["--frets", "xx2225"]), 1);
}
