use super::*;
use crate::report::csv;
use crate::verdict::examples::{bb, not_judged, with};
use crate::verdict::{ALL_STRINGS, Advice, JudgedTake, Verdict, Warning, clean};

fn played(take: JudgedTake, when: Option<&str>) -> PlayedTake {
    PlayedTake {
        when: when.map(|w| w.parse().unwrap()),
        guitar: None,
        name: "a.wav".to_owned(),
        clean: clean(&take, &ALL_STRINGS),
        why_not: (!take.judged()).then(|| "Too quiet.".to_owned()),
        kept: None,
        sound: None,
        take,
    }
}

fn dead(string: u8) -> JudgedTake {
    with(bb(), string, Verdict::Muted, 0.9)
}

#[test]
fn a_take_is_clean_where_it_was_called_so_when_it_was_played() {
    // In a part of a chord not every string counts.
    let counted = PlayedTake {
        clean: Some(true),
        ..played(dead(3), None)
    };
    let summary = Summary::of(&[counted, played(dead(3), None)]);
    assert_eq!((summary.judged, summary.clean), (2, 1));
    assert_eq!(summary.chords[0].clean, 1);
}

#[test]
fn strings_are_counted_where_the_sound_told() {
    let takes = [
        played(bb(), None),
        played(dead(3), None),
        played(with(bb(), 3, Verdict::Unsure, 0.5), None),
        played(not_judged(Warning::WrongChord { heard: None }), None),
    ];
    let summary = Summary::of(&takes);
    assert_eq!((summary.takes, summary.judged, summary.clean), (4, 3, 2));
    let chord = &summary.chords[0];
    assert_eq!((chord.takes, chord.judged, chord.clean), (4, 3, 2));
    let third = &chord.strings[3];
    assert_eq!(
        (third.told, third.as_it_should, third.muted, third.unsure),
        (2, 1, 1, 1)
    );
    assert_eq!(
        chord.strings[0].as_it_should, 3,
        "silent is as it should be"
    );
    assert_eq!((chord.worst, chord.best), (Some(1), Some(0)));
    assert_eq!(summary.not_judged, [("Too quiet.".to_owned(), 1)]);
}

#[test]
fn a_single_take_is_not_shown_twice() {
    let chord = &Summary::of(&[played(dead(3), None)]).chords[0];
    assert_eq!((chord.worst, chord.best), (Some(0), None));
}

#[test]
fn time_is_told_by_days_weeks_or_takes() {
    let on = |days: &[&str]| {
        let takes: Vec<PlayedTake> = days
            .iter()
            .map(|day| played(bb(), Some(&format!("{day}T18:00:00"))))
            .collect();
        let parts = Summary::of(&takes).chords[0].over_time.clone();
        parts
            .into_iter()
            .map(|p| (p.label, p.judged))
            .collect::<Vec<_>>()
    };
    let part = |label: &str, judged| (label.to_owned(), judged);
    assert_eq!(
        on(&["2026-03-02", "2026-03-02", "2026-03-04"]),
        [part("2 March", 2), part("4 March", 1)]
    );
    let march: Vec<String> = (1..=20).map(|d| format!("2026-03-{d:02}")).collect();
    let march: Vec<&str> = march.iter().map(String::as_str).collect();
    assert_eq!(
        on(&march)[..2],
        [part("week of 23 February", 1), part("week of 2 March", 7)]
    );
    let year: Vec<String> = (1..=12).map(|m| format!("2025-{m:02}-01")).collect();
    let mut year: Vec<&str> = year.iter().map(String::as_str).collect();
    assert_eq!(on(&year[..3])[2], part("1 March", 1));
    assert_eq!(on(&year), [part("2025", 12)]);
    year.drain(..5);
    year.extend(["2025-12-02", "2025-12-10", "2025-12-30"]);
    assert_eq!(on(&year)[6], part("December 2025", 4));
    assert_eq!(
        on(&["2026-03-02"; 7]),
        [
            part("takes 1 to 3", 3),
            part("takes 4 to 6", 3),
            part("take 7", 1)
        ]
    );
}

#[test]
fn causes_are_counted_with_their_strings() {
    let mut slack = dead(1);
    slack.advice.push(Advice {
        cause: Cause::BarreSlack,
        strings: vec![2, 1],
        what: "W.".to_owned(),
        try_first: "T.".to_owned(),
    });
    let summary = Summary::of(&[played(slack.clone(), None), played(slack, None)]);
    let cause = &summary.causes[0];
    assert_eq!((cause.cause, cause.takes), (Cause::BarreSlack, 2));
    assert_eq!(cause.strings, [0, 0, 0, 0, 2, 2]);
}

#[test]
fn the_table_has_a_row_for_each_string_and_no_formulas() {
    let mut odd = bb();
    odd.chord = Some("=1+1".to_owned());
    let mut table = Vec::new();
    csv::summary(&mut table, &Summary::of(&[played(odd, None)])).unwrap();
    let table = String::from_utf8(table).unwrap();
    let lines: Vec<&str> = table.lines().collect();
    assert_eq!(lines.len(), 7);
    assert_eq!(lines[1], "'=1+1,x13331,6,x,1,1,1,0,0,0,0,0,0,,,");
}

#[test]
fn nothing_sums_up_to_nothing() {
    let summary = Summary::of(&[]);
    assert_eq!((summary.takes, summary.chords.len()), (0, 0));
}
