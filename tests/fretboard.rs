//! The fretboard against the world: pitches, frets, chord spellings, shapes, names.

use approx::assert_abs_diff_eq;
use proptest::prelude::*;
use ringtrue::fretboard::library::{self, HIGHEST_LISTED};
use ringtrue::fretboard::{
    ChordName, Frets, Note, Quality, STRINGS, Shape, Tuning, Voicing, pitch,
};

fn chord(text: &str) -> ChordName {
    text.parse().unwrap()
}

fn frets(text: &str) -> Frets {
    text.parse().unwrap()
}

fn midi_of(frets: &Frets, tuning: &Tuning) -> Vec<u8> {
    frets.sounding().map(|(i, f)| tuning.midi(i, f)).collect()
}

/// What `--chord NAME` means, as written frets.
fn meant(name: &str) -> String {
    let voicing = library::voicing_for(&chord(name), None, None, &Tuning::default());
    voicing.unwrap().frets.to_string()
}

fn shaped(name: &str, shape: Shape) -> Voicing {
    library::voicing_for(&chord(name), Some(shape), None, &Tuning::default()).unwrap()
}

fn name_of(text: &str) -> Option<String> {
    library::name_voicing(&frets(text), &Tuning::default()).map(|n| n.chord.to_string())
}

// Pitch

/// ISO 16:1975: A4 is 440 Hz; MIDI note 69 is A4 and 60 is middle C (MIDI 1.0 specification).
#[test]
fn the_tuning_frequency_is_that_of_iso_16() {
    assert_eq!(pitch::A4_MIDI, 69);
    assert_eq!(pitch::midi_to_hz(69.0, 440.0), 440.0);
    assert_eq!(pitch::name(69), "A4");
    assert_eq!(pitch::name(60), "C4");
    assert_abs_diff_eq!(pitch::hz_to_midi(440.0, 440.0), 69.0);
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
    assert_abs_diff_eq!(pitch::cents(tuning.hz(0, 1), e2), 100.0, epsilon = 1e-9);
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
    assert_abs_diff_eq!(pitch::cents(1.0 / remaining, 1.0), 1187.46, epsilon = 0.01);
}

