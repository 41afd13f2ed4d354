//! The fretboard against the world: pitches, frets, capo, chord names and their spelling.

use approx::assert_abs_diff_eq;
use proptest::prelude::*;
use ringtrue::fretboard::library;
use ringtrue::fretboard::{ChordName, Frets, NoteName, Quality, STRINGS, Tuning, pitch};
use ringtrue::spectrum::partials::cents;

fn chord(text: &str) -> ChordName {
    text.parse().unwrap()
}

fn frets(text: &str) -> Frets {
    text.parse().unwrap()
}

fn midi_of(frets: &Frets, tuning: &Tuning) -> Vec<u8> {
    frets.sounding().map(|(i, f)| tuning.midi(i, f)).collect()
}

// Pitch

/// ISO 16:1975: A4 is 440 Hz; MIDI note 69 is A4 and 60 is middle C (MIDI 1.0 specification).
#[test]
fn the_tuning_frequency_is_that_of_iso_16() {
    assert_eq!(pitch::A4_MIDI, 69);
    assert_eq!(pitch::midi_to_hz(69.0, 440.0), 440.0);
    assert_eq!(pitch::name(69), "A4");
    assert_eq!(pitch::name(60), "C4");
}

/// Computed from the twelve-tone formula f = 440 · 2^((m − 69)/12).
#[test]
fn open_strings_follow_the_twelve_tone_formula() {
    let tuning = Tuning::default();
    let expected = [
        82.406889, 110.0, 146.832384, 195.997718, 246.941651, 329.627557,
    ];
    for (index, hz) in expected.into_iter().enumerate() {
        assert_abs_diff_eq!(tuning.hz(index, 0), hz, epsilon = 1e-6);
    }
    let e2 = tuning.hz(0, 0);
    assert_abs_diff_eq!(e2 * 2f64.powf(50.0 / 1200.0) - e2, 2.415, epsilon = 1e-3);
    assert_abs_diff_eq!(tuning.hz(0, 1) - e2, 4.900, epsilon = 1e-3);
    assert_abs_diff_eq!(cents(e2, tuning.hz(0, 1)), 100.0, epsilon = 1e-9);
}

#[test]
fn another_reference_pitch_moves_every_string_alike() {
    let low = Tuning::default().with_a4_hz(415.0).unwrap();
    for index in 0..STRINGS {
        let ratio = low.hz(index, 3) / Tuning::default().hz(index, 3);
        assert_abs_diff_eq!(ratio, 415.0 / 440.0, epsilon = 1e-12);
    }
}

/// Computed from L (1 − 2^(−n/12)) for L = 650 mm; each remaining length over 17.817153745.
#[test]
fn frets_stand_where_the_formula_puts_them() {
    let expected = [
        (1, 36.4817),
        (3, 103.4173),
        (5, 163.0502),
        (7, 216.1770),
        (12, 325.0),
    ];
    for (fret, mm) in expected {
        assert_abs_diff_eq!(650.0 * pitch::fret_position(fret), mm, epsilon = 5e-5);
    }
    let mut remaining = 1.0;
    for fret in 1..=Frets::HIGHEST {
        remaining -= remaining / 17.817153745;
        assert_abs_diff_eq!(pitch::fret_position(fret), 1.0 - remaining, epsilon = 1e-9);
    }
}

/// The old luthiers' rule of 18 puts fret 12 at 1187.46 cents (computed): the formula is not it.
#[test]
fn the_rule_of_eighteen_is_not_the_twelve_tone_scale() {
    let remaining = (17.0f64 / 18.0).powi(12);
    assert_abs_diff_eq!(cents(1.0, 1.0 / remaining), 1187.46, epsilon = 0.01);
}

/// Common practice: fret 3 of string 5 is C, its fret 5 D, fret 3 of string 6 G; and so along.
#[test]
fn root_notes_along_strings_six_and_five_are_the_known_ones() {
    let tuning = Tuning::default();
    let along = |index: usize| -> Vec<String> {
        let note = |fret| NoteName::usual(tuning.midi(index, fret) % 12).to_string();
        (0..=12).map(note).collect()
    };
    let six = "E F F# G Ab A Bb B C C# D Eb E";
    let five = "A Bb B C C# D Eb E F F# G Ab A";
    assert_eq!(along(0).join(" "), six);
    assert_eq!(along(1).join(" "), five);
}

/// Common practice: a capo at fret n raises every string by n semitones.
#[test]
fn a_capo_raises_what_sounds_and_not_what_is_played() {
    let capo = Tuning::default().with_capo(3).unwrap();
    let g = library::voicing_for(&chord("G"), None, None, &capo).unwrap();
    assert_eq!(g.frets, frets("320003"));
    assert_eq!(midi_of(&g.frets, &capo), [46, 50, 53, 58, 62, 70]);
    assert_eq!(g.chord.transposed(capo.capo), chord("Bb"));
    let named = library::name_voicing(&g.frets, &capo).unwrap();
    assert_eq!(named.chord, chord("G"));
}

// Chords

