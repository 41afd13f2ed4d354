//! `ringtrue backing` as a learner uses it.

use crate::common::command;

use command::Desk;
use ringtrue::audio::{Recording, read_all};
use ringtrue::progression::band::loudness;

fn made(desk: &Desk, arguments: &[&str]) -> Recording {
    let run = desk.run(&[&["backing", "F Bb C Dm", "--out", "backing.wav"], arguments].concat());
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(
        run.out.contains("headphones"),
        "a word on hearing: {}",
        run.out
    );
    read_all(&desk.path("backing.wav"), 100.0).unwrap()
}

/// Where sound begins after at least a tenth of a second of nothing, in samples.
fn beginnings(recording: &Recording) -> Vec<usize> {
    let least = recording.rate_hz as usize / 10;
    let (mut quiet, mut found) = (least, Vec::new());
    for (index, sample) in recording.samples.iter().enumerate() {
        // A 16-bit file leaves out what is softer than half its last bit.
        if sample.abs() > 1e-6 {
            if quiet >= least {
                found.push(index);
            }
            quiet = 0;
        } else {
            quiet += 1;
        }
    }
    found
}

#[test]
fn the_file_has_the_loudness_that_broadcasts_have_and_the_length_of_its_bars() {
    let desk = Desk::new();
    for options in [
        &["--tempo", "72", "--beats", "4", "--bars-each", "1"][..],
        &["--tempo", "200", "--feel", "shuffle", "--loops", "2"],
        &[
            "--tempo",
            "40",
            "--to-tempo",
            "60",
            "--feel",
            "whole",
            "--beats",
            "3",
        ],
        &["--tempo", "120", "--feel", "eighths", "--swing", "58"],
    ] {
        let recording = made(&desk, options);
        let found = loudness(&recording.samples, recording.rate_hz).unwrap();
        assert!((found.lufs + 23.0).abs() <= 0.5, "{options:?}: {found:?}");
        assert!(found.peak_dbtp <= -1.0, "{options:?}: {found:?}");
    }
    let recording = made(&desk, &["--tempo", "72"]);
    let seconds = recording.samples.len() as f64 / f64::from(recording.rate_hz);
    // Two bars of count-in, four bars, of four beats each, and a second for the last sounds to die away.
    assert!(
        (seconds - (24.0 * 60.0 / 72.0 + 1.0)).abs() < 1e-3,
        "{seconds}"
    );
}

#[test]
fn the_clicks_of_the_count_in_stand_on_their_samples() {
    let desk = Desk::new();
    let recording = made(&desk, &["--tempo", "83"]);
    let found = beginnings(&recording);
    for beat in 0..4 {
        let wanted = f64::from(beat) * 60.0 / 83.0 * f64::from(recording.rate_hz);
        let off = found[beat as usize] as f64 - wanted;
        assert!(off.abs() <= 1.0, "beat {beat}: {off} samples off");
    }
}

#[test]
fn a_midi_file_alone_needs_no_loudspeaker() {
    let desk = Desk::new();
    desk.succeeds(&["backing", "F Bb", "--midi", "backing.mid"]);
    let bytes = std::fs::read(desk.path("backing.mid")).unwrap();
    assert!(bytes.starts_with(b"MThd"));
}

#[test]
fn what_cannot_be_made_is_said_in_a_sentence() {
    let desk = Desk::new();
    for (options, said) in [
        (&["F", "--tempo", "39"][..], "from 40 to 200"),
        (&["F", "--tempo", "fast"], "invalid"),
        (&["F", "--beats", "13"], "from 1 to 12 beats"),
        (&["F", "--swing", "80"], "from 50"),
        (
            &["F", "--feel", "reggae"],
            "whole, quarters, eighths or shuffle",
        ),
        (&["F", "--loops", "0"], "from 1 to 200"),
        (
            &["F", "--loops", "200", "--bars-each", "16"],
            "half an hour",
        ),
        (&["| F Bb C |", "--beats", "2"], "3 chords but 2 beats"),
        (&["F", "--volume", "3"], "from -60 to 0"),
        (&["F", "--out", "nowhere/backing.wav"], "cannot be written"),
    ] {
        let run = desk.run(&[&["backing", "--midi", "x.mid"], options].concat());
        assert_eq!(run.status, 2, "{options:?}");
        assert!(run.err.contains(said), "{options:?}: {}", run.err);
    }
}
