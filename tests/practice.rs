//! `ringtrue practice`: a lesson run over a recording, and what the diary then holds.

#[path = "common/command.rs"]
#[allow(dead_code, reason = "each file of tests uses its own part")]
mod command;
#[path = "common/tape.rs"]
#[allow(dead_code, reason = "each file of tests uses its own part")]
mod tape;

use command::{Desk, Run};
use ringtrue::practice::diary::{Diary, Entry, Filter};
use ringtrue::synth::compose::Sound;
use tape::Tape;

fn lesson(desk: &Desk, steps: &str) {
    std::fs::write(
        desk.path("lesson.toml"),
        format!("title = \"Evening\"\n{steps}"),
    )
    .unwrap();
}

fn practise(desk: &Desk, tape: &Tape, more: &[&str]) -> Run {
    desk.recording("evening.wav", &tape.samples);
    let mut arguments = vec![
        "practice",
        "lesson.toml",
        "--from",
        "evening.wav",
        "--diary",
        "diary.sqlite",
        "--recorded-at",
        "2026-11-24T18:00:00Z",
        "--seed",
        "1",
    ];
    arguments.extend(more);
    desk.run(&arguments)
}

fn diary(desk: &Desk) -> Vec<Entry> {
    let diary = Diary::open_existing(&desk.path("diary.sqlite")).unwrap_or_else(|e| panic!("{e}"));
    diary
        .entries(&Filter::default())
        .unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn building_a_chord_up_is_heard_stage_by_stage() {
    let desk = Desk::new();
    lesson(
        &desk,
        "[[step]]\nkind = \"build\"\nfrets = \"x35553\"\nclean = 1\n",
    );
    let mut tape = Tape::new();
    for frets in [
        "x33333", "x05550", "x33333", "x35553", "x05550", "x35553", "x35553",
    ] {
        tape.play(frets, &[]);
    }
    let run = practise(&desk, &tape, &[]);
    assert_eq!(run.status, 0, "{}{}", run.out, run.err);
    let stages: Vec<String> = diary(&desk)
        .iter()
        .filter_map(|e| e.stage.clone())
        .collect();
    assert_eq!(stages.len(), 7, "{}", run.out);
    assert!(
        run.out.contains("done: all that was asked for"),
        "{}",
        run.out
    );
}

#[test]
fn a_climb_ends_with_a_picture_of_the_neck() {
    let desk = Desk::new();
    lesson(
        &desk,
        "[[step]]\nkind = \"climb\"\nshape = \"E\"\nfrom = 1\nto = 3\ntries = 1\n",
    );
    let mut tape = Tape::new();
    tape.play("133211", &[]);
    tape.play("244322", &[(3, Sound::Rings(0))]);
    tape.play("355433", &[]);
    let run = practise(&desk, &tape, &[]);
    assert_eq!(run.status, 0, "{}", run.err);
    let neck: Vec<&str> = run
        .out
        .lines()
        .skip_while(|l| !l.starts_with("root"))
        .collect();
    assert_eq!(
        neck[0].split_whitespace().collect::<Vec<_>>(),
        ["root", "F", "F#", "G"]
    );
    assert_eq!(
        neck[1].split_whitespace().collect::<Vec<_>>(),
        ["fret", "1", "2", "3"]
    );
    assert_eq!(
        neck[8].split_whitespace().collect::<Vec<_>>(),
        ["all", "1/1", "0/1", "1/1"]
    );
}

#[test]
fn a_root_is_answered_by_the_chord_that_is_played() {
    let desk = Desk::new();
    lesson(
        &desk,
        "[[step]]\nkind = \"name\"\nstring = 5\nroots = [\"C\"]\nclean = 2\n",
    );
    let mut tape = Tape::new();
    tape.play("x57775", &[]);
    tape.play("x35553", &[]);
    tape.play("x35553", &[]);
    let run = practise(&desk, &tape, &[]);
    assert!(run.out.contains("That was D; C is asked."), "{}", run.out);
    assert!(run.out.contains("C it is"), "{}", run.out);
    let entries = diary(&desk);
    let chords: Vec<&str> = entries.iter().filter_map(|e| e.chord.as_deref()).collect();
    assert_eq!(chords, ["D", "C", "C"]);
}

#[test]
fn changes_are_counted_and_their_gaps_measured() {
    let desk = Desk::new();
    lesson(
        &desk,
        "[[step]]\nkind = \"switch\"\nby = \"both\"\nat = [3]\nclean = 2\n",
    );
    let mut tape = Tape::new();
    let gaps_s = [0.5, 0.8, 1.1];
    tape.strum("355433", &[], 1.5);
    for (i, gap_s) in gaps_s.into_iter().enumerate() {
        tape.wait(gap_s);
        tape.strum(["x35553", "355433"][i % 2], &[], 1.5);
    }
    tape.wait(1.0);
    let run = practise(&desk, &tape, &[]);
    let entries = diary(&desk);
    let heard: Vec<f64> = entries.iter().filter_map(|e| e.gap_s).collect();
    assert_eq!(heard.len(), 3, "{}", run.out);
    for (i, (heard_s, gap_s)) in heard.iter().zip(gaps_s).enumerate() {
        let true_s = tape.strums[i + 1].0 - tape.strums[i].1;
        assert!((true_s - gap_s).abs() < 0.06);
        assert!((heard_s - true_s).abs() < 0.08, "{heard_s} {true_s}");
    }
    assert!(run.out.contains("3 changes"), "{}", run.out);
    assert_eq!(
        entries[1].from.map(|f| f.to_string()).as_deref(),
        Some("355433")
    );
}

#[test]
fn placements_are_compared_and_a_progression_is_held() {
    let desk = Desk::new();
    lesson(
        &desk,
        "[[step]]\nkind = \"place\"\nchord = \"F\"\nclean = 1\n\
         [[step]]\nkind = \"hold\"\nchords = [\"355433\", \"x35553\"]\n",
    );
    let mut tape = Tape::new();
    tape.play("133211", &[(3, Sound::Rings(0))]);
    tape.play("133211", &[]);
    tape.play("355433", &[]);
    tape.play("x35553", &[]);
    let run = practise(&desk, &tape, &["--guitar", "the brown one", "--keep-sound"]);
    assert!(run.out.contains("Placement 2 rang best."), "{}", run.out);
    let entries = diary(&desk);
    let steps: Vec<_> = entries
        .iter()
        .map(|e| (e.step, e.exercise.as_deref()))
        .collect();
    assert_eq!(
        steps,
        [
            (Some(1), Some("place")),
            (Some(1), Some("place")),
            (Some(2), Some("hold")),
            (Some(2), Some("hold"))
        ]
    );
    for (entry, (struck_s, _)) in entries.iter().zip(&tape.strums) {
        assert_eq!(entry.guitar.as_deref(), Some("the brown one"));
        assert_eq!(entry.lesson.as_deref(), Some("Evening"));
        let at_s =
            entry.at.as_millisecond() as f64 / 1000.0 - entry.began.unwrap().as_second() as f64;
        assert!((at_s - struck_s).abs() < 0.05, "{at_s} {struck_s}");
        let sound = desk
            .path("diary-sounds")
            .join(entry.sound.as_deref().expect("a sound"));
        assert!(sound.exists());
    }
}
