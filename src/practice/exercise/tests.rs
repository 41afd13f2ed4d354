use rand::SeedableRng;

use super::*;
use crate::practice::{BuildStage, Lesson};
use crate::take::Manner;
use crate::verdict::{Reason, StringVerdict, Verdict, Warning};

/// A take of these frets, clean but for the strings named.
pub(in crate::practice) fn take(frets: &str, faults: &[(u8, Verdict)], start_s: f64) -> JudgedTake {
    let frets: Frets = frets.parse().unwrap();
    let strings = std::array::from_fn(|i| {
        let expected_fret = frets.0[i];
        let usual = match expected_fret {
            Some(_) => Verdict::Clean,
            None => Verdict::Silent,
        };
        let string = string_number(i);
        let fault = faults.iter().find(|(s, _)| *s == string);
        let verdict = fault.map_or(usual, |(_, v)| *v);
        let rings = match (expected_fret, verdict.is_fault()) {
            (Some(_), false) | (None, true) => 0.97,
            _ => 0.03,
        };
        StringVerdict {
            string,
            expected_fret,
            verdict,
            heard_fret: None,
            rings,
            confidence: 0.95,
            cents: None,
            level_db: None,
            reason: (verdict == Verdict::Unsure).then_some(Reason::Balanced),
        }
    });
    JudgedTake {
        start_s,
        manner: Manner::Strummed,
        chord: None,
        frets,
        tuning_cents: 0.0,
        warnings: vec![],
        strings,
        advice: vec![],
    }
}

fn not_judged(frets: &str, start_s: f64) -> JudgedTake {
    let mut take = take(frets, &[], start_s);
    take.warnings.push(Warning::WrongChord { heard: None });
    for string in &mut take.strings {
        string.verdict = Verdict::Unsure;
        string.reason = Some(Reason::NotJudged);
    }
    take
}

/// The only step of a lesson, under way.
fn begin(step: &str) -> Box<dyn Exercise> {
    let text = format!("title = \"t\"\n[[step]]\n{step}\n");
    let lesson = Lesson::read(&text).unwrap_or_else(|p| panic!("{p:?}"));
    let mut exercise = exercise(&lesson.steps[0], &mut SmallRng::seed_from_u64(1));
    exercise.begin(0.0);
    exercise
}

fn play(exercise: &mut Box<dyn Exercise>, take: &JudgedTake) -> Reply {
    assert!(
        exercise.ask().is_answered_by(&take.frets),
        "{} was asked, {} is no answer",
        exercise.ask().target,
        take.frets
    );
    exercise.hear(&TimedTake {
        take,
        start_s: take.start_s,
        now_s: take.start_s + 1.2,
    })
}

fn asked(exercise: &dyn Exercise) -> String {
    exercise.ask().target.frets.to_string()
}

#[test]
fn build_goes_through_its_stages_each_with_its_own_voicing() {
    let mut build = begin("kind = \"build\"\nfrets = \"x35553\"\nclean = 1");
    let stages: Vec<&str> = BuildStage::ALL.iter().map(|s| s.word()).collect();
    let expected = [
        (stages[0], "x33333"),
        (stages[1], "x05550"),
        (stages[2], "x33333"),
        (stages[2], "x35553"),
        (stages[3], "x05550"),
        (stages[3], "x35553"),
        (stages[4], "x35553"),
    ];
    for (stage, frets) in expected {
        assert!(!build.done());
        assert_eq!(build.ask().stage.as_deref(), Some(stage));
        assert_eq!(asked(&*build), frets);
        let take = take(frets, &[], 0.0);
        assert_eq!(play(&mut build, &take).clean, Some(true));
    }
    assert!(build.done() && build.passed());
    assert_eq!(build.progress(), Progress { done: 5, of: 5 });
}

