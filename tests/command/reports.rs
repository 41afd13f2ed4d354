//! Reports on many takes, as a user asks for them.

use crate::common;

use std::fs;

use serde_json::Value;

use common::command::{Desk, bb, strum};

/// A desk with a folder of two saved takes of Bb, the second without its D, and one recording alone.
fn practice() -> Desk {
    let desk = Desk::new();
    fs::create_dir(desk.path("week")).unwrap();
    let dead = strum(&[116.54, 174.61, 233.08, 349.23], 2.0);
    for (name, samples, day) in [("1", bb(), "02"), ("2", dead, "03")] {
        let sound = format!("week/{name}.wav");
        desk.recording(&sound, &samples);
        let run = desk.run(&["check", &sound, "--frets", "x13331", "--json"]);
        let mut saved: Value = serde_json::from_str(&run.out).unwrap();
        saved["recorded_at"] = format!("2026-03-{day}T18:00:00+01:00").into();
        saved["guitar"] = "the old one".into();
        fs::write(desk.path(&format!("week/{name}.json")), saved.to_string()).unwrap();
    }
    desk
}

#[test]
fn a_folder_of_saved_takes_becomes_one_page() {
    let desk = practice();
    let run = desk.run(&["report", "week", "--out", "page.html"]);
    let written = "page.html: a page of 2 takes of 1 chord\n";
    assert_eq!(
        (run.status, run.out.as_str(), run.err.as_str()),
        (0, written, "")
    );
    let page = fs::read_to_string(desk.path("page.html")).unwrap();
    for said in [
        "2 takes of 1 chord; 2 could be judged",
        "2 March 2026 to 3 March 2026",
        "the old one",
        "Bb (x13331)",
        "Worst take",
        "Best take",
        "data:audio/wav;base64,",
        "<svg role=\"img\"",
        "Take care",
        "How far to trust this page",
        "id=\"teacher\" contenteditable=\"true\"",
    ] {
        assert!(page.contains(said), "{said}");
    }
    assert!(!page.contains("<script"));
    for address in page
        .match_indices("://")
        .map(|(at, _)| &page[at - 5..at + 14])
    {
        assert!(address.contains("www.w3.org"), "an address: {address}");
    }
}

#[test]
fn the_numbers_are_the_same_as_table_and_as_json() {
    let desk = practice();
    let table = desk.run(&["report", "week", "--csv"]);
    assert_eq!(table.status, 0);
    let mut rows = csv::Reader::from_reader(table.out.as_bytes());
    let rows: Vec<csv::StringRecord> = rows.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 6);
    let json = &desk.run(&["report", "week", "--json"]).json()[0];
    assert_eq!(json["takes"], 2);
    let strings = json["chords"][0]["strings"].as_array().unwrap();
    for (row, string) in rows.iter().zip(strings) {
        assert_eq!((&row[0], &row[1]), ("Bb", "x13331"));
        for (column, field) in [
            (2, "string"),
            (5, "told"),
            (6, "as_it_should"),
            (7, "muted"),
            (12, "unsure"),
        ] {
            assert_eq!(row[column], string[field].to_string(), "{field}");
        }
    }
    assert_eq!(
        json["chords"][0]["over_time"].as_array().unwrap().len(),
        2,
        "two days"
    );
}

#[test]
fn recordings_without_anything_beside_them_are_judged() {
    let desk = Desk::new();
    desk.recording("a.wav", &bb());
    desk.recording("b.wav", &bb());
    let run = desk.succeeds(&["report", "a.wav", "b.wav", "--frets", "x13331", "--json"]);
    let json = &run.json()[0];
    assert_eq!((&json["takes"], &json["judged"]), (&2.into(), &2.into()));
    assert_eq!(json["chords"][0]["chord"], "Bb");
}

#[test]
fn a_chord_that_is_named_counts_before_the_one_saved() {
    let desk = practice();
    let run = desk.run(&["report", "week", "--frets", "x13333", "--json"]);
    assert_eq!(run.json()[0]["chords"][0]["frets"], "x13333");
}

#[test]
fn what_is_broken_in_a_folder_is_told_and_the_rest_is_reported() {
    let desk = practice();
    fs::write(desk.path("week/3.wav"), "no sound").unwrap();
    fs::write(desk.path("week/notes.txt"), "to do").unwrap();
    fs::write(desk.path("week/2.json"), "{\"takes\": 5}").unwrap();
    let run = desk.run(&["report", "week", "--out", "page.html"]);
    assert_eq!(run.status, 2);
    assert_eq!(run.err.lines().count(), 2, "{}", run.err);
    assert!(
        run.err.contains("3.wav") && run.err.contains("2.json"),
        "{}",
        run.err
    );
    let page = fs::read_to_string(desk.path("page.html")).unwrap();
    for said in ["2 takes", "<li>1 recording could not be read; "] {
        assert!(page.contains(said), "{said}");
    }
}

