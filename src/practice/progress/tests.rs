use super::*;

fn now() -> Timestamp {
    "2026-11-25T18:00:00Z".parse().unwrap()
}

/// A take so many days before now, as the diary hands it over.
struct Made {
    row: DiaryRow<'static>,
}

fn made(days: f64, frets: &'static str, chord: &'static str, clean: bool) -> Made {
    let mut verdicts = [Verdict::Clean; STRINGS];
    if !clean {
        verdicts[4] = Verdict::Choked;
    }
    Made {
        row: DiaryRow {
            at_ms: now().as_millisecond() - (days * DAY_MS as f64) as i64,
            frets,
            clean: Some(clean),
            from: None,
            began_ms: None,
            step: None,
            exercise: None,
            chord: Some(chord),
            shape: Some("E shape"),
            fret: Some(1),
            gap_s: None,
            off_ms: None,
            tempo_bpm: None,
            verdicts,
            put_right: false,
            counts: true,
        },
    }
}

fn report(mut rows: Vec<Made>) -> ProgressReport {
    rows.sort_by_key(|made| made.row.at_ms);
    let mut gatherer = ProgressGatherer::new(now(), TimeZone::UTC);
    for made in &rows {
        gatherer.add(&made.row);
    }
    gatherer.report()
}

#[test]
fn an_empty_diary_tells_nothing() {
    assert_eq!(report(vec![]), ProgressReport::default());
}

#[test]
fn takes_are_counted_by_day_chord_shape_fret_and_string() {
    let rows = vec![
        made(10.0, "133211", "F", false),
        made(2.0, "133211", "F", true),
        made(1.0, "133211", "F", true),
        made(1.0, "244322", "F#", false),
    ];
    let report = report(rows);
    assert_eq!(report.takes, 4);
    assert_eq!(report.clean, Share { part: 2, of: 4 });
    let dates: Vec<String> = report.days.iter().map(|d| d.date.to_string()).collect();
    assert_eq!(dates, ["2026-11-15", "2026-11-23", "2026-11-24"]);
    let f = &report.chords[0];
    assert_eq!(f.name, "F (133211)");
    assert_eq!(
        (f.clean, f.lately),
        (Share { part: 2, of: 3 }, Share { part: 2, of: 2 })
    );
    assert_eq!(f.worst, Some((2, Verdict::Choked, 1)));
    assert_eq!(report.shapes.len(), 1);
    let (fret, at) = &report.neck[0];
    assert_eq!((*fret, at.all), (1, Share { part: 2, of: 4 }));
    assert_eq!(at.strings[4], Share { part: 2, of: 4 });
    assert_eq!(report.strings[4][column(Verdict::Choked)], 2);
}

#[test]
fn days_are_those_of_the_place() {
    let mut take = made(0.0, "133211", "F", true);
    take.row.at_ms = "2026-11-24T23:30:00Z"
        .parse::<Timestamp>()
        .unwrap()
        .as_millisecond();
    let mut gatherer = ProgressGatherer::new(now(), TimeZone::fixed(jiff::tz::offset(1)));
    gatherer.add(&take.row);
    assert_eq!(gatherer.report().days[0].date.to_string(), "2026-11-25");
}

#[test]
fn the_recently_weak_comes_before_the_strong() {
    let mut rows = Vec::new();
    for i in 0..20 {
        rows.push(made(0.01 * f64::from(i), "133211", "F", true));
        rows.push(made(0.01 * f64::from(i), "x13331", "Bb", i % 4 == 0));
        // Once weak, now strong.
        rows.push(made(0.01 * f64::from(i), "244322", "F#", true));
        rows.push(made(3.0 + 0.01 * f64::from(i), "244322", "F#", false));
    }
    let report = report(rows);
    assert_eq!(report.next[0].chord, "Bb (x13331)");
    assert_eq!(report.next[0].exercise, "build");
    assert_eq!(report.next[0].recent, Share { part: 5, of: 20 });
    assert!((report.next[1].need - report.next[2].need).abs() < 1e-3);
}