/// Harte, Sandler, Abdallah and Gómez, ISMIR 2005, 66-71: the shorthand for chords, as semitones
/// above the root. Its m6 is common practice on guitar (Am6 = A C E F#).
#[test]
fn chords_have_the_tones_that_harte_gives() {
    let expected: [(&str, &[u8]); 18] = [
        ("C", &[0, 4, 7]),
        ("Cm", &[0, 3, 7]),
        ("Cdim", &[0, 3, 6]),
        ("Caug", &[0, 4, 8]),
        ("Cmaj7", &[0, 4, 7, 11]),
        ("Cm7", &[0, 3, 7, 10]),
        ("C7", &[0, 4, 7, 10]),
        ("Cdim7", &[0, 3, 6, 9]),
        ("Cm7b5", &[0, 3, 6, 10]),
        ("Cmmaj7", &[0, 3, 7, 11]),
        ("C6", &[0, 4, 7, 9]),
        ("Cm6", &[0, 3, 7, 9]),
        ("C9", &[0, 4, 7, 10, 2]),
        ("Cmaj9", &[0, 4, 7, 11, 2]),
        ("Cm9", &[0, 3, 7, 10, 2]),
        ("Csus2", &[0, 2, 7]),
        ("Csus4", &[0, 5, 7]),
        ("C5", &[0, 7]),
    ];
    for (name, classes) in expected {
        assert_eq!(chord(name).pitch_classes(), classes, "{name}");
    }
}

/// Common practice: a chord's letters go up in thirds.
#[test]
fn chord_tones_are_spelled_by_letter() {
    let tones = |name: &str| {
        let tones: Vec<String> = chord(name)
            .tones()
            .iter()
            .map(NoteName::to_string)
            .collect();
        tones.join(" ")
    };
    assert_eq!(tones("Bb"), "Bb D F");
    assert_eq!(tones("B"), "B D# F#");
    assert_eq!(tones("F#m"), "F# A C#");
    assert_eq!(tones("Ebm7"), "Eb Gb Bb Db");
    assert_eq!(tones("E7"), "E G# B D");
    assert_eq!(tones("Am6"), "A C E F#");
    assert_eq!(tones("Cdim7"), "C Eb Gb Bbb");
    assert_eq!(tones("Gsus2"), "G A D");
    assert_eq!(tones("G/F"), "G B D F");
    assert_eq!(tones("C/G"), "C E G");
}

#[test]
fn the_same_chord_may_be_written_in_many_ways() {
    let groups: [&[&str]; 14] = [
        &["Bb", "B♭", "bb", "BbM", "Bbmaj", "Bb major", " Bb "],
        &["Bm", "Bmin", "B-", "B minor", "bm", "BMin"],
        &["F#m", "F♯m", "f#min"],
        &[
            "CΔ7", "Cmaj7", "CM7", "CΔ", "C△7", "CMaj7", "C maj7", "C(maj7)",
        ],
        &["Am7", "Amin7", "A-7", "a minor 7"],
        &["Dsus4", "Dsus", "DSus4"],
        &["E7", "Edom7", "e7"],
        &["Bdim", "B°", "Bo"],
        &["Bm7b5", "Bø", "Bø7", "Bm7♭5", "Bm7(b5)"],
        &["Caug", "C+"],
        &["C7sus4", "C7sus"],
        &["C69", "C6/9"],
        &["C7#9", "C7(♯9)"],
        &["C/G", "CM/G", "Cmaj/g"],
    ];
    for group in groups {
        for name in group {
            assert_eq!(chord(name), chord(group[0]), "{name}");
        }
    }
    assert_eq!(chord("A/A"), chord("A"));
    assert_eq!(chord("C6/9/E").bass, Some("E".parse().unwrap()));
}

#[test]
fn every_chord_is_read_back_as_it_is_written() {
    for root in 0..12 {
        for quality in Quality::ALL {
            for bass in [None, Some(NoteName::usual(root + 5))] {
                let plain = ChordName::on(root, quality);
                let name = ChordName { bass, ..plain };
                assert_eq!(name.to_string().parse(), Ok(name));
            }
        }
    }
}

#[test]
fn rubbish_is_no_chord_and_the_sentence_says_why() {
    let error = |text: &str| text.parse::<ChordName>().unwrap_err().to_string();
    assert!(error("H#").starts_with("a chord begins with its root, a letter from A to G"));
    assert!(error("H#").ends_with("(the German H is B)"));
    assert!(error("").contains("\"\""));
    assert!(error("x13331").starts_with("a chord begins with its root"));
    assert!(error("Bbb").contains("\"b\" after it is no known kind"));
    assert!(error("Cfoo").contains("\"foo\""));
    assert!(error("C/H").contains("must be a note"));
    assert!(error("C/").contains("must be a note"));
}

#[test]
fn no_two_kinds_of_chord_have_the_same_tones() {
    for (i, a) in Quality::ALL.into_iter().enumerate() {
        for b in &Quality::ALL[i + 1..] {
            let sorted = |q: Quality| {
                let mut tones: Vec<u8> = q.intervals().collect();
                tones.sort();
                tones
            };
            assert_ne!(sorted(a), sorted(*b), "{a:?} and {b:?}");
        }
    }
}

/// Common practice: chords are named for the key signature with fewer signs.
#[test]
fn roots_are_spelled_with_the_fewer_signs() {
    let names = |quality| {
        let names = (0..12).map(|root| ChordName::on(root, quality).root.to_string());
        names.collect::<Vec<_>>().join(" ")
    };
    assert_eq!(names(Quality::Major), "C Db D Eb E F F# G Ab A Bb B");
    assert_eq!(names(Quality::Minor), "C C# D Eb E F F# G G# A Bb B");
}

proptest! {
    #[test]
    fn no_text_makes_a_chord_name_panic(text in "\\PC*", near in "[A-Ha-h#b♯♭Δøm0-9/()sumajd ]{0,12}") {
        let _ = text.parse::<ChordName>();
        let _ = near.parse::<ChordName>();
    }
}
