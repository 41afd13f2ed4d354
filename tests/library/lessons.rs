//! Lessons as a teacher writes them.

use std::path::Path;

use proptest::prelude::*;
use ringtrue::disk::DiskError;
use ringtrue::practice::{BuildStage, Drill, Lesson, LessonError};

fn problems(text: &str) -> Vec<String> {
    let problems = Lesson::read(text).expect_err("no lesson");
    assert!(!problems.is_empty());
    problems.iter().map(ToString::to_string).collect()
}

fn lesson(text: &str) -> Lesson {
    Lesson::read(text).unwrap_or_else(|problems| panic!("{problems:?}"))
}

fn frets_of(step: usize, lesson: &Lesson) -> Vec<String> {
    let targets = match &lesson.steps[step].drill {
        Drill::Route { way, .. } => {
            let frets = way.steps.iter().map(|s| s.voicing.frets.to_string());
            return frets.collect();
        }
        Drill::Play { part, .. } => {
            let frets = part.voicings.iter().flatten();
            return frets.map(ToString::to_string).collect();
        }
        Drill::Climb { places, .. } => places,
        Drill::Switch { chords } | Drill::Hold { chords, .. } => chords,
        Drill::Name { answers, .. } => answers,
        Drill::Build { .. } | Drill::Place { .. } => panic!("one chord"),
    };
    targets.iter().map(|t| t.frets.to_string()).collect()
}

#[test]
fn our_own_lessons_are_read() {
    for name in ["first-barre", "along-the-neck", "ferry-song"] {
        let path = format!("fixtures/lessons/{name}.toml");
        let lesson = Lesson::open(Path::new(&path)).unwrap_or_else(|e| panic!("{e}"));
        assert!(lesson.steps.len() >= 2, "{name}");
    }
}

#[test]
fn build_takes_a_barre_chord_apart() {
    // Common practice: in the E shape the index finger lies across all six strings, in the A shape
    // across five, and string 6 stays quiet.
    for (frets, barre_alone, held) in [
        ("133211", "111111", [false, true, true, true, false, false]),
        ("x35553", "x33333", [false, false, true, true, true, false]),
        ("577555", "555555", [false, true, true, false, false, false]),
    ] {
        let text = format!("title = \"t\"\n[[step]]\nkind = \"build\"\nfrets = \"{frets}\"\n");
        let lesson = lesson(&text);
        let Drill::Build {
            barre,
            shape,
            stages,
            ..
        } = &lesson.steps[0].drill
        else {
            panic!("build")
        };
        assert_eq!(barre.to_string(), barre_alone);
        assert_eq!(*shape, held);
        assert_eq!(stages, &BuildStage::ALL);
    }
}

#[test]
fn climb_goes_along_the_neck_with_one_shape() {
    let lesson = lesson(
        "title = \"t\"\n[[step]]\nkind = \"climb\"\nshape = \"A\"\nquality = \"m\"\nfrom = 3\nto = 5\n",
    );
    assert_eq!(frets_of(0, &lesson), ["x35543", "x46654", "x57765"]);
    let Drill::Climb { places, .. } = &lesson.steps[0].drill else {
        panic!("climb")
    };
    // Fret 3 of string 5 is C, fret 5 is D (common practice).
    let names: Vec<String> = places.iter().map(|p| p.name()).collect();
    assert_eq!(names, ["Cm", "C#m", "Dm"]);
}

#[test]
fn a_switch_is_given_by_chords_or_by_what_changes() {
    let text = |rest: &str| format!("title = \"t\"\n[[step]]\nkind = \"switch\"\n{rest}\n");
    for (rest, frets) in [
        ("chords = [\"F\", \"x13331\"]", ["133211", "x13331"]),
        ("by = \"shape\"\nat = [3]", ["355433", "x35553"]),
        (
            "by = \"slide\"\nshapes = [\"E\"]\nat = [3, 5]",
            ["355433", "577655"],
        ),
        ("by = \"both\"\nat = [3, 5]", ["355433", "x57775"]),
        (
            "chords = [{ chord = \"C\", shape = \"A\" }, { chord = \"C\", shape = \"E\", at = 8 }]",
            ["x35553", "8 10 10 9 8 8"],
        ),
    ] {
        assert_eq!(frets_of(0, &lesson(&text(rest))), frets, "{rest}");
    }
}

