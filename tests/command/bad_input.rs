//! What cannot be judged gets a sentence, not a panic.

use crate::common;

use std::ffi::OsString;
use std::process::ExitCode;

use common::command::{Desk, bb, hiss};
use proptest::prelude::*;
use ringtrue::cli::Console;

/// Runs `check` on a recording that exists and expects status 2 and a sentence with these words.
fn refused(arguments: &[&str], words: &[&str]) {
    let desk = Desk::new();
    desk.recording("bb.wav", &bb());
    let all: Vec<&str> = ["check", "bb.wav"]
        .iter()
        .chain(arguments)
        .copied()
        .collect();
    let run = desk.run(&all);
    assert_eq!(run.status, 2, "{arguments:?}: {}{}", run.out, run.err);
    assert!(run.out.is_empty(), "{arguments:?}: {}", run.out);
    for word in words {
        assert!(
            run.err.contains(word),
            "{arguments:?}: {word:?} in {}",
            run.err
        );
    }
    assert!(!run.err.contains("panicked"), "{}", run.err);
}

#[test]
fn frets_that_are_none_are_refused_with_an_example() {
    refused(
        &["--frets", "x1333"],
        &["--frets", "six", "has 5", "x13331"],
    );
    refused(
        &["--frets", "x1 33 31"],
        &["--frets", "six", "has 3", "x13331"],
    );
    refused(
        &["--frets", "x 30 32 32 32 30"],
        &["--frets", "0", "24", "30"],
    );
    refused(
        &["--frets", "x1h331"],
        &["--frets", "\"h\"", "a number, or x"],
    );
    refused(&["--frets", ""], &["--frets", "six"]);
    refused(&["--frets", "xxxxxx"], &["--frets", "must sound"]);
}

#[test]
fn chords_that_are_none_are_refused_with_an_example() {
    refused(&["--chord", "H#"], &["--chord", "H#", "Bb"]);
    refused(&["--chord", ""], &["--chord"]);
}

#[test]
fn options_out_of_range_are_refused_with_the_range() {
    refused(
        &["--frets", "x13331", "--capo", "40"],
        &["--capo", "0", "12", "40"],
    );
    refused(
        &["--frets", "x13331", "--capo", "-1"],
        &["--capo", "0", "12", "-1"],
    );
    refused(&["--frets", "x13331", "--capo", "1.5"], &["--capo", "1.5"]);
    refused(
        &["--frets", "x13331", "--a4", "300"],
        &["--a4", "415", "466", "300"],
    );
    refused(
        &["--frets", "x13331", "--a4", "NaN"],
        &["--a4", "415", "466", "NaN"],
    );
    refused(
        &["--frets", "x13331", "--tuning", "E A"],
        &["--tuning", "six"],
    );
    refused(
        &["--chord", "Bb", "--shape", "A", "--at", "99"],
        &["--at", "99"],
    );
}

#[test]
fn options_that_do_not_go_together_are_refused_with_what_to_do() {
    refused(
        &["--frets", "x13331", "--chord", "Bb"],
        &["--frets", "--chord", "one of them"],
    );
    refused(
        &["--frets", "x13331", "--shape", "A"],
        &["--shape goes with --chord"],
    );
    refused(
        &["--frets", "x13331", "--at", "1"],
        &["--at goes with --chord"],
    );
    refused(
        &["--chord", "Bb", "--at", "2"],
        &["no Bb at fret 2", "A shape at fret 1"],
    );
    refused(&["--shape", "A"], &["--shape goes with --chord"]);
}