#[test]
fn the_long_unseen_comes_before_the_one_just_played() {
    let mut rows = Vec::new();
    for i in 0..20 {
        rows.push(made(0.01 * f64::from(i), "133211", "F", true));
        rows.push(made(9.0 + 0.01 * f64::from(i), "x13331", "Bb", true));
    }
    let report = report(rows);
    assert_eq!(report.next[0].chord, "Bb (x13331)");
    assert_eq!(report.next[0].days_unseen, 9);
    // 1 - 21/22, and half a point for 9 of 14 days (here the last take was 9.0 days ago).
    assert!((report.next[0].need - (1.0 / 22.0 + 0.5 * 9.0 / 14.0)).abs() < 1e-3);
}

#[test]
fn one_take_alone_weighs_little() {
    let mut rows = vec![made(0.0, "x13331", "Bb", false)];
    for i in 0..20 {
        rows.push(made(0.01 * f64::from(i), "133211", "F", i % 5 == 0));
    }
    let report = report(rows);
    assert_eq!(report.next[0].chord, "F (133211)");
}

#[test]
fn the_exercise_follows_from_what_goes_wrong() {
    let exercise = |clean: [bool; 10]| {
        let rows = clean
            .into_iter()
            .map(|c| made(1.0, "133211", "F", c))
            .collect();
        report(rows).next[0].exercise
    };
    assert_eq!(exercise([false; 10]), "build");
    let mut half = [true; 10];
    half[..5].fill(false);
    assert_eq!(exercise(half), "place");
    assert_eq!(exercise([true; 10]), "climb");
}

#[test]
fn how_long_changes_take_is_told_by_day_and_pair() {
    let mut rows = Vec::new();
    for i in 0..5i64 {
        let (frets, from) = match i % 2 {
            0 => ("355433", "x35553"),
            _ => ("x35553", "355433"),
        };
        let mut made = made(0.0, frets, if i % 2 == 0 { "G" } else { "C" }, true);
        made.row.at_ms += i * 3000;
        made.row.began_ms = Some(1);
        made.row.step = Some(1);
        made.row.from = (i > 0).then_some(from);
        made.row.gap_s = (i > 0).then_some(0.5);
        rows.push(made);
    }
    // Another practice: the pause before it is no change.
    let mut late = made(0.0, "355433", "G", true);
    late.row.at_ms += 20_000;
    late.row.began_ms = Some(2);
    late.row.step = Some(1);
    late.row.from = Some("x35553");
    rows.push(late);
    let report = report(rows);
    let day = &report.days[0];
    assert_eq!(day.gaps_s, [0.5; 4]);
    assert_eq!(report.pairs.len(), 2);
    assert_eq!(report.pairs[0].from, "C (x35553)");
    assert_eq!(report.pairs[0].gaps_s, [0.5, 0.5]);
}

#[test]
fn what_was_put_right_is_counted_apart_and_what_is_not_to_count_does_not() {
    let mut gone = made(1.0, "133211", "F", false);
    (gone.row.put_right, gone.row.counts) = (true, false);
    let mut right = made(0.5, "133211", "F", true);
    right.row.put_right = true;
    let report = report(vec![gone, right]);
    assert_eq!((report.takes, report.put_right), (1, 2));
    assert_eq!(report.clean.of, 1);
}

#[test]
fn what_could_not_be_told_counts_for_nothing() {
    let mut unsure = made(1.0, "133211", "F", true);
    unsure.row.clean = None;
    let report = report(vec![unsure]);
    assert_eq!((report.takes, report.open), (1, 1));
    assert_eq!(report.clean.share(), None);
    assert!(report.next.is_empty());
}

#[test]
fn a_barre_alone_is_named_in_words() {
    let mut barre = made(1.0, "111111", "", true);
    (barre.row.chord, barre.row.shape) = (None, None);
    let report = report(vec![barre]);
    assert_eq!(report.chords[0].name, "barre at fret 1");
    assert!(report.next.is_empty(), "no chord to take up");
}