#[test]
fn name_asks_for_what_lies_between_its_frets() {
    let lesson = lesson("title = \"t\"\n[[step]]\nkind = \"name\"\nstring = 6\nfrom = 1\nto = 3\n");
    let Drill::Name { roots, .. } = &lesson.steps[0].drill else {
        panic!("name")
    };
    let names: Vec<String> = roots.iter().map(ToString::to_string).collect();
    assert_eq!(names, ["F", "F#", "G"]);
}

#[test]
fn a_partial_barre_lets_string_1_go_quiet() {
    let lesson = lesson(
        "title = \"t\"\n[[step]]\nkind = \"place\"\nfrets = \"x24442\"\npartial_barre = true\n",
    );
    let Drill::Place { target } = &lesson.steps[0].drill else {
        panic!("place")
    };
    assert_eq!(target.may_go_quiet(), Some(1));
}

fn step_of(rest: &str) -> Lesson {
    lesson(&format!("title = \"t\"\n[[step]]\n{rest}\n"))
}

#[test]
fn a_route_goes_the_way_of_least_work_by_what_the_lesson_counts() {
    // I-IV-V: over to string 5 at the same fret, then two frets up (common practice).
    let usual = step_of("kind = \"route\"\nchords = \"F Bb C\"");
    assert_eq!(frets_of(0, &usual), ["133211", "x13331", "x35553"]);
    assert_eq!(usual.steps[0].clean, 3);
    // Where a change of shape costs far more than any travel, there is none.
    let one_shape = step_of(
        "kind = \"route\"\nchords = [\"F\", \"Bb\", \"C\"]\nweights = { travel = 0.01, shape-change = 100 }",
    );
    let Drill::Route { way, .. } = &one_shape.steps[0].drill else {
        panic!("route")
    };
    assert!(way.moves().iter().all(|step| !step.shape_changes));
    let limits =
        step_of("kind = \"route\"\nchords = \"F Bb C\"\nroot_strings = [6]\nrounds = 2\nclean = 6");
    assert_eq!(frets_of(0, &limits), ["133211", "688766", "8 10 10 9 8 8"]);
    let Drill::Route { way, .. } = &limits.steps[0].drill else {
        panic!("route")
    };
    assert!(way.closed, "the way back to the next round counts");
    let open = step_of("kind = \"route\"\nchords = \"C G\"\nopen = true\nhighest_fret = 0");
    assert_eq!(frets_of(0, &open), ["x32010", "320003"]);
}

#[test]
fn playing_along_takes_what_the_backing_takes() {
    let lesson = step_of(
        "kind = \"play\"\nchords = \"|: F | Bb C :|\"\ntempo = 60\nto_tempo = 90\nloops = 2\ncount_in = 2\n\
         beats = 3\nfeel = \"shuffle\"\nstrum = \"beat\"\nwithin = 80",
    );
    let Drill::Play {
        part,
        style,
        within_ms,
        tries,
    } = &lesson.steps[0].drill
    else {
        panic!("play")
    };
    let grid = &part.plan.grid;
    assert_eq!((grid.bars, grid.beats, grid.count_in), (8, 3, 6));
    assert_eq!((grid.tempo_bpm(0.0), grid.tempo_bpm(24.0)), (60.0, 90.0));
    assert_eq!(part.beats.len(), 24);
    assert!((style.swing - 200.0 / 3.0).abs() < 1e-9);
    assert_eq!((*within_ms, *tries), (80.0, 3));
    // Three of four where nothing is said.
    assert_eq!(lesson.steps[0].clean, 18);
}

