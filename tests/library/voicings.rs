//! Shapes, voicings, fingerings and names from frets, against what guitarists play.

use proptest::prelude::*;
use ringtrue::fretboard::library::{self, HIGHEST_LISTED};
use ringtrue::fretboard::{
    ChordName, Diagram, Frets, NamedFrets, Quality, STRINGS, Shape, Tuning, Voicing,
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
    for shape in Shape::ALL {
        for quality in &Quality::ALL[..8] {
            let name = ChordName::on(3, *quality);
            let found = library::voicing_for(&name, Some(shape), None, &Tuning::default());
            assert!(found.is_ok(), "{shape} {name}");
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
fn frets_are_named_in_a_sentence_by_chord_shape_and_place() {
    let named = |text: &str| NamedFrets::of(&frets(text), &Tuning::default()).to_string();
    for (written, name) in [
        ("x35553", "C as the A shape at fret 3 (x35553)"),
        ("x32010", "C as an open chord (x32010)"),
        ("355333", "Gm as the E-minor shape at fret 3 (355333)"),
        (
            "x 10 12 12 12 10",
            "G as the A shape at fret 10 (x 10 12 12 12 10)",
        ),
        ("x1xxxx", "x1xxxx"),
    ] {
        assert_eq!(named(written), name);
    }
}

#[test]
fn frets_of_the_library_bring_their_fingering() {
    let tuning = Tuning::default();
    for voicing in library::all(&tuning) {
        let found = library::voicing_of(&voicing.frets, &tuning).unwrap();
        assert_eq!(found.frets, voicing.frets);
        assert!(found.chord.sounds_like(&voicing.chord), "{}", voicing.frets);
    }
    let high = library::voicing_of(&frets("x 13 15 15 15 13"), &tuning).unwrap();
    assert_eq!(high.barre().unwrap().fret, 13);
    assert_eq!(library::voicing_of(&frets("x1333x"), &tuning), None);
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
    fn frets_off_any_neck_make_nothing_panic(
        frets in prop::array::uniform6(prop::option::of(any::<u8>())), open: [u8; 6], capo: u8
    ) {
        let (frets, tuning) = (Frets(frets), Tuning { open, capo, a4_hz: 440.0 });
        let _ = library::name_voicing(&frets, &tuning);
        let _ = library::voicing_of(&frets, &tuning);
        let _ = library::name_voicing(&frets, &Tuning { capo, ..Tuning::default() });
        let picture = Diagram::of(&frets).to_string();
        prop_assert!(picture.lines().all(|line| line.chars().count() <= Diagram::WIDTH));
    }
}
