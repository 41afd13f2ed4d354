use super::super::attack::{Attack, Brought};
use super::*;

const RATE: u32 = 1_000;

fn rings(at: u64, several: f64, hz: Option<f64>) -> Attack {
    with_lines(at, several, hz, 8)
}

fn with_lines(at: u64, several: f64, hz: Option<f64>, lines: usize) -> Attack {
    Attack {
        onsets: vec![at],
        brought: Brought::Strings {
            several,
            hz,
            lines,
            expected: false,
        },
        middle: None,
    }
}

fn thud(at: u64) -> Attack {
    Attack {
        onsets: vec![at],
        brought: Brought::Thud,
        middle: None,
    }
}

fn cuts(attacks: Vec<Attack>, end: u64) -> Vec<(Vec<u64>, Manner, u64)> {
    let mut sequence = Sequence::new(RATE);
    let mut cuts = Vec::new();
    for attack in attacks {
        sequence.advance(attack.first(), &mut cuts);
        sequence.attack(attack, &mut cuts);
    }
    sequence.finish(end, &mut cuts);
    cuts.into_iter()
        .map(|c| (c.onsets, c.manner, c.end))
        .collect()
}

fn pass(at: u64, pitches: &[f64]) -> Vec<Attack> {
    let notes = pitches.iter().enumerate();
    notes
        .map(|(i, hz)| rings(at + 500 * i as u64, -5.0, Some(*hz)))
        .collect()
}

#[test]
fn chords_are_takes_of_their_own() {
    let found = cuts(vec![rings(500, 8.0, None), rings(900, 8.0, None)], 3_000);
    let strummed = Manner::Strummed;
    assert_eq!(
        found,
        [(vec![500], strummed, 900), (vec![900], strummed, 3_000)]
    );
}

#[test]
fn rising_notes_are_one_pass_and_a_muted_string_in_time_belongs_to_it() {
    let mut attacks = pass(500, &[110.0, 165.0]);
    attacks.extend([thud(1_500), thud(2_000)]);
    attacks.extend(pass(2_500, &[330.0]));
    let found = cuts(attacks, 4_000);
    assert_eq!(
        found,
        [(vec![500, 1_000, 1_500, 2_000, 2_500], Manner::Picked, 4_000)]
    );
}

#[test]
fn no_pass_takes_in_what_is_a_chord_for_sure() {
    let found = |several: f64| {
        let mut attacks = pass(500, &[104.0, 117.0, 139.0, 156.0]);
        attacks.push(with_lines(2_500, several, None, 12));
        let found = cuts(attacks, 5_000).into_iter();
        found.map(|(onsets, ..)| onsets.len()).collect::<Vec<_>>()
    };
    assert_eq!(found(2.0), [5]);
    assert_eq!(found(6.9), [4, 1]);
}

#[test]
fn a_melody_that_turns_back_and_forth_and_a_row_of_thuds_are_no_takes() {
    assert_eq!(
        cuts(pass(500, &[220.0, 247.0, 220.0, 262.0, 196.0]), 5_000),
        []
    );
    assert_eq!(cuts((1..9).map(|i| thud(400 * i)).collect(), 5_000), []);
}

#[test]
fn one_pitch_of_a_short_pass_may_be_heard_an_octave_off_but_not_two() {
    let found = |pitches: &[f64]| {
        let cuts = cuts(pass(500, pitches), 5_000).into_iter();
        cuts.map(|c| c.0.len()).collect::<Vec<_>>()
    };
    assert_eq!(found(&[110.0, 147.0, 392.0, 247.0]), [4]);
    assert!(found(&[110.0, 294.0, 98.0, 247.0]).is_empty());
}

fn expected(at: u64, several: f64, hz: f64) -> Attack {
    let mut attack = rings(at, several, Some(hz));
    if let Brought::Strings { expected, .. } = &mut attack.brought {
        *expected = true;
    }
    attack
}

#[test]
fn power_chords_that_look_like_one_note_are_strums_where_they_are_meant() {
    let found = |strings: usize| {
        let mut sequence = Sequence::new(RATE);
        sequence.expect(Some(strings));
        let mut cuts = Vec::new();
        for at in [500, 1_400] {
            sequence.attack(expected(at, -2.0, 110.0), &mut cuts);
        }
        sequence.finish(4_000, &mut cuts);
        cuts.into_iter().map(|c| c.manner).collect::<Vec<_>>()
    };
    assert_eq!(found(2), [Manner::Strummed; 2]);
    assert_eq!(found(3), [Manner::Strummed; 2]);
    assert_eq!(found(5), []);
}

