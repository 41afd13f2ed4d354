//! Which string buzzes: what the network sees of the [`treble`], what it makes of it, and what is said.
//!
//! # How buzz is heard
//!
//! A string that strikes a fret does so once a period. Each hit is a burst of treble and hands energy to the
//! string's own high partials: up to 10 kHz they stand 20 to 40 dB above the noise for some tenths of a second.
//! [`treble`] sees three things and decides nothing.
//!
//! 1. Lines: pitch and stiffness of each string are fitted anew in the treble, where the fit below 4.5 kHz is
//!    tens of hertz off. Up to 32 rows a string describe low lines one by one and higher ones together: their level
//!    in 36 frames of 60 ms, the level between them, and where the power lies around a line. A string that touches
//!    is a little higher. The same is read at whole multiples of the string's pitch, where a hit once a period
//!    drives it.
//! 2. Pulses: the envelope of eight half-octave bands from 1 to 16 kHz, in six windows, at eight multiples of
//!    the string's pitch. A clean stiff string's stretched partials beat a little faster than it swings.
//! 3. Bands: the course of 24 bands from 0.7 to 11 kHz, the same for all strings, from 0.3 s before the strum
//!    on. It shows what was there already.
//!
//! All this begins at the last string, and the network for the strings tells when that is struck. The finder hears
//! one onset of most strums; what begins earlier takes the strings still to come for buzz.
//!
//! Recordings at less than 19.2 kHz and picked passes are not judged for buzz. Below 32 kHz the highest bands are
//! left out. When the fits change, run `scripts/train buzz` again, then `scripts/train buzz thresholds`, and set
//! the thresholds here.

mod network;
pub mod treble;

pub use network::{Network, Said, Scratch};

use crate::fretboard::STRINGS;

/// A string is said to buzz from this probability up, and, where none does, something to rattle. A false alarm
/// costs more trust than a buzz that is missed: 0.1 % of calm clean takes, 0.5 % of hard ones and 0.4 % of takes of
/// recorded notes alone are said to buzz (0.86 of those that do), none to rattle (`scripts/train buzz thresholds 500`).
const TOLD: f32 = 0.9;

/// Strings and things that buzz.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Found {
    /// Probability that the string buzzes, where that is to be said.
    pub strings: [Option<f32>; STRINGS],
    /// Probability that something rattles that follows no single string, where that is to be said.
    pub rattle: Option<f32>,
}

/// Gives what is to be said of a take.
pub fn found(said: &Said) -> Found {
    let strings = said.buzzes.map(|p| p.filter(|p| *p >= TOLD));
    let silent = strings.iter().all(Option::is_none);
    Found {
        strings,
        rattle: (silent && said.rattles >= TOLD).then_some(said.rattles),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_string_that_buzzes_is_named_and_a_rattle_that_none_explains_is_told() {
        let said = |string: f32, rattles: f32| Said {
            buzzes: [None, Some(0.01), Some(string), Some(0.02), None, None],
            rattles,
        };
        assert_eq!(found(&said(0.1, 0.1)), Found::default());
        let one = found(&said(0.95, 0.1));
        assert_eq!(one.strings, [None, None, Some(0.95), None, None, None]);
        assert_eq!(one.rattle, None);
        let rattle = found(&said(0.1, 0.95));
        assert_eq!(rattle.strings, [None; STRINGS]);
        assert_eq!(rattle.rattle, Some(0.95));
    }
}
