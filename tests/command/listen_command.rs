//! `ringtrue listen` and `ringtrue soundcheck` on recordings, as a user starts them.

use std::path::Path;

use serde_json::Value;

use crate::common::command;

use command::{Desk, RATE_HZ, open_strings};

fn fixture(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/strums");
    path.join(name).display().to_string()
}

const ALL_RING: &str = "x13331-all-strings-ring.wav";

#[test]
fn json_lines_tell_what_is_meant_what_is_heard_first_and_what_is_settled() {
    let desk = Desk::new();
    let file = fixture(ALL_RING);
    let run = desk.run(&[
        "listen", "--from", &file, "--chord", "Bb", "--shape", "A", "--json",
    ]);
    assert_eq!(run.status, 0);
    let events: Vec<Value> = run
        .out
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let kinds: Vec<&str> = events
        .iter()
        .map(|e| e["event"].as_str().unwrap())
        .collect();
    assert_eq!(kinds, ["listening", "first", "settled"]);
    assert_eq!(events[0]["frets"], "x13331");
    let checked = desk.run(&["check", &file, "--chord", "Bb", "--shape", "A", "--json"]);
    let checked: Value = serde_json::from_str(&checked.out).unwrap();
    assert_eq!(events[2]["take"], checked["takes"][0]);
}

#[test]
fn plain_lines_show_each_take_in_symbols_and_a_sentence() {
    let desk = Desk::new();
    let run = desk.run(&["listen", "--from", &fixture(ALL_RING), "--frets", "x13331"]);
    assert!(
        run.out.contains("Listening for Bb (x13331)."),
        "{}",
        run.out
    );
    assert!(
        run.out
            .contains("○ ● ● ● ● ●  Every string is as it should be."),
        "{}",
        run.out
    );
}

#[test]
fn so_many_takes_are_asked_for_and_no_more_are_given_and_a_summary_ends_it() {
    let desk = Desk::new();
    let one = ringtrue::audio::read_all(Path::new(&fixture(ALL_RING)), 10.0).unwrap();
    let three = [one.samples.clone(), one.samples.clone(), one.samples].concat();
    desk.recording("three.wav", &three);
    let listen = |takes: &str| {
        desk.run(&[
            "listen",
            "--from",
            "three.wav",
            "--frets",
            "x13331",
            "--takes",
            takes,
        ])
    };
    for (takes, wanted) in [
        ("1", "1 take of Bb"),
        ("2", "2 takes of Bb"),
        ("9", "3 takes of Bb"),
    ] {
        let run = listen(takes);
        assert!(run.out.contains(wanted), "{takes}: {}", run.out);
        assert!(run.out.contains("ringtrue practice --list"), "{}", run.out);
        let lines = run.out.lines().filter(|line| line.contains("○ ●")).count();
        assert_eq!(lines, takes.parse::<usize>().unwrap().min(3), "{}", run.out);
    }
}

#[test]
fn arguments_that_make_no_sense_are_told_before_listening() {
    let desk = Desk::new();
    let file = fixture(ALL_RING);
    for (arguments, expected) in [
        (vec!["--then", "H7", "--from", &file], "--then H7"),
        (vec!["--input", "x", "--from", &file], "give one of them"),
        (vec!["--from", "missing.wav"], "there is no such file"),
        (vec!["--guitar", "nobody's"], "cannot be a guitar's name"),
    ] {
        let mut all = vec!["listen", "--chord", "Bb"];
        all.extend(arguments);
        let run = desk.run(&all);
        assert_eq!(run.status, 2, "{all:?}");
        assert!(run.err.contains(expected), "{}", run.err);
        assert_eq!(run.out, "");
    }
}

#[test]
fn a_soundcheck_tells_the_tuning_of_each_string_and_keeps_the_guitar() {
    let desk = Desk::new();
    desk.recording(
        "open.wav",
        &open_strings(&[0.0, 12.0, -30.0, 2.0, 0.0, -4.0]),
    );
    let check = |more: &[&str]| {
        let mut all = vec!["soundcheck", "--from", "open.wav"];
        all.extend(more);
        desk.run(&all)
    };
    let kept = check(&["--guitar", "old one", "--guitars", "kept", "--a4", "440"]);
    assert_eq!(kept.status, 1, "{}", kept.err);
    for line in [
        "string 5 A   +12.0 cents  12 cents sharp: tune it down",
        "string 4 D   -30.0 cents  30 cents flat: tune it up",
        "string 1 E    -4.0 cents  in tune",
    ] {
        assert!(kept.out.contains(line), "{}", kept.out);
    }
    let file = fixture(ALL_RING);
    for command in ["listen --from", "check"] {
        let mut all: Vec<&str> = command.split(' ').collect();
        all.extend([
            file.as_str(),
            "--chord",
            "Bb",
            "--shape",
            "A",
            "--guitars",
            "kept",
            "--guitar",
        ]);
        let known = desk.run(&[&all[..], &["old one"]].concat());
        assert_eq!(known.status, 0, "{}", known.err);
        let unknown = desk.run(&[&all[..], &["new one"]].concat());
        assert_eq!(unknown.status, 2);
        assert!(unknown.err.contains("there is old one"), "{}", unknown.err);
    }
}

#[test]
fn a_soundcheck_names_the_string_that_is_missing() {
    let desk = Desk::new();
    desk.recording("five.wav", &open_strings(&[0.0; 5]));
    let run = desk.run(&["soundcheck", "--from", "five.wav"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("string 1 was not heard"), "{}", run.err);
}

#[test]
fn what_is_wrong_with_a_recording_is_said_when_it_was_listened_to() {
    let desk = Desk::new();
    desk.recording("silence.wav", &vec![0.0; RATE_HZ as usize]);
    let silence = desk.run(&["listen", "--from", "silence.wav", "--frets", "x13331"]);
    assert_eq!(silence.status, 2);
    assert!(silence.err.contains("complete silence"), "{}", silence.err);
    let whole = std::fs::read(fixture(ALL_RING)).unwrap();
    std::fs::write(desk.path("cut.wav"), &whole[..whole.len() * 9 / 10]).unwrap();
    let cut = desk.run(&["listen", "--from", "cut.wav", "--frets", "x13331"]);
    assert_eq!(cut.status, 2);
    assert!(cut.out.contains("as it should be"), "{}", cut.out);
    assert!(cut.err.contains("breaks off"), "{}", cut.err);
}
