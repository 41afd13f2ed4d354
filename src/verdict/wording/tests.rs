use super::*;
use crate::fretboard::Frets;
use crate::verdict::Candidates;
use crate::verdict::examples::{bb, not_judged, with};

const WARNINGS: [Warning; 12] = [
    Warning::PossibleBuzz {
        string: 5,
        sure: 0.7,
    },
    Warning::Buzz {
        strings: [5, 4],
        sure: 0.95,
    },
    Warning::Rattle { sure: 0.8 },
    Warning::SoundLost { seconds: 0.2 },
    Warning::WrongChord { heard: None },
    Warning::OutOfTune { cents: -62.0 },
    Warning::TooQuiet { peak_dbfs: -58.0 },
    Warning::Clipped { share: 0.002 },
    Warning::TooShort { seconds: 0.12 },
    Warning::TooNoisy { snr_db: 4.0 },
    Warning::ChordGuessed { sure: 0.5 },
    Warning::ChordGuessed { sure: 0.999 },
];

#[test]
fn the_headline_names_the_strings_to_look_at_from_low_to_high() {
    use Verdict::*;
    let cases: [(&[(u8, Verdict)], &str); 12] = [
        (&[], "Every string is as it should be."),
        (&[(3, Muted), (4, Muted)], "Strings 4 and 3 do not ring."),
        (&[(4, Muted)], "String 4 does not ring."),
        (&[(2, Choked)], "String 2 dies early."),
        (&[(1, Buzzing), (5, Buzzing)], "Strings 5 and 1 buzz."),
        (&[(3, WrongFret)], "String 3 sounds at the wrong fret."),
        (&[(6, Ringing)], "String 6 sounds but should be quiet."),
        (
            &[(6, Ringing), (1, Muted)],
            "String 1 does not ring, and string 6 sounds but should be quiet.",
        ),
        (
            &[(6, Ringing), (1, Muted), (2, Choked)],
            "Look at strings 6, 2 and 1.",
        ),
        (
            &[(1, Unsure)],
            "String 1 could not be judged; the others are as they should be.",
        ),
        (
            &[(5, Muted), (2, Unsure), (1, Unsure)],
            "String 5 does not ring; strings 2 and 1 could not be judged.",
        ),
        (
            &[
                (6, Unsure),
                (5, Unsure),
                (4, Unsure),
                (3, Unsure),
                (2, Unsure),
                (1, Unsure),
            ],
            "The recording does not show what the strings did. Strum again and let the chord ring.",
        ),
    ];
    for (changes, sentence) in cases {
        let take = changes.iter().fold(bb(), |take, &(string, verdict)| {
            with(take, string, verdict, 0.95)
        });
        assert_eq!(headline(&take), sentence);
    }
}

#[test]
fn a_headline_is_no_surer_than_its_verdicts() {
    let one = with(bb(), 4, Verdict::Muted, 0.7);
    assert_eq!(headline(&one), "String 4 probably does not ring.");
    let both = with(one, 3, Verdict::Muted, 0.55);
    assert_eq!(headline(&both), "Strings 4 and 3 perhaps do not ring.");
    let clean = with(bb(), 4, Verdict::Clean, 0.7);
    assert_eq!(headline(&clean), "Every string seems to be as it should.");
    let toss = with(bb(), 6, Verdict::Ringing, 0.55);
    assert_eq!(
        headline(&toss),
        "String 6 perhaps sounds but should be quiet."
    );
}

#[test]
fn a_string_that_is_dead_or_dies_early_surely_does_not_ring() {
    let mut take = with(
        with(bb(), 4, Verdict::Choked, 0.55),
        3,
        Verdict::Choked,
        0.9,
    );
    let open = &mut take.strings[2];
    (open.rings, open.reason) = (0.02, Some(Reason::MutedOrChoked));
    assert_eq!(string_phrase(open), "dead, or dies early");
    assert_eq!(doubt_of(open), None);
    assert!(open.is_true_of(Verdict::Muted) && open.is_true_of(Verdict::Choked));
    assert!(!open.is_true_of(Verdict::Clean));
    assert!(!take.strings[3].is_true_of(Verdict::Muted));
    assert_eq!(
        headline(&take),
        "String 4 is dead or dies early, and string 3 dies early."
    );
}

