//! Each rule on verdicts made by hand, and what holds for all of them.

use std::collections::BTreeSet;

use proptest::prelude::*;

use super::rules::RULES;
use super::{Advice, Cause, Hand};
use crate::fretboard::Tuning;
use crate::take::Manner;
use crate::verdict::examples::{clean, not_judged, with};
use crate::verdict::wording::{capital, does, doubt_of_all, headline};
use crate::verdict::{JudgedTake, Reason, StringVerdict, Verdict, Warning};
use crate::words::grammar::strings;

/// The frets with these strings changed; at a fret where one is named.
fn take(frets: &str, changes: &[(u8, Verdict, Option<u8>)]) -> JudgedTake {
    let mut take = clean(frets);
    for &(string, verdict, heard) in changes {
        take = with(take, string, verdict, 0.95);
        take.strings[6 - string as usize].heard_fret = heard;
    }
    take
}

/// These strings off by so many cents, all others in tune.
fn off(frets: &str, cents: &[(u8, f32)]) -> JudgedTake {
    let mut take = clean(frets);
    for &(string, cents) in cents {
        take.strings[6 - string as usize].cents = Some(cents);
    }
    take
}

fn usual(take: &JudgedTake) -> Hand {
    Hand::usual(&take.frets, &Tuning::default())
}

fn explained(mut take: JudgedTake, history: &[JudgedTake]) -> JudgedTake {
    let hand = usual(&take);
    take.explain(&hand, history);
    take
}

fn with_fingers(mut take: JudgedTake, fingers: &str) -> JudgedTake {
    let fingers = fingers.parse().unwrap();
    let hand = Hand::with_fingers(&take.frets, fingers, &Tuning::default()).unwrap();
    take.explain(&hand, &[]);
    take
}

fn told(advice: &[Advice]) -> Vec<(Cause, Vec<u8>)> {
    advice
        .iter()
        .map(|a| (a.cause, a.strings.clone()))
        .collect()
}

/// What is said of the frets with these strings changed.
fn said(frets: &str, changes: &[(u8, Verdict, Option<u8>)]) -> Vec<(Cause, Vec<u8>)> {
    told(&explained(take(frets, changes), &[]).advice)
}

use Verdict::{Buzzing, Choked, Muted, Ringing, Unsure, WrongFret};

#[test]
fn nothing_is_said_of_a_chord_that_rings() {
    assert_eq!(said("133211", &[]), []);
    assert_eq!(said("x32010", &[]), []);
}

#[test]
fn nothing_is_said_of_a_take_that_was_not_judged() {
    let take = explained(not_judged(Warning::WrongChord { heard: None }), &[]);
    assert_eq!(take.advice, []);
}

#[test]
fn strings_that_the_barre_alone_holds_and_that_are_dead_or_buzz_are_the_barres_fault() {
    let slack = [(Cause::BarreSlack, vec![2, 1])];
    assert_eq!(said("133211", &[(2, Muted, None), (1, Muted, None)]), slack);
    assert_eq!(
        said("133211", &[(2, Buzzing, None), (1, Choked, None)]),
        slack
    );
    let end = [(Cause::BarreSlack, vec![1])];
    assert_eq!(said("133211", &[(1, Muted, None)]), end);
}

#[test]
fn one_inner_string_of_the_barre_alone_lies_in_a_crease() {
    let take = explained(take("133211", &[(2, Buzzing, None)]), &[]);
    assert_eq!(told(&take.advice), [(Cause::BarreCrease, vec![2])]);
    assert!(
        !take.advice[0].what.contains("leans"),
        "a buzz is no finger's"
    );
}

#[test]
fn a_dead_inner_string_beside_a_fingertip_has_two_explanations() {
    let take = explained(take("133211", &[(2, Muted, None)]), &[]);
    assert_eq!(told(&take.advice), [(Cause::BarreCrease, vec![2])]);
    let what = &take.advice[0].what;
    assert!(
        what.ends_with("Or the finger on string 3 leans on string 2."),
        "{what}"
    );
}

