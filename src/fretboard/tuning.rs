//! Tunings of the six open strings.

use std::ops::RangeInclusive;
use std::str::FromStr;

use super::pitch::{self, NoteName};
use super::{Frets, STRINGS, quoted, string_number};

use crate::words;

/// MIDI notes of the open strings 6 to 1 in standard tuning, E2 A2 D3 G3 B3 E4.
pub const STANDARD: [u8; STRINGS] = [40, 45, 50, 55, 59, 64];

/// Tunings that have a name (common practice), written without spaces and hyphens, with their
/// strings 6 to 1.
const NAMED: [(&str, [&str; STRINGS]); 14] = [
    ("standard", ["E", "A", "D", "G", "B", "E"]),
    ("halfstepdown", ["Eb", "Ab", "Db", "Gb", "Bb", "Eb"]),
    ("ebstandard", ["Eb", "Ab", "Db", "Gb", "Bb", "Eb"]),
    ("wholestepdown", ["D", "G", "C", "F", "A", "D"]),
    ("dstandard", ["D", "G", "C", "F", "A", "D"]),
    ("dropd", ["D", "A", "D", "G", "B", "E"]),
    ("doubledropd", ["D", "A", "D", "G", "B", "D"]),
    ("dropc", ["C", "G", "C", "F", "A", "D"]),
    ("openg", ["D", "G", "D", "G", "B", "D"]),
    ("opend", ["D", "A", "D", "F#", "A", "D"]),
    ("opene", ["E", "B", "E", "G#", "B", "E"]),
    ("opena", ["E", "A", "E", "A", "C#", "E"]),
    ("openc", ["C", "G", "C", "G", "C", "E"]),
    ("opendm", ["D", "A", "D", "F", "A", "D"]),
];

/// Open strings, capo and reference pitch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tuning {
    /// MIDI notes of the open strings 6 to 1, without capo.
    pub open: [u8; STRINGS],
    /// Fret of the capo, 0 for none; frets of a voicing are counted from it.
    pub capo: u8,
    /// Frequency of A4 in Hz.
    pub a4_hz: f64,
}

impl Default for Tuning {
    fn default() -> Self {
        Tuning {
            open: STANDARD,
            capo: 0,
            a4_hz: 440.0,
        }
    }
}

impl Tuning {
    /// MIDI notes that an open string may have: from E1, an octave below string 6, to E5, an octave
    /// above string 1. A string tuned further away is no guitar's (common practice).
    pub const OPEN_RANGE: RangeInclusive<u8> = 28..=76;
    /// Highest fret for the capo: an octave up is as far as capos are used (common practice).
    pub const HIGHEST_CAPO: u8 = 12;
    /// Reference pitches accepted, in Hz: a semitone around 440, from the baroque 415 to 466
    /// (common practice).
    pub const A4_RANGE_HZ: RangeInclusive<f64> = 415.0..=466.0;

    /// The same strings with a capo at `fret`, 0 for none.
    ///
    /// # Errors
    /// [`TuningError::Capo`] above [`Self::HIGHEST_CAPO`].
    pub fn with_capo(self, fret: u8) -> Result<Tuning, TuningError> {
        if fret > Self::HIGHEST_CAPO {
            return Err(TuningError::Capo { fret });
        }
        Ok(Tuning { capo: fret, ..self })
    }

    /// The same strings tuned to an A4 of `a4_hz`.
    ///
    /// # Errors
    /// [`TuningError::A4`] outside [`Self::A4_RANGE_HZ`].
    pub fn with_a4_hz(self, a4_hz: f64) -> Result<Tuning, TuningError> {
        if !Self::A4_RANGE_HZ.contains(&a4_hz) {
            return Err(TuningError::A4 { a4_hz });
        }
        Ok(Tuning { a4_hz, ..self })
    }

    /// Checks that a voicing stays on the neck above the capo.
    ///
    /// # Errors
    /// [`TuningError::PastNeck`] where capo and fret together pass [`Frets::HIGHEST`].
    pub fn reaches(&self, frets: &Frets) -> Result<(), TuningError> {
        let fret = frets.highest();
        if u16::from(self.capo) + u16::from(fret) > u16::from(Frets::HIGHEST) {
            return Err(TuningError::PastNeck {
                fret,
                capo: self.capo,
            });
        }
        Ok(())
    }

    /// Semitones by which the open string at `index` (0 = string 6) is tuned above standard.
    pub fn above_standard(&self, index: usize) -> i16 {
        i16::from(self.open[index]) - i16::from(STANDARD[index])
    }

