//! Pitch: MIDI numbers, frequencies, note names, and where a fret stands.

use std::fmt;
use std::str::FromStr;

use crate::words;

/// MIDI note number of A4 (ISO 16:1975 fixes its frequency at 440 Hz).
pub const A4_MIDI: u8 = 69;

/// Semitones in an octave.
const OCTAVE: i32 = 12;

/// The natural notes with their semitones above C.
const NATURALS: [(char, u8); 7] = [
    ('C', 0),
    ('D', 2),
    ('E', 4),
    ('F', 5),
    ('G', 7),
    ('A', 9),
    ('B', 11),
];

/// Frequency in Hz of a MIDI note, which may be fractional, for an A4 of `a4_hz`:
/// f = A4 · 2^((m − 69)/12).
pub fn midi_to_hz(midi: f64, a4_hz: f64) -> f64 {
    a4_hz * 2f64.powf((midi - f64::from(A4_MIDI)) / 12.0)
}

/// Distance from the nut to `fret` as a share of the string's length: 1 − 2^(−n/12).
pub fn fret_position(fret: u8) -> f64 {
    1.0 - 2f64.powf(-f64::from(fret) / 12.0)
}

/// A note's name without its octave: a letter and its sharps or flats.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct NoteName {
    /// Index into [`NATURALS`].
    letter: u8,
    /// Semitones above the natural note, negative for flats.
    accidental: i8,
}

impl NoteName {
    /// The name usual on guitar for a pitch class (0 = C … 11 = B; common practice):
    /// C C# D Eb E F F# G Ab A Bb B.
    pub fn usual(pitch_class: u8) -> NoteName {
        let (sharps, flats) = NoteName::both(pitch_class);
        match pitch_class % 12 {
            3 | 8 | 10 => flats,
            _ => sharps,
        }
    }

    /// The names with a sharp and with a flat of a pitch class; the same twice for a natural note.
    pub fn both(pitch_class: u8) -> (NoteName, NoteName) {
        let pitch_class = pitch_class % 12;
        let at = |semitones: u8| {
            NATURALS
                .iter()
                .position(|n| n.1 == semitones % 12)
                .map(|i| i as u8)
        };
        match (at(pitch_class), at(pitch_class + 11), at(pitch_class + 1)) {
            (None, Some(below), Some(above)) => (
                NoteName {
                    letter: below,
                    accidental: 1,
                },
                NoteName {
                    letter: above,
                    accidental: -1,
                },
            ),
            (natural, ..) => {
                let note = NoteName {
                    letter: natural.unwrap_or(0),
                    accidental: 0,
                };
                (note, note)
            }
        }
    }

    /// Semitones above C, 0 to 11.
    pub fn pitch_class(self) -> u8 {
        let natural = i32::from(NATURALS[usize::from(self.letter)].1);
        (natural + i32::from(self.accidental)).rem_euclid(OCTAVE) as u8
    }

    /// The note `semitones` higher, spelled as the `degree`-th step of a scale on this one
    /// (degree 1 is the note itself): the fifth of Bb is F, its third D.
    pub fn step(self, degree: u8, semitones: u8) -> NoteName {
        let letter = (self.letter + degree - 1) % 7;
        let wanted = i32::from(self.pitch_class() + semitones);
        let natural = i32::from(NATURALS[usize::from(letter)].1);
        let accidental = (wanted - natural + 6).rem_euclid(OCTAVE) - 6;
        NoteName {
            letter,
            accidental: accidental as i8,
        }
    }

    /// Tells how many sharps or flats the name carries.
    pub fn signs(self) -> u8 {
        self.accidental.unsigned_abs()
    }

    /// MIDI number of this note in the octave numbered as in "C4 is middle C, 60".
    pub(crate) fn midi(self, octave: i32) -> i32 {
        let natural = i32::from(NATURALS[usize::from(self.letter)].1);
        (octave + 1) * OCTAVE + natural + i32::from(self.accidental)
    }

    /// Reads a note off the front of `text`: a letter, then at most one sharp or flat. Gives the
    /// note and the rest.
    pub(crate) fn split(text: &str) -> Result<(NoteName, &str), NoteError> {
        let wrong = || NoteError {
            text: super::quoted(text),
        };
        let first = text.chars().next().ok_or_else(wrong)?;
        let letter = NATURALS
            .iter()
            .position(|n| n.0 == first.to_ascii_uppercase())
            .ok_or_else(wrong)? as u8;
        let rest = &text[first.len_utf8()..];
        let (accidental, rest) = match rest.chars().next() {
            Some(sign @ ('#' | '♯')) => (1, &rest[sign.len_utf8()..]),
            Some(sign @ ('b' | '♭')) => (-1, &rest[sign.len_utf8()..]),
            _ => (0, rest),
        };
        Ok((NoteName { letter, accidental }, rest))
    }
}

impl fmt::Display for NoteName {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.accidental < 0 { 'b' } else { '#' };
        let mut name = String::from(NATURALS[usize::from(self.letter)].0);
        name.extend((0..self.signs()).map(|_| sign));
        out.pad(&name)
    }
}

/// A text that is no note name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", words::fretboard::no_note(text))]
pub struct NoteError {
    text: String,
}

impl FromStr for NoteName {
    type Err = NoteError;

    fn from_str(text: &str) -> Result<NoteName, NoteError> {
        match NoteName::split(text.trim())? {
            (note, "") => Ok(note),
            _ => Err(NoteError {
                text: super::quoted(text),
            }),
        }
    }
}

/// Name and octave of a MIDI note, C4 being middle C (60): `name(46)` is Bb2.
pub fn name(midi: u8) -> String {
    format!(
        "{}{}",
        NoteName::usual(midi % 12),
        i32::from(midi) / OCTAVE - 1
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(text: &str) -> NoteName {
        text.parse().unwrap()
    }

    #[test]
    fn every_way_to_write_a_sign_is_the_same_note() {
        assert_eq!(note("B♭"), note("Bb"));
        assert_eq!(note("f♯"), note("F#"));
        assert_eq!(note("Cb").pitch_class(), 11);
        assert_eq!(note("B#").pitch_class(), 0);
    }

    #[test]
    fn both_names_of_a_key_are_the_same_pitch() {
        for pitch_class in 0..12 {
            let (sharp, flat) = NoteName::both(pitch_class);
            assert_eq!(sharp.pitch_class(), pitch_class);
            assert_eq!(flat.pitch_class(), pitch_class);
            assert_eq!(NoteName::usual(pitch_class).pitch_class(), pitch_class);
        }
    }

    #[test]
    fn steps_are_spelled_by_letter() {
        assert_eq!(note("Bb").step(3, 4).to_string(), "D");
        assert_eq!(note("C#").step(3, 4).to_string(), "E#");
        assert_eq!(note("Cb").step(3, 3).to_string(), "Ebb");
        assert_eq!(note("F#").step(5, 7).to_string(), "C#");
    }

    #[test]
    fn rubbish_is_no_note() {
        for text in ["", "H", "h#", "#", "♭B", "Bbb", "C4", "é"] {
            assert!(text.parse::<NoteName>().is_err(), "{text}");
        }
    }
}
