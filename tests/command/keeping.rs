//! What `listen` has told is kept, however it ends and whatever becomes of the folder.

#![cfg(target_os = "linux")]

use crate::common::command;

use std::collections::BTreeSet;
use std::fs;
use std::io::{BufRead, BufReader, Lines};
use std::process::{Child, ChildStdout, Command, Stdio};

use command::Desk;
use ringtrue::audio::{read_all, write_wav};
use ringtrue::practice::diary::{Diary, Filter};
use serde_json::Value;

/// Takes of the recording on [`desk`]: more than a pipe holds the verdicts of.
const TAKES: usize = 60;

/// A desk with a recording of [`TAKES`] strums.
fn desk() -> Desk {
    let desk = Desk::new();
    let one = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/fixtures/strums/x13331-all-strings-ring.wav"
    );
    let one = read_all(one.as_ref(), 10.0).unwrap();
    write_wav(
        &desk.path("evening.wav"),
        one.rate_hz,
        &one.samples.repeat(TAKES),
    )
    .unwrap();
    desk
}

fn listen(folder: &str) -> [&str; 10] {
    [
        "listen",
        "--from",
        "evening.wav",
        "--frets",
        "x13331",
        "--json",
        "--save",
        folder,
        "--diary",
        "diary.sqlite",
    ]
}

/// How many takes the lines say are settled and were not taken back; a later word on a take replaces the earlier ones.
fn settled(lines: &[String]) -> usize {
    let mut numbers = BTreeSet::new();
    for line in lines {
        let event: Value = serde_json::from_str(line).unwrap_or_default();
        let number = event["number"].as_u64();
        match event["event"].as_str() {
            Some("settled") => _ = numbers.insert(number),
            Some("withdrawn") => _ = numbers.remove(&number),
            _ => {}
        }
    }
    numbers.len()
}

fn in_diary(desk: &Desk) -> usize {
    let diary = Diary::open_existing(&desk.path("diary.sqlite")).unwrap();
    diary.count(&Filter::default()).unwrap() as usize
}

/// `listen` into the folder "kept", what it has told by its so many settled takes, and where it tells more.
fn listening(desk: &Desk, wanted: usize) -> (Child, Vec<String>, Lines<BufReader<ChildStdout>>) {
    let mut child = Command::new(assert_cmd::cargo::cargo_bin("ringtrue"))
        .current_dir(desk.path(""))
        .args(listen("kept"))
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let mut told: Vec<String> = Vec::new();
    while settled(&told) < wanted {
        told.push(lines.next().expect("there are more takes").unwrap());
    }
    (child, told, lines)
}

#[test]
fn asked_to_stop_it_keeps_what_it_has_told_in_the_folder_and_in_the_diary() {
    for (signal, wanted) in [("INT", 1), ("INT", 4), ("TERM", 2), ("TERM", 7)] {
        let desk = desk();
        let (mut child, mut told, lines) = listening(&desk, wanted);
        // It cannot be at its end: nobody has read that far.
        let sent = Command::new("kill")
            .args(["-s", signal, &child.id().to_string()])
            .status();
        assert!(sent.unwrap().success());
        told.extend(lines.map(Result::unwrap));
        assert_eq!(child.wait().unwrap().code(), Some(0), "{signal}");
        let told = settled(&told);
        assert!((wanted..TAKES).contains(&told), "{signal}: {told}");
        let files = fs::read_dir(desk.path("kept")).unwrap();
        let names = files.map(|file| file.unwrap().path());
        let (sounds, words): (Vec<_>, Vec<_>) =
            names.partition(|path| path.extension().is_some_and(|e| e == "wav"));
        assert_eq!((sounds.len(), words.len()), (told, told), "{signal}");
        assert_eq!(in_diary(&desk), told, "{signal}");
    }
}

#[test]
fn where_nobody_reads_on_what_was_told_is_kept() {
    let desk = desk();
    let (mut child, _, lines) = listening(&desk, 2);
    drop(lines);
    assert_eq!(child.wait().unwrap().code(), Some(0));
    let kept = in_diary(&desk);
    assert!((2..TAKES).contains(&kept), "{kept}");
}

#[test]
fn a_folder_that_takes_nothing_is_told_once_and_the_diary_gets_every_take() {
    let desk = desk();
    // Not even root makes a file there.
    let run = desk.run(&listen("/sys"));
    assert_eq!(run.status, 2, "{}", run.err);
    let lines: Vec<String> = run.out.lines().map(str::to_owned).collect();
    let told = settled(&lines);
    assert!(told > TAKES / 2, "{told}");
    assert_eq!(run.out.matches("take-not-kept").count(), 1, "{}", run.out);
    assert!(run.out.contains("Listening goes on"), "{}", run.out);
    assert_eq!(in_diary(&desk), told);
}
