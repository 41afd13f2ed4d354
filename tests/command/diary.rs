//! The diary as practice fills it and `progress` reads it, whatever happens to the program or the disk.

use crate::common::command;
use crate::common::tape;

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use command::Desk;
use ringtrue::practice::diary::{Diary, Entry, Filter};
use ringtrue::synth::compose::StringSound;
use tape::Tape;

/// Takes of the recording on [`desk`].
const TAKES: usize = 6;

/// A desk with a lesson that never ends by itself and a recording of [`TAKES`] takes.
fn desk() -> Desk {
    let desk = Desk::new();
    let lesson = "title = \"Evening\"\n[[step]]\nkind = \"place\"\nchord = \"G\"\nclean = 99\n";
    std::fs::write(desk.path("lesson.toml"), lesson).unwrap();
    let mut tape = Tape::new();
    for i in 0..TAKES {
        let wrong: &[(u8, StringSound)] = if i % 3 == 2 {
            &[(3, StringSound::Rings(0))]
        } else {
            &[]
        };
        tape.play("320003", wrong);
    }
    desk.recording("evening.wav", &tape.samples);
    desk
}

fn practice(evening: usize) -> Vec<String> {
    let at = format!("2026-11-{:02}T18:00:00Z", evening + 1);
    [
        "practice",
        "lesson.toml",
        "--from",
        "evening.wav",
        "--diary",
        "d.sqlite",
        "--recorded-at",
        &at,
    ]
    .map(str::to_owned)
    .to_vec()
}

fn practise(desk: &Desk, evening: usize) -> command::Finished {
    let arguments = practice(evening);
    desk.run(&arguments.iter().map(String::as_str).collect::<Vec<_>>())
}

fn entries(path: &Path) -> Vec<Entry> {
    let diary = Diary::open_existing(path).unwrap_or_else(|e| panic!("{e}"));
    diary
        .entries(&Filter::default())
        .unwrap_or_else(|e| panic!("{e}"))
}

