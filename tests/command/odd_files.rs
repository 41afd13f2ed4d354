//! Files that are none, or endless: a sentence, at once.

#![cfg(unix)]

use crate::common::command;

use std::fs::{self, File};
use std::os::unix::fs::symlink;
use std::process::Command;
use std::time::Duration;

use command::{Desk, bb};

/// A program that waits for ever fails its test after so long.
const FOR_EVER: Duration = Duration::from_secs(300);

/// Runs the command, which answers with a sentence that has these words.
fn says(desk: &Desk, arguments: &[&str], words: &str) {
    let output = desk.ringtrue(arguments).timeout(FOR_EVER).output();
    let output = output.expect("the program starts");
    let err = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {err}");
    assert!(err.contains(words), "{arguments:?}: {err}");
}

/// A desk with a recording.
fn desk() -> Desk {
    let desk = Desk::new();
    desk.recording("bb.wav", &bb());
    desk
}

/// Everything that reads one file, by the file's name.
const READERS: [(&str, &[&str]); 8] = [
    (
        "lesson.toml",
        &["practice", "lesson.toml", "--from", "bb.wav", "--no-diary"],
    ),
    (
        "mine.toml",
        &["check", "bb.wav", "--guitars", ".", "--guitar", "mine"],
    ),
    ("bb.json", &["plot", "bb.wav", "--out", "take.png"]),
    ("bb.json", &["report", "bb.wav", "--csv"]),
    ("song.txt", &["route", "--file", "song.txt"]),
    ("sound", &["check", "sound", "--frets", "x13331"]),
    (
        "takes.jsonl",
        &[
            "progress",
            "--diary",
            "new.sqlite",
            "--import",
            "takes.jsonl",
        ],
    ),
    ("diary.sqlite", &["progress", "--diary", "diary.sqlite"]),
];

#[test]
fn a_pipe_a_device_or_a_folder_in_a_file_s_place_is_answered_at_once() {
    for (file, arguments) in READERS {
        let desk = desk();
        let path = desk.path(file);
        let made = Command::new("mkfifo").arg(&path).status();
        assert!(made.unwrap().success());
        says(&desk, arguments, "pipe or");
        fs::remove_file(&path).unwrap();
        symlink("/dev/zero", &path).unwrap();
        says(&desk, arguments, "device");
        fs::remove_file(&path).unwrap();
        fs::create_dir(&path).unwrap();
        says(&desk, arguments, "folder");
    }
}

#[test]
fn a_file_of_gigabytes_is_not_read() {
    for (file, arguments) in &READERS[..5] {
        let desk = desk();
        // A hole takes no space on the disk.
        File::create(desk.path(file))
            .unwrap()
            .set_len(3 << 30)
            .unwrap();
        says(&desk, arguments, "longer than");
    }
}

#[test]
fn words_come_through_a_stream_that_the_shell_has_opened() {
    let desk = desk();
    let run = Command::new("sh")
        .arg("-c")
        .arg("echo F Bb C | \"$0\" route --file /dev/stdin")
        .arg(assert_cmd::cargo::cargo_bin("ringtrue"))
        .current_dir(desk.path(""))
        .output()
        .unwrap();
    assert!(
        run.status.success(),
        "{}",
        String::from_utf8_lossy(&run.stderr)
    );
}