#[test]
fn a_barre_that_fails_together_with_most_fingertips_comes_first() {
    let all = said(
        "133211",
        &[(1, Muted, None), (4, Muted, None), (3, Choked, None)],
    );
    assert_eq!(
        all,
        [
            (Cause::FingerFlat, vec![4, 3]),
            (Cause::BarreSlack, vec![1])
        ]
    );
}

#[test]
fn a_dead_string_at_the_edge_of_the_stroke_may_have_been_missed_and_an_inner_one_not() {
    let what = |frets: &str, strings: &[u8]| {
        let changes: Vec<_> = strings.iter().map(|s| (*s, Muted, None)).collect();
        let advice = explained(take(frets, &changes), &[]).advice;
        advice[0].what.clone()
    };
    let missed = "Or the strum did not reach";
    for strings in [&[6][..], &[1], &[2, 1]] {
        let what = what("133211", strings);
        assert!(what.contains(missed), "{what}");
    }
    assert!(!what("133211", &[3]).contains(missed));
    assert!(!what("133211", &[6, 5, 4, 3]).contains(missed));
    assert!(what("133211", &[6]).ends_with(
        "Or the strum did not reach string 6: let the strumming hand go a little further."
    ));
}

#[test]
fn a_dead_fingertips_string_is_a_flat_fingertip() {
    assert_eq!(
        said("x32010", &[(5, Muted, None)]),
        [(Cause::FingerFlat, vec![5])]
    );
    assert_eq!(
        said("133211", &[(4, Choked, None)]),
        [(Cause::FingerFlat, vec![4])]
    );
}

#[test]
fn a_dead_open_string_beside_a_fingertip_is_leaned_on() {
    let take = explained(take("x32010", &[(1, Muted, None)]), &[]);
    assert_eq!(told(&take.advice), [(Cause::FingerLeans, vec![1])]);
    assert!(
        take.advice[0]
            .what
            .contains("the finger on string 2 leans on it")
    );
    let both = explained(clean_but_dead("x32010", &[3, 1]), &[]);
    assert!(
        both.advice[0]
            .what
            .contains("the fingers on strings 4 and 2 lean on them")
    );
}

fn clean_but_dead(frets: &str, strings: &[u8]) -> JudgedTake {
    let changes: Vec<_> = strings.iter().map(|&s| (s, Muted, None)).collect();
    take(frets, &changes)
}

#[test]
fn a_dead_open_string_far_from_all_fingers_was_not_struck() {
    assert_eq!(
        said("022000", &[(1, Muted, None)]),
        [(Cause::StrumMissed, vec![1])]
    );
}

#[test]
fn a_fingertips_string_at_the_barres_fret_has_no_finger_on_it() {
    assert_eq!(
        said("133211", &[(4, WrongFret, Some(1))]),
        [(Cause::FingerNotDown, vec![4])]
    );
    let near = explained(take("133211", &[(3, WrongFret, Some(1))]), &[]);
    assert_eq!(told(&near.advice), [(Cause::FingerNotDown, vec![3])]);
    let what = &near.advice[0].what;
    assert!(
        what.ends_with("Or the hand stands a fret too low."),
        "{what}"
    );
}

#[test]
fn a_string_that_sounds_open_is_held_by_nothing() {
    let open = [(Cause::NothingDown, vec![4])];
    assert_eq!(said("133211", &[(4, WrongFret, Some(0))]), open);
    assert_eq!(said("x32010", &[(4, WrongFret, Some(0))]), open);
}

#[test]
fn strings_one_fret_off_are_a_hand_that_has_slipped() {
    let slipped = [(Cause::HandSlipped, vec![5, 4])];
    let up = [(5, WrongFret, Some(4)), (4, WrongFret, Some(4))];
    let take = explained(take("133211", &up), &[]);
    assert_eq!(told(&take.advice), slipped);
    assert!(take.advice[0].what.contains("one fret too high"));
    assert!(take.advice[0].try_first.contains("towards the nut"));
    // One up and one down is no hand that moved.
    let both = [(5, WrongFret, Some(4)), (4, WrongFret, Some(2))];
    assert_eq!(said("133211", &both), []);
}

#[test]
fn a_fingertip_that_buzzes_stands_far_from_its_fret() {
    assert_eq!(
        said("x32010", &[(4, Buzzing, None)]),
        [(Cause::FarFromFret, vec![4])]
    );
}