#[test]
fn every_warning_is_plain_sentences_that_say_what_to_do() {
    for kind in WARNINGS {
        let take = not_judged(kind);
        let text = warning(&kind, &take);
        assert!(
            text.starts_with(char::is_uppercase) && text.ends_with('.'),
            "{text}"
        );
        let asks = [
            "Strum again",
            "Compare",
            "Look for",
            "Pluck",
            "Tune",
            "Move",
            "Let the",
            "Record",
            "Say which",
        ];
        let sure = matches!(kind, Warning::ChordGuessed { sure } if sure >= SURE_ENOUGH);
        assert_eq!(asks.iter().any(|ask| text.contains(ask)), !sure, "{text}");
        for jargon in ["dB", "SNR", "onset", "partial", "peak", "sample"] {
            assert!(!text.contains(jargon), "{text}");
        }
        assert!(headline(&take).starts_with("Not judged. "));
    }
}

fn named(frets: &str) -> NamedFrets {
    NamedFrets::of(
        &frets.parse().unwrap(),
        &crate::fretboard::Tuning::default(),
    )
}

#[test]
fn the_chord_heard_instead_is_named_and_a_shape_a_fret_off_is_said_to_be_one() {
    let says = |heard: &str| {
        let heard = Some(named(heard));
        warning(&Warning::WrongChord { heard }, &bb())
    };
    assert_eq!(
        says("x32010"),
        "That was not Bb (x13331), but C as an open chord (x32010). Compare your fingers with the frets, or name the chord that you play."
    );
    assert_eq!(
        says("x24442"),
        "That was not Bb (x13331), but B as the A shape at fret 2 (x24442). It is the same shape one fret too high: move the hand a fret towards the nut."
    );
    assert!(says("x02220").contains("one fret too low: move the hand a fret towards the body."));
    assert!(
        !says("x35553").contains("same shape"),
        "two frets are no slip"
    );
}

#[test]
fn a_shape_a_fret_off_is_told_where_the_chord_alone_was_named() {
    let take = of_chord_alone("C");
    let says = |heard: &str| {
        let heard = Some(named(heard));
        warning(&Warning::WrongChord { heard }, &take)
    };
    assert!(says("x46664").starts_with(
            "That was not C, but Db as the A shape at fret 4 (x46664). It is the same shape one fret too high"
        ));
    assert!(says("799877").contains("one fret too low"));
    assert!(!says("x57775").contains("same shape"));
    assert!(!says("022100").contains("same shape"));
}

/// A take that was not judged, of a chord whose shape nobody named.
fn of_chord_alone(chord: &str) -> JudgedTake {
    let mut take = not_judged(Warning::WrongChord { heard: None });
    take.chord = Some(chord.to_owned());
    take.frets = Frets([None; 6]);
    take
}

#[test]
fn the_voicing_taken_for_the_one_played_is_in_the_first_line() {
    let guessed = |mut take: JudgedTake, sure| {
        let voicings = Candidates::of(["x13331", "688766"].map(named));
        let guessed = Warning::VoicingGuessed { sure, voicings };
        take.warnings = vec![guessed];
        take
    };
    let dead = guessed(with(bb(), 4, Verdict::Muted, 0.95), 0.97);
    assert_eq!(
        headline(&dead),
        "Bb as the A shape at fret 1 (x13331): string 4 does not ring."
    );
    assert_eq!(brief(&dead), "Bb at 1: look at 4");
    let open = guessed(of_chord_alone("Bb"), 0.6);
    assert_eq!(
        headline(&open),
        "Not judged. This may be Bb as the A shape at fret 1 (x13331), or Bb as the E shape at fret 6 (688766). Give the frets in place of the name: --frets x13331, or --frets 688766."
    );
    assert_eq!(brief(&open), "Bb: which shape is not sure");
    let clean = guessed(bb(), 0.6);
    assert_eq!(
        headline(&clean),
        "Bb as the A shape at fret 1 (x13331), or Bb as the E shape at fret 6 (688766): every string is as it should be."
    );
}

#[test]
fn frets_of_two_digits_are_typed_between_quotes() {
    let voicings = Candidates::of(["x 10 12 12 12 10", "355433"].map(named));
    let open = Warning::VoicingGuessed {
        sure: 0.5,
        voicings,
    };
    let text = warning(&open, &of_chord_alone("G"));
    assert!(
        text.ends_with("--frets \"x 10 12 12 12 10\", or --frets 355433."),
        "{text}"
    );
}

