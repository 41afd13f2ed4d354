//! The text form on takes made by hand.

use super::*;
use crate::fretboard::STRINGS;
use crate::report::picture::WIDTH;
use crate::verdict::examples::*;
use crate::verdict::{Hand, Verdict, Warning};

const RIGHT: Look = Look {
    colour: false,
    left: false,
};

fn report(look: Look, files: &[(&str, Vec<JudgedTake>)]) -> String {
    let mut text = Text::new(look, Tuning::default(), files.len());
    let mut out = Vec::new();
    for (file, takes) in files {
        text.begin(Path::new(file));
        for take in takes {
            text.take(&mut out, take.clone()).unwrap();
        }
        text.end(&mut out, None).unwrap();
    }
    text.summary(&mut out).unwrap();
    let out = String::from_utf8(out).unwrap();
    assert!(out.lines().all(|line| line.trim_end() == line), "{out}");
    out
}

fn one(take: JudgedTake) -> String {
    report(RIGHT, &[("take.wav", vec![take])])
}

fn two_dead() -> JudgedTake {
    with(with(bb(), 4, Verdict::Muted, 0.97), 3, Verdict::Muted, 0.7)
}

fn all_kinds() -> JudgedTake {
    let mut take = with(bb(), 6, Verdict::Ringing, 0.9);
    take = with(take, 5, Verdict::Choked, 0.9);
    take = with(take, 4, Verdict::Buzzing, 0.55);
    take = with(take, 3, Verdict::WrongFret, 0.9);
    take.tuning_cents = -31.0;
    take.strings[4].cents = Some(26.0);
    with(take, 1, Verdict::Unsure, 0.4)
}