#[test]
fn without_the_barre_only_the_held_strings_count() {
    let mut build = begin("kind = \"build\"\nchord = \"F\"\nstages = [\"shape\"]\nclean = 1");
    assert_eq!(asked(&*build), "033200");
    let open_strings_dead = [6, 2, 1].map(|s| (s, Verdict::Muted));
    let take_ = take("033200", &open_strings_dead, 0.0);
    assert_eq!(play(&mut build, &take_).clean, Some(true));
    let mut build = begin("kind = \"build\"\nchord = \"F\"\nstages = [\"shape\"]\nclean = 1");
    let held_string_dead = take("033200", &[(4, Verdict::Muted)], 0.0);
    assert_eq!(play(&mut build, &held_string_dead).clean, Some(false));
    assert!(!build.done());
}

/// What is said of a take of one part where another one is asked.
fn said_of(stages: &str, played: &JudgedTake) -> (Reply, Progress) {
    let step = format!("kind = \"build\"\nchord = \"F\"\nstages = [{stages}]\nclean = 1");
    let mut build = begin(&step);
    let reply = play(&mut build, played);
    (reply, build.progress())
}

#[test]
fn the_whole_chord_is_no_answer_where_a_part_of_it_is_asked() {
    let told = |note: &Remark| crate::practice::wording::note(note).unwrap();
    let whole = take("133211", &[], 0.0);
    let (reply, progress) = said_of("\"shape\"", &whole);
    assert_eq!(
        told(&reply.note),
        "That was the whole F: take the index finger off. It does not count."
    );
    assert_eq!((reply.clean, progress.done), (Some(true), 0));
    let (reply, progress) = said_of("\"barre\"", &whole);
    assert_eq!(
        told(&reply.note),
        "That was the whole F: lay only the index finger. It does not count."
    );
    assert_eq!(progress.done, 0);
}

#[test]
fn a_whole_chord_that_was_held_against_a_part_is_known_by_its_frets() {
    let free = [6, 2, 1].map(|s| (s, Verdict::WrongFret));
    let mut heard = take("033200", &free, 0.0);
    for string in [0, 4, 5] {
        heard.strings[string].heard_fret = Some(1);
    }
    let (reply, progress) = said_of("\"shape\"", &heard);
    assert!(
        matches!(
            reply.note,
            Remark::Part {
                heard: ChordPart::Whole,
                ..
            }
        ),
        "{reply:?}"
    );
    assert_eq!((reply.clean, progress.done), (None, 0));
    // One of them alone may be a finger that leans.
    heard.strings[0].heard_fret = None;
    heard.strings[4].heard_fret = None;
    let (reply, progress) = said_of("\"shape\"", &heard);
    assert_eq!((reply.clean, progress.done), (Some(true), 1));
}

#[test]
fn strings_that_a_part_leaves_out_may_do_what_they_like() {
    let build = begin("kind = \"build\"\nchord = \"F\"\nstages = [\"shape\"]");
    let expected = build.ask().expected(&Tuning::default());
    let hand = expected.named().unwrap().hand;
    assert_eq!(hand.free, [true, false, false, false, true, true]);
    let mut judged = take(
        "033200",
        &[(6, Verdict::WrongFret), (4, Verdict::Muted)],
        0.0,
    );
    judged.explain(&hand, &[]);
    assert_eq!(judged.strings[0].reason, Some(Reason::NotAsked));
    assert!(!judged.strings[0].verdict.is_fault());
    assert_eq!(judged.strings[2].verdict, Verdict::Muted);
    assert!(
        judged.advice.iter().all(|a| !a.strings.contains(&6)),
        "{judged:?}"
    );
}

#[test]
fn the_barre_alone_leaves_string_6_out_where_the_shape_does() {
    let mut build = begin("kind = \"build\"\nfrets = \"x35553\"\nstages = [\"barre\"]");
    let rings = take("x33333", &[(6, Verdict::Ringing)], 0.0);
    assert_eq!(play(&mut build, &rings).clean, Some(false));
}

