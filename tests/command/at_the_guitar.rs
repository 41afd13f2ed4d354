//! What somebody does who has read nothing: the program without a word, lessons by name, a verdict put right.

use crate::common::command;

use std::path::Path;

use command::Desk;
use ringtrue::fretboard::Tuning;
use ringtrue::practice::diary::{Correction, Diary, Entry};
use ringtrue::practice::{BUNDLED, Lesson};
use ringtrue::take::Manner;
use ringtrue::verdict::{JudgedTake, StringVerdict, Verdict};

/// A take of Bb in which string 3 was heard dead.
fn take() -> JudgedTake {
    let frets: ringtrue::fretboard::Frets = "x13331".parse().unwrap();
    JudgedTake {
        start_s: 0.0,
        manner: Manner::Strummed,
        chord: Some("Bb".to_owned()),
        frets,
        tuning_cents: 0.0,
        warnings: Vec::new(),
        strings: std::array::from_fn(|i| StringVerdict {
            string: 6 - i as u8,
            expected_fret: frets.0[i],
            verdict: match (i, frets.0[i]) {
                (3, _) => Verdict::Muted,
                (_, Some(_)) => Verdict::Clean,
                (_, None) => Verdict::Silent,
            },
            heard_fret: None,
            rings: 0.5,
            confidence: 0.9,
            cents: None,
            level_db: None,
            reason: None,
        }),
        advice: Vec::new(),
    }
}

/// A diary of so many such takes at a place, a minute apart, the last one now.
fn diary(path: &Path, takes: i64) {
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    let diary = Diary::open(path).unwrap();
    for minute in 0..takes {
        let at = jiff::Timestamp::now() - jiff::SignedDuration::from_mins(takes - 1 - minute);
        diary
            .keep(&Entry::of(&take(), at, &Tuning::default()))
            .unwrap();
    }
}

#[test]
fn without_a_word_it_says_what_to_type_next() {
    let desk = Desk::new();
    let run = desk.succeeds(&[]);
    for command in [
        "ringtrue listen --frets 133211 --diary",
        "ringtrue practice first-barre",
        "ringtrue --help",
    ] {
        assert!(run.out.contains(command), "{command}\n{}", run.out);
    }
    assert!(!run.out.contains("The diary holds"), "{}", run.out);
}

#[test]
fn with_a_diary_it_proposes_the_chord_that_needs_it_most() {
    let desk = Desk::new();
    diary(&desk.path("data/ringtrue/diary.sqlite"), 3);
    let run = desk.run(&[]);
    assert!(run.out.contains("The diary holds 3 takes"), "{}", run.out);
    assert!(
        run.out.contains("ringtrue listen --frets x13331 --diary"),
        "{}",
        run.out
    );
    assert!(run.out.contains("ringtrue progress"), "{}", run.out);
}

#[test]
fn lessons_are_listed_looked_over_and_begun_from_a_template() {
    let desk = Desk::new();
    let list = desk.succeeds(&["practice", "--list"]);
    for lesson in BUNDLED {
        assert!(list.out.contains(lesson.name), "{}", list.out);
        let check = desk.succeeds(&["practice", lesson.name, "--check"]);
        assert!(check.out.contains("Step 1 of"), "{}", check.out);
    }
    desk.succeeds(&["practice", "--new", "mine.toml"]);
    Lesson::open(&desk.path("mine.toml")).unwrap();
    let check = desk.run(&["practice", "--check", "mine.toml"]);
    assert!(
        check.out.contains("Step 5 of 5, play, along with the band"),
        "{}",
        check.out
    );
    // What is there already stays.
    std::fs::write(desk.path("mine.toml"), "title = 3").unwrap();
    let again = desk.run(&["practice", "--new", "mine.toml"]);
    assert_eq!(again.status, 2);
    assert!(again.err.contains("is there already"), "{}", again.err);
    let wrong = desk.run(&["practice", "--check", "mine.toml"]);
    assert_eq!(wrong.status, 2);
    assert!(wrong.err.contains("mine.toml: line 1"), "{}", wrong.err);
    let nothing = desk.run(&["practice"]);
    assert_eq!(nothing.status, 2);
}

#[test]
fn a_take_is_put_right_and_progress_and_report_count_what_stands() {
    let desk = Desk::new();
    let path = desk.path("d.sqlite");
    diary(&path, 3);
    let right =
        |more: &[&str]| desk.run(&[&["put-right", "--diary", "d.sqlite"][..], more].concat());
    let listed = right(&[]);
    assert_eq!(listed.out.lines().count(), 3, "{}", listed.out);
    assert!(
        listed.out.contains("Bb (x13331)  string 3 muted"),
        "{}",
        listed.out
    );
    let put = right(&["--string", "3"]);
    assert_eq!(put.status, 0, "{}", put.err);
    assert!(
        put.out.contains("string 3 muted; you: string 3 was right"),
        "{}",
        put.out
    );
    assert_eq!(right(&["--take", "2", "--forget"]).status, 0);
    let progress = desk.run(&["progress", "--diary", "d.sqlite"]);
    assert!(progress.out.starts_with("2 takes on"), "{}", progress.out);
    assert!(
        progress.out.contains("2 were corrected by you"),
        "{}",
        progress.out
    );
    assert!(progress.out.contains("50 %"), "{}", progress.out);
    let report = desk.succeeds(&[
        "report",
        "--diary",
        "d.sqlite",
        "--json",
        "--out",
        "page.html",
    ]);
    assert!(report.out.contains("\"takes\":2"), "{}", report.out);
    // Both what was heard and what was said go out, and in again.
    let out = desk.run(&["progress", "--diary", "d.sqlite", "--json"]);
    assert_eq!(out.out.matches("\"muted\"").count(), 3, "{}", out.out);
    std::fs::write(desk.path("out.jsonl"), &out.out).unwrap();
    desk.succeeds(&[
        "progress",
        "--diary",
        "other.sqlite",
        "--import",
        "out.jsonl",
    ]);
    let other = Diary::open_existing(&desk.path("other.sqlite")).unwrap();
    let said: Vec<Option<Correction>> = other
        .latest(3)
        .unwrap()
        .into_iter()
        .map(|(_, e)| e.said)
        .collect();
    assert_eq!(
        said,
        [
            Some(Correction::Right(vec![3])),
            Some(Correction::Forget),
            None
        ]
    );
    assert_eq!(right(&["--take", "1", "--as-heard"]).status, 0);
    let far = right(&["--take", "9", "--forget"]);
    assert_eq!(far.status, 2);
    assert!(far.err.contains("the diary holds 3 takes"), "{}", far.err);
}
