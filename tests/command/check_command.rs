//! `ringtrue check` on recordings that can be read.

use crate::common;

use std::io::Read;
use std::process::{Command, Stdio};

use common::command::{Desk, Finished, bb};
use serde_json::Value;

const VERDICTS: [&str; 8] = [
    "clean",
    "muted",
    "choked",
    "buzzing",
    "wrong-fret",
    "ringing",
    "silent",
    "unsure",
];

fn one_bb() -> Desk {
    let desk = Desk::new();
    desk.recording("bb.wav", &bb());
    desk
}

/// The status that the verdicts of one recording call for.
fn status_for(file: &Value) -> i32 {
    let verdicts: Vec<&str> = file["takes"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|take| take["strings"].as_array().unwrap())
        .map(|string| string["verdict"].as_str().unwrap())
        .filter(|&verdict| verdict != "unsure")
        .collect();
    if file.get("error").is_some() || verdicts.is_empty() {
        2
    } else if verdicts.iter().all(|v| ["clean", "silent"].contains(v)) {
        0
    } else {
        1
    }
}

fn assert_picture_of_six(run: &Finished) {
    let rows: Vec<&str> = run
        .out
        .lines()
        .skip_while(|line| !line.starts_with("string note"))
        .skip(1)
        .take(6)
        .collect();
    let numbers: Vec<&str> = rows
        .iter()
        .map(|row| row.trim().split(' ').next().unwrap())
        .collect();
    assert_eq!(numbers, ["6", "5", "4", "3", "2", "1"], "{}", run.out);
}

#[test]
fn a_take_is_told_by_a_sentence_and_a_picture_from_low_to_high() {
    let run = one_bb().run(&["check", "bb.wav", "--frets", "x13331"]);
    assert_picture_of_six(&run);
    let first = run.out.lines().next().unwrap();
    assert!(
        first.starts_with(char::is_uppercase) && first.contains(' '),
        "{first}"
    );
    assert!(run.err.is_empty(), "{}", run.err);
}

#[test]
fn no_line_is_wider_than_sixty_characters() {
    let desk = one_bb();
    for arguments in [
        &["check", "bb.wav", "--chord", "Bb"][..],
        &["check", "bb.wav"],
        &["check", "bb.wav", "bb.wav", "--chord", "Bb", "--left"],
        &[
            "check", "bb.wav", "bb.wav", "bb.wav", "bb.wav", "--chord", "Bb",
        ],
    ] {
        let run = desk.run(arguments);
        assert!(!run.out.is_empty());
        for line in run.out.lines() {
            assert!(line.chars().count() <= 60, "{line}");
        }
    }
}

#[test]
fn what_is_not_a_terminal_gets_no_colour() {
    let run = one_bb().run(&["check", "bb.wav", "--frets", "x13331"]);
    assert!(!run.out.contains('\x1b'));
}

#[test]
fn json_has_every_field_and_the_strings_from_six_to_one() {
    let run = one_bb().run(&["check", "bb.wav", "--chord", "Bb", "--shape", "A", "--json"]);
    let files = run.json();
    assert_eq!(files.len(), 1);
    assert_eq!(files[0]["file"], "bb.wav");
    let takes = files[0]["takes"].as_array().unwrap();
    assert_eq!(takes.len(), 1, "{}", run.out);
    let take = &takes[0];
    assert!(
        (take["start_s"].as_f64().unwrap() - 0.3).abs() < 0.05,
        "{take}"
    );
    assert_eq!(take["manner"], "strummed");
    assert_eq!(take["chord"], "Bb");
    assert_eq!(take["frets"], "x13331");
    assert!(take["tuning_cents"].is_number());
    assert!(take["warnings"].is_array());
    let expected = [None, Some(1), Some(3), Some(3), Some(3), Some(1)];
    let strings = take["strings"].as_array().unwrap();
    assert_eq!(strings.len(), 6);
    for ((string, number), fret) in strings.iter().zip((1..=6).rev()).zip(expected) {
        assert_eq!(string["string"], number);
        assert_eq!(string["expected_fret"].as_u64(), fret);
        assert!(VERDICTS.contains(&string["verdict"].as_str().unwrap()));
        for share in ["rings", "confidence"] {
            let share = string[share].as_f64().unwrap();
            assert!((0.0..=1.0).contains(&share), "{string}");
        }
        let object = string.as_object().unwrap();
        for key in ["heard_fret", "cents", "reason"] {
            assert!(object.contains_key(key), "{key} in {string}");
        }
        let names_a_fret = ["wrong-fret", "ringing"].contains(&string["verdict"].as_str().unwrap());
        assert_eq!(string["heard_fret"].is_u64(), names_a_fret, "{string}");
        assert_eq!(
            string["reason"].is_string(),
            string["verdict"] == "unsure",
            "{string}"
        );
    }
}