#[test]
fn an_open_string_that_buzzes_is_the_guitars_or_the_strums() {
    assert_eq!(
        said("x32010", &[(3, Buzzing, None)]),
        [(Cause::FretOfGuitar, vec![3])]
    );
}

#[test]
fn buzz_on_most_strings_is_a_hard_strum() {
    let all = [1, 2, 3, 4, 5].map(|s| (s, Buzzing, None));
    assert_eq!(
        said("133211", &all),
        [(Cause::StrumHard, vec![5, 4, 3, 2, 1])]
    );
}

#[test]
fn a_low_string_that_rings_wants_a_fingertip_against_it() {
    let take = explained(take("x13331", &[(6, Ringing, Some(0))]), &[]);
    assert_eq!(told(&take.advice), [(Cause::LowStringRings, vec![6])]);
    assert!(
        take.advice[0]
            .try_first
            .contains("finger on string 5 rest lightly")
    );
}

#[test]
fn a_low_string_that_rings_at_a_fret_is_pressed_by_the_finger_that_reaches_over() {
    let take = explained(take("x13331", &[(6, Ringing, Some(1))]), &[]);
    assert_eq!(told(&take.advice), [(Cause::LowStringRings, vec![6])]);
    assert!(take.advice[0].what.contains("at fret 1"));
    assert!(take.advice[0].try_first.contains("without pressing"));
}

#[test]
fn another_string_that_rings_wants_a_flatter_finger_beside_it() {
    assert_eq!(
        said("133xxx", &[(3, Ringing, Some(0)), (2, Ringing, Some(0))]),
        [(Cause::OtherStringRings, vec![3, 2])]
    );
}

#[test]
fn one_sharp_string_is_pressed_too_hard_and_only_from_20_cents_on() {
    let pressed = |cents| told(&explained(off("133211", &[(3, cents)]), &[]).advice);
    assert_eq!(pressed(24.0), [(Cause::PressedSharp, vec![3])]);
    assert_eq!(pressed(19.0), []);
}

#[test]
fn several_strings_off_alike_are_the_tuning() {
    let alike = explained(off("133211", &[(3, 22.0), (2, 25.0)]), &[]);
    assert_eq!(told(&alike.advice), [(Cause::TuneFirst, vec![3, 2])]);
    assert!(alike.advice[0].what.contains("22 to 25 cents sharp"));
    let unlike = explained(off("133211", &[(3, 22.0), (2, -25.0)]), &[]);
    assert_eq!(unlike.advice[0].cause, Cause::PressedSharp);
}

#[test]
fn a_flat_string_and_an_open_one_are_for_the_tuner() {
    let tuner = |frets, string, cents| {
        let advice = explained(off(frets, &[(string, cents)]), &[]).advice;
        assert_eq!(told(&advice), [(Cause::TuneFirst, vec![string])]);
    };
    tuner("133211", 3, -24.0);
    tuner("x32010", 1, 24.0);
}

#[test]
fn a_guitar_that_is_off_as_a_whole_is_said_once() {
    let mut flat = clean("133211");
    flat.tuning_cents = -31.0;
    let flat = explained(flat, &[]);
    assert_eq!(flat.advice[0].cause, Cause::TuneFirst);
    assert!(flat.advice[0].what.contains("31 cents flat"));
    assert_eq!(crate::verdict::wording::tuning_note(&flat), None);
}

#[test]
fn most_strings_dead_are_a_palm_a_sleeve_or_old_strings() {
    let all = [1, 2, 3, 4, 5, 6].map(|s| (s, Choked, None));
    assert_eq!(
        said("133211", &all),
        [(Cause::AllDull, vec![6, 5, 4, 3, 2, 1])]
    );
}