#[test]
fn a_song_that_cannot_be_played_is_said_with_its_line() {
    insta::assert_snapshot!(problems(
        r#"
title = "t"
[[step]]
kind = "route"
chords = "F H"
[[step]]
kind = "route"
chords = "F Bb"
shapes = ["Q"]
weights = { travel = -1, lifting = 2 }
[[step]]
kind = "route"
chords = "F Bb"
clean = 3
[[step]]
kind = "route"
chords = "C"
shapes = ["E"]
highest_fret = 3
[[step]]
kind = "play"
tempo = 20
root_strings = [3]
[[step]]
kind = "play"
chords = "F Bb C Dm"
loops = 50
minutes = 2
"#
    ).join("\n"), @r#"
    line 5: a chord begins with its root, a letter from A to G, then # or b where it has one (as in C, Bb or F#m); "H" does not (the German H is B)
    line 9: shapes: known are E, A, D, C, G; "Q" is none
    line 10: no part of the hand's work is called "lifting"; there are travel, shape-change, finger-lifted, stretch, barre, height
    line 10: a weight is a number from 0 to 1000, and -1 is none
    line 14: clean is how many clean takes to pass, a whole number from 1 to 2; 3 is none
    line 15: C cannot be played within these limits; allow one of these (shapes, root_strings, highest_fret, open): x32010 (C shape, open, root on string 5); x35553 (A shape at fret 3, root on string 5); 875558 (G shape at fret 5, root on string 6); 8 10 10 9 8 8 (E shape at fret 8, root on string 6); x x 10 9 8 8 (E shape at fret 8, root on string 4); x x 10 12 13 12 (D shape at fret 10, root on string 4); x 15 14 12 13 12 (C shape at fret 12, root on string 5)
    line 20: a play step needs chords, as in chords = "F Bb C Dm" or "|: F | Bb C :| x2"
    line 22: tempo is how fast it goes, in beats a minute, from 40 to 200; 20 is none
    line 23: root_strings lists strings from 6 to 4, as in root_strings = [6, 5]
    line 24: once through takes 11.2 minutes, and the step has 2.0; give it more minutes, or play less or faster
    "#);
}

#[test]
fn everything_that_is_wrong_is_said_with_its_line() {
    insta::assert_snapshot!(problems(
        r#"
title = ""
teacher = "me"
capo = 40
[[step]]
kind = "build"
chord = "H"
cleen = 3
minutes = "long"

[[step]]
kind = "dance"

[[step]]
chord = "F"

[[step]]
kind = "climb"
shape = "Q"
from = 7
to = 2

[[step]]
kind = "switch"
chords = ["F", "F"]

[[step]]
kind = "build"
chord = "C"

[[step]]
kind = "name"
string = 4
roots = ["X"]

[[step]]
kind = "hold"
chords = ["x1333", { chord = "F", capo = 2 }]
"#
    )
    .join("\n"),
        @r#"
    line 2: title is a text of 1 to 400 characters
    line 3: "teacher" means nothing in a lesson; known there: title, about, tuning, capo, alternate, step
    line 4: capo is where the capo is, a whole number from 0 to 12; 40 is none
    line 7: a chord begins with its root, a letter from A to G, then # or b where it has one (as in C, Bb or F#m); "H" does not (the German H is B)
    line 8: "cleen" means nothing in a build step; known there: kind, say, frets, chord, shape, at, partial_barre, stages, clean, minutes
    line 9: minutes is the time after which the lesson moves on, from 0.25 to 60; "long" is none
    line 12: there is no step of the kind "dance"; there are build, place, climb, name, switch, hold, route, play
    line 14: a step says its kind, as in kind = "build"; there are build, place, climb, name, switch, hold, route, play
    line 17: the first fret comes before the last one; from = 7, to = 2 does not
    line 19: a shape is E, A, D, C or G (minor, 7 and the like come from the chord's name); "Q" is none
    line 23: switch goes round between two or more chords, each another one than the one before
    line 29: build needs a barre chord, as in 133211 or x13331; C (x32010) is not known to be one
    line 33: string is the string that the roots lie on, a whole number from 5 to 6; 4 is none
    line 34: a root is a note, as in G or Bb; "X" is none
    line 38: frets need six entries, string 6 to string 1, as in x13331, or with spaces, as in x 10 12 12 12 10; "x1333" has 5
    line 38: "capo" means nothing in a chord; known there: frets, chord, shape, at, partial_barre
    "#);
}

#[test]
fn a_text_that_is_no_toml_has_its_line_too() {
    let said = problems("title = \"t\"\n[[step]\nkind = \"build\"\n");
    assert!(said[0].starts_with("line 2: this is no TOML: "), "{said:?}");
    let said = problems("title = \"t\n");
    assert!(said[0].starts_with("line 1: "), "{said:?}");
}

#[test]
fn an_empty_file_says_what_a_lesson_needs() {
    let said = problems("").join("\n");
    assert!(said.contains("begins with its title"), "{said}");
    assert!(said.contains("at least one step"), "{said}");
}

#[test]
fn files_that_are_no_text_or_endless_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("lesson.toml");
    std::fs::write(&path, [0xff, 0xfe, 0x00]).unwrap();
    assert!(matches!(
        Lesson::open(&path),
        Err(LessonError::File(DiskError::NoText { .. }))
    ));
    std::fs::write(&path, "#".repeat(300 * 1024)).unwrap();
    assert!(matches!(
        Lesson::open(&path),
        Err(LessonError::File(DiskError::TooLong { .. }))
    ));
    let missing = folder.path().join("none.toml");
    assert!(matches!(
        Lesson::open(&missing),
        Err(LessonError::File(DiskError::Missing { .. }))
    ));
}

#[test]
fn what_a_terminal_would_obey_does_not_get_through() {
    let lesson = lesson(
        "title = \"a\\u001b[2Jb\\nc\"\n[[step]]\nkind = \"place\"\nchord = \"F\"\nsay = \"x\\u0007y\"\n",
    );
    assert_eq!(lesson.title, "a [2Jb c");
    assert_eq!(lesson.steps[0].say.as_deref(), Some("x y"));
}

/// Pieces of lessons, right and wrong, thrown together.
fn scraps() -> impl Strategy<Value = String> {
    let keys = prop::sample::select(vec![
        "title",
        "about",
        "tuning",
        "capo",
        "alternate",
        "step",
        "kind",
        "chord",
        "frets",
        "shape",
        "at",
        "stages",
        "clean",
        "minutes",
        "say",
        "order",
        "from",
        "to",
        "tries",
        "string",
        "quality",
        "roots",
        "chords",
        "by",
        "shapes",
        "rounds",
        "partial_barre",
        "weights",
        "root_strings",
        "highest_fret",
        "loop",
        "tempo",
        "to_tempo",
        "beats",
        "bars_each",
        "loops",
        "count_in",
        "feel",
        "swing",
        "strum",
        "within",
        "nonsense",
    ]);
    let values = prop_oneof![
        prop::sample::select(vec![
            "\"build\"",
            "\"place\"",
            "\"climb\"",
            "\"name\"",
            "\"switch\"",
            "\"hold\"",
            "\"route\"",
            "\"play\"",
            "\"F Bb | C Dm |\"",
            "\"|: F :| x64\"",
            "{ travel = 2 }",
            "{ travel = [] }",
            "\"F\"",
            "\"133211\"",
            "\"x 24 24 24 24 24\"",
            "\"E\"",
            "\"A\"",
            "\"G\"",
            "\"DADGAD\"",
            "[]",
            "[3, 5]",
            "[\"F\", \"x13331\"]",
            "[\"E\", \"A\"]",
            "[{ chord = \"C\" }]",
            "true",
            "0",
            "6",
            "5",
            "12",
            "-1",
            "99999999999999999999999",
            "0x10",
            "1.5",
            "nan",
            "inf",
            "1e400",
            "2026-11-25",
            "\"m\"",
            "\"slide\"",
            "\"both\"",
            "\"random\"",
            "[[1]]",
            "{}",
            "\"\"",
        ])
        .prop_map(str::to_owned),
        "\\PC{0,12}".prop_map(|text| format!("{text:?}")),
        "\\PC{0,12}",
    ];
    let line = prop_oneof![
        1 => Just("[[step]]".to_owned()),
        4 => (keys, values).prop_map(|(key, value)| format!("{key} = {value}")),
        1 => "\\PC{0,20}",
    ];
    prop::collection::vec(line, 0..12).prop_map(|lines| lines.join("\n"))
}

/// A step of a known kind with keys that may or may not belong to it: these get past TOML.
fn steps() -> impl Strategy<Value = String> {
    let kind = prop::sample::select(Drill::KINDS.to_vec());
    let field = prop::sample::select(vec![
        "chord = \"F\"",
        "chord = \"F#m7b5\"",
        "chord = \"C/G\"",
        "frets = \"133211\"",
        "frets = \"x 24 24 24 24 24\"",
        "frets = \"000000\"",
        "shape = \"E\"",
        "shape = \"G\"",
        "at = 0",
        "at = 24",
        "at = [0]",
        "at = [3, 5, 12]",
        "stages = [\"barre\"]",
        "clean = 100",
        "minutes = 0.25",
        "order = \"random\"",
        "order = \"down\"",
        "from = 0",
        "from = 12",
        "to = 0",
        "to = 12",
        "tries = 1",
        "string = 5",
        "string = 6",
        "quality = \"m\"",
        "quality = \"dim7\"",
        "quality = \"major\"",
        "roots = [\"Fb\", \"B#\"]",
        "chords = [\"F\"]",
        "chords = \"F Bb C Dm\"",
        "chords = \"|: F | Bb C :| x64\"",
        "chords = \"| F | % | N.C. |\"",
        "chords = \"C G Am Fmaj7\"",
        "loop = true",
        "open = true",
        "power = true",
        "ring_barre = true",
        "shapes = [\"E\", \"D\"]",
        "root_strings = [4]",
        "root_strings = [6, 5]",
        "highest_fret = 0",
        "highest_fret = 7",
        "weights = { travel = 0, height = 1000 }",
        "weights = { travel = 0, shape-change = 0, finger-lifted = 0, stretch = 0, barre = 0, height = 0 }",
        "rounds = 50",
        "loops = 50",
        "tempo = 40",
        "tempo = 200.0",
        "to_tempo = 120",
        "beats = 1",
        "beats = 12",
        "bars_each = 16",
        "count_in = 4",
        "feel = \"shuffle\"",
        "swing = 75",
        "strum = \"eighth\"",
        "within = 300",
        "chords = [\"F\", \"x13331\", \"F\"]",
        "by = \"shape\"",
        "by = \"slide\"",
        "shapes = [\"C\", \"D\", \"G\"]",
        "rounds = 50",
        "partial_barre = true",
    ]);
    let tuning = prop::sample::select(vec![
        "",
        "tuning = \"DADGAD\"\n",
        "tuning = \"open g\"\n",
        "capo = 12\n",
        "tuning = \"E5 E5 E5 E5 E5 E5\"\n",
    ]);
    (tuning, kind, prop::collection::btree_set(field, 0..8)).prop_map(|(tuning, kind, fields)| {
        let fields: Vec<&str> = fields.into_iter().collect();
        format!(
            "title = \"t\"\n{tuning}[[step]]\nkind = \"{kind}\"\n{}\n",
            fields.join("\n")
        )
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn no_content_makes_it_panic(any in "(?s).{0,200}", scraps in scraps(), steps in steps()) {
        for text in [any, scraps, steps] {
            match Lesson::read(&text) {
                Ok(lesson) => prop_assert!(!lesson.steps.is_empty()),
                Err(problems) => {
                    prop_assert!(!problems.is_empty());
                    let lines = 1 + text.matches('\n').count();
                    for problem in problems {
                        prop_assert!((1..=lines).contains(&problem.line));
                        prop_assert!(!problem.text.is_empty() && !problem.text.contains('\n'));
                    }
                }
            }
        }
    }
}

#[test]
fn the_example_of_the_documentation_is_a_lesson() {
    let text = std::fs::read_to_string("fixtures/lessons/README.md").unwrap();
    let example: Vec<&str> = text
        .lines()
        .filter_map(|l| l.strip_prefix("    "))
        .collect();
    let lesson = lesson(&example.join("\n"));
    assert_eq!((lesson.steps.len(), lesson.alternate), (1, true));
}