#[test]
fn almost_nothing_rings_is_said_instead_of_six_faults() {
    let dead = |strings: &[u8]| {
        let take = bb();
        strings
            .iter()
            .fold(take, |t, s| with(t, *s, Verdict::Muted, 0.9))
    };
    assert!(headline(&dead(&[5, 4, 3, 2])).starts_with("Almost nothing rings: "));
    assert!(headline(&dead(&[5, 4, 3, 2, 1])).starts_with("Almost nothing rings: "));
    assert_eq!(brief(&dead(&[5, 4, 3, 2, 1])), "almost nothing rings");
    assert_eq!(
        headline(&dead(&[4, 3, 2])),
        "Strings 4, 3 and 2 do not ring."
    );
}

#[test]
fn the_sureness_of_a_guess_is_never_rounded_to_certainty() {
    let says = |sure| warning(&Warning::ChordGuessed { sure }, &bb());
    assert!(says(0.999).contains("over 99 % sure"));
    assert!(says(0.004).contains("less than 1 % sure"));
    assert!(says(0.714).contains("but only 71 % sure"));
}

#[test]
fn phrases_keep_to_their_length() {
    for verdict in Verdict::ALL {
        for confidence in [0.1, 0.7, 0.9] {
            let mut take = bb();
            for string in 1..=6 {
                take = with(take, string, verdict, confidence);
            }
            for string in &mut take.strings {
                string.heard_fret = string.heard_fret.map(|_| 12);
                string.cents = Some(-45.0);
                let phrase = string_phrase(string);
                assert!(phrase.chars().count() <= 33, "{phrase}");
            }
            take.chord = Some("Bbmaj7".to_owned());
            take.strings[0].verdict = Verdict::Silent;
            assert!(brief(&take).chars().count() <= BRIEF, "{}", brief(&take));
            take.warnings.push(Warning::ChordGuessed { sure: 0.97 });
            assert!(brief(&take).chars().count() <= BRIEF, "{}", brief(&take));
        }
    }
    for kind in WARNINGS {
        assert!(brief(&not_judged(kind)).chars().count() <= BRIEF);
    }
}

#[test]
fn cents_are_mentioned_only_where_they_are_heard() {
    let mut take = bb();
    assert_eq!(string_phrase(&take.strings[1]), "clean");
    take.strings[1].cents = Some(-24.6);
    assert_eq!(string_phrase(&take.strings[1]), "clean, 25 cents flat");
    take.tuning_cents = 19.0;
    assert_eq!(tuning_note(&take), None);
    take.tuning_cents = 23.0;
    assert!(tuning_note(&take).is_some_and(|note| note.contains("23 cents sharp")));
}

#[test]
fn a_line_of_a_list_is_brief() {
    let dead = with(with(bb(), 4, Verdict::Muted, 0.9), 3, Verdict::Muted, 0.9);
    let guessed = |mut take: JudgedTake, sure| {
        take.warnings.insert(0, Warning::ChordGuessed { sure });
        take
    };
    assert_eq!(brief(&bb()), "as it should be");
    assert_eq!(brief(&dead), "look at 4 and 3");
    assert_eq!(brief(&with(bb(), 2, Verdict::Unsure, 0.4)), "unsure of 2");
    assert_eq!(brief(&guessed(dead, 0.97)), "Bb: look at 4 and 3");
    assert_eq!(brief(&guessed(bb(), 0.97)), "Bb: as it should be");
    let open = not_judged(Warning::ChordGuessed { sure: 0.714 });
    assert_eq!(brief(&open), "perhaps Bb, 71 %");
    let mut unknown = open.clone();
    unknown.chord = None;
    unknown.frets = crate::fretboard::Frets([None; 6]);
    assert_eq!(brief(&unknown), "no chord known here");
    assert!(headline(&unknown).contains("none that is known here fits"));
    let noisy = not_judged(Warning::TooNoisy { snr_db: 3.0 });
    assert_eq!(brief(&noisy), "not judged: too noisy");
    assert_eq!(brief(&guessed(noisy, 0.97)), "not judged: too noisy");
}