#[test]
fn strings_dead_all_at_once_are_a_hand_that_touches_and_does_not_press() {
    let dead = |frets: &str, strings: &[u8]| {
        let changes: Vec<_> = strings.iter().map(|s| (*s, Muted, None)).collect();
        explained(take(frets, &changes), &[clean("577655")]).advice
    };
    for strings in [&[6, 5, 4, 3, 2, 1][..], &[6, 4, 3, 1]] {
        let advice = dead("133211", strings);
        assert_eq!(told(&advice), [(Cause::NothingRings, strings.to_vec())]);
        assert!(advice[0].what.contains("the barre touches"), "{advice:?}");
    }
    let open = dead("x32010", &[5, 4, 3, 2, 1]);
    assert_eq!(told(&open), [(Cause::NothingRings, vec![5, 4, 3, 2, 1])]);
    assert!(!open[0].what.contains("barre"), "{open:?}");
    let three = dead("133211", &[6, 4, 3]);
    assert!(
        three.iter().all(|a| a.cause != Cause::NothingRings),
        "{three:?}"
    );
}

#[test]
fn most_strings_dead_at_this_fret_alone_may_be_the_guitar() {
    let all = [1, 2, 3, 4, 5, 6].map(|s| (s, Choked, None));
    let elsewhere = [clean("355433"), clean("577655")];
    let take = explained(take("133211", &all), &elsewhere);
    assert_eq!(take.advice[0].cause, Cause::FretOfGuitar);
    assert!(
        take.advice[0]
            .try_first
            .contains("one fret higher or lower")
    );
    // The same fret before says nothing about other frets.
    let here = explained(take.clone(), &[clean("133211")]);
    assert_eq!(here.advice[0].cause, Cause::AllDull);
}

#[test]
fn a_quiet_string_1_under_the_ring_fingers_barre_is_usual_and_no_fault() {
    let dead = take("x24442", &[(1, Muted, None)]);
    let ring = with_fingers(dead.clone(), "x13331");
    assert_eq!(ring.strings[5].verdict, Verdict::Silent);
    assert_eq!(told(&ring.advice), [(Cause::UsualQuiet, vec![1])]);
    // With a finger for each string it is one.
    let four = with_fingers(dead.clone(), "x12341");
    assert_eq!(four.strings[5].verdict, Muted);
    assert_eq!(told(&four.advice), [(Cause::BarreSlack, vec![1])]);
    assert!(!four.advice[0].what.contains("usual"));
    // Where the fingers are not known, both are said.
    let open = explained(dead, &[]);
    assert_eq!(open.strings[5].verdict, Muted);
    assert!(open.advice[0].what.contains("string 1 may then stay quiet"));
}

#[test]
fn strings_that_fail_under_the_ring_fingers_barre_are_that_fingers() {
    let take = with_fingers(
        take("x24442", &[(2, Muted, None), (4, Buzzing, None)]),
        "x13331",
    );
    assert_eq!(told(&take.advice), [(Cause::BarreSlack, vec![4, 2])]);
    assert!(
        take.advice[0].what.contains("the ring finger"),
        "{}",
        take.advice[0].what
    );
}

#[test]
fn named_fingers_are_called_by_name() {
    let take = with_fingers(take("x24442", &[(3, Muted, None)]), "x12341");
    assert!(
        take.advice[0]
            .what
            .contains("the ring finger probably lies too flat")
    );
}

#[test]
fn an_unsure_string_of_a_strum_asks_for_picking_but_not_when_picked() {
    let mut take = take("133211", &[(3, Unsure, None)]);
    assert_eq!(
        told(&explained(take.clone(), &[]).advice),
        [(Cause::Covered, vec![3])]
    );
    take.manner = Manner::Picked;
    assert_eq!(explained(take, &[]).advice, []);
}

#[test]
fn at_most_two_causes_are_told_the_most_useful_first() {
    let many = [
        (6, Ringing, Some(0)),
        (5, WrongFret, Some(0)),
        (4, Muted, None),
        (1, Muted, None),
    ];
    assert_eq!(
        said("x13331", &many),
        [(Cause::NothingDown, vec![5]), (Cause::BarreSlack, vec![1])]
    );
}

#[test]
fn what_has_not_helped_twice_is_not_said_a_third_time() {
    let dead = || explained(take("133211", &[(2, Muted, None), (1, Muted, None)]), &[]);
    let first = dead();
    let mut third = dead();
    third.explain(&usual(&first), &[dead(), dead()]);
    assert_eq!(first.advice[0].cause, third.advice[0].cause);
    assert_ne!(first.advice[0].try_first, third.advice[0].try_first);
    let mut other_chord = dead();
    other_chord.explain(&usual(&first), &[clean("x02220"), dead()]);
    assert_eq!(first.advice, other_chord.advice);
}