/// Common practice: fret 3 of string 5 is C, its fret 5 D, fret 3 of string 6 G; and so along.
#[test]
fn root_notes_along_strings_six_and_five_are_the_known_ones() {
    let tuning = Tuning::default();
    let along = |index: usize| -> Vec<String> {
        let note = |fret| Note::usual(tuning.midi(index, fret) % 12).to_string();
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
        let tones: Vec<String> = chord(name).tones().iter().map(Note::to_string).collect();
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
            for bass in [None, Some(Note::usual(root + 5))] {
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

// Shapes and voicings

/// MIDI notes low to high, computed from the standard tuning; the voicings are common practice.
#[test]
fn written_voicings_sound_the_notes_of_the_table() {
    let expected: [(&str, &str, &[u8]); 13] = [
        ("x35553", "C", &[48, 55, 60, 64, 67]),
        ("x13331", "Bb", &[46, 53, 58, 62, 65]),
        ("x24442", "B", &[47, 54, 59, 63, 66]),
        ("133211", "F", &[41, 48, 53, 57, 60, 65]),
        ("577655", "A", &[45, 52, 57, 61, 64, 69]),
        ("x02220", "A", &[45, 52, 57, 61, 64]),
        ("x32010", "C", &[48, 52, 55, 60, 64]),
        ("320003", "G", &[43, 47, 50, 55, 59, 67]),
        ("022100", "E", &[40, 47, 52, 56, 59, 64]),
        ("x02210", "Am", &[45, 52, 57, 60, 64]),
        ("xx0232", "D", &[50, 57, 62, 66]),
        ("x35543", "Cm", &[48, 55, 60, 63, 67]),
        ("x35353", "C7", &[48, 55, 58, 64, 67]),
    ];
    for (written, name, midi) in expected {
        assert_eq!(
            midi_of(&frets(written), &Tuning::default()),
            midi,
            "{written}"
        );
        assert_eq!(name_of(written).as_deref(), Some(name), "{written}");
    }
}

/// Common practice: the chords of a first book, as they are always drawn.
#[test]
fn a_chord_without_a_shape_means_what_a_guitarist_plays() {
    let expected = [
        ("Bb", "x13331"),
        ("F", "133211"),
        ("C", "x32010"),
        ("B", "x24442"),
        ("A", "x02220"),
        ("G", "320003"),
        ("E", "022100"),
        ("D", "xx0232"),
        ("Am", "x02210"),
        ("Em", "022000"),
        ("Dm", "xx0231"),
        ("Fm", "133111"),
        ("Bm", "x24432"),
        ("Cm", "x35543"),
        ("F#m", "244222"),
        ("Gm", "355333"),
        ("C#m", "x46654"),
        ("Db", "x46664"),
        ("F#", "244322"),
        ("Ab", "466544"),
        ("A7", "x02020"),
        ("B7", "x21202"),
        ("C7", "x32310"),
        ("D7", "xx0212"),
        ("E7", "020100"),
        ("G7", "320001"),
        ("F7", "131211"),
        ("Bb7", "x13131"),
        ("Am7", "x02010"),
        ("Em7", "020000"),
        ("Dm7", "xx0211"),
        ("Bm7", "x24232"),
        ("Cmaj7", "x32000"),
        ("Fmaj7", "xx3210"),
        ("Gmaj7", "320002"),
        ("Amaj7", "x02120"),
        ("Dmaj7", "xx0222"),
        ("Emaj7", "021100"),
        ("Asus2", "x02200"),
        ("Asus4", "x02230"),
        ("Dsus2", "xx0230"),
        ("Dsus4", "xx0233"),
        ("Esus4", "022200"),
        ("E5", "022xxx"),
        ("A5", "x022xx"),
        ("G5", "355xxx"),
        ("C5", "x355xx"),
        ("B9", "x21222"),
        ("C9", "x32333"),
        ("E7#9", "x7678x"),
        ("Cadd9", "x32030"),
        ("C/G", "332010"),
        ("D/F#", "2x0232"),
        ("G/B", "x20033"),
        ("F/C", "x33211"),
    ];
    for (name, written) in expected {
        assert_eq!(meant(name), written, "{name}");
    }
}

/// Common practice: the A shape is taken with four fingers, or with the ring finger across.
#[test]
fn the_a_shape_comes_in_both_fingerings() {
    let both: Vec<Voicing> = library::voicings(&chord("B"), &Tuning::default())
        .into_iter()
        .filter(|v| v.shape == Some(Shape::A))
        .collect();
    let [four_fingers, ring] = &both[..] else {
        panic!("two fingerings expected, not {}", both.len());
    };
    assert_eq!(four_fingers.frets, ring.frets);
    assert_eq!(four_fingers.may_go_quiet, None);
    assert_eq!(ring.may_go_quiet, Some(1));
    let barres = ring.barres();
    assert_eq!((barres[0].finger, barres[0].fret), (1, 2));
    assert_eq!((barres[1].finger, barres[1].fret), (3, 4));
    assert_eq!((barres[1].from_string, barres[1].to_string), (4, 2));
}

#[test]
fn the_strings_that_the_barre_alone_holds_are_known() {
    let alone = |voicing: &Voicing| -> Vec<u8> {
        let held = (0..STRINGS).filter(|&i| voicing.held_by_barre_alone(i));
        held.map(ringtrue::fretboard::string_number).collect()
    };
    let f = shaped("F", Shape::E);
    let barre = f.barre().unwrap();
    assert_eq!((barre.fret, barre.from_string, barre.to_string), (1, 6, 1));
    assert_eq!(alone(&f), [6, 2, 1]);
    let bb = shaped("Bb", Shape::A);
    let barre = bb.barre().unwrap();
    assert_eq!((barre.fret, barre.from_string, barre.to_string), (1, 5, 1));
    assert_eq!(alone(&bb), [5, 1]);
    let open = shaped("C", Shape::C);
    assert_eq!(open.barre(), None);
    assert!(alone(&open).is_empty());
}

/// Common practice: E shape and A shape at one fret are a fourth apart.
#[test]
fn e_shape_and_a_shape_at_one_fret_are_a_fourth_apart() {
    for at in 1..=HIGHEST_LISTED {
        let at_fret = |shape| {
            let all = library::all(&Tuning::default());
            let found = all.into_iter().find(|v| {
                v.shape == Some(shape) && v.at == at && v.chord.quality == Quality::Major
            });
            found.unwrap().chord.root.pitch_class()
        };
        assert_eq!((at_fret(Shape::E) + 5) % 12, at_fret(Shape::A));
    }
}

#[test]
fn every_voicing_of_the_library_spells_its_chord() {
    let tuning = Tuning::default();
    let all = library::all(&tuning);
    assert!(all.len() > 500, "{}", all.len());
    for voicing in all {
        let sounding = midi_of(&voicing.frets, &tuning);
        let classes: Vec<u8> = sounding.iter().map(|m| m % 12).collect();
        let wanted = voicing.chord.pitch_classes();
        let what = format!("{} {}", voicing.chord, voicing.frets);
        assert!(classes.iter().all(|c| wanted.contains(c)), "{what}");
        let fifth = (voicing.chord.root.pitch_class() + 7) % 12;
        let may_lack = |c: u8| c == fifth && voicing.chord.quality.fifth_may_be_missing();
        assert!(
            wanted.iter().all(|&c| classes.contains(&c) || may_lack(c)),
            "{what}"
        );
        assert_eq!(
            sounding.iter().min().unwrap() % 12,
            voicing.chord.lowest(),
            "{what}"
        );
    }
}

#[test]
fn every_fingering_of_the_library_fits_a_hand() {
    for root in 0..12 {
        for quality in Quality::ALL {
            let name = ChordName::on(root, quality);
            for v in library::voicings(&name, &Tuning::default()) {
                let what = format!("{name} {} {:?}", v.frets, v.fingering);
                let mut places: Vec<(u8, u8)> = Vec::new();
                for (fret, finger) in v.frets.0.into_iter().zip(v.fingering.0) {
                    match (fret, finger) {
                        (None | Some(0), finger) => assert_eq!(finger, None, "{what}"),
                        (Some(_), None) => panic!("no finger: {what}"),
                        (Some(fret), Some(finger)) => places.push((finger, fret)),
                    }
                }
                // One finger lies on one fret, and no finger reaches back over a lower one.
                places.sort();
                assert!(
                    places
                        .windows(2)
                        .all(|w| w[0].0 < w[1].0 || w[0].1 == w[1].1),
                    "{what}"
                );
                assert!(places.windows(2).all(|w| w[0].1 <= w[1].1), "{what}");
                // An open string cannot ring under a barre, nor a string held at a lower fret.
                for barre in v.barres() {
                    let under =
                        usize::from(6 - barre.from_string)..usize::from(7 - barre.to_string);
                    for fret in v.frets.0[under].iter().flatten() {
                        assert!(*fret >= barre.fret, "{what}");
                    }
                }
                let span = v.frets.highest() - v.frets.lowest_held().unwrap_or(0);
                assert!(span <= 4, "{what}");
            }
        }
    }
}

#[test]
fn every_shape_has_the_everyday_qualities() {
    // The G shape has no practical m7; a power chord with its root on strings 6 and 5 goes by the
    // E and A shapes (common practice).
    let without = |shape, quality| match (shape, quality) {
        (Shape::G, Quality::MinorSeventh) => true,
        (Shape::C | Shape::G, Quality::Power) => true,
        _ => false,
    };
    for shape in Shape::ALL {
        for quality in &Quality::ALL[..8] {
            let name = ChordName::on(3, *quality);
            let found = library::voicing_for(&name, Some(shape), None, &Tuning::default());
            assert_eq!(found.is_err(), without(shape, *quality), "{shape} {name}");
        }
    }
}

#[test]
fn every_kind_of_chord_has_a_voicing() {
    for quality in Quality::ALL {
        let name = ChordName::on(0, quality);
        assert!(
            !library::voicings(&name, &Tuning::default()).is_empty(),
            "{name}"
        );
    }
}

#[test]
fn shape_and_fret_narrow_the_choice() {
    let find = |name: &str, shape, at| {
        library::voicing_for(&chord(name), shape, at, &Tuning::default())
            .map(|v| v.frets.to_string())
    };
    assert_eq!(find("Bb", Some(Shape::E), None).unwrap(), "688766");
    assert_eq!(find("Bb", None, Some(6)).unwrap(), "688766");
    assert_eq!(
        find("Bb", Some(Shape::A), Some(13)).unwrap(),
        "x 13 15 15 15 13"
    );
    assert_eq!(find("A", Some(Shape::E), None).unwrap(), "577655");
    let error = find("Bb", Some(Shape::A), Some(3)).unwrap_err().to_string();
    assert!(
        error.starts_with("there is no Bb in the A shape at fret 3; known are"),
        "{error}"
    );
    assert!(error.contains("the A shape at fret 1 (x13331)"), "{error}");
    let error = find("C/F#", None, None).unwrap_err().to_string();
    assert!(error.starts_with("no shape for C/F# is known"), "{error}");
}

#[test]
fn shapes_need_strings_that_stand_as_in_standard_tuning() {
    let drop_d: Tuning = "drop d".parse().unwrap();
    let e = library::voicing_for(&chord("E"), None, None, &drop_d).unwrap();
    assert_ne!(e.frets, frets("022100"), "string 6 is a D there");
    let d = library::voicing_for(&chord("D"), None, None, &drop_d).unwrap();
    assert_eq!(d.frets, frets("xx0232"));
    // A guitar tuned down as a whole keeps its shapes, and the names follow the strings.
    let down: Tuning = "half step down".parse().unwrap();
    let eb = library::voicing_for(&chord("Eb"), None, None, &down).unwrap();
    assert_eq!(eb.frets, frets("022100"));
    let b7 = library::voicing_for(&chord("Bb7"), None, None, &down).unwrap();
    assert_eq!(b7.frets, frets("x21202"));
    for voicing in library::all(&drop_d) {
        let named = library::name_voicing(&voicing.frets, &drop_d).unwrap();
        assert!(named.chord.sounds_like(&voicing.chord), "{}", voicing.frets);
    }
}

#[test]
fn a_capo_leaves_no_voicing_past_the_end_of_the_neck() {
    let capo = Tuning::default().with_capo(12).unwrap();
    for voicing in library::all(&capo) {
        assert!(capo.reaches(&voicing.frets).is_ok());
    }
    assert!(library::voicing_for(&chord("Bb"), None, Some(13), &capo).is_err());
}

// Names from frets

#[test]
fn a_shape_with_strings_left_out_is_still_that_chord() {
    let named = |text: &str| library::name_voicing(&frets(text), &Tuning::default()).unwrap();
    for text in ["x13331", "x1333x", "x1x331", "x13x3x"] {
        let n = named(text);
        assert_eq!(
            (n.chord, n.shape, n.at),
            (chord("Bb"), Some(Shape::A), Some(1)),
            "{text}"
        );
    }
    let over_f = named("xx3331");
    assert_eq!(
        (over_f.chord, over_f.shape),
        (chord("Bb/F"), Some(Shape::A))
    );
    assert_eq!(named("x13xxx").chord, chord("Bb5"));
}

#[test]
fn frets_without_a_name_have_none() {
    for text in ["x1xxxx", "012345", "x0xxxx", "0xxxx0", "x12xxx"] {
        assert_eq!(name_of(text), None, "{text}");
    }
}

/// Common practice.
#[test]
fn other_basses_are_named_after_a_slash() {
    let expected = [
        ("332010", "C/G"),
        ("2x0232", "D/F#"),
        ("x20033", "G/B"),
        ("xx0010", "C/D"),
        ("x32310", "C7"),
        ("x30010", "Cadd9"),
        ("3x2210", "Am/G"),
        ("x02213", "Am7"),
        ("xx0211", "Dm7"),
    ];
    for (written, name) in expected {
        assert_eq!(name_of(written).as_deref(), Some(name), "{written}");
    }
}

#[test]
fn frets_are_named_by_pitch_in_any_tuning() {
    let named = |text: &str, tuning: &str| {
        library::name_voicing(&frets(text), &tuning.parse().unwrap())
            .map(|n| (n.chord.to_string(), n.shape))
    };
    assert_eq!(named("000000", "open g"), Some(("G/D".to_owned(), None)));
    assert_eq!(named("000xxx", "drop d"), Some(("D5".to_owned(), None)));
    assert_eq!(named("000000", "DADGAD"), Some(("Dsus4".to_owned(), None)));
    assert_eq!(
        named("022100", "half step down"),
        Some(("Eb".to_owned(), Some(Shape::E)))
    );
}

proptest! {
    #[test]
    fn moving_a_shape_up_moves_its_chord_as_far(pick: prop::sample::Index, up in 1..=12u8) {
        let tuning = Tuning::default();
        let movable: Vec<Voicing> = library::all(&tuning)
            .into_iter()
            .filter(|v| v.shape.is_some())
            .collect();
        let from = pick.get(&movable);
        let moved = Frets(from.frets.0.map(|fret| fret.map(|f| f + up)));
        prop_assume!(moved.highest() <= Frets::HIGHEST);
        let named = library::name_voicing(&moved, &tuning).unwrap();
        prop_assert!(named.chord.sounds_like(&from.chord.transposed(up)), "{} {}", moved, named.chord);
        prop_assert_eq!(named.at, Some(from.at + up));
        prop_assert_eq!(named.shape, from.shape);
    }

    #[test]
    fn a_voicing_is_named_as_the_chord_it_was_made_for(
        root in 0..12u8, quality in prop::sample::select(Quality::ALL.to_vec()), capo in 0..=12u8
    ) {
        let tuning = Tuning::default().with_capo(capo).unwrap();
        let name = ChordName::on(root, quality);
        for voicing in library::voicings(&name, &tuning) {
            let named = library::name_voicing(&voicing.frets, &tuning).unwrap();
            prop_assert_eq!(named.chord, name, "{}", voicing.frets);
        }
    }

    #[test]
    fn any_frets_in_any_tuning_have_a_name_or_none(
        frets in prop::array::uniform6(prop::option::of(0..=Frets::HIGHEST)),
        open: [u8; 6], capo in 0..=12u8
    ) {
        let tuning = Tuning { open, capo, a4_hz: 440.0 };
        if let Some(named) = library::name_voicing(&Frets(frets), &tuning) {
            // What it is called must be what sounds, the capo taken off.
            let mut wanted = named.chord.pitch_classes();
            for (i, fret) in Frets(frets).sounding() {
                let class = ((u16::from(open[i]) + u16::from(fret)) % 12) as u8;
                prop_assert!(wanted.contains(&class));
            }
            wanted.retain(|class| !Frets(frets).sounding().any(|(i, fret)| {
                (u16::from(open[i]) + u16::from(fret)) % 12 == u16::from(*class)
            }));
            let fifth = (named.chord.root.pitch_class() + 7) % 12;
            prop_assert!(wanted.is_empty() || wanted == [fifth]);
        }
        let _ = library::all(&tuning);
    }

    #[test]
    fn no_text_makes_a_chord_name_panic(text in "\\PC*", near in "[A-Ha-h#b♯♭Δøm0-9/()sumajd ]{0,12}") {
        let _ = text.parse::<ChordName>();
        let _ = near.parse::<ChordName>();
    }
}
