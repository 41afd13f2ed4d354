//! Whether a soundcheck tells one plucked string from a chord.

use crate::common::guitars::ALL;
use crate::common::tape;

use ringtrue::fretboard::{STRINGS, Tuning};
use ringtrue::strings::profile::{NEEDED_S, Sounding, StringReader};
use ringtrue::synth::notes::NOTE_RATE_HZ;
use tape::Tape;

const CHORDS: [&str; 10] = [
    "133211", "022100", "x32010", "320003", "x13331", "x02220", "xx0232", "355433", "x35553",
    "022000",
];

#[test]
fn a_strummed_chord_is_never_read_as_one_string() {
    let mut reader = StringReader::new(NOTE_RATE_HZ);
    let tuning = Tuning::default();
    let mut several = 0;
    for frets in CHORDS {
        let mut tape = Tape::new();
        tape.strum(frets, &[], 1.6);
        let struck = (tape.strums[0].0 * f64::from(NOTE_RATE_HZ)) as usize;
        for index in 0..STRINGS {
            let heard = reader.read(&tape.samples[struck..], &tuning, index);
            assert_eq!(heard.string(), None, "{frets} as string {}", 6 - index);
            several += usize::from(heard == Sounding::Several);
        }
    }
    // Of these chords many strings are near enough to an open one to be taken for it.
    assert!(several >= 20, "{several}");
}

#[test]
fn a_single_recorded_note_is_never_taken_for_several_strings() {
    let mut reader = StringReader::new(NOTE_RATE_HZ);
    let tuning = Tuning::default();
    let needed = (NEEDED_S * f64::from(NOTE_RATE_HZ)) as usize;
    let (mut notes, mut read, mut wrong) = (0, 0, Vec::new());
    for guitar in &*ALL {
        for note in guitar.notes.iter().filter(|n| n.samples.len() >= needed) {
            for index in 0..STRINGS {
                let off = i16::from(note.midi) - i16::from(tuning.midi(index, 0));
                let there = note.place.is_none_or(|(string, _)| string == index);
                if off.abs() > 2 || !there {
                    continue;
                }
                notes += 1;
                match reader.read(&note.samples, &tuning, index) {
                    Sounding::Several => wrong.push((guitar.name.clone(), note.midi, 6 - index)),
                    Sounding::String(_) => read += 1,
                    Sounding::Other => {}
                }
            }
        }
    }
    println!(
        "{notes} notes, {read} read, {} taken for several",
        wrong.len()
    );
    assert!(notes > 50, "{notes}");
    assert_eq!(wrong, []);
}