#[test]
fn a_fault_after_two_good_takes_wants_another_strum_first() {
    let good = || clean("133211");
    let slip = explained(take("133211", &[(4, Muted, None)]), &[good(), good()]);
    assert!(slip.advice[0].try_first.starts_with("Strum once more"));
    let first = explained(take("133211", &[(4, Muted, None)]), &[good()]);
    assert!(!first.advice[0].try_first.starts_with("Strum once more"));
}

#[test]
fn every_rule_has_a_reason_and_words() {
    for rule in RULES {
        assert!(!rule.reason.is_empty(), "{rule:?}");
        assert!(!rule.each.is_empty(), "{rule:?}");
        assert!(
            !(rule.says.what.is_empty() && rule.says.otherwise.is_empty()),
            "{rule:?}"
        );
        assert_eq!(
            rule.says.what.is_empty(),
            rule.says.try_first.is_empty(),
            "{rule:?}"
        );
    }
}

/// Any judged take of a few voicings: what was heard, and how far off.
fn any_take() -> impl Strategy<Value = JudgedTake> {
    let frets = prop::sample::select(vec![
        "133211", "x24442", "x32010", "022000", "x02220", "133xxx", "3x0003", "xx0232", "x13361",
        "000000",
    ]);
    let string = (
        0..Verdict::ALL.len(),
        prop::option::of(0u8..7),
        -45f32..45.0,
        prop::bool::ANY,
        0.4f32..1.0,
    );
    (frets, prop::array::uniform6(string), -40f32..40.0).prop_map(|(frets, strings, tuning)| {
        let mut take = clean(frets);
        take.tuning_cents = tuning;
        for (s, (which, heard, cents, open_which, sure)) in take.strings.iter_mut().zip(strings) {
            let open = s.expected_fret.is_none();
            s.verdict = match Verdict::ALL[which] {
                Verdict::Clean | Muted | Choked | Buzzing | WrongFret if open => Verdict::Silent,
                Verdict::Silent | Ringing if !open => Verdict::Clean,
                other => other,
            };
            let fret_told = matches!(s.verdict, WrongFret | Ringing);
            s.heard_fret = heard.filter(|h| fret_told && Some(*h) != s.expected_fret);
            s.cents = (s.verdict == Verdict::Clean).then_some(cents);
            let dead = matches!(s.verdict, Muted | Choked);
            s.confidence = sure;
            if dead {
                s.rings = 1.0 - sure;
            }
            s.reason = (dead && open_which).then_some(Reason::MutedOrChoked);
        }
        take
    })
}

/// Words of a sentence, at most: as `scripts/prose` has it for what is written as it is said.
const MOST_WORDS: usize = 30;

/// Whether a sentence says another thing of a string than the headline and the table do.
fn contradicts(what: &str, string: &StringVerdict) -> bool {
    let (one, many) = does(string);
    // This holds of every fault.
    let what = what.replace("do not ring as they should", "");
    let said = [
        "does not ring",
        "do not ring",
        "dies early",
        "die early",
        "are dead or die early",
    ];
    let surely_struck = string.verdict == Choked && !string.dead_or_dying();
    let reached = what.split("did not reach ").nth(1);
    let missed = reached.and_then(|after| after.split(':').next());
    let missed = missed.is_some_and(|named| named.contains(&string.string.to_string()));
    said.iter()
        .any(|said| what.contains(said) && !one.contains(said) && !many.contains(said))
        || missed && surely_struck
}

