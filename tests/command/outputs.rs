//! Files that survive: whatever becomes of the program or the disk, an old file is there or the whole new one.

#![cfg(unix)]

use crate::common::command;

use std::collections::BTreeSet;
use std::fs;
use std::os::unix::fs::symlink;
use std::os::unix::process::ExitStatusExt;
use std::process::{Command, Output, Stdio};
use std::thread;
use std::time::Instant;

use command::{Desk, bb};

/// Every way to write a file, and the file.
const WAYS: [(&[&str], &str); 8] = [
    (&["demo", "--frets", "x13331", "--out"], "chord.wav"),
    (&["backing", "F C", "--out"], "backing.wav"),
    (&["backing", "F C", "--midi"], "backing.mid"),
    (
        &["report", "bb.wav", "--frets", "x13331", "--out"],
        "page.html",
    ),
    (
        &[
            "plot", "bb.wav", "--frets", "x13331", "--kind", "chroma", "--out",
        ],
        "take.svg",
    ),
    (
        &[
            "plot", "bb.wav", "--frets", "x13331", "--kind", "chroma", "--out",
        ],
        "take.png",
    ),
    (
        &["progress", "--diary", "diary.sqlite", "--picture"],
        "progress.svg",
    ),
    (
        &[
            "soundcheck",
            "--from",
            "open.wav",
            "--guitars",
            ".",
            "--guitar",
            "mine",
        ],
        "mine.toml",
    ),
];

/// What is there before; a page may only be written over a page.
const OLD: &str = "<!doctype html>what was there before";

/// A desk with all that the ways read.
fn desk() -> Desk {
    let desk = Desk::new();
    desk.recording("bb.wav", &bb());
    desk.recording("open.wav", &open_strings());
    desk.succeeds(&[
        "listen",
        "--from",
        "bb.wav",
        "--frets",
        "x13331",
        "--diary",
        "diary.sqlite",
    ]);
    desk
}

/// The six open strings, in tune.
fn open_strings() -> Vec<f32> {
    let rate = f64::from(command::RATE_HZ);
    let mut samples = vec![0.0; command::RATE_HZ as usize / 2];
    // Standard tuning, A4 = 440 Hz.
    for midi in [40, 45, 50, 55, 59, 64] {
        let hz = 440.0 * 2f64.powf((f64::from(midi) - 69.0) / 12.0);
        samples.extend((0..(1.6 * rate) as usize).map(|i| {
            let t = i as f64 / rate;
            let sum: f64 = (1..=12)
                .map(|n| {
                    let n = f64::from(n);
                    let hz = n * hz * ((1.0 + 6e-5 * n * n) / (1.0 + 6e-5)).sqrt();
                    (std::f64::consts::TAU * hz * t).sin() / n
                })
                .sum();
            (0.15 * 10f64.powf(-t) * sum * ((1.6 - t) / 0.1).min(1.0)) as f32
        }));
        samples.extend(vec![0.0; command::RATE_HZ as usize / 2]);
    }
    samples
}

/// The arguments with the file where it is to be named.
fn arguments<'a>(way: &[&'a str], file: &'a str) -> Vec<&'a str> {
    let mut all = way.to_vec();
    if way[0] != "soundcheck" {
        all.push(file);
    }
    all
}

/// The program under a shell that first sets the stage.
fn under(desk: &Desk, stage: &str, arguments: &[&str]) -> Output {
    Command::new("sh")
        .arg("-c")
        .arg(format!("{stage}; exec \"$@\""))
        .arg("sh")
        .arg(assert_cmd::cargo::cargo_bin("ringtrue"))
        .args(arguments)
        .current_dir(desk.path(""))
        .env("XDG_DATA_HOME", desk.path("data"))
        .output()
        .unwrap()
}

fn names(desk: &Desk) -> BTreeSet<String> {
    let entries = fs::read_dir(desk.path("")).unwrap();
    entries
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect()
}

#[test]
fn where_there_is_no_room_the_old_file_stays_and_a_sentence_says_what_to_do() {
    let desk = desk();
    for (way, file) in WAYS {
        fs::write(desk.path(file), OLD).unwrap();
        let run = under(&desk, "trap '' XFSZ; ulimit -f 0", &arguments(way, file));
        let err = String::from_utf8(run.stderr).unwrap();
        assert_eq!(run.status.code(), Some(2), "{way:?}: {err}");
        assert_eq!(fs::read_to_string(desk.path(file)).unwrap(), OLD, "{way:?}");
        let half = names(&desk)
            .into_iter()
            .find(|name| name.ends_with(".part"));
        assert_eq!(half, None, "{way:?}");
        for words in [file, "cannot be written", "make room"] {
            assert!(err.contains(words), "{way:?}: {err}");
        }
        assert_eq!(err.matches("os error").count(), 1, "{way:?}: {err}");
    }
}