#[test]
fn a_round_that_breaks_begins_again() {
    let mut build =
        begin("kind = \"build\"\nchord = \"F\"\nstages = [\"barre then shape\"]\nclean = 1");
    play(&mut build, &take("111111", &[], 0.0));
    assert_eq!(asked(&*build), "133211");
    play(&mut build, &take("133211", &[(2, Verdict::Choked)], 3.0));
    assert_eq!(asked(&*build), "111111");
    let Findings::Build(stages) = build.findings() else {
        panic!()
    };
    assert_eq!((stages[0].takes, stages[0].clean), (2, 0));
    assert_eq!(stages[0].faults, [0, 0, 0, 0, 1, 0]);
}

#[test]
fn a_placement_that_buzzes_is_never_the_surest_and_the_finger_is_to_be_moved_all_the_same() {
    let mut place = begin("kind = \"place\"\nchord = \"F\"\nclean = 3");
    // It rings, more surely than the clean one after it.
    let mut buzzing = take("133211", &[(2, Verdict::Buzzing)], 0.0);
    buzzing.strings[4].rings = 0.999;
    play(&mut place, &buzzing);
    let reply = play(&mut place, &take("133211", &[], 3.0));
    let Findings::Place(placements) = place.findings() else {
        panic!()
    };
    assert!(placements[0].right[4] < placements[1].right[4]);
    assert_eq!(
        crate::practice::wording::note(&reply.note).unwrap(),
        "Placement 2: 6 of 6 strings as they should be; the best so far."
    );
    // After clean takes a fault asks for the same again, except where the finger is to move.
    let hand = place
        .ask()
        .expected(&Tuning::default())
        .named()
        .unwrap()
        .hand;
    let clean = [take("133211", &[], 0.0), take("133211", &[], 3.0)];
    let said = |hand: &Hand| {
        let mut slip = take("133211", &[(2, Verdict::Muted)], 6.0);
        slip.explain(hand, &clean);
        slip.advice[0].try_first.clone()
    };
    let same = Hand {
        moves: false,
        ..hand
    };
    assert!(said(&same).contains("before you change anything"));
    assert!(!said(&hand).contains("before you change anything"));
}

#[test]
fn place_shows_which_placement_rang_best() {
    let mut place = begin("kind = \"place\"\nchord = \"F\"\nclean = 2");
    let faults: [&[(u8, Verdict)]; 4] = [
        &[(2, Verdict::Muted), (1, Verdict::Muted)],
        &[(2, Verdict::Choked)],
        &[],
        &[(1, Verdict::Buzzing)],
    ];
    for (i, faults) in faults.iter().enumerate() {
        play(&mut place, &take("133211", faults, i as f64 * 3.0));
    }
    let Findings::Place(placements) = place.findings() else {
        panic!()
    };
    assert_eq!(placements.len(), 4);
    assert_eq!(Placement::best(&placements), Some(2));
    assert_eq!(Placement::best(&placements[..1]), None);
    assert!(!place.done());
    play(&mut place, &take("133211", &[], 12.0));
    assert!(place.passed());
}

#[test]
fn climb_moves_on_when_clean_or_when_the_tries_are_used_up() {
    let mut climb = begin(
        "kind = \"climb\"\nshape = \"E\"\nfrom = 1\nto = 3\norder = \"up and down\"\ntries = 2",
    );
    let bad = [(1, Verdict::Muted)];
    let played = [
        ("133211", true),
        ("244322", false),
        ("244322", false),
        ("355433", true),
        ("244322", true),
        ("133211", true),
    ];
    for (frets, clean) in played {
        assert_eq!(asked(&*climb), frets);
        let faults: &[(u8, Verdict)] = if clean { &[] } else { &bad };
        play(&mut climb, &take(frets, faults, 0.0));
    }
    assert!(climb.done() && !climb.passed());
    let Findings::Climb(places) = climb.findings() else {
        panic!()
    };
    let counts: Vec<(u32, u32)> = places.iter().map(|p| (p.takes, p.clean)).collect();
    assert_eq!(counts, [(2, 2), (3, 1), (1, 1)]);
    assert_eq!(places[1].faults, [0, 0, 0, 0, 0, 2]);
}