#[test]
fn what_was_saved_counts_once_named_or_not_and_without_its_sound() {
    let desk = practice();
    let takes = |paths: &[&str]| {
        let run = desk.run(&[&["report"], paths, &["--json"]].concat());
        assert_eq!(run.status, 0, "{}", run.err);
        run.json()[0]["takes"].clone()
    };
    assert_eq!(takes(&["week/1.wav", "week/1.json"]), 1);
    assert_eq!(takes(&["week/1.json"]), 1);
    fs::remove_file(desk.path("week/1.wav")).unwrap();
    fs::write(desk.path("week/settings.json"), "{}").unwrap();
    assert_eq!(takes(&["week"]), 2);
    let run = desk.run(&["report", "week", "--out", "page.html"]);
    assert_eq!((run.status, run.err.as_str()), (0, ""));
    let run = desk.run(&["report", "week/settings.json", "--json"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("what check --json prints"), "{}", run.err);
}

#[test]
fn names_and_titles_come_out_as_text() {
    let desk = practice();
    let odd = "<i>\"odd\"</i> & 'co'";
    let saved = fs::read_to_string(desk.path("week/1.json")).unwrap();
    let saved = saved
        .replace("the old one", "<script>1</script>")
        .replace("\"Bb\"", "\"<b onclick=x>\"");
    fs::write(desk.path("week/1.json"), saved).unwrap();
    desk.succeeds(&["report", "week", "--out", "page.html", "--title", odd]);
    let page = fs::read_to_string(desk.path("page.html")).unwrap();
    assert!(!page.contains("<script") && !page.contains("<b onclick") && !page.contains("<i>"));
    assert!(page.contains("&lt;script&gt;") && page.contains("&lt;b onclick"));
    assert!(page.contains("&lt;i&gt;"));
}

#[test]
fn what_cannot_be_reported_is_a_sentence() {
    let desk = practice();
    fs::create_dir(desk.path("empty")).unwrap();
    let says = |arguments: &[&str], sentence: &str| {
        let run = desk.run(&[&["report"], arguments].concat());
        assert_eq!(run.status, 2, "{arguments:?}");
        assert!(run.err.contains(sentence), "{}", run.err);
        assert!(!run.err.contains("panicked"));
    };
    says(&["week"], "name the page to write");
    says(&["empty", "--csv"], "there is no take to report on");
    says(&["nowhere", "--csv"], "there is no such file");
    says(&["week", "--out", "nowhere/page.html"], "cannot be written");
    says(&["week", "--csv", "--json"], "cannot be used with");
    says(&["--csv"], "required");
    says(&["--diary", "none.sqlite", "--csv"], "none.sqlite");
}

/// A teacher's folder: a Bb and an F whose names say so, a Bb that only the table knows, and a text named as a recording.
fn folder_of_takes() -> Desk {
    let desk = Desk::new();
    fs::create_dir(desk.path("week")).unwrap();
    // F as 133211: 41 48 53 57 60 65 in MIDI numbers.
    let f = strum(&[87.31, 130.81, 174.61, 220.0, 261.63, 349.23], 2.0);
    desk.recording("week/Bb_A-shape.wav", &bb());
    desk.recording("week/133211-monday.wav", &f);
    desk.recording("week/voice 7.wav", &bb());
    fs::write(desk.path("week/broken.wav"), "no sound").unwrap();
    desk
}

#[test]
fn a_folder_of_several_chords_is_judged_by_names_and_by_a_table() {
    let desk = folder_of_takes();
    fs::write(
        desk.path("week/chords.csv"),
        "file;chord\nvoice 7.wav;x13331\nbroken.wav;F\ngone.wav;F\n133211-monday.wav;Hm\n",
    )
    .unwrap();
    let run = desk.run(&["report", "week", "--json"]);
    assert_eq!(run.status, 2, "{}", run.err);
    let json = &run.json()[0];
    let chords: Vec<(&str, u64)> = (json["chords"].as_array().unwrap().iter())
        .map(|c| (c["frets"].as_str().unwrap(), c["judged"].as_u64().unwrap()))
        .collect();
    assert_eq!(chords, [("x13331", 2), ("133211", 1)]);
    let left_out: Vec<&str> = (json["left_out"].as_array().unwrap().iter())
        .map(|l| l["file"].as_str().unwrap())
        .collect();
    assert_eq!(left_out, ["broken.wav", "gone.wav", "133211-monday.wav"]);
    for said in ["broken.wav", "line 4: there is no such recording", "line 5"] {
        assert!(run.err.contains(said), "{said}: {}", run.err);
    }
    // The same in the table, and on the page.
    let table = desk.run(&["report", "week", "--csv"]);
    let mut rows = csv::Reader::from_reader(table.out.as_bytes());
    let rows: Vec<csv::StringRecord> = rows.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 12 + 3);
    assert_eq!((&rows[12][0], &rows[12][13]), ("", "broken.wav"));
    assert!(!rows[12][15].is_empty());
    desk.run(&["report", "week", "--out", "page.html"]);
    let page = fs::read_to_string(desk.path("page.html")).unwrap();
    assert!(page.contains("gone.wav"), "what was not judged is listed");
}