#[test]
fn two_notes_and_a_dead_string_are_a_pass_only_where_both_are_expected() {
    let found = |two: [Attack; 2]| {
        let [one, other] = two;
        cuts(vec![one, other, thud(1_500)], 3_000).len()
    };
    let (one, other) = (expected(500, -4.0, 147.0), expected(1_000, -4.0, 220.0));
    assert_eq!(found([one.clone(), other]), 1);
    assert_eq!(found([one, rings(1_000, -4.0, Some(220.0))]), 0);
}

#[test]
fn a_hint_of_an_expected_note_is_a_stroke_of_a_pass_and_no_take_by_itself() {
    let hint = |at: u64, hz: f64| Attack {
        onsets: vec![at],
        brought: Brought::Hint { hz },
        middle: None,
    };
    assert_eq!(cuts(vec![hint(500, 147.0)], 3_000), []);
    let pass = |last: Attack| {
        let first = [thud(500), expected(1_000, -1.5, 147.0), thud(1_500)];
        cuts(first.into_iter().chain([last]).collect(), 4_000).len()
    };
    assert_eq!(pass(hint(2_000, 349.0)), 1);
    assert_eq!(pass(thud(2_000)), 0);
}

#[test]
fn a_second_pass_begins_where_the_order_turns_back() {
    let mut attacks = pass(500, &[110.0, 165.0, 220.0]);
    attacks.extend(pass(2_000, &[110.0, 165.0, 220.0]));
    let onsets: Vec<_> = cuts(attacks, 6_000).into_iter().map(|c| c.0).collect();
    assert_eq!(onsets, [vec![500, 1_000, 1_500], vec![2_000, 2_500, 3_000]]);
}

#[test]
fn the_first_note_of_a_pass_is_won_back_from_a_chord() {
    let mut attacks = vec![rings(500, 2.0, None)];
    attacks.extend(pass(1_000, &[165.0, 220.0, 330.0]));
    let found = cuts(attacks, 4_000);
    assert_eq!(
        found,
        [(vec![500, 1_000, 1_500, 2_000], Manner::Picked, 4_000)]
    );
}

#[test]
fn a_tap_between_the_strokes_of_a_pass_is_none_of_them() {
    let mut attacks = pass(500, &[110.0, 147.0, 196.0]);
    attacks.push(thud(1_750));
    attacks.extend(pass(2_000, &[247.0, 330.0, 440.0]));
    let onsets: Vec<_> = cuts(attacks, 6_000).into_iter().map(|c| c.0).collect();
    assert_eq!(onsets, [[500, 1_000, 1_500, 2_000, 2_500, 3_000]]);
}

#[test]
fn what_seemed_a_strum_is_the_first_of_a_pass_only_where_it_keeps_the_time() {
    let with = |at: u64| {
        let mut attacks = vec![rings(at, 5.0, None)];
        attacks.extend(pass(2_000, &[165.0, 220.0, 330.0]));
        let onsets = cuts(attacks, 6_000).into_iter().map(|c| c.0);
        onsets.collect::<Vec<_>>()
    };
    assert_eq!(with(1_500), [vec![1_500, 2_000, 2_500, 3_000]]);
    assert_eq!(with(800), [vec![800], vec![2_000, 2_500, 3_000]]);
}

#[test]
fn what_seems_a_strum_is_the_last_of_a_pass_where_it_is_due_and_brings_no_more_than_a_string() {
    let with = |at: u64, lines: usize| {
        let mut attacks = pass(500, &[110.0, 147.0, 196.0, 247.0]);
        attacks.push(with_lines(at, 9.0, None, lines));
        let onsets = cuts(attacks, 6_000).into_iter().map(|c| c.0);
        onsets.collect::<Vec<_>>()
    };
    let four = vec![500, 1_000, 1_500, 2_000];
    assert_eq!(with(2_500, 9), [[&four[..], &[2_500]].concat()]);
    assert_eq!(with(2_500, 18), [four.clone(), vec![2_500]]);
    assert_eq!(with(3_200, 9), [four, vec![3_200]]);
}

#[test]
fn a_take_is_cut_four_seconds_after_its_last_onset() {
    assert_eq!(cuts(vec![rings(500, 8.0, None)], 20_000)[0].2, 4_500);
}
