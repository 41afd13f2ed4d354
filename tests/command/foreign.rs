//! What names, arguments and files say is shown and kept as what it is: never obeyed, never believed blindly.

use crate::common::command;
use crate::common::takes;

use std::fs;

use command::{Desk, Finished, bb};
use ringtrue::practice::diary::{Diary, Entry, Filter};
use ringtrue::report::terminal::is_unsafe;
use serde_json::{Value, json};

/// Clears the screen, goes to the next line and to a title, turns the direction, hides and parts words.
const HOSTILE: &str = "a\x1b[2J\nFORGED\r\x07\u{9b}31m\u{202e}b\u{200b}\u{2028}c\u{2066}d";

/// That nothing in it is obeyed by a terminal, and no line of it is forged.
fn safe(run: &Finished) {
    for text in [&run.out, &run.err] {
        let bad = text.find(|c| c != '\n' && is_unsafe(c));
        assert!(bad.is_none(), "{:?}", &text[bad.unwrap_or(0)..]);
        let forged = text.lines().find(|line| line.starts_with("FORGED"));
        assert!(forged.is_none(), "{text}");
    }
}

/// A recording of Bb, and what is said of it, to be changed.
fn saved(desk: &Desk) -> Value {
    desk.recording("bb.wav", &bb());
    let run = desk.run(&["check", "bb.wav", "--frets", "x13331", "--json"]);
    let mut saved: Value = serde_json::from_str(&run.out).unwrap();
    saved["recorded_at"] = "2026-11-20T10:00:00Z".into();
    saved
}

/// Writes takes as lines and takes them in.
fn import(desk: &Desk, diary: &str, lines: &[Value]) -> Finished {
    let lines: Vec<String> = lines.iter().map(Value::to_string).collect();
    fs::write(desk.path("takes.jsonl"), lines.join("\n")).unwrap();
    desk.run(&["progress", "--diary", diary, "--import", "takes.jsonl"])
}

#[cfg(unix)]
#[test]
fn the_name_of_a_file_is_shown_and_not_obeyed() {
    let desk = Desk::new();
    let name = format!("{HOSTILE}.wav");
    desk.recording(&name, &bb());
    desk.recording("bb.wav", &bb());
    let check = |files: &[&str], more: &[&str]| {
        let all: Vec<&str> = ["check"].iter().chain(files).chain(more).copied().collect();
        desk.run(&all)
    };
    let two = check(&[&name, "bb.wav"], &["--frets", "x13331"]);
    safe(&two);
    assert!(
        two.out
            .contains(r"a\u001b[2J\u000aFORGED\u000d\u0007\u009b31m\u202eb"),
        "{}",
        two.out
    );
    let missing = format!("{HOSTILE}.flac");
    let none = check(&[&missing], &["--frets", "x13331"]);
    safe(&none);
    assert_eq!(none.err.lines().count(), 1, "{}", none.err);
    // For programs the name is exactly what it was.
    let json = check(&[&name], &["--frets", "x13331", "--json"]);
    safe(&json);
    assert_eq!(json.json()[0]["file"], name.as_str());
    for arguments in [
        &["demo", "--frets", "x13331", "--out", &name][..],
        &["backing", "F C", "--out", &name],
        &["practice", &missing],
        &["play", "F C", "--from", &missing],
        &["report", &missing, "--csv"],
        &["report", "bb.wav", "--out", &format!("none/{missing}")],
        &["plot", &missing, "--out", "p.png"],
        &["progress", "--diary", &missing],
        &["progress", "--import", &missing],
        &["route", "--file", &missing],
        &["check", "bb.wav", "--guitar", "x", "--guitars", &missing],
    ] {
        safe(&desk.run(arguments));
    }
}

#[test]
fn arguments_that_are_wrong_are_quoted_and_not_obeyed() {
    let desk = Desk::new();
    desk.recording("bb.wav", &bb());
    for arguments in [
        &["check", "bb.wav", "--chord", HOSTILE][..],
        &["check", "bb.wav", "--frets", HOSTILE],
        &["check", "bb.wav", "--capo", HOSTILE],
        &["check", "bb.wav", "--guitar", HOSTILE],
        &["route", HOSTILE],
        &["play", "F C", "--strum", HOSTILE],
        &["shapes", HOSTILE],
        &["progress", "--since", HOSTILE],
        &[
            "demo", "--frets", "x13331", "--fault", HOSTILE, "--out", "a.wav",
        ],
        &[HOSTILE],
        &["check", &format!("--{HOSTILE}")],
    ] {
        let run = desk.run(arguments);
        safe(&run);
        assert_eq!(run.status, 2, "{arguments:?}");
    }
}