/// The JSON lines that a practice says it has left.
fn lines_left(desk: &Desk, out: &str) -> Vec<Entry> {
    let file = out
        .lines()
        .find(|line| line.ends_with(".jsonl"))
        .unwrap_or_else(|| panic!("no file is named:\n{out}"));
    std::fs::read_to_string(desk.path(file))
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

fn spawn(desk: &Desk, evening: usize) -> Child {
    Command::new(assert_cmd::cargo::cargo_bin("ringtrue"))
        .current_dir(desk.path(""))
        .args(practice(evening))
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// Whether a line of output tells of a judged take: a time, then six symbols.
fn tells_of_a_take(line: &str) -> bool {
    line.starts_with("   0:") && line.chars().filter(|c| "●○■▼≈≠▲?-".contains(*c)).count() >= 6
}

#[test]
fn killed_at_any_moment_nothing_that_was_told_is_lost() {
    let desk = desk();
    let mut told_in_all = 0;
    for evening in 0..14 {
        let mut child = spawn(&desk, evening);
        // Killed after so many takes were told, or a little later.
        let wanted = evening % TAKES;
        let mut told = 0;
        let out = BufReader::new(child.stdout.take().unwrap());
        let mut lines = out.lines();
        while told < wanted {
            let Some(line) = lines.next() else { break };
            told += usize::from(tells_of_a_take(&line.unwrap()));
        }
        std::thread::sleep(Duration::from_millis(7 * evening as u64));
        child.kill().unwrap();
        child.wait().unwrap();
        // What it had told by then may still be in the pipe.
        told += lines
            .map_while(Result::ok)
            .filter(|l| tells_of_a_take(l))
            .count();
        told_in_all += told;
        let path = desk.path("d.sqlite");
        let began = format!("2026-11-{:02}T18:00:00Z", evening + 1)
            .parse()
            .unwrap();
        let kept = match path.exists() {
            true => entries(&path),
            false => Vec::new(),
        };
        let kept = kept.iter().filter(|e| e.began == Some(began)).count();
        assert!(
            kept >= told,
            "evening {evening}: {told} takes told, {kept} kept"
        );
    }
    assert!(told_in_all > 14, "{told_in_all}");
    // The same file goes on.
    assert_eq!(practise(&desk, 20).status, 0);
    let began = "2026-11-21T18:00:00Z".parse().unwrap();
    let last = entries(&desk.path("d.sqlite"));
    assert_eq!(
        last.iter().filter(|e| e.began == Some(began)).count(),
        TAKES
    );
}

#[test]
fn two_practices_at_once_share_a_diary() {
    let desk = desk();
    let mut both = [spawn(&desk, 0), spawn(&desk, 1)];
    for child in &mut both {
        assert!(child.wait().unwrap().success());
    }
    assert_eq!(entries(&desk.path("d.sqlite")).len(), 2 * TAKES);
}

#[test]
fn what_goes_out_as_json_comes_in_again_once() {
    let desk = desk();
    practise(&desk, 0);
    let out = desk.run(&["progress", "--diary", "d.sqlite", "--json"]);
    assert_eq!(out.out.lines().count(), TAKES);
    std::fs::write(desk.path("takes.jsonl"), &out.out).unwrap();
    let import = [
        "progress",
        "--diary",
        "other.sqlite",
        "--import",
        "takes.jsonl",
    ];
    assert_eq!(
        desk.run(&import).out,
        "6 takes added; 0 were there already.\n"
    );
    assert_eq!(
        desk.run(&import).out,
        "0 takes added; 6 were there already.\n"
    );
    assert_eq!(
        entries(&desk.path("other.sqlite")),
        entries(&desk.path("d.sqlite"))
    );
}

#[test]
fn csv_has_a_line_a_take_and_reads_back() {
    let desk = desk();
    practise(&desk, 0);
    let out = desk.run(&["progress", "--diary", "d.sqlite", "--csv"]).out;
    let mut csv = csv::Reader::from_reader(out.as_bytes());
    let heading = csv.headers().unwrap().clone();
    let column = |name: &str| heading.iter().position(|h| h == name).unwrap();
    let rows: Vec<csv::StringRecord> = csv.records().map(Result::unwrap).collect();
    let entries = entries(&desk.path("d.sqlite"));
    assert_eq!(rows.len(), entries.len());
    for (row, entry) in rows.iter().zip(&entries) {
        assert_eq!(&row[column("frets")], "320003");
        assert_eq!(row[column("at")], entry.at.to_string());
        assert_eq!(&row[column("verdict_3")], entry.strings[3].verdict.word());
    }
}

#[test]
fn takes_saved_by_listen_are_taken_in() {
    let desk = desk();
    let saved = desk.run(&["check", "evening.wav", "--frets", "320003", "--json"]);
    let mut object: serde_json::Value = serde_json::from_str(&saved.out).unwrap();
    std::fs::write(desk.path("bare.json"), object.to_string()).unwrap();
    let import = |file: &str| desk.run(&["progress", "--diary", "d.sqlite", "--import", file]);
    let refused = import("bare.json");
    assert_eq!(refused.status, 2);
    assert!(
        refused.err.contains("recorded_at is missing"),
        "{}",
        refused.err
    );
    object["recorded_at"] = "2026-11-20T10:00:00Z".into();
    object["guitar"] = "the brown one".into();
    std::fs::write(desk.path("saved.json"), object.to_string()).unwrap();
    assert_eq!(
        import("saved.json").out,
        "6 takes added; 0 were there already.\n"
    );
    let entries = entries(&desk.path("d.sqlite"));
    assert_eq!(entries.len(), TAKES);
    assert!(
        entries
            .iter()
            .all(|e| e.guitar.as_deref() == Some("the brown one"))
    );
    assert!(entries[0].at < entries[1].at);
}

#[test]
fn a_file_that_holds_no_takes_is_refused_whole() {
    let desk = desk();
    practise(&desk, 0);
    let good = desk.run(&["progress", "--diary", "d.sqlite", "--json"]).out;
    std::fs::write(desk.path("mixed.jsonl"), format!("{good}{{\"at\":1}}\n")).unwrap();
    let run = desk.run(&[
        "progress",
        "--diary",
        "new.sqlite",
        "--import",
        "mixed.jsonl",
    ]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("mixed.jsonl, line 7"), "{}", run.err);
    assert!(!desk.path("new.sqlite").exists());
}

#[test]
fn forgetting_asks_first_and_removes_what_was_meant() {
    let desk = desk();
    practise(&desk, 0);
    practise(&desk, 9);
    let run = desk.run(&["progress", "--diary", "d.sqlite", "--forget"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("12 takes would be removed"), "{}", run.err);
    let run = desk.run(&[
        "progress",
        "--diary",
        "d.sqlite",
        "--forget",
        "--before",
        "2026-11-05",
        "--yes",
    ]);
    assert_eq!(run.out, "6 takes removed.\n", "{}", run.err);
    assert_eq!(entries(&desk.path("d.sqlite")).len(), TAKES);
    let run = desk.run(&["progress", "--diary", "d.sqlite", "--forget", "--yes"]);
    assert_eq!(run.out, "6 takes removed.\n");
    let run = desk.run(&["progress", "--diary", "d.sqlite"]);
    assert_eq!(run.out, "The diary holds no take yet.\n");
}

#[test]
fn progress_shows_what_was_practised() {
    let desk = desk();
    practise(&desk, 0);
    let run = desk.succeeds(&["progress", "--diary", "d.sqlite"]);
    assert!(run.out.starts_with("6 takes on 2026-11-0"), "{}", run.out);
    assert!(run.out.contains("1. G (320003), "), "{}", run.out);
    let next = "To practise it: ringtrue listen --frets \"320003\" --diary \"d.sqlite\"\n";
    assert!(run.out.ends_with(next), "{}", run.out);
    let none = desk.run(&["progress", "--diary", "d.sqlite", "--chord", "Bb"]);
    assert_eq!(none.out, "The diary holds no such take.\n");
    let missing = desk.run(&["progress", "--diary", "none.sqlite"]);
    assert_eq!(missing.status, 2);
    assert!(
        missing.err.contains("there is no diary at none.sqlite"),
        "{}",
        missing.err
    );
    let wrong = desk.run(&["progress", "--diary", "d.sqlite", "--since", "yesterday"]);
    assert!(wrong.err.contains("a day was expected"), "{}", wrong.err);
}

#[test]
fn progress_draws_its_picture_by_the_ending_of_the_name() {
    let desk = desk();
    practise(&desk, 0);
    let progress = |file: &str| desk.run(&["progress", "--diary", "d.sqlite", "--picture", file]);
    let wrong = progress("p.pdf");
    assert_eq!((wrong.status, wrong.out.as_str()), (2, ""));
    assert!(
        wrong.err.contains("--picture: a name that ends in .png"),
        "{}",
        wrong.err
    );
    assert_eq!(progress("p.SVG").status, 0);
    let svg = std::fs::read_to_string(desk.path("p.SVG")).unwrap();
    assert!(svg.starts_with("<svg"), "{svg}");
}

#[cfg(target_os = "linux")]
#[test]
fn the_picture_is_there_though_nobody_reads_the_text_to_its_end() {
    let desk = desk();
    practise(&desk, 0);
    let full = std::fs::File::options()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let status = Command::new(assert_cmd::cargo::cargo_bin("ringtrue"))
        .current_dir(desk.path(""))
        .args(["progress", "--diary", "d.sqlite", "--picture", "p.png"])
        .stdout(full)
        .stderr(Stdio::null())
        .status()
        .unwrap();
    assert_eq!(status.code(), Some(2));
    assert!(
        std::fs::read(desk.path("p.png"))
            .unwrap()
            .starts_with(b"\x89PNG")
    );
}

/// What a practice says that has to do without its diary, and that all its takes are left as lines.
fn goes_on_without(desk: &Desk, evening: usize, sentence: &str) {
    let run = practise(desk, evening);
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(run.err.contains(sentence), "{}", run.err);
    assert!(
        run.err.contains("Practice goes on without it."),
        "{}",
        run.err
    );
    assert!(
        run.out.contains("What came out of \"Evening\""),
        "{}",
        run.out
    );
    assert_eq!(lines_left(desk, &run.out).len(), TAKES);
}

#[test]
fn practice_goes_on_without_a_diary_that_cannot_be_used() {
    let desk = desk();
    let path = desk.path("d.sqlite");
    std::fs::write(&path, "Dear diary, today I played nothing. ".repeat(100)).unwrap();
    goes_on_without(&desk, 0, "is not a diary; it was left as it is");
    assert!(
        std::fs::read_to_string(&path)
            .unwrap()
            .starts_with("Dear diary")
    );
    std::fs::remove_file(&path).unwrap();
    practise(&desk, 1);
    rusqlite::Connection::open(&path)
        .unwrap()
        .pragma_update(None, "user_version", 77)
        .unwrap();
    goes_on_without(&desk, 2, "was written by a newer ringtrue (its form 77");
    let run = desk.run(&["progress", "--diary", "d.sqlite"]);
    assert!(run.err.contains("newer ringtrue"), "{}", run.err);
    std::fs::remove_file(&path).unwrap();
    std::fs::create_dir(&path).unwrap();
    goes_on_without(&desk, 3, "d.sqlite cannot be opened");
}

#[test]
fn a_take_that_the_diary_could_not_take_is_taken_in_later() {
    let desk = desk();
    std::fs::create_dir(desk.path("d.sqlite")).unwrap();
    let run = practise(&desk, 0);
    let file = run
        .out
        .lines()
        .find(|line| line.ends_with(".jsonl"))
        .unwrap();
    let import = desk.run(&["progress", "--diary", "e.sqlite", "--import", file]);
    assert_eq!(
        import.out, "6 takes added; 0 were there already.\n",
        "{}",
        import.err
    );
}

#[test]
fn with_a_clock_far_off_practice_goes_on_and_the_diary_can_be_read() {
    let desk = desk();
    practise(&desk, 0);
    let mut arguments = practice(1);
    *arguments.last_mut().unwrap() = "9999-12-30T22:00:00.2Z".to_owned();
    let run = desk.run(&arguments.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(run.err.contains("set the computer's clock"), "{}", run.err);
    assert_eq!(lines_left(&desk, &run.out).len(), TAKES);
    assert_eq!(entries(&desk.path("d.sqlite")).len(), TAKES);
    // As it was written before.
    rusqlite::Connection::open(desk.path("d.sqlite"))
        .unwrap()
        .execute("UPDATE take SET at_ms = 253402207200500 WHERE id = 1", [])
        .unwrap();
    let exported = desk.run(&["progress", "--diary", "d.sqlite", "--json"]);
    assert_eq!((exported.status, exported.out.lines().count()), (0, TAKES));
    assert!(
        exported.err.contains("no calendar knows: 1;"),
        "{}",
        exported.err
    );
    let page = desk.run(&["report", "--diary", "d.sqlite", "--out", "page.html"]);
    assert!(page.err.contains("no calendar knows"), "{}", page.err);
    assert!(desk.path("page.html").exists());
}

/// Puts the program into the desk's folder: where it lies may be closed to another user.
#[cfg(unix)]
fn program_at(desk: &Desk) {
    std::fs::copy(
        assert_cmd::cargo::cargo_bin("ringtrue"),
        desk.path("ringtrue"),
    )
    .unwrap();
}

/// Runs that program under a shell that first sets the stage.
#[cfg(unix)]
fn under(desk: &Desk, stage: &str, arguments: &[String]) -> command::Finished {
    let output = Command::new("sh")
        .arg("-c")
        .arg(format!("{stage} ./ringtrue \"$@\""))
        .arg("sh")
        .args(arguments)
        .current_dir(desk.path(""))
        .output()
        .unwrap();
    command::Finished {
        status: output.status.code().expect("it ends by itself"),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

#[cfg(unix)]
#[test]
fn on_a_full_disk_practice_goes_on_and_no_take_is_lost() {
    let desk = desk();
    program_at(&desk);
    // No file may grow past 32 kB: space for a diary, not for six takes in its journal.
    let run = under(&desk, "trap '' XFSZ; ulimit -f 64; exec", &practice(0));
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(
        run.err.contains("the disk is full; make room"),
        "{}",
        run.err
    );
    let kept = entries(&desk.path("d.sqlite"));
    let left = lines_left(&desk, &run.out);
    assert_eq!(kept.len() + left.len(), TAKES, "{} kept", kept.len());
    assert!(!left.is_empty());
}

#[cfg(unix)]
#[test]
fn a_read_only_diary_is_read_but_not_written() {
    use std::os::unix::fs::PermissionsExt;
    let desk = desk();
    practise(&desk, 0);
    let modes = |folder: u32, file: u32| {
        for (path, mode) in [("d.sqlite", file), ("", folder)] {
            let mode = std::fs::Permissions::from_mode(mode);
            std::fs::set_permissions(desk.path(path), mode).unwrap();
        }
    };
    // The program is put there before the folder is closed.
    program_at(&desk);
    let show = ["progress", "--diary", "d.sqlite"].map(str::to_owned);
    let before = under(&desk, "exec", &show);
    modes(0o555, 0o444);
    // Nothing is read-only to root.
    let root = std::fs::OpenOptions::new()
        .append(true)
        .open(desk.path("d.sqlite"))
        .is_ok();
    let stage = match root {
        true => "exec setpriv --reuid 65534 --regid 65534 --clear-groups",
        false => "exec",
    };
    let shown = under(&desk, stage, &show);
    assert_eq!(shown.out, before.out, "{}", shown.err);
    let command::Finished { out, err, .. } = under(&desk, stage, &practice(1));
    assert!(err.contains("it or its folder is read-only"), "{err}");
    assert!(err.contains("Practice goes on without it."), "{err}");
    let file = out.lines().find(|line| line.ends_with(".jsonl")).unwrap();
    assert_eq!(
        std::fs::read_to_string(file).unwrap().lines().count(),
        TAKES
    );
    std::fs::remove_file(file).unwrap();
    modes(0o755, 0o644);
    assert_eq!(entries(&desk.path("d.sqlite")).len(), TAKES);
}