#[test]
fn a_table_without_its_columns_says_which_they_are_and_a_chord_named_for_all_counts_before_it() {
    let desk = folder_of_takes();
    fs::remove_file(desk.path("week/broken.wav")).unwrap();
    fs::write(desk.path("week/chords.csv"), "name,what\n1.wav,F\n").unwrap();
    let run = desk.run(&["report", "week", "--json"]);
    assert_eq!(run.status, 2);
    assert!(
        run.err.contains("should name the columns file, chord"),
        "{}",
        run.err
    );
    let run = desk.succeeds(&["report", "week", "--frets", "x13331", "--json"]);
    assert_eq!(run.json()[0]["chords"].as_array().unwrap().len(), 1);
}

#[test]
fn the_head_says_who_practised_for_how_long_what_has_changed_and_what_comes_next() {
    let desk = practice();
    let saved = |name: &str, from: &str, at: &str| {
        let text = fs::read_to_string(desk.path(&format!("week/{from}.json"))).unwrap();
        let mut saved: Value = serde_json::from_str(&text).unwrap();
        saved["recorded_at"] = format!("2026-03-{at}:00+01:00").into();
        fs::write(desk.path(&format!("week/{name}.json")), saved.to_string()).unwrap();
    };
    // Four more takes of the first day, two minutes apart, one of them an hour later.
    for (name, at) in [
        ("3", "02T18:02"),
        ("4", "02T18:04"),
        ("5", "02T19:04"),
        ("6", "02T19:06"),
    ] {
        saved(name, "2", at);
    }
    let first = &[
        "report",
        "week",
        "--learner",
        "Kim <K>",
        "--out",
        "page.html",
    ];
    assert_eq!(desk.run(first).status, 0);
    let page = fs::read_to_string(desk.path("page.html")).unwrap();
    for said in [
        "<strong>Kim &lt;K&gt;</strong>",
        "6 minutes practised",
        "Practise next: Bb (x13331). ",
    ] {
        assert!(page.contains(said), "{said}");
    }
    assert!(!page.contains("Since the last report"));
    // A week later the page is made anew in the same place, from better takes.
    for name in ["2", "3", "4", "5", "6"] {
        saved(name, "1", &format!("0{name}T18:00"));
    }
    assert_eq!(desk.run(first).status, 0);
    let page = fs::read_to_string(desk.path("page.html")).unwrap();
    let said = "Since the last report (2 March to 3 March): 100 % of the judged takes were clean, 17 % before. \
                Better: Bb (x13331) (from 1 of 6 clean to 6 of 6).";
    assert!(page.contains(said), "{page:.6000}");
    let other = desk.run(&[
        "report",
        "week",
        "--last",
        "week/1.json",
        "--out",
        "other.html",
    ]);
    assert_eq!(other.status, 2);
    assert!(other.err.contains("no page of a report"), "{}", other.err);
}

#[test]
fn notes_typed_into_a_page_are_on_the_page_that_replaces_it() {
    let desk = practice();
    let report = |more: &[&str]| {
        let run = desk.run(&[&["report", "week", "--out", "page.html"][..], more].concat());
        assert_eq!((run.status, run.err.as_str()), (0, ""));
        fs::read_to_string(desk.path("page.html")).unwrap()
    };
    let typed = |page: &str, text: &str| {
        let (before, after) = page.split_once("aria-labelledby=\"of-teacher\">").unwrap();
        let page = format!("{before}aria-labelledby=\"of-teacher\">{text}{after}");
        fs::write(desk.path("page.html"), page).unwrap();
    };
    let times = |page: &str, text: &str| page.matches(text).count();
    typed(&report(&[]), "Slower &amp; softer.<div>Only F.</div>");
    let said = "<p class=\"label\">Teacher, on the page of 2 March 2026 to 3 March 2026</p>\n\
                <p class=\"earlier\">Slower &amp; softer.\nOnly F.</p>";
    let page = report(&[]);
    assert_eq!(times(&page, said), 1);
    // Nor are they lost, nor there twice, once other notes come.
    typed(&page, "Now Bb.");
    let page = report(&[]);
    assert_eq!((times(&page, said), times(&page, ">Now Bb.<")), (1, 1));
    fs::write(desk.path("old.html"), &page).unwrap();
    let page = report(&["--last", "old.html"]);
    assert_eq!((times(&page, said), times(&page, ">Now Bb.<")), (1, 1));
    // A page that cannot be read is not replaced.
    fs::write(desk.path("page.html"), b"<!doctype html>\xff").unwrap();
    let run = desk.run(&["report", "week", "--out", "page.html"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("page.html"), "{}", run.err);
}
