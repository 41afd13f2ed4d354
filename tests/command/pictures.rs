//! Pictures of takes, as a user asks for them.

use crate::common;

use std::fs;

use common::command::{Desk, bb, hiss, strum};

fn png_size(bytes: &[u8]) -> (u32, u32) {
    let picture = image::load_from_memory(bytes).expect("a PNG file");
    (picture.width(), picture.height())
}

#[test]
fn a_take_becomes_a_png_and_an_svg() {
    let desk = Desk::new();
    desk.recording("a.wav", &bb());
    for (name, start) in [("a.png", &b"\x89PNG"[..]), ("a.SVG", b"<svg ")] {
        let run = desk.run(&[
            "plot", "a.wav", "--chord", "Bb", "--shape", "A", "--kind", "all", "--out", name,
        ]);
        assert_eq!((run.status, run.err.as_str()), (0, ""));
        assert_eq!(run.out, format!("{name}: a picture of 1 take\n"));
        let bytes = fs::read(desk.path(name)).unwrap();
        assert!(bytes.starts_with(start), "{name}");
    }
    assert_eq!(png_size(&fs::read(desk.path("a.png")).unwrap()).0, 1200);
    let svg = fs::read_to_string(desk.path("a.SVG")).unwrap();
    for said in [
        "Bb (x13331), strummed at 0:00.3",
        "a.wav",
        "string 6",
        "seconds after",
        "Hz",
    ] {
        assert!(svg.contains(said), "{said}");
    }
}

#[test]
fn the_kinds_asked_for_are_drawn_and_no_others() {
    let desk = Desk::new();
    desk.recording("a.wav", &bb());
    let drawn = |kinds: &str| {
        desk.succeeds(&[
            "plot", "a.wav", "--frets", "x13331", "--kind", kinds, "--out", "k.svg",
        ]);
        fs::read_to_string(desk.path("k.svg")).unwrap()
    };
    let signs = [
        ("ringdown", "How long each string rings"),
        ("spectrum", "Spectrum: what sounds"),
        ("spectrogram", "Spectrogram"),
        ("chroma", "Which notes sound"),
    ];
    for (kind, sign) in signs {
        let svg = drawn(kind);
        for (_, other) in signs {
            assert_eq!(svg.contains(other), other == sign, "{kind}: {other}");
        }
    }
    let all = drawn("all");
    assert!(signs.iter().all(|(_, sign)| all.contains(sign)));
    desk.succeeds(&["plot", "a.wav", "--frets", "x13331", "--out", "k.svg"]);
    let first = fs::read_to_string(desk.path("k.svg")).unwrap();
    assert!(
        first.contains(signs[0].1) && !first.contains(signs[1].1),
        "the first alone"
    );
    let two = drawn("chroma,ringdown");
    assert!(two.contains(signs[0].1) && two.contains(signs[3].1) && !two.contains(signs[1].1));
}

#[test]
fn two_takes_stand_beside_each_other() {
    let desk = Desk::new();
    desk.recording("a.wav", &bb());
    // The same chord without the D: string 2 is dead.
    desk.recording("b.wav", &strum(&[116.54, 174.61, 233.08, 349.23], 2.0));
    desk.succeeds(&[
        "plot",
        "a.wav",
        "--frets",
        "x13331",
        "--against",
        "b.wav",
        "--out",
        "ab.svg",
    ]);
    let svg = fs::read_to_string(desk.path("ab.svg")).unwrap();
    assert!(svg.contains("a.wav") && svg.contains("b.wav"));
    assert_eq!(svg.matches("How long each string rings").count(), 2);
}

#[test]
fn one_of_several_takes_is_chosen_and_told() {
    let desk = Desk::new();
    let mut both = bb();
    both.extend(bb());
    desk.recording("two.wav", &both);
    let run = desk.run(&[
        "plot", "two.wav", "--frets", "x13331", "--take", "2", "--out", "t.png",
    ]);
    assert_eq!(run.status, 0);
    assert!(
        run.err.contains("2 takes were found; this is take 2"),
        "{}",
        run.err
    );
    let run = desk.run(&[
        "plot", "two.wav", "--frets", "x13331", "--take", "9", "--out", "t.png",
    ]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("takes 1 to 2 were found"), "{}", run.err);
}

#[test]
fn the_chord_saved_beside_a_recording_counts_where_none_is_named() {
    let desk = Desk::new();
    desk.recording("a.wav", &bb());
    let run = desk.run(&["check", "a.wav", "--frets", "x13331", "--json"]);
    fs::write(desk.path("a.json"), run.json()[0].to_string()).unwrap();
    desk.succeeds(&["plot", "a.wav", "--kind", "chroma", "--out", "a.svg"]);
    let svg = fs::read_to_string(desk.path("a.svg")).unwrap();
    assert!(svg.contains("Bb (x13331)"), "{svg}");
}

#[test]
fn every_width_allowed_is_kept_and_others_are_refused() {
    let desk = Desk::new();
    desk.recording("a.wav", &bb());
    let plot = |width: &str| {
        desk.run(&[
            "plot", "a.wav", "--frets", "x13331", "--kind", "chroma", "--width", width, "--out",
            "w.png",
        ])
    };
    for width in [600, 1601, 3000] {
        assert_eq!(plot(&width.to_string()).status, 0);
        assert_eq!(png_size(&fs::read(desk.path("w.png")).unwrap()).0, width);
    }
    for width in ["599", "3001", "0", "-5", "wide"] {
        assert_eq!(plot(width).status, 2, "{width}");
    }
}

#[test]
fn what_cannot_be_drawn_is_a_sentence() {
    let desk = Desk::new();
    desk.recording("a.wav", &bb());
    desk.recording("hiss.wav", &hiss(2.0, 1e-3));
    fs::write(desk.path("text.wav"), "no sound").unwrap();
    let says = |arguments: &[&str], sentence: &str| {
        let run = desk.run(&[&["plot"], arguments].concat());
        assert_eq!(run.status, 2, "{arguments:?}");
        assert!(run.err.contains(sentence), "{}", run.err);
        assert!(!run.err.contains("panicked"));
    };
    says(&["a.wav", "--out", "a.gif"], "ends in .png or .svg");
    says(
        &["a.wav", "--out", "nowhere/a.png", "--frets", "x13331"],
        "cannot be written",
    );
    says(&["none.wav", "--out", "a.png"], "there is no such file");
    says(&["text.wav", "--out", "a.png"], "expected a recording");
    says(&["hiss.wav", "--out", "a.png"], "no strum was found");
    says(
        &["a.wav", "--out", "a.png", "--kind", "pie"],
        "possible values",
    );
    fs::write(desk.path("a.json"), "{}").unwrap();
    says(&["a.wav", "--out", "a.png"], "what check --json prints");
}

#[test]
fn a_lane_without_a_line_says_why() {
    let desk = Desk::new();
    let fixture = std::env::current_dir()
        .unwrap()
        .join("fixtures/strums/133211-string-3-dead-string-1-choked.wav");
    let drawn = |file: &str, frets: &str| {
        desk.succeeds(&["plot", file, "--frets", frets, "--out", "a.svg"]);
        fs::read_to_string(desk.path("a.svg")).unwrap()
    };
    // String 1 dies early, and string 4 has all of its overtones.
    let svg = drawn(fixture.to_str().unwrap(), "133211");
    assert_eq!(svg.matches("no line: another string has all").count(), 1);
    // A string that is quiet as it should be needs no word.
    desk.recording("bb.wav", &bb());
    assert!(!drawn("bb.wav", "x13331").contains("no line: "));
}