    /// MIDI note of the string at `index` (0 = string 6) held at `fret` above the capo.
    pub fn midi(&self, index: usize, fret: u8) -> u8 {
        self.open[index]
            .saturating_add(self.capo)
            .saturating_add(fret)
    }

    /// Frequency in Hz of the string at `index` (0 = string 6) held at `fret` above the capo:
    /// f = A4 · 2^((m − 69)/12).
    pub fn hz(&self, index: usize, fret: u8) -> f64 {
        pitch::midi_to_hz(f64::from(self.midi(index, fret)), self.a4_hz)
    }
}

/// Reason why a text or a number makes no tuning.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TuningError {
    /// Fewer or more than six notes.
    #[error("{}", words::fretboard::no_tuning(text))]
    Text {
        /// The text that was read, in quotation marks.
        text: String,
    },
    /// A note that no guitar string has.
    #[error("{}", words::fretboard::string_out_of_range(
        string,
        note,
        pitch::name(*Tuning::OPEN_RANGE.start()),
        pitch::name(*Tuning::OPEN_RANGE.end()),
    ))]
    Range {
        /// String number, 6 to 1.
        string: u8,
        /// The note asked for, as written.
        note: String,
    },
    /// A capo too far up.
    #[error("{}", words::fretboard::capo_too_high(Tuning::HIGHEST_CAPO, fret))]
    Capo {
        /// The fret asked for.
        fret: u8,
    },
    /// A reference pitch out of range.
    #[error("{}", words::fretboard::a4_out_of_range(
        Tuning::A4_RANGE_HZ.start(),
        Tuning::A4_RANGE_HZ.end(),
        a4_hz,
    ))]
    A4 {
        /// The reference pitch asked for, in Hz.
        a4_hz: f64,
    },
    /// A voicing that runs off the neck.
    #[error("{}", words::fretboard::past_the_neck(fret, capo, Frets::HIGHEST))]
    PastNeck {
        /// The voicing's highest fret, counted from the capo.
        fret: u8,
        /// The capo's fret, counted from the nut.
        capo: u8,
    },
}

impl FromStr for Tuning {
    type Err = TuningError;

    /// Reads a tuning's name, or six notes with or without spaces and octaves. A note without an
    /// octave is the one nearest to that string's standard pitch, the lower of two equally near.
    fn from_str(text: &str) -> Result<Tuning, TuningError> {
        let wrong = || TuningError::Text { text: quoted(text) };
        let is_separator = |c: char| c.is_whitespace() || matches!(c, '-' | '_' | ',');
        let joined = text.replace(is_separator, "").to_lowercase();
        let notes: Vec<&str> = match NAMED.iter().find(|(name, _)| *name == joined) {
            Some((_, notes)) => notes.to_vec(),
            None if text.trim().contains(is_separator) => text
                .split(is_separator)
                .filter(|word| !word.is_empty())
                .collect(),
            None => unspaced(text.trim()).ok_or_else(wrong)?,
        };
        if notes.len() != STRINGS {
            return Err(wrong());
        }
        let mut open = STANDARD;
        for (index, (slot, written)) in open.iter_mut().zip(&notes).enumerate() {
            let midi = open_string(written, *slot).ok_or_else(wrong)?;
            *slot = u8::try_from(midi)
                .ok()
                .filter(|midi| Self::OPEN_RANGE.contains(midi))
                .ok_or_else(|| TuningError::Range {
                    string: string_number(index),
                    note: (*written).to_owned(),
                })?;
        }
        Ok(Tuning {
            open,
            ..Tuning::default()
        })
    }
}

/// Cuts `EADGBE` or `E2A2D3G3B3E4` before each letter that begins a note. A small b is a flat,
/// unless all is written small.
fn unspaced(text: &str) -> Option<Vec<&str>> {
    let small = !text.contains(|c: char| c.is_ascii_uppercase());
    let begins = |c: char| c.is_ascii_uppercase() || (small && c.is_ascii_lowercase());
    let mut starts: Vec<usize> = text.match_indices(begins).map(|(at, _)| at).collect();
    if starts.first() != Some(&0) {
        return None;
    }
    starts.push(text.len());
    Some(starts.windows(2).map(|w| &text[w[0]..w[1]]).collect())
}