#[test]
fn a_random_climb_visits_every_fret_once() {
    let mut climb = begin("kind = \"climb\"\nshape = \"A\"\nfrom = 1\nto = 7\norder = \"random\"");
    let mut seen = Vec::new();
    while !climb.done() {
        seen.push(asked(&*climb));
        let take = take(&asked(&*climb), &[], 0.0);
        play(&mut climb, &take);
    }
    assert!(climb.passed());
    let in_order = seen.windows(2).all(|w| w[0] < w[1]);
    seen.sort();
    seen.dedup();
    assert_eq!((seen.len(), in_order), (7, false));
}

#[test]
fn another_fret_than_the_asked_one_is_told_and_does_not_count() {
    let mut climb = begin("kind = \"climb\"\nshape = \"E\"\nfrom = 1\nto = 3");
    let reply = play(&mut climb, &take("355433", &[], 0.0));
    assert_eq!(
        reply.note,
        Remark::Other {
            heard: "G (355433)".into(),
            asked: "F (133211)".into()
        }
    );
    assert_eq!(asked(&*climb), "133211");
}

#[test]
fn name_hears_the_answer_in_any_octave_and_shows_it_in_the_end() {
    let mut name = begin(
        "kind = \"name\"\nstring = 6\nroots = [\"E\", \"G\"]\nfrom = 0\nclean = 2\ntries = 2",
    );
    let g_first = asked(&*name) == "355433";
    let (first, second) = if g_first { ("G", "E") } else { ("E", "G") };
    let frets = |root: &str| match root {
        "G" => "355433",
        _ => "12 14 14 13 12 12",
    };
    assert_eq!(
        name.ask().text,
        format!("Play {first}, with its root on string 6.")
    );
    let wrong = play(&mut name, &take("577655", &[], 4.0));
    assert_eq!(
        wrong.note,
        Remark::Wrong {
            heard: "A".into(),
            asked: first.into()
        }
    );
    let shown = play(&mut name, &take(frets(second), &[], 8.0));
    assert!(matches!(shown.note, Remark::Shown { .. }), "{shown:?}");
    // The next root is on since its verdict was there.
    let right = play(
        &mut name,
        &take(frets(second), &[(3, Verdict::Muted)], 11.2),
    );
    let Remark::Right { seconds, .. } = right.note else {
        panic!("{right:?}")
    };
    assert!((seconds - 2.0).abs() < 1e-9);
    assert_eq!(right.clean, Some(false));
    assert_eq!(name.progress(), Progress { done: 1, of: 2 });
    // The missed root comes again.
    assert!(name.ask().text.contains(first), "{}", name.ask().text);
    play(&mut name, &take(frets(first), &[], 15.0));
    assert!(name.passed());
    let Findings::Name(roots) = name.findings() else {
        panic!()
    };
    let missed = roots.iter().find(|r| r.root.to_string() == first).unwrap();
    assert_eq!((missed.asked, missed.at_once), (2, 1));
    assert_eq!(missed.instead.len(), 2);
}

#[test]
fn a_take_that_is_too_unclear_answers_nothing() {
    let mut name = begin("kind = \"name\"\nstring = 5\nroots = [\"C\"]");
    let dead = [5, 4, 3].map(|s| (s, Verdict::Muted));
    play(&mut name, &take("x35553", &dead, 1.0));
    play(&mut name, &not_judged("x35553", 3.0));
    assert_eq!(name.progress(), Progress { done: 0, of: 8 });
    let Findings::Name(roots) = name.findings() else {
        panic!()
    };
    assert!(roots[0].instead.is_empty());
}