#[test]
fn killed_by_the_first_byte_too_many_it_leaves_the_old_file() {
    let desk = desk();
    for (way, file) in WAYS {
        fs::write(desk.path(file), OLD).unwrap();
        let run = under(&desk, "ulimit -c 0; ulimit -f 0", &arguments(way, file));
        let err = String::from_utf8_lossy(&run.stderr);
        assert!(run.status.signal().is_some(), "{way:?}: {err}");
        assert_eq!(fs::read_to_string(desk.path(file)).unwrap(), OLD, "{way:?}");
    }
}

#[test]
fn killed_at_any_moment_it_leaves_the_old_file_or_the_whole_new_one() {
    const MOMENTS: u32 = 4;
    let desk = desk();
    for (way, file) in WAYS {
        let begun = Instant::now();
        let whole = desk.run(&arguments(way, file));
        assert_eq!(whole.status, 0, "{way:?}: {}", whole.err);
        let took = begun.elapsed();
        let new = fs::read(desk.path(file)).unwrap();
        assert_ne!(new, OLD.as_bytes());
        for moment in 1..=MOMENTS {
            fs::write(desk.path(file), OLD).unwrap();
            let mut child = Command::new(assert_cmd::cargo::cargo_bin("ringtrue"))
                .current_dir(desk.path(""))
                .args(arguments(way, file))
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .spawn()
                .unwrap();
            // Towards the end, where files are written.
            thread::sleep(took * (2 * MOMENTS + moment) / (3 * MOMENTS));
            child.kill().unwrap();
            child.wait().unwrap();
            let left = fs::read(desk.path(file)).unwrap();
            assert!(
                left == OLD.as_bytes() || left == new,
                "{way:?}: {} bytes of {}",
                left.len(),
                new.len()
            );
        }
    }
}

#[test]
fn a_take_that_listen_keeps_is_there_whole_or_not_at_all() {
    let desk = desk();
    let listen = [
        "listen", "--from", "bb.wav", "--frets", "x13331", "--save", "kept",
    ];
    let run = under(&desk, "ulimit -c 0; mkdir kept; ulimit -f 8", &listen);
    assert!(run.status.signal().is_some());
    let sounds = fs::read_dir(desk.path("kept")).unwrap();
    let sounds = sounds.filter(|file| {
        let name = file.as_ref().unwrap().file_name();
        name.to_string_lossy().ends_with(".wav")
    });
    assert_eq!(sounds.count(), 0, "half a sound is no sound");
}

#[test]
fn a_link_stays_and_what_it_leads_to_is_replaced() {
    let desk = desk();
    fs::create_dir(desk.path("deep")).unwrap();
    fs::write(desk.path("deep/old.wav"), OLD).unwrap();
    symlink("deep/old.wav", desk.path("chord.wav")).unwrap();
    let run = desk.run(&arguments(WAYS[0].0, WAYS[0].1));
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(desk.path("chord.wav").is_symlink());
    assert!(
        fs::read(desk.path("deep/old.wav"))
            .unwrap()
            .starts_with(b"RIFF")
    );
}

#[test]
fn a_stream_is_written_as_it_is() {
    let desk = desk();
    let (way, file) = WAYS[0];
    assert_eq!(desk.run(&arguments(way, file)).status, 0);
    let whole = fs::read(desk.path(file)).unwrap();
    // A pipe, and a file behind the program's own output.
    let piped = under(&desk, ":", &arguments(way, "/dev/stdout"));
    assert!(piped.stdout.starts_with(&whole));
    fs::write(desk.path("log"), "first\n").unwrap();
    let to_file = under(&desk, "exec >> log", &arguments(way, "/dev/stdout"));
    assert!(to_file.status.success());
    let log = fs::read(desk.path("log")).unwrap();
    assert!(log.starts_with(&[b"first\n", &whole[..]].concat()));

    let made = Command::new("mkfifo").arg(desk.path("pipe")).status();
    assert!(made.unwrap().success());
    let reader = Command::new("cat")
        .arg(desk.path("pipe"))
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    // A pipe holds less than the file.
    let read = thread::spawn(|| reader.wait_with_output().unwrap().stdout);
    let run = desk.run(&arguments(way, "pipe"));
    assert_eq!(run.status, 0, "{}", run.err);
    assert_eq!(read.join().unwrap(), whole);
    assert_eq!(desk.run(&arguments(way, "/dev/null")).status, 0);
}