/// MIDI note of one open string, near `standard` where no octave is written.
fn open_string(written: &str, standard: u8) -> Option<i32> {
    let (note, octave) = NoteName::split(written).ok()?;
    if octave.is_empty() {
        let standard = i32::from(standard);
        // 6 semitones either way: of the two, strings are more often tuned down.
        let above = (i32::from(note.pitch_class()) - standard).rem_euclid(12);
        return Some(standard + if above < 6 { above } else { above - 12 });
    }
    match octave.as_bytes() {
        [digit @ b'0'..=b'9'] => Some(note.midi(i32::from(digit - b'0'))),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn open(text: &str) -> [u8; STRINGS] {
        text.parse::<Tuning>().unwrap().open
    }

    #[test]
    fn standard_can_be_written_in_many_ways() {
        for text in [
            "standard",
            "Standard",
            "EADGBE",
            "eadgbe",
            "E A D G B E",
            "e a d g b e",
            "E2 A2 D3 G3 B3 E4",
            "E2A2D3G3B3E4",
            "E,A,D,G,B,E",
        ] {
            assert_eq!(open(text), STANDARD, "{text}");
        }
    }

    #[test]
    fn notes_without_octave_stay_near_standard() {
        assert_eq!(open("DADGAD"), [38, 45, 50, 55, 57, 62]);
        assert_eq!(open("drop d"), [38, 45, 50, 55, 59, 64]);
        assert_eq!(open("Drop-D"), open("DADGBE"));
        let down = STANDARD.map(|m| m - 1);
        assert_eq!(open("Eb Ab Db Gb Bb Eb"), down);
        assert_eq!(open("EbAbDbGbBbEb"), down);
        assert_eq!(open("E♭ A♭ D♭ G♭ B♭ E♭"), down);
        assert_eq!(open("D# G# C# F# A# D#"), down);
        assert_eq!(open("half step down"), down);
        assert_eq!(open("open c"), [36, 43, 48, 55, 60, 64]);
        // Bb is six semitones from E either way.
        assert_eq!(open("Bb A D G B E")[0], 34);
    }

    #[test]
    fn every_named_tuning_is_near_standard() {
        for (name, notes) in NAMED {
            let tuning = open(name);
            assert_eq!(tuning, open(&notes.join(" ")), "{name}");
            for (string, standard) in tuning.into_iter().zip(STANDARD) {
                assert!(string.abs_diff(standard) <= 4, "{name}");
            }
        }
    }

    #[test]
    fn rubbish_is_refused_with_a_sentence() {
        for text in [
            "",
            "EADGB",
            "EADGBEE",
            "H A D G B E",
            "drop q",
            "E2 A2",
            "123456",
            "♭",
        ] {
            let error = text.parse::<Tuning>().unwrap_err().to_string();
            assert!(
                error.contains("six notes from string 6 to string 1"),
                "{error}"
            );
        }
        let error = "E9 A2 D3 G3 B3 E4".parse::<Tuning>().unwrap_err();
        assert_eq!(
            error.to_string(),
            "string 6 cannot be tuned to E9: open strings go from E1 to E5"
        );
    }

    #[test]
    fn capo_and_a4_stay_in_their_ranges() {
        let tuning = Tuning::default();
        assert_eq!(tuning.with_capo(12).unwrap().midi(0, 0), 52);
        assert_eq!(tuning.with_capo(13), Err(TuningError::Capo { fret: 13 }));
        assert!(tuning.with_a4_hz(415.0).is_ok() && tuning.with_a4_hz(466.0).is_ok());
        for a4_hz in [0.0, 414.9, 466.1, f64::NAN, f64::INFINITY] {
            assert!(tuning.with_a4_hz(a4_hz).is_err());
        }
        let high: Frets = "x 17 19 19 19 17".parse().unwrap();
        assert!(tuning.with_capo(5).unwrap().reaches(&high).is_ok());
        assert!(tuning.with_capo(6).unwrap().reaches(&high).is_err());
    }

    proptest! {
        #[test]
        fn no_text_makes_it_panic(text in "\\PC*", near in "[A-Ga-g#b♯♭0-9 -]{0,20}") {
            let _ = text.parse::<Tuning>();
            let _ = near.parse::<Tuning>();
        }

        #[test]
        fn no_note_or_fret_overflows(open: [u8; 6], capo: u8, index in 0..6usize, fret: u8) {
            let tuning = Tuning { open, capo, a4_hz: 440.0 };
            prop_assert!(tuning.hz(index, fret).is_finite());
        }
    }
}