#[test]
fn no_file_at_all_is_refused() {
    let run = Desk::new().run(&["check", "--frets", "x13331"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("FILE"), "{}", run.err);
}

#[test]
fn a_file_that_cannot_be_read_has_a_sentence_and_the_others_are_still_judged() {
    let desk = Desk::new();
    desk.recording("bb.wav", &bb());
    std::fs::create_dir(desk.path("folder")).unwrap();
    std::fs::write(desk.path("empty.wav"), b"").unwrap();
    std::fs::write(desk.path("words.wav"), b"Dear diary, today I practised.").unwrap();
    let names = ["missing.wav", "folder", "empty.wav", "words.wav", "bb.wav"];
    let mut arguments = vec!["check", "--frets", "x13331"];
    arguments.extend(names);

    let text = desk.run(&arguments);
    assert_eq!(text.status, 2);
    for (name, sentence) in [
        ("missing.wav", "no such file"),
        ("folder", "folder"),
        ("empty.wav", "empty"),
        ("words.wav", "expected a recording"),
    ] {
        let line = text.err.lines().find(|line| line.contains(name));
        let line = line.unwrap_or_else(|| panic!("{name} in {}", text.err));
        assert!(line.contains(sentence), "{line}");
    }
    assert_eq!(text.err.lines().count(), 4, "{}", text.err);
    assert!(text.out.contains("bb.wav"), "{}", text.out);

    arguments.push("--json");
    let json = desk.run(&arguments);
    assert_eq!(json.status, 2);
    assert!(json.err.is_empty(), "{}", json.err);
    let files = json.json();
    assert_eq!(files.len(), names.len());
    for (file, name) in files.iter().zip(names) {
        assert_eq!(file["file"], name);
        let readable = name == "bb.wav";
        assert_eq!(file["error"].is_string(), !readable, "{file}");
        assert_eq!(
            file["takes"].as_array().unwrap().is_empty(),
            !readable,
            "{file}"
        );
    }
}

#[test]
fn a_recording_without_a_strum_says_so_and_what_to_do() {
    let desk = Desk::new();
    desk.recording("zero.wav", &[0.0; 44_100]);
    desk.recording("one.wav", &[0.1]);
    desk.recording("hiss.wav", &hiss(2.0, 1e-3));
    for (file, words) in [
        ("zero.wav", ["complete silence", "record again"]),
        ("one.wav", ["no strum", "record again"]),
        ("hiss.wav", ["hardly any sound", "record again"]),
    ] {
        let run = desk.run(&["check", file, "--frets", "x13331"]);
        assert_eq!(run.status, 2, "{file}: {}", run.out);
        for word in words {
            assert!(run.err.contains(word), "{file}: {}", run.err);
        }
    }
}

#[test]
fn a_recording_that_breaks_off_is_judged_as_far_as_it_goes() {
    let desk = Desk::new();
    let path = desk.recording("bb.wav", &bb());
    let whole = std::fs::read(&path).unwrap();
    std::fs::write(&path, &whole[..whole.len() - 40_000]).unwrap();
    let run = desk.run(&["check", "bb.wav", "--frets", "x13331", "--json"]);
    let file = &run.json()[0];
    assert_eq!(run.status, 2);
    assert!(
        file["error"].as_str().unwrap().contains("breaks off"),
        "{file}"
    );
    assert_eq!(file["takes"].as_array().unwrap().len(), 1, "{file}");

    std::fs::write(&path, &whole[..3_000]).unwrap();
    let run = desk.run(&["check", "bb.wav", "--frets", "x13331"]);
    assert_eq!(run.status, 2);
    for words in ["breaks off", "no strum was found"] {
        assert!(run.err.contains(words), "{}", run.err);
    }
}

#[test]
fn every_hostile_file_is_answered_with_takes_or_a_sentence() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/hostile");
    let mut files: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path().to_str().unwrap().to_owned())
        .filter(|path| !path.ends_with(".md"))
        .collect();
    files.sort();
    assert!(files.len() > 10);
    let mut arguments = vec!["check", "--json", "--frets", "x13331"];
    arguments.extend(files.iter().map(String::as_str));
    let run = Desk::new().run(&arguments);
    assert_eq!(run.status, 2, "{}", run.err);
    assert!(run.err.is_empty(), "{}", run.err);
    let answers = run.json();
    assert_eq!(answers.len(), files.len());
    for (answer, file) in answers.iter().zip(&files) {
        assert_eq!(answer["file"], file.as_str());
        let sentence = answer["error"].as_str().is_some_and(|s| s.contains(' '));
        let takes = !answer["takes"].as_array().unwrap().is_empty();
        assert!(sentence || takes, "{answer}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_report_that_cannot_be_written_is_complained_about() {
    let desk = Desk::new();
    desk.recording("bb.wav", &bb());
    let full = std::fs::File::create("/dev/full").unwrap();
    let output = std::process::Command::new(assert_cmd::cargo::cargo_bin!("ringtrue"))
        .current_dir(desk.path("."))
        .args(["check", "bb.wav", "--frets", "x13331"])
        .stdout(full)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    let err = String::from_utf8(output.stderr).unwrap();
    assert!(err.contains("the output cannot be written"), "{err}");
}

/// The status, output and complaints of the command run within this process.
fn check_within(desk: &Desk, file: &str, more: &[&str]) -> (ExitCode, String, String) {
    let mut arguments: Vec<OsString> = vec!["ringtrue".into(), "check".into()];
    arguments.push(desk.path(file).into());
    arguments.extend(more.iter().map(OsString::from));
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let console = Console {
        out: &mut out,
        err: &mut err,
        colour: false,
    };
    let status = ringtrue::cli::run_on(console, arguments);
    let text = |bytes| String::from_utf8(bytes).expect("text");
    (status, text(out), text(err))
}

/// Random stretches, each of its own loudness and roughness: silence, hiss, bursts, full scale.
fn any_sound() -> impl Strategy<Value = Vec<f32>> {
    let stretch = (0usize..8_000, 0f32..=1.0, any::<u64>(), 1usize..200);
    prop::collection::vec(stretch, 0..8).prop_map(|stretches| {
        let mut samples = Vec::new();
        for (length, loudness, seed, hold) in stretches {
            let mut state = seed;
            let mut value = 0.0;
            for i in 0..length {
                if i % hold == 0 {
                    state = state
                        .wrapping_mul(6_364_136_223_846_793_005)
                        .wrapping_add(1);
                    value = ((state >> 40) as f32 / (1 << 23) as f32 - 1.0) * loudness;
                }
                samples.push(value);
            }
        }
        samples
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn no_sound_makes_the_command_panic(samples in any_sound()) {
        let desk = Desk::new();
        desk.recording("any.wav", &samples);
        for chord in [&["--json"][..], &["--json", "--frets", "133211"]] {
            let (_, out, _) = check_within(&desk, "any.wav", chord);
            let json: serde_json::Value = serde_json::from_str(&out).expect("JSON");
            prop_assert!(json["takes"].is_array());
        }
    }

    #[test]
    fn no_bytes_make_the_command_panic(bytes in prop::collection::vec(any::<u8>(), 0..4_000), magic in 0usize..5) {
        let desk = Desk::new();
        let start: &[u8] = [&b""[..], b"RIFF\xff\xff\xff\xffWAVEfmt ", b"fLaC", b"OggS", b"ID3"][magic];
        std::fs::write(desk.path("any.wav"), [start, &bytes].concat()).unwrap();
        let (status, _, err) = check_within(&desk, "any.wav", &["--frets", "133211"]);
        prop_assert_eq!(status, ExitCode::from(2));
        prop_assert!(err.contains("any.wav"));
    }

    #[test]
    fn no_text_for_an_option_makes_the_command_panic(text in "\\PC{0,12}", option in 0usize..5) {
        let desk = Desk::new();
        let option = ["--frets", "--chord", "--capo", "--a4", "--tuning"][option];
        let (status, _, err) = check_within(&desk, "missing.wav", &[&format!("{option}={text}")]);
        prop_assert_eq!(status, ExitCode::from(2));
        prop_assert!(err.contains(option) || err.contains("missing.wav"), "{}", err);
    }
}

#[test]
fn a_name_that_promises_another_form_and_a_number_that_is_none_are_refused_in_plain_words() {
    let desk = Desk::new();
    for (arguments, said) in [
        (
            &["demo", "--frets", "133211", "--out", "a.mp3"][..],
            "a .mp3 file cannot be written here",
        ),
        (
            &["backing", "F", "--out", "a.mp3"],
            "a name that ends in .wav",
        ),
        (
            &["report", "x.wav", "--out", "week.pdf"],
            "a name that ends in .html",
        ),
        (
            &["backing", "F", "--tempo", "fast"],
            "a number was expected, as in 72",
        ),
        (&["play", "F", "--volume", "loud"], "a number was expected"),
        (
            &["check", "x.wav", "--guitars", "folder"],
            "--guitar <NAME>",
        ),
        (
            &["progress", "--import", "x", "--since", "2026-01-01"],
            "cannot be used with",
        ),
    ] {
        let run = desk.run(arguments);
        assert_eq!(run.status, 2, "{arguments:?}");
        assert!(run.err.contains(said), "{arguments:?}: {}", run.err);
        assert!(!desk.path("a.mp3").exists());
    }
}

#[test]
fn every_command_says_in_its_help_how_it_ends() {
    let desk = Desk::new();
    for command in [
        "backing",
        "check",
        "plot",
        "report",
        "listen",
        "play",
        "practice",
        "progress",
        "put-right",
        "route",
        "demo",
        "shapes",
        "soundcheck",
    ] {
        let run = desk.run(&[command, "--help"]);
        assert!(run.out.contains("Exit status:"), "{command}");
    }
}

/// Commands that are told how the guitar is tuned.
const TUNED: [&str; 10] = [
    "backing",
    "check",
    "demo",
    "listen",
    "play",
    "plot",
    "report",
    "route",
    "shapes",
    "soundcheck",
];

/// Options that several commands have, and what each of them calls its value: nothing, or the same everywhere.
const SHARED: [(&str, &str, &[&str]); 11] = [
    (
        "--left",
        "",
        &[
            "check",
            "listen",
            "practice",
            "play",
            "route",
            "shapes",
            "soundcheck",
        ],
    ),
    (
        "--guitar",
        "<NAME>",
        &[
            "check",
            "listen",
            "practice",
            "play",
            "plot",
            "report",
            "route",
            "shapes",
            "soundcheck",
        ],
    ),
    ("--tuning", "<NOTES>", &TUNED),
    ("--capo", "<FRET>", &TUNED),
    ("--a4", "<HZ>", &TUNED),
    (
        "--at",
        "<FRET>",
        &["check", "demo", "listen", "plot", "report"],
    ),
    (
        "--frets",
        "<FRETS>",
        &["check", "demo", "listen", "plot", "report", "shapes"],
    ),
    (
        "--json",
        "",
        &[
            "check", "listen", "play", "progress", "report", "route", "shapes",
        ],
    ),
    ("--csv", "", &["progress", "report"]),
    (
        "--from",
        "<FILE>",
        &["listen", "play", "practice", "soundcheck"],
    ),
    (
        "--input",
        "<NAME>",
        &["listen", "play", "practice", "soundcheck"],
    ),
];

#[test]
fn one_thing_has_one_name_in_all_commands() {
    let desk = Desk::new();
    for (option, value, commands) in SHARED {
        for command in commands {
            let help = desk.run(&[command, "--help"]).out;
            let named = |line: &str| {
                let mut words = line.split_whitespace();
                words.next() == Some(option) && words.next().unwrap_or_default().starts_with(value)
            };
            assert!(
                help.lines().any(named),
                "{command} {option} {value}:\n{help}"
            );
        }
    }
    // What is kept of the sound is asked for by one name, and old names are gone.
    for command in ["listen", "play", "practice"] {
        let help = desk.run(&[command, "--help"]).out;
        assert!(help.contains(" --save"), "{help}");
        assert!(!help.contains("--keep-sound"), "{help}");
    }
    assert!(!desk.run(&["progress", "--help"]).out.contains("--export"));
}

#[test]
fn a_new_lesson_named_by_a_dash_goes_to_standard_output() {
    let desk = Desk::new();
    let run = desk.succeeds(&["practice", "--new", "-"]);
    assert!(!desk.path("-").exists(), "a file of that name");
    desk.succeeds(&["practice", "--new", "lesson.toml"]);
    let written = std::fs::read_to_string(desk.path("lesson.toml")).unwrap();
    assert_eq!(run.out, written);
}

#[test]
fn the_bass_of_a_backing_follows_a4() {
    let desk = Desk::new();
    for (file, a4) in [("440.wav", "440"), ("430.wav", "430")] {
        desk.succeeds(&["backing", "A", "--feel", "whole", "--a4", a4, "--out", file]);
    }
    let bytes = |file: &str| std::fs::read(desk.path(file)).unwrap();
    assert_ne!(bytes("440.wav"), bytes("430.wav"));
}