/// Runs the command, expects a sentence about the output and every file untouched.
fn refused(desk: &Desk, arguments: &[&str], output: &str, words: &str) {
    let contents = || -> Vec<(String, Vec<u8>)> {
        let names = names(desk).into_iter();
        let files = names.filter(|name| desk.path(name).is_file());
        files
            .map(|name| (name.clone(), fs::read(desk.path(&name)).unwrap()))
            .collect()
    };
    let before = contents();
    let run = desk.run(arguments);
    assert_eq!(run.status, 2, "{arguments:?}: {}", run.out);
    assert!(
        run.err.starts_with(&format!("ringtrue: {output}")),
        "{arguments:?}: {}",
        run.err
    );
    assert!(run.err.contains(words), "{arguments:?}: {}", run.err);
    assert!(run.out.is_empty(), "{arguments:?}: {}", run.out);
    assert!(contents() == before, "{arguments:?}");
}

#[test]
fn what_is_read_is_never_written_over() {
    let desk = desk();
    let is_read = "is to be read too";
    let saved = desk
        .run(&["check", "bb.wav", "--frets", "x13331", "--json"])
        .out;
    fs::write(desk.path("bb.json"), saved).unwrap();
    fs::write(desk.path("song.txt"), "F\nC\n").unwrap();
    for (file, link) in [
        ("bb.wav", "link.png"),
        ("bb.json", "saved.svg"),
        ("diary.sqlite", "diary.png"),
        ("diary.sqlite-wal", "journal.svg"),
        ("bb.wav", "page.html"),
    ] {
        symlink(file, desk.path(link)).unwrap();
    }
    fs::create_dir(desk.path("week")).unwrap();
    fs::hard_link(desk.path("bb.wav"), desk.path("week/1.wav")).unwrap();
    let report = |more: &[&'static str]| [&["report"], more].concat();
    for (arguments, output) in [
        (report(&["bb.wav", "--out", "bb.wav"]), "bb.wav"),
        (report(&["bb.wav", "--out", "page.html"]), "page.html"),
        (report(&["bb.wav", "--out", "bb.json"]), "bb.json"),
        (report(&["week", "--out", "bb.wav"]), "bb.wav"),
        (
            report(&["--diary", "diary.sqlite", "--out", "diary.sqlite"]),
            "diary.sqlite",
        ),
        (
            report(&["--diary", "diary.sqlite", "--out", "diary.sqlite-shm"]),
            "diary.sqlite-shm",
        ),
        (vec!["plot", "bb.wav", "--out", "link.png"], "link.png"),
        (vec!["plot", "bb.wav", "--out", "saved.svg"], "saved.svg"),
        (
            vec![
                "plot",
                "open.wav",
                "--against",
                "bb.wav",
                "--out",
                "link.png",
            ],
            "link.png",
        ),
        (
            vec![
                "progress",
                "--diary",
                "diary.sqlite",
                "--picture",
                "diary.png",
            ],
            "diary.png",
        ),
        (
            vec![
                "progress",
                "--diary",
                "diary.sqlite",
                "--picture",
                "journal.svg",
            ],
            "journal.svg",
        ),
        (
            vec!["backing", "--file", "song.txt", "--out", "song.txt"],
            "song.txt",
        ),
        (
            vec!["backing", "--file", "song.txt", "--midi", "./song.txt"],
            "./song.txt",
        ),
        (
            vec![
                "play",
                "--file",
                "song.txt",
                "--save",
                "song.txt",
                "--no-diary",
            ],
            "song.txt",
        ),
        (
            vec![
                "play",
                "F",
                "--save",
                "diary.sqlite",
                "--diary",
                "diary.sqlite",
            ],
            "diary.sqlite",
        ),
    ] {
        refused(&desk, &arguments, output, is_read);
    }
    let both = ["backing", "F", "--out", "new.wav", "--midi", "new.wav"];
    refused(&desk, &both, "--out and --midi", "new.wav");
}

#[test]
fn a_page_takes_no_place_but_that_of_a_page() {
    let desk = desk();
    desk.recording("other.wav", &bb());
    // As a shell writes out: report --out *.wav.
    let expanded = ["report", "--out", "bb.wav", "open.wav", "other.wav"];
    refused(&desk, &expanded, "bb.wav", "holds no page");
    fs::write(desk.path("empty.html"), "").unwrap();
    for out in ["empty.html", "empty.html", "new.html"] {
        desk.succeeds(&["report", "bb.wav", "--frets", "x13331", "--out", out]);
        let page = fs::read_to_string(desk.path(out)).unwrap();
        assert!(page.trim_end().ends_with("</html>"));
    }
}
