//! `ringtrue route` as a learner uses it.

use crate::common::command;

use command::Desk;

#[test]
fn a_route_says_how_far_the_hand_travels_and_what_that_saves() {
    let run = Desk::new().run(&["route", "A D E", "--json"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let json = &run.json()[0];
    assert_eq!(json["travel_frets"], 2);
    assert_eq!(json["one_shape_travel_frets"], 7);
    let steps: Vec<_> = json["steps"].as_array().unwrap().iter().collect();
    assert_eq!(steps.len(), 3);
    assert_eq!(steps[0]["chord"], "A");
    assert_eq!(steps[0]["frets"], "577655");
    assert_eq!(steps[0]["shape"], "E");
    assert_eq!(steps[0]["at"], 5);
    assert_eq!(steps[1]["frets"], "x57775");
    assert_eq!(steps[1]["from_before"]["staying"][0], 1);
}

#[test]
fn chords_may_come_as_words_of_their_own_or_in_bars_with_repeats() {
    let desk = Desk::new();
    let frets = |arguments: &[&str]| -> Vec<String> {
        let run = desk.run(&[arguments, &["--json"]].concat());
        assert_eq!(run.status, 0, "{}", run.err);
        let json = run.json().remove(0);
        let steps = json["steps"].as_array().unwrap().clone();
        steps
            .iter()
            .map(|s| s["frets"].as_str().unwrap().to_owned())
            .collect()
    };
    assert_eq!(frets(&["route", "F", "Bb"]), ["133211", "x13331"]);
    assert_eq!(
        frets(&["route", "|: F | Bb :|"]),
        ["133211", "x13331", "133211", "x13331"]
    );
}

#[test]
fn a_song_is_read_from_a_text_file_of_either_kind() {
    let desk = Desk::new();
    std::fs::write(desk.path("list.txt"), "# a walk\nF\nBb\nC\n").unwrap();
    std::fs::write(
        desk.path("song.txt"),
        "A walk\n\n  F      Bb\nUp the hill I go\n    C\nand down\n",
    )
    .unwrap();
    for name in ["list.txt", "song.txt"] {
        let run = desk.succeeds(&["route", "--file", name]);
        assert!(
            run.out.starts_with("The hand travels 2 frets."),
            "{}",
            run.out
        );
        assert!(run.out.contains("133211") && run.out.contains("x35553"));
    }
}

#[test]
fn a_route_is_drawn_within_eighty_columns_with_the_reason() {
    let run = Desk::new().run(&["route", "F Bb C Dm F", "--loop"]);
    assert_eq!(run.status, 0);
    for line in run.out.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    assert!(run.out.contains("Why this way"));
    assert_eq!(
        run.out.matches(" 1: 1━━━━━━━━━━━━━━━1━━━1").count(),
        1,
        "F is drawn once"
    );
    assert!(run.out.contains("over to the root on"));
}

#[test]
fn a_learner_may_count_the_work_differently() {
    let desk = Desk::new();
    let same_string = desk.run(&["route", "F Bb C", "--weight", "shape-change=9", "--json"]);
    let json = &same_string.json()[0];
    assert_eq!(json["steps"][1]["frets"], "688766", "{}", same_string.out);
    let wrong = desk.run(&["route", "F", "--weight", "speed=1"]);
    assert_eq!(wrong.status, 2);
    assert!(
        wrong.err.contains("there are travel, shape-change"),
        "{}",
        wrong.err
    );
}

#[test]
fn what_cannot_be_read_or_played_is_said_in_a_sentence() {
    let desk = Desk::new();
    std::fs::write(desk.path("bytes.txt"), [0xff, 0xfe, 0x00]).unwrap();
    std::fs::write(desk.path("wrong.txt"), "F\nBb\nHmm\n").unwrap();
    for (arguments, said) in [
        (
            vec!["route", "F Qx"],
            "ringtrue: a chord begins with its root",
        ),
        (
            vec!["route", "Qx\nF"],
            "ringtrue: line 1: a chord begins with its root",
        ),
        (vec!["route", ""], "no chord was found"),
        (
            vec!["route", "--file", "none.txt"],
            "none.txt: there is no such file",
        ),
        (vec!["route", "--file", "bytes.txt"], "no text in UTF-8"),
        (vec!["route", "--file", "wrong.txt"], "wrong.txt: line 3"),
        (vec!["route", "wrong.txt"], "write: --file wrong.txt"),
        (
            vec!["route", "C", "--highest-fret", "2"],
            "cannot be played within these limits",
        ),
        (vec!["route", "Bdim", "--power"], "no perfect fifth"),
        (vec!["route", "|: F | Bb"], "a repeat begins with |:"),
    ] {
        let run = desk.run(&arguments);
        assert_eq!(run.status, 2, "{arguments:?}");
        assert!(run.err.contains(said), "{arguments:?}: {}", run.err);
        assert!(run.out.is_empty());
    }
}