#[test]
fn what_takes_and_a_diary_say_is_shown_and_not_obeyed() {
    let desk = Desk::new();
    let mut object = saved(&desk);
    object["guitar"] = HOSTILE.into();
    object["takes"][0]["chord"] = HOSTILE.into();
    fs::create_dir(desk.path("week")).unwrap();
    fs::write(desk.path("week/odd.json"), object.to_string()).unwrap();
    for form in ["--csv", "--json"] {
        let run = desk.run(&["report", "week", form]);
        safe(&run);
        assert_eq!(run.status, 0, "{}", run.err);
        assert!(run.out.contains(r"a\u001b[2J"), "{}", run.out);
    }
    let mut odd = serde_json::to_value(takes::one()).unwrap();
    for field in ["guitar", "lesson", "exercise", "stage", "chord", "shape"] {
        odd[field] = HOSTILE.into();
    }
    let run = import(&desk, "d.sqlite", &[object, odd]);
    assert_eq!(
        run.out, "2 takes added; 0 were there already.\n",
        "{}",
        run.err
    );
    let shown = desk.run(&["progress", "--diary", "d.sqlite"]);
    safe(&shown);
    assert!(shown.out.contains(r"a\u001b[2J"), "{}", shown.out);
    safe(&desk.run(&["progress", "--diary", "d.sqlite", "--csv"]));
    let json = desk.run(&["progress", "--diary", "d.sqlite", "--json"]);
    safe(&json);
    assert_eq!(json.json()[0]["chord"], HOSTILE);
    // What is refused is quoted, too.
    let mut wrong = serde_json::to_value(takes::one()).unwrap();
    wrong["manner"] = HOSTILE.into();
    let refused = import(&desk, "d.sqlite", &[wrong]);
    safe(&refused);
    assert_eq!(refused.status, 2);
}

#[test]
fn what_a_lesson_and_a_guitar_are_called_is_shown_and_not_obeyed() {
    let desk = Desk::new();
    desk.recording("bb.wav", &bb());
    let title: String = HOSTILE
        .chars()
        .map(|c| format!("\\U{:08x}", c as u32))
        .collect();
    let step = format!("[[step]]\nkind = \"place\"\nchord = \"Bb\"\nsay = \"{title}\"\n");
    let lesson = format!("title = \"{title}\"\nabout = \"{title}\"\n{step}");
    fs::write(desk.path("lesson.toml"), &lesson).unwrap();
    let practise = [
        "practice",
        "lesson.toml",
        "--from",
        "bb.wav",
        "--diary",
        "d.sqlite",
    ];
    let run = desk.run(&practise);
    safe(&run);
    assert!(run.out.contains(r"\u202eb"), "{}", run.out);
    for wrong in [
        format!("{lesson}\"{title}\" = 3\n"),
        lesson.replace("\"Bb\"", &format!("\"{title}\"")),
    ] {
        fs::write(desk.path("lesson.toml"), wrong).unwrap();
        let run = desk.run(&practise);
        safe(&run);
        assert_eq!(run.status, 2);
    }
    fs::create_dir(desk.path("guitars")).unwrap();
    let name = if cfg!(unix) { HOSTILE } else { "\u{202e}" };
    fs::write(desk.path(&format!("guitars/{name}.toml")), "").unwrap();
    let guitars = [
        "check",
        "bb.wav",
        "--guitars",
        "guitars",
        "--guitar",
        "mine",
    ];
    let unknown = desk.run(&guitars);
    safe(&unknown);
    assert!(
        unknown.err.contains("no guitar is called"),
        "{}",
        unknown.err
    );
    fs::write(
        desk.path("guitars/mine.toml"),
        format!("guitar = \"{title}\"\ncapo = \"{title}\""),
    )
    .unwrap();
    let damaged = desk.run(&guitars);
    safe(&damaged);
    assert!(
        damaged.err.contains("make the soundcheck again"),
        "{}",
        damaged.err
    );
}