#[test]
fn switch_measures_from_the_old_chords_end_to_the_new_ones_clean_sound() {
    let mut switch = begin("kind = \"switch\"\nby = \"both\"\nat = [3]\nclean = 2");
    assert_eq!(asked(&*switch), "355433");
    play(&mut switch, &take("355433", &[], 1.0));
    switch.ended(2.0);
    // Lands clean 0.8 s later.
    let reply = play(&mut switch, &take("x35553", &[], 2.8));
    assert_eq!(reply.from.unwrap().to_string(), "355433");
    assert!((reply.gap_s.unwrap() - 0.8).abs() < 1e-9);
    switch.ended(4.0);
    // Lands badly; struck again; then clean.
    let reply = play(&mut switch, &take("355433", &[(1, Verdict::Muted)], 5.0));
    assert_eq!((reply.clean, reply.gap_s), (Some(false), None));
    assert_eq!(asked(&*switch), "x35553");
    switch.ended(5.8);
    let reply = play(&mut switch, &take("355433", &[], 6.5));
    assert!(reply.from.is_none());
    assert!((reply.gap_s.unwrap() - 2.5).abs() < 1e-9);
    // The old chord rings until the new one cuts it off.
    let reply = play(&mut switch, &take("x35553", &[], 8.0));
    assert_eq!(reply.gap_s, Some(0.0));
    let Findings::Switch(found) = switch.findings() else {
        panic!()
    };
    assert_eq!(found.changes.len(), 3);
    assert!(found.changes.iter().all(|c| c.kind == SwitchKind::Shape));
    let landed: Vec<_> = found.changes.iter().map(|c| c.landed_clean).collect();
    assert_eq!(landed, [Some(true), Some(false), Some(true)]);
    // Each from the old chord's end to the clean landing, however often it was struck until then.
    let gaps: Vec<f64> = found.changes.iter().filter_map(|c| c.gap_s).collect();
    let times = ChangeTimes::of(&gaps).unwrap();
    assert_eq!((times.count, times.middle_s), (3, gaps[0]));
    assert!(times.spread_s > 0.8 && times.spread_s < 1.7, "{times:?}");
    assert_eq!(ChangeTimes::of(&[]), None);
    assert!(switch.passed() && !switch.done());
}

#[test]
fn what_changes_is_known_for_each_change() {
    let mut switch = begin(
        "kind = \"switch\"\nchords = [{ chord = \"G\", shape = \"E\", at = 3 }, \
         { chord = \"A\", shape = \"E\", at = 5 }, { chord = \"D\", shape = \"A\", at = 5 }, \"320003\"]",
    );
    for (i, frets) in ["355433", "577655", "x57775", "320003", "355433"]
        .iter()
        .enumerate()
    {
        play(&mut switch, &take(frets, &[], i as f64));
    }
    let Findings::Switch(found) = switch.findings() else {
        panic!()
    };
    let kinds: Vec<SwitchKind> = found.changes.iter().map(|c| c.kind).collect();
    assert_eq!(
        kinds,
        [
            SwitchKind::Slide,
            SwitchKind::Shape,
            SwitchKind::Both,
            SwitchKind::Both
        ]
    );
}

#[test]
fn a_take_that_nobody_could_judge_is_no_change() {
    let mut switch = begin("kind = \"switch\"\nchords = [\"F\", \"C\"]");
    play(&mut switch, &take("133211", &[], 1.0));
    let reply = play(&mut switch, &not_judged("x32010", 2.0));
    assert!(reply.from.is_none());
    assert_eq!(asked(&*switch), "x32010");
}

#[test]
fn hold_goes_through_the_progression_as_often_as_wanted() {
    let mut hold = begin("kind = \"hold\"\nchords = [\"F\", \"C\", \"F\"]\nrounds = 2\ntries = 1");
    for frets in ["133211", "x32010", "133211", "133211", "x32010", "133211"] {
        assert_eq!(asked(&*hold), frets);
        play(&mut hold, &take(frets, &[], 0.0));
    }
    assert!(hold.passed());
    let Findings::Hold(chords) = hold.findings() else {
        panic!()
    };
    let counts: Vec<(String, u32)> = chords.iter().map(|c| (c.target.name(), c.takes)).collect();
    assert_eq!(counts, [("F".to_owned(), 4), ("C".to_owned(), 2)]);
}

#[test]
fn takes_that_were_not_judged_use_up_no_tries() {
    let mut hold = begin("kind = \"hold\"\nchords = [\"F\", \"C\"]\ntries = 1");
    for _ in 0..3 {
        play(&mut hold, &not_judged("133211", 0.0));
    }
    assert_eq!(asked(&*hold), "133211");
}