#[test]
fn a_take_with_two_dead_strings_is_a_sentence_and_a_picture() {
    insta::assert_snapshot!(one(two_dead()), @r#"
    Strings 4 and 3 probably do not ring.

    string note fret
       6   E     x  ○         silent, as it should be
       5   Bb    1  ● ━━━━━━  clean
       4   F     3  ■ ━       muted: a dead thud
       3   Bb    3  ■ ━       probably muted: a dead thud
       2   D     3  ● ━━━━━━  clean
       1   F     1  ● ━━━━━━  clean

    Expected: Bb (x13331), strummed at 0:00.3.
    "#);
}

#[test]
fn every_verdict_has_its_own_look() {
    insta::assert_snapshot!(one(all_kinds()), @r#"
    Look at strings 6, 5, 4 and 3; string 1 could not be judged.

    string note fret
       6   E     x  ▲ ━━━━━━  ringing open: unwanted
       5   Bb    1  ▼ ━━━     choked: dies early
       4   F     3  ≈ ≈≈≈≈≈≈  perhaps buzzing
       3   Bb    3  ≠ ━━━━━━  wrong fret: 1, not 3
       2   D     3  ● ━━━━━━  clean, 26 cents sharp
       1   F     1  ?         unsure: other strings cover it

    The whole guitar is 31 cents flat; the verdicts allow for
    that.
    Expected: Bb (x13331), strummed at 0:00.3.
    "#);
}

#[test]
fn a_left_handed_picture_is_mirrored_and_still_reads_low_to_high() {
    let look = Look {
        colour: false,
        left: true,
    };
    insta::assert_snapshot!(report(look, &[("take.wav", vec![all_kinds()])]), @r#"
    Look at strings 6, 5, 4 and 3; string 1 could not be judged.

    string note          fret
       6   E    ━━━━━━ ▲   x  ringing open: unwanted
       5   Bb      ━━━ ▼   1  choked: dies early
       4   F    ≈≈≈≈≈≈ ≈   3  perhaps buzzing
       3   Bb   ━━━━━━ ≠   3  wrong fret: 1, not 3
       2   D    ━━━━━━ ●   3  clean, 26 cents sharp
       1   F           ?   1  unsure: other strings cover it

    The whole guitar is 31 cents flat; the verdicts allow for
    that.
    Expected: Bb (x13331), strummed at 0:00.3.
    "#);
}

#[test]
fn a_take_that_was_not_judged_says_what_to_do_and_shows_no_strings() {
    insta::assert_snapshot!(one(not_judged(Warning::WrongChord { heard: None })), @r#"
    Not judged. That was not Bb (x13331). Compare your fingers
    with the frets, or name the chord that you play.

    Expected: Bb (x13331), strummed at 0:00.3.
    "#);
    insta::assert_snapshot!(one(not_judged(Warning::ChordGuessed { sure: 0.71 })), @r#"
    Not judged. No chord was named: Bb (x13331) fits best, but
    only 71 % sure. Say which chord: add --chord Bb or --frets
    x13331.

    Best fit: Bb (x13331), strummed at 0:00.3.
    "#);
}

#[test]
fn a_few_takes_have_a_picture_each() {
    let (first, second) = (one(bb()), one(two_dead()));
    assert_eq!(
        report(RIGHT, &[("take.wav", vec![bb(), two_dead()])]),
        format!("Take 1 of 2\n{first}\nTake 2 of 2\n{second}")
    );
}

#[test]
fn many_takes_have_a_line_each_and_a_table() {
    let takes = vec![
        bb(),
        two_dead(),
        all_kinds(),
        not_judged(Warning::TooQuiet { peak_dbfs: -60.0 }),
        with(bb(), 2, Verdict::Unsure, 0.5),
    ];
    insta::assert_snapshot!(report(RIGHT, &[("take.wav", takes)]), @r#"
    take        at  6 5 4 3 2 1
       1    0:00.3  ○ ● ● ● ● ●  as it should be
       2    0:00.3  ○ ● ■ ■ ● ●  look at 4 and 3
       3    0:00.3  ▲ ▼ ≈ ≠ ● ?  look at 6, 5, 4 and 3
       4    0:00.3  - - - - - -  not judged: too quiet
       5    0:00.3  ○ ● ● ● ? ●  unsure of 2

    how often, string 6    5    4    3    2    1
    ● clean                3    2    2    3    3
    ○ silent          3
    ■ muted                     1    1
    ▼ choked               1
    ≈ buzzing                   1
    ≠ wrong fret                     1
    ▲ ringing         1
    ? unsure                              1    1

    Too quiet. Move the microphone nearer or turn its level up,
    and record again.
    5 takes. Without a fault: 2. With strings to look at: 2. Not
    judged: 1.
    "#);
}

#[test]
fn several_recordings_have_one_summary() {
    let files = [
        ("monday.wav", vec![bb()]),
        ("tuesday.wav", vec![two_dead()]),
        ("empty.wav", vec![]),
    ];
    let (monday, tuesday) = (one(bb()), one(two_dead()));
    let text = report(RIGHT, &files);
    let pictures = format!("monday.wav\n{monday}\ntuesday.wav\n{tuesday}\n");
    let summary = text.strip_prefix(&pictures).expect(&text);
    insta::assert_snapshot!(summary, @r#"
    how often, string 6    5    4    3    2    1
    ● clean                2    1    1    2    2
    ○ silent          2
    ■ muted                     1    1

    3 recordings. As they should be: 1. With strings to look at:
    1. Not judged: 1.
    "#);
}

/// `take` as the usual fingering explains it.
fn explained(mut take: JudgedTake) -> JudgedTake {
    take.explain(&Hand::usual(&take.frets, &Tuning::default()), &[]);
    take
}

#[test]
fn what_to_try_stands_under_the_picture_and_care_at_the_end() {
    let take = explained(with(two_dead(), 6, Verdict::Ringing, 0.9));
    let text = one(take.clone());
    let below = text
        .split_once("\n\n")
        .unwrap()
        .1
        .split_once("\n\n")
        .unwrap()
        .1;
    insta::assert_snapshot!(below, @r#"
    Strings 4 and 3 probably do not ring: their fingers probably
    lie too flat. Or the finger on string 2 leans on string 3.
    Try: Press with the fingertip, last joint bent, close to the
    fret.

    String 6 rings though it should be quiet.
    Try: Let the tip of the finger on string 5 rest lightly
    against the string beside it, or begin the strum at string
    5.

    Expected: Bb (x13331), strummed at 0:00.3.

    Stop when it hurts, and rest your hands every half hour. Do
    not press through pain; if it stays, see a doctor or someone
    else qualified.
    "#);
    let twice = report(
        RIGHT,
        &[("1.wav", vec![take.clone()]), ("2.wav", vec![take])],
    );
    assert_eq!(twice.matches("Stop when it hurts").count(), 1);
    assert!(!one(bb()).contains("Stop when it hurts"));
}

#[test]
fn a_list_tells_what_was_said_most_often() {
    let barre = explained(with(bb(), 1, Verdict::Muted, 0.9));
    let takes = vec![barre.clone(), explained(two_dead()), barre, bb()];
    let text = report(RIGHT, &[("take.wav", takes)]);
    insta::assert_snapshot!(text, @r#"
    take        at  6 5 4 3 2 1
       1    0:00.3  ○ ● ● ● ● ■  look at 1
       2    0:00.3  ○ ● ■ ■ ● ●  look at 4 and 3
       3    0:00.3  ○ ● ● ● ● ■  look at 1
       4    0:00.3  ○ ● ● ● ● ●  as it should be

    how often, string 6    5    4    3    2    1
    ● clean                4    3    3    4    2
    ○ silent          4
    ■ muted                     1    1         2

    In 2 takes: String 1 does not ring, and only the barre holds
    it. Or you hold strings 4 to 2 with the ring finger: string
    1 may then stay quiet.
    Try: Press the barre a little more: close behind the fret,
    the index finger turned a little onto its outer, harder
    side.

    In 1 take: Strings 4 and 3 probably do not ring: their
    fingers probably lie too flat. Or the finger on string 2
    leans on string 3.
    Try: Press with the fingertip, last joint bent, close to the
    fret.

    4 takes. Without a fault: 1. With strings to look at: 3. Not
    judged: 0.

    Stop when it hurts, and rest your hands every half hour. Do
    not press through pain; if it stays, see a doctor or someone
    else qualified.
    "#);
}

#[test]
fn many_recordings_have_a_line_for_each_take() {
    let files = [
        ("1.wav", vec![bb()]),
        ("2.wav", vec![two_dead()]),
        ("3.wav", vec![bb(), bb()]),
        ("4.wav", vec![bb()]),
    ];
    insta::assert_snapshot!(report(RIGHT, &files), @r#"
    take        at  6 5 4 3 2 1
    1.wav
       1    0:00.3  ○ ● ● ● ● ●  as it should be
    2.wav
       1    0:00.3  ○ ● ■ ■ ● ●  look at 4 and 3
    3.wav
       1    0:00.3  ○ ● ● ● ● ●  as it should be
       2    0:00.3  ○ ● ● ● ● ●  as it should be
    4.wav
       1    0:00.3  ○ ● ● ● ● ●  as it should be

    how often, string 6    5    4    3    2    1
    ● clean                5    4    4    5    5
    ○ silent          5
    ■ muted                     1    1

    4 recordings. As they should be: 3. With strings to look at:
    1. Not judged: 0.
    "#);
}

#[test]
fn takes_that_were_not_judged_make_no_table() {
    let takes = vec![not_judged(Warning::WrongChord { heard: None }); 4];
    insta::assert_snapshot!(report(RIGHT, &[("take.wav", takes)]), @r#"
    take        at  6 5 4 3 2 1
       1    0:00.3  - - - - - -  not judged: another chord
       2    0:00.3  - - - - - -  not judged: another chord
       3    0:00.3  - - - - - -  not judged: another chord
       4    0:00.3  - - - - - -  not judged: another chord

    Another chord. Compare your fingers with the frets, or name
    the chord that you play.
    4 takes. Without a fault: 0. With strings to look at: 0. Not
    judged: 4.
    "#);
}

#[test]
fn colour_changes_no_word() {
    let look = Look {
        colour: true,
        left: false,
    };
    let coloured = report(look, &[("take.wav", vec![all_kinds()])]);
    let mut plain = String::new();
    for part in coloured.split('\x1b') {
        plain += match part.strip_prefix('[') {
            Some(part) => part.split_once('m').unwrap().1,
            None => part,
        };
    }
    assert_ne!(coloured, plain);
    assert_eq!(plain, one(all_kinds()));
}

#[test]
fn no_line_is_wider_than_a_narrow_terminal() {
    let voicings = ["x13331", "x 10 12 12 12 10", "x02220"];
    for frets in voicings {
        for verdict in Verdict::ALL {
            for confidence in [0.3, 0.7, 0.9] {
                for heard in [2, 24] {
                    let mut take = bb();
                    take.frets = frets.parse().unwrap();
                    for i in 0..STRINGS {
                        take = with(take, i as u8 + 1, verdict, confidence);
                    }
                    for (s, &fret) in take.strings.iter_mut().zip(&take.frets.0) {
                        s.expected_fret = fret;
                        s.heard_fret = s.heard_fret.map(|_| heard);
                        s.cents = Some(-44.0);
                    }
                    for text in [
                        one(take.clone()),
                        report(RIGHT, &[("t.wav", vec![take; FEW + 1])]),
                    ] {
                        for line in text.lines() {
                            assert!(line.chars().count() <= WIDTH, "{line}");
                        }
                    }
                }
            }
        }
    }
}

#[test]
fn a_moment_is_told_as_on_a_clock() {
    assert_eq!(clock(0.31), "0:00.3");
    assert_eq!(clock(59.96), "1:00.0");
    assert_eq!(clock(3725.04), "1:02:05.0");
}