#[test]
fn a_lesson_with_thousands_of_faults_is_told_twenty_of_them_and_how_many_more() {
    let desk = Desk::new();
    let wrong: String = (0..5_000).map(|i| format!("wrong{i} = 1\n")).collect();
    fs::write(desk.path("lesson.toml"), wrong).unwrap();
    let run = desk.run(&["practice", "lesson.toml"]);
    assert_eq!(run.status, 2);
    let lines: Vec<&str> = run.err.lines().collect();
    assert_eq!(lines.len(), 21, "{}", run.err);
    assert!(lines[20].contains("4982 more"), "{}", lines[20]);
    assert!(lines[10].contains("line 9: \"wrong8\""), "{}", lines[10]);
}

/// A sound that plays: one that a page would carry.
fn kept_sound(desk: &Desk, diary: &str, name: &str) {
    fs::create_dir_all(desk.path(&format!("{diary}-sounds"))).unwrap();
    desk.recording(&format!("{diary}-sounds/{name}"), &bb());
}

/// The page of a diary whose one take names this sound, as a program that looked less closely took it in.
fn page_with(desk: &Desk, sound: &str) -> (Finished, String) {
    let path = desk.path("d.sqlite");
    let _ = fs::remove_file(&path);
    let diary = Diary::open(&path).unwrap();
    let entry = Entry {
        sound: Some(sound.to_owned()),
        ..takes::one()
    };
    diary.keep(&entry).unwrap();
    drop(diary);
    let run = desk.run(&["report", "--diary", "d.sqlite", "--out", "page.html"]);
    let page = fs::read_to_string(desk.path("page.html")).unwrap();
    (run, page)
}

#[test]
fn a_page_holds_sounds_of_the_diarys_own_folder_alone() {
    let desk = Desk::new();
    kept_sound(&desk, "d", "own.wav");
    desk.recording("secret.wav", &bb());
    let (run, page) = page_with(&desk, "own.wav");
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(page.contains("data:audio/wav"));
    let mut foreign = vec![
        desk.path("secret.wav").to_str().unwrap().to_owned(),
        "../secret.wav".to_owned(),
        "..".to_owned(),
        "./own.wav".to_owned(),
        String::new(),
    ];
    #[cfg(unix)]
    {
        use std::os::unix::fs::symlink;
        symlink(desk.path("secret.wav"), desk.path("d-sounds/link.wav")).unwrap();
        symlink(desk.path(""), desk.path("d-sounds/folder")).unwrap();
        foreign.extend(["link.wav", "folder/secret.wav", "folder"].map(str::to_owned));
    }
    for sound in foreign {
        let (run, page) = page_with(&desk, &sound);
        assert!(!page.contains("data:audio/wav"), "{sound}");
        assert_eq!(run.status, 2, "{sound}");
        assert!(
            run.err.contains("the diary's own folder"),
            "{sound}: {}",
            run.err
        );
    }
    #[cfg(unix)]
    {
        fs::rename(desk.path("d-sounds"), desk.path("elsewhere")).unwrap();
        std::os::unix::fs::symlink(desk.path("elsewhere"), desk.path("d-sounds")).unwrap();
        let (run, page) = page_with(&desk, "own.wav");
        assert!(!page.contains("data:audio/wav"));
        assert_eq!(run.status, 2);
    }
}