#[test]
fn the_exit_status_follows_from_the_verdicts() {
    let desk = one_bb();
    for frets in ["x13331", "113331", "xx0232"] {
        let run = desk.run(&["check", "bb.wav", "--frets", frets, "--json"]);
        assert_eq!(
            run.status,
            status_for(&run.json()[0]),
            "{frets}: {}",
            run.out
        );
    }
}

#[test]
fn several_files_give_one_json_object_a_line_in_their_order() {
    let desk = one_bb();
    desk.recording("again.wav", &bb());
    let run = desk.run(&[
        "check",
        "bb.wav",
        "again.wav",
        "--frets",
        "x13331",
        "--json",
    ]);
    let files: Vec<Value> = run.json();
    let names: Vec<&str> = files.iter().map(|f| f["file"].as_str().unwrap()).collect();
    assert_eq!(names, ["bb.wav", "again.wav"]);
    assert_eq!(run.status, files.iter().map(status_for).max().unwrap());
}

#[test]
fn several_files_have_one_summary_at_the_end() {
    let desk = one_bb();
    desk.recording("again.wav", &bb());
    let run = desk.run(&["check", "bb.wav", "again.wav", "--frets", "x13331"]);
    let place = |text: &str| {
        run.out
            .find(text)
            .unwrap_or_else(|| panic!("{text} in {}", run.out))
    };
    assert!(place("bb.wav") < place("again.wav"));
    assert!(place("again.wav") < place("2 recordings."));
    assert_eq!(run.out.matches("recordings.").count(), 1);
}

#[test]
fn without_a_chord_it_says_which_voicing_fits_and_how_sure_that_is() {
    let desk = one_bb();
    let run = desk.run(&["check", "bb.wav", "--json"]);
    let take = &run.json()[0]["takes"][0];
    let warning = &take["warnings"][0];
    assert_eq!(warning["kind"], "chord-guessed");
    let sure = warning["sure"].as_f64().unwrap();
    assert!((0.0..=1.0).contains(&sure));
    let judged = take["strings"][0]["reason"] != "not-judged";
    assert!(!judged || sure >= 0.95, "{take}");
    let text = desk.run(&["check", "bb.wav"]).out.replace('\n', " ");
    assert!(text.contains("No chord was named: "), "{text}");
    assert!(text.contains("% sure"), "{text}");
}

#[test]
fn a_left_handed_picture_still_reads_from_six_to_one() {
    let desk = one_bb();
    let right = desk.run(&["check", "bb.wav", "--frets", "x13331"]);
    let left = desk.run(&["check", "bb.wav", "--frets", "x13331", "--left"]);
    assert_picture_of_six(&left);
    assert_ne!(left.out, right.out);
    assert_eq!(left.status, right.status);
}

#[test]
fn a_reader_that_stops_early_is_no_error() {
    let desk = one_bb();
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("ringtrue"));
    command.current_dir(desk.path("."));
    command
        .arg("check")
        .args(["bb.wav"; 3])
        .args(["--frets", "x13331"]);
    let mut child = command
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let mut err = String::new();
    child
        .stderr
        .take()
        .unwrap()
        .read_to_string(&mut err)
        .unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(0), "{err}");
    assert!(err.is_empty(), "{err}");
}

#[test]
fn the_help_tells_the_exit_statuses() {
    for help in ["--help", "-h"] {
        let run = Desk::new().run(&["check", help]);
        assert_eq!(run.status, 0);
        for line in [
            "Exit status:",
            "  0  every string",
            "  1  at least one",
            "  2  something could not",
        ] {
            assert!(run.out.contains(line), "{line} in {}", run.out);
        }
        for line in run.out.lines() {
            assert!(line.chars().count() <= 80, "{line}");
        }
    }
}
