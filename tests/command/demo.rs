//! Making the sound of a chord, and judging it.

use std::path::Path;
use std::process::Output;

use assert_cmd::Command;
use ringtrue::audio::read_all;
use serde_json::Value;

fn ringtrue(folder: &Path, arguments: &[&str]) -> Output {
    Command::cargo_bin("ringtrue")
        .expect("built")
        .current_dir(folder)
        .args(arguments)
        .output()
        .expect("runs")
}

fn demo(folder: &Path, arguments: &[&str], out: &str) {
    let output = ringtrue(folder, &[&["demo", "--out", out], arguments].concat());
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
}

/// The verdicts on strings 6 to 1.
fn verdicts(folder: &Path, file: &str, frets: &str) -> Vec<String> {
    let output = ringtrue(folder, &["check", file, "--frets", frets, "--json"]);
    let said: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let strings = said["takes"][0]["strings"]
        .as_array()
        .expect("one take")
        .clone();
    strings
        .iter()
        .map(|s| s["verdict"].as_str().expect("a verdict").to_owned())
        .collect()
}

#[test]
fn a_clean_chord_is_judged_clean_strummed_and_picked_down_and_up() {
    let folder = tempfile::tempdir().expect("a folder");
    for more in [
        &[][..],
        &["--up"],
        &["--picked"],
        &["--step", "35"],
        &["--no-plectrum"],
    ] {
        demo(
            folder.path(),
            &[&["--chord", "Bb", "--shape", "A"], more].concat(),
            "clean.wav",
        );
        let said = verdicts(folder.path(), "clean.wav", "x13331");
        assert_eq!(said[0], "silent", "{more:?}");
        assert!(said[1..].iter().all(|v| v == "clean"), "{more:?}: {said:?}");
    }
}

#[test]
fn faults_asked_for_are_heard_on_their_strings_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    demo(
        folder.path(),
        &["--frets", "133211", "--fault", "3=muted"],
        "muted.wav",
    );
    let said = verdicts(folder.path(), "muted.wav", "133211");
    assert_eq!(said, ["clean", "clean", "clean", "muted", "clean", "clean"]);

    let faults = ["--fault", "6=ringing", "--fault", "2=fret-3"];
    demo(
        folder.path(),
        &[&["--frets", "x35553"], &faults[..]].concat(),
        "two.wav",
    );
    let said = verdicts(folder.path(), "two.wav", "x35553");
    assert_eq!(
        said,
        ["ringing", "clean", "clean", "clean", "wrong-fret", "clean"]
    );
}

#[test]
fn the_same_options_give_the_same_file_and_another_seed_another_one() {
    let folder = tempfile::tempdir().expect("a folder");
    let bytes = |seed: &str, file: &str| {
        demo(folder.path(), &["--frets", "022100", "--seed", seed], file);
        std::fs::read(folder.path().join(file)).expect("written")
    };
    let (a, again, other) = (
        bytes("7", "a.wav"),
        bytes("7", "b.wav"),
        bytes("8", "c.wav"),
    );
    assert!(a == again);
    assert!(a != other);
}

#[test]
fn the_level_is_safe_however_hard_the_strings_are_struck() {
    let folder = tempfile::tempdir().expect("a folder");
    for more in [&[][..], &["--hard"], &["--picked", "--fault", "6=buzzing"]] {
        demo(
            folder.path(),
            &[&["--frets", "320003"], more].concat(),
            "level.wav",
        );
        let sound = read_all(&folder.path().join("level.wav"), 10.0).expect("read");
        let peak = sound.samples.iter().fold(0f32, |p, s| p.max(s.abs()));
        assert!((0.02..=0.502).contains(&peak), "{more:?}: {peak}");
    }
}

#[test]
fn what_makes_no_sense_is_answered_with_a_sentence() {
    let folder = tempfile::tempdir().expect("a folder");
    for (arguments, wanted) in [
        (&["--fault", "3=muted"][..], "which chord?"),
        (
            &["--frets", "x13331", "--fault", "3"],
            "STRING=FAULT was expected, as in 3=muted",
        ),
        (
            &["--frets", "x13331", "--fault", "7=muted"],
            "a string from 6 (low) to 1 was expected",
        ),
        (
            &["--frets", "x13331", "--fault", "3=dead"],
            "choose from muted, choked",
        ),
        (
            &["--frets", "x13331", "--fault", "6=muted"],
            "string 6 is not played in this chord",
        ),
        (
            &["--frets", "x13331", "--fault", "5=ringing"],
            "that is no fault",
        ),
        (
            &["--frets", "x13331", "--fault", "5=fret-1"],
            "that is no fault",
        ),
        (
            &["--frets", "x13331", "--fault", "5=fret-99"],
            "a fret from 0 to",
        ),
        (
            &[
                "--frets", "x13331", "--fault", "5=muted", "--fault", "5=choked",
            ],
            "already has a fault",
        ),
        (
            &["--frets", "x13331", "--step", "900"],
            "milliseconds from 1 to 60",
        ),
        (
            &["--frets", "xxxx3x", "--fault", "2=missed"],
            "nothing to hear",
        ),
    ] {
        let output = ringtrue(
            folder.path(),
            &[&["demo", "--out", "no.wav"], arguments].concat(),
        );
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {said}");
        assert!(said.contains(wanted), "{arguments:?}: {said}");
        assert!(!folder.path().join("no.wav").exists());
    }
}