#[test]
fn an_imported_take_has_possible_numbers_and_a_sound_of_the_diary() {
    let desk = Desk::new();
    let good = serde_json::to_value(takes::one()).unwrap();
    for (pointer, wrong, said) in [
        (
            "/sound",
            json!("/etc/passwd"),
            "a file's name without a folder was expected",
        ),
        (
            "/sound",
            json!("../secret.wav"),
            "a file's name without a folder was expected",
        ),
        (
            "/sound",
            json!(r"C:\secret.wav"),
            "a file's name without a folder was expected",
        ),
        (
            "/off_ms",
            json!(-1e300),
            "off_ms is a number from -5000 to 5000; -1000",
        ),
        (
            "/off_ms",
            json!(i64::MIN),
            "off_ms is a number from -5000 to 5000",
        ),
        (
            "/gap_s",
            json!(1e9),
            "gap_s is a number from -1 to 3600; 1000000000",
        ),
        (
            "/tempo_bpm",
            json!(0.0),
            "tempo_bpm is a number from 39 to 201; 0",
        ),
        (
            "/tuning_cents",
            json!(1e30),
            "tuning_cents is a number from -300 to 300",
        ),
        ("/fret", json!(200), "fret is a number from 0 to 24; 200"),
        (
            "/fret",
            json!(300),
            "invalid value: integer `300`, expected u8",
        ),
        ("/step", json!(0), "step is a number from 1 to"),
        (
            "/strings/0/rings",
            json!(7.0),
            "rings is a number from 0 to 1; 7",
        ),
        (
            "/strings/1/confidence",
            json!(-1.0),
            "confidence is a number from 0 to 1; -1",
        ),
        (
            "/strings/2/cents",
            json!(1e20),
            "cents is a number from -300 to 300",
        ),
        (
            "/strings/3/heard_fret",
            json!(99),
            "heard_fret is a number from 0 to 25; 99",
        ),
        (
            "/strings/4/string",
            json!(9),
            "strings are told from 6 to 1",
        ),
        (
            "/strings/5/expected_fret",
            json!(7),
            "another expected_fret",
        ),
        ("/frets", json!("1332119"), "frets need six"),
        (
            "/chord",
            json!("F".repeat(61)),
            "chord has at most 60 characters; 61 came",
        ),
        (
            "/lesson",
            json!("x".repeat(401)),
            "lesson has at most 400 characters; 401 came",
        ),
        (
            "/warnings",
            json!(vec!["x"; 41]),
            "warnings are at most 40; 41 came",
        ),
    ] {
        let mut take = good.clone();
        *take.pointer_mut(pointer).unwrap() = wrong;
        let run = import(&desk, "d.sqlite", &[good.clone(), take]);
        assert_eq!(run.status, 2, "{pointer}: {}", run.out);
        assert!(run.err.contains(said), "{pointer}: {}", run.err);
        assert!(run.err.contains("takes.jsonl, line 2"), "{}", run.err);
        assert!(!desk.path("d.sqlite").exists(), "{pointer}");
    }
    assert_eq!(import(&desk, "d.sqlite", &[good]).status, 0);
}

#[test]
fn numbers_that_a_diary_should_never_have_held_are_not_shown() {
    let desk = Desk::new();
    let path = desk.path("d.sqlite");
    let entry = Entry {
        off_ms: Some(-1e300),
        gap_s: Some(1e300),
        tempo_bpm: Some(1e300),
        tuning_cents: 1e30,
        ..takes::one()
    };
    Diary::open(&path).unwrap().keep(&entry).unwrap();
    for arguments in [
        &["progress", "--diary", "d.sqlite"][..],
        &["report", "--diary", "d.sqlite", "--json"],
    ] {
        let run = desk.succeeds(arguments);
        assert!(!run.out.contains("922337203685477"), "{}", run.out);
        assert!(!run.out.contains("429496729"), "{}", run.out);
    }
    let read = Diary::open(&path)
        .unwrap()
        .entries(&Filter::default())
        .unwrap();
    assert_eq!(
        (read[0].off_ms, read[0].gap_s, read[0].tempo_bpm),
        (None, None, None)
    );
    assert_eq!(read[0].tuning_cents, 0.0);
}

#[test]
fn a_table_of_takes_holds_no_formula() {
    let desk = Desk::new();
    let mut take = serde_json::to_value(takes::one()).unwrap();
    take["chord"] = "=HYPERLINK(\"http://a\",\"F\")".into();
    take["guitar"] = "@mine".into();
    take["lesson"] = "\t-1+2".into();
    assert_eq!(import(&desk, "d.sqlite", &[take]).status, 0);
    let run = desk.run(&["progress", "--diary", "d.sqlite", "--csv"]);
    let mut csv = csv::Reader::from_reader(run.out.as_bytes());
    let row = csv.records().next().unwrap().unwrap();
    for cell in &row {
        let formula = cell.starts_with(['=', '+', '@', '\t', '\r'])
            || cell.starts_with('-') && cell.parse::<f64>().is_err();
        assert!(!formula, "{cell}");
    }
    assert_eq!(&row[17], "-3.5", "numbers stay numbers");
}