/// Whether a sentence is surer, or less sure, of what strings did than the table and the headline are; what is said of most
/// strings together is as sure as the headline.
fn is_differently_sure(advice: &Advice, take: &JudgedTake) -> bool {
    let named = strings(&advice.strings);
    let subject = |what: &'static str| what.replace("{}", &named);
    let begins = [
        capital(&named),
        subject("Of the strings under the barre {} alone"),
    ];
    let told = begins
        .iter()
        .find_map(|begin| advice.what.strip_prefix(begin.as_str()));
    let Some(verb) = told.and_then(|told| told.split_whitespace().next()) else {
        return false;
    };
    let those = advice
        .strings
        .iter()
        .map(|s| &take.strings[6 - usize::from(*s)]);
    let said = Some(verb).filter(|word| ["probably", "perhaps"].contains(word));
    !advice.what.contains("all at once") && said != doubt_of_all(those)
}

#[test]
fn a_sentence_that_contradicts_the_headline_is_noticed() {
    let take = take("133211", &[(3, Muted, None), (1, Choked, None)]);
    let [dead, dies] = [3, 5].map(|i| &take.strings[i]);
    assert!(!contradicts("String 3 does not ring.", dead));
    assert!(contradicts("String 3 dies early.", dead));
    assert!(contradicts("Most strings do not ring.", dies));
    assert!(!contradicts(
        "Strings 3 and 1 do not ring as they should.",
        dies
    ));
    assert!(contradicts(
        "Or the strum did not reach string 1: go further.",
        dies
    ));
    assert!(!contradicts(
        "Or the strum did not reach string 3: go further.",
        dead
    ));
    let unsure = explained(with(clean("133211"), 3, Muted, 0.7), &[]);
    assert!(!is_differently_sure(&unsure.advice[0], &unsure));
    let mut surer = unsure.advice[0].clone();
    surer.what = surer.what.replace("probably does", "does");
    assert!(is_differently_sure(&surer, &unsure));
}

proptest! {
    #[test]
    fn only_what_was_heard_is_explained_and_in_plain_sentences(
        last in prop::collection::vec(any_take(), 0..4), take in any_take()
    ) {
        let last: Vec<JudgedTake> = last.into_iter().map(|t| explained(t, &[])).collect();
        let take = explained(take, &last);
        prop_assert!(take.advice.len() <= 2);
        let mut all = BTreeSet::new();
        let headline = headline(&take);
        for advice in &take.advice {
            let of_faults = !matches!(
                advice.cause,
                Cause::TuneFirst | Cause::PressedSharp | Cause::Covered | Cause::UsualQuiet
            );
            prop_assert!(!of_faults || !is_differently_sure(advice, &take), "{take:?}");
            prop_assert!(!advice.strings.is_empty());
            prop_assert!(advice.strings.is_sorted_by(|a, b| a > b), "low to high");
            for text in [&advice.what, &advice.try_first] {
                prop_assert!(text.ends_with('.') && text.starts_with(char::is_uppercase), "{text}");
                prop_assert!(!text.contains(['{', '}', '[', ']', '|']), "{text}");
                prop_assert!(!text.contains("  ") && !text.contains(" ."), "{text}");
                for sentence in text.split_inclusive(". ") {
                    let words = sentence.split_whitespace().count();
                    prop_assert!(words <= MOST_WORDS, "{words}: {sentence}");
                }
            }
            for &number in &advice.strings {
                let s = &take.strings[6 - usize::from(number)];
                prop_assert!(!contradicts(&advice.what, s), "{s:?}: {}", advice.what);
                let (one, many) = does(s);
                let in_short = headline.starts_with("Look at") || take.almost_nothing_rings();
                let told = in_short || headline.contains(one) || headline.contains(many);
                prop_assert!(!s.verdict.is_fault() || told, "{headline} {}", advice.what);
                let off = s.cents.is_some_and(|c| c.abs() >= 20.0);
                let guitar = take.tuning_cents.abs() >= 20.0;
                match advice.cause {
                    Cause::TuneFirst => prop_assert!(off || guitar),
                    Cause::PressedSharp => prop_assert!(off),
                    Cause::Covered => prop_assert_eq!(s.verdict, Unsure),
                    _ => prop_assert!(s.verdict.is_fault(), "{advice:?}"),
                }
            }
            all.extend(advice.strings.iter().copied());
        }
        // Two causes never speak of the very same strings.
        if let [a, b] = take.advice.as_slice() {
            prop_assert!(b.strings.iter().any(|s| !a.strings.contains(s)));
        }
    }
}
