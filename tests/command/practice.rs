//! `ringtrue practice`: a lesson run over a recording, and what the diary then holds.

use crate::common::command;
use crate::common::tape;

use command::{Desk, Finished};
use ringtrue::practice::diary::{Diary, Entry, Filter};
use ringtrue::synth::compose::StringSound;
use tape::Tape;

fn lesson(desk: &Desk, steps: &str) {
    std::fs::write(
        desk.path("lesson.toml"),
        format!("title = \"Evening\"\n{steps}"),
    )
    .unwrap();
}

fn practise(desk: &Desk, tape: &Tape, more: &[&str]) -> Finished {
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

/// A lesson of such steps, played along a tape.
fn evening(steps: &str, play: impl FnOnce(&mut Tape)) -> (Desk, Tape, Finished) {
    let desk = Desk::new();
    lesson(&desk, steps);
    let mut tape = Tape::new();
    play(&mut tape);
    let run = practise(&desk, &tape, &[]);
    (desk, tape, run)
}

fn diary(desk: &Desk) -> Vec<Entry> {
    let diary = Diary::open_existing(&desk.path("diary.sqlite")).unwrap_or_else(|e| panic!("{e}"));
    diary
        .entries(&Filter::default())
        .unwrap_or_else(|e| panic!("{e}"))
}

/// Keeps the profile of a guitar: in standard tuning but for its capo.
fn guitar(desk: &Desk, capo: Option<u8>) {
    let text = format!(
        "guitar = \"the brown one\"\nopen = [40, 45, 50, 55, 59, 64]\ncapo = {}\na4_hz = 440.0\nfloor_dbfs = -70.0\nstrings = []\n",
        capo.unwrap_or(0)
    );
    std::fs::create_dir_all(desk.path("guitars")).unwrap();
    std::fs::write(desk.path("guitars/the brown one.toml"), text).unwrap();
}

#[test]
fn a_guitar_brings_its_tuning_and_one_that_is_not_known_is_said() {
    let desk = Desk::new();
    lesson(&desk, "[[step]]\nkind = \"hold\"\nchords = [\"133211\"]\n");
    let mut tape = Tape::new();
    // Two frets up on the neck is the same shape behind a capo at fret 2.
    tape.play("355433", &[]);
    let named = ["--guitar", "the brown one", "--guitars", "guitars"];
    let unknown = practise(&desk, &tape, &named);
    assert_eq!(unknown.status, 2);
    assert!(
        unknown
            .err
            .contains("no guitar is called \"the brown one\""),
        "{}",
        unknown.err
    );
    guitar(&desk, Some(2));
    let run = practise(&desk, &tape, &named);
    assert_eq!(run.status, 0, "{}", run.err);
    let entries = diary(&desk);
    assert_eq!(entries.len(), 1, "{}", run.out);
    assert_eq!(entries[0].clean, Some(true), "{}", run.out);
    assert_eq!(entries[0].guitar.as_deref(), Some("the brown one"));
}

#[test]
fn along_a_route_every_landing_counts_and_a_second_strum_mends_none() {
    let (desk, _, run) = evening(
        "[[step]]\nkind = \"route\"\nchords = \"F Bb C\"\nclean = 3\n",
        |tape| {
            tape.play("133211", &[]);
            tape.play("x13331", &[(3, StringSound::Rings(0))]);
            tape.play("x13331", &[]);
            tape.play("x35553", &[]);
        },
    );
    assert_eq!(run.status, 0, "{}{}", run.out, run.err);
    let pictures = run
        .out
        .find("    F                          Bb                         C");
    assert!(pictures.is_some(), "{}", run.out);
    for said in [
        "chord 2 of 3: at the same fret, over to the",
        "F (133211), Bb (x13331)                      1      0",
        "Bb (x13331), C (x35553)                      1      1",
        "played to the end, not all of it clean",
    ] {
        assert!(run.out.contains(said), "{said}\n{}", run.out);
    }
    let entries = diary(&desk);
    let from: Vec<Option<String>> = entries
        .iter()
        .map(|e| e.from.map(|f| f.to_string()))
        .collect();
    let from: Vec<Option<&str>> = from.iter().map(Option::as_deref).collect();
    assert_eq!(from, [None, Some("133211"), None, Some("x13331")]);
    assert!(
        entries
            .iter()
            .all(|e| e.exercise.as_deref() == Some("route"))
    );
}

/// F and Bb in turn, two beats at 100 each, in a lesson: the strums so many ms after their beats.
const PLAY: &str = "[[step]]\nkind = \"play\"\nchords = \"F Bb\"\ntempo = 100\nbeats = 2\nloops = 3\ncount_in = 1\n\
                    clean = 4\ntries = 1\n";

fn play_along(tape: &mut Tape, offs_ms: &[f64]) {
    let begin_s = tape.now_s() + 0.3;
    for (bar, off_ms) in offs_ms.iter().enumerate() {
        // A strum's piece of tape begins 20 ms before it.
        let at_s = begin_s + 1.2 * bar as f64 + off_ms / 1e3 - 0.02;
        tape.wait(at_s - tape.now_s());
        tape.strum(["133211", "x13331"][bar % 2], &[], 0.95);
    }
    tape.wait(begin_s + 1.2 * offs_ms.len() as f64 - tape.now_s());
}

#[test]
fn playing_along_within_a_lesson_is_judged_in_time_and_kept() {
    let desk = Desk::new();
    lesson(
        &desk,
        &format!("{PLAY}[[step]]\nkind = \"hold\"\nchords = [\"x35553\"]\n"),
    );
    let mut tape = Tape::new();
    play_along(&mut tape, &[0.0, 10.0, -10.0, 150.0, 0.0, 10.0]);
    tape.wait(1.0);
    tape.play("x35553", &[]);
    let run = practise(&desk, &tape, &["--save"]);
    assert_eq!(run.status, 0, "{}{}", run.out, run.err);
    let entries = diary(&desk);
    let played: Vec<&Entry> = entries
        .iter()
        .filter(|e| e.exercise.as_deref() == Some("play"))
        .collect();
    assert_eq!(played.len(), 6, "{}", run.out);
    // Nothing says when the beats were but the strums themselves.
    let offs: Vec<f64> = played.iter().filter_map(|e| e.off_ms).collect();
    assert_eq!(offs.len(), 6);
    let wanted = [0.0, 10.0, -10.0, 150.0, 0.0, 10.0];
    let mut against: Vec<f64> = offs.iter().zip(wanted).map(|(off, w)| off - w).collect();
    against.sort_by(f64::total_cmp);
    // A string of these strums comes 8 to 12 ms after the other.
    assert!(against[5] - against[0] < 30.0, "{offs:?}");
    for (entry, (struck_s, _)) in played.iter().zip(&tape.strums) {
        assert_eq!(entry.tempo_bpm, Some(100.0));
        assert_eq!(
            (entry.step, entry.lesson.as_deref()),
            (Some(1), Some("Evening"))
        );
        let at_s =
            entry.at.as_millisecond() as f64 / 1000.0 - entry.began.unwrap().as_second() as f64;
        assert!((at_s - struck_s).abs() < 0.05, "{at_s} {struck_s}");
        let sound = desk
            .path("diary.sqlite-sounds")
            .join(entry.sound.as_deref().expect("a sound"));
        assert!(sound.exists());
    }
    assert_eq!(
        played[1].from.map(|f| f.to_string()).as_deref(),
        Some("133211")
    );
    assert!(
        run.out.contains("5 of 6 strums came in time"),
        "{}",
        run.out
    );
    assert!(
        run.out
            .contains("5 of 6 strums clean and within 50 ms; 4 are wanted."),
        "{}",
        run.out
    );
    // The lesson goes on after it.
    let last = entries.last().unwrap();
    assert_eq!(
        (last.step, last.exercise.as_deref()),
        (Some(2), Some("hold"))
    );
    let progress = desk.run(&["progress", "--diary", "diary.sqlite"]);
    assert!(
        progress.out.contains("100 to 109                6"),
        "{}",
        progress.out
    );
    assert!(
        progress.out.contains("F, Bb                     3"),
        "{}",
        progress.out
    );
    let report = desk.succeeds(&[
        "report",
        "--diary",
        "diary.sqlite",
        "--json",
        "--out",
        "page.html",
    ]);
    assert_eq!(report.json()[0]["timing"]["all"]["strums"], 6);
    let page = std::fs::read_to_string(desk.path("page.html")).unwrap();
    assert!(page.contains("<h2 id=\"timing\">In time</h2>"));
    assert!(page.contains("<th scope=\"row\">F to Bb</th><td>3</td>"));
}

#[test]
fn a_stray_strum_before_the_count_in_does_not_begin_the_playing() {
    let (desk, _, run) = evening(PLAY, |tape| {
        tape.play("133211", &[]);
        tape.wait(3.3);
        play_along(tape, &[0.0, 10.0, -10.0, 10.0, 0.0, 10.0]);
        tape.wait(1.0);
    });
    assert!(
        run.out.contains("6 of 6 strums came in time"),
        "{}",
        run.out
    );
    let kept = diary(&desk);
    let timed = kept.iter().filter(|e| e.off_ms.is_some()).count();
    assert_eq!(timed, 6, "{}", run.out);
}

#[test]
fn a_recording_that_ends_while_playing_along_keeps_what_was_played_and_counts_nothing_else() {
    let (desk, _, run) = evening(PLAY, |tape| {
        play_along(tape, &[0.0, 10.0, -10.0]);
    });
    // The other three beats were not reached: nobody missed them.
    assert!(
        run.out.contains("3 of 3 strums came in time"),
        "{}",
        run.out
    );
    assert!(run.out.contains("0 missed"), "{}", run.out);
    assert!(run.out.contains("3 more strums"), "{}", run.out);
    assert_eq!(
        diary(&desk).iter().filter(|e| e.off_ms.is_some()).count(),
        3
    );
}

#[test]
fn building_a_chord_up_is_heard_stage_by_stage() {
    let (desk, _, run) = evening(
        "[[step]]\nkind = \"build\"\nfrets = \"x35553\"\nclean = 1\n",
        |tape| {
            for frets in [
                "x33333", "x05550", "x33333", "x35553", "x05550", "x35553", "x35553",
            ] {
                tape.play(frets, &[]);
            }
        },
    );
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
fn the_whole_chord_where_a_part_is_asked_is_told_and_counts_for_nothing() {
    let (desk, _, run) = evening(
        "[[step]]\nkind = \"build\"\nchord = \"F\"\nstages = [\"shape\", \"barre\"]\nclean = 1\n",
        |tape| {
            for frets in ["133211", "033200", "133211", "111111"] {
                tape.play(frets, &[]);
            }
        },
    );
    for said in [
        "That was the whole F: take the index finger off.",
        "That was the whole F: lay only the index finger.",
        "done: all that was asked for",
    ] {
        let flat = run.out.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(said), "{said}\n{}", run.out);
    }
    assert!(!run.out.contains('≠'), "{}", run.out);
    let entries = diary(&desk);
    assert_eq!(entries.len(), 4, "{}", run.out);
    // What the barre's strings do counts for nothing where only the others are asked.
    assert!(entries[1].strings.iter().all(|s| !s.verdict.is_fault()));
}

#[test]
fn the_whole_chord_is_told_from_the_barre_alone_though_a_string_of_it_is_dead() {
    let (_, _, run) = evening(
        "[[step]]\nkind = \"build\"\nchord = \"F\"\nstages = [\"barre\"]\nclean = 1\n",
        |tape| {
            tape.play("133211", &[(3, StringSound::Thud(2))]);
            tape.play("111111", &[]);
        },
    );
    let flat = run.out.split_whitespace().collect::<Vec<_>>().join(" ");
    let said = "That was the whole F: lay only the index finger.";
    assert!(flat.contains(said), "{}", run.out);
    assert!(flat.contains("done: all that was asked for"), "{}", run.out);
}

#[test]
fn a_climb_ends_with_a_picture_of_the_neck() {
    let (_, _, run) = evening(
        "[[step]]\nkind = \"climb\"\nshape = \"E\"\nfrom = 1\nto = 3\ntries = 1\n",
        |tape| {
            tape.play("133211", &[]);
            tape.play("244322", &[(3, StringSound::Rings(0))]);
            tape.play("355433", &[]);
        },
    );
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
    let (desk, _, run) = evening(
        "[[step]]\nkind = \"name\"\nstring = 5\nroots = [\"C\"]\nclean = 2\n",
        |tape| {
            tape.play("x57775", &[]);
            tape.play("x35553", &[]);
            tape.play("x35553", &[]);
        },
    );
    assert!(run.out.contains("That was D; C is asked."), "{}", run.out);
    assert!(run.out.contains("Right: C, after"), "{}", run.out);
    let entries = diary(&desk);
    let chords: Vec<&str> = entries.iter().filter_map(|e| e.chord.as_deref()).collect();
    assert_eq!(chords, ["D", "C", "C"]);
}

#[test]
fn changes_are_counted_and_their_gaps_measured() {
    let gaps_s = [0.5, 0.8, 1.1];
    let (desk, tape, run) = evening(
        "[[step]]\nkind = \"switch\"\nby = \"both\"\nat = [3]\nclean = 2\n",
        |tape| {
            tape.strum("355433", &[], 1.5);
            for (i, gap_s) in gaps_s.into_iter().enumerate() {
                tape.wait(gap_s);
                tape.strum(["x35553", "355433"][i % 2], &[], 1.5);
            }
            tape.wait(1.0);
        },
    );
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
    tape.play("133211", &[(3, StringSound::Rings(0))]);
    tape.play("133211", &[]);
    tape.play("355433", &[]);
    tape.play("x35553", &[]);
    guitar(&desk, None);
    let run = practise(
        &desk,
        &tape,
        &[
            "--guitar",
            "the brown one",
            "--guitars",
            "guitars",
            "--save",
        ],
    );
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
            .path("diary.sqlite-sounds")
            .join(entry.sound.as_deref().expect("a sound"));
        assert!(sound.exists());
    }
}
