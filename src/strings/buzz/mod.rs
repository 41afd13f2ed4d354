//! Buzz of each string: what the network sees of the [`treble`], what it makes of it, and what is said.
//!
//! # How buzz is heard
//!
//! A string that strikes a fret does so once a period. Each hit is a burst of treble and hands energy to the
//! string's own high partials: up to 10 kHz they stand 20 to 40 dB above the noise for some tenths of a second.
//! [`treble`] sees three things and decides nothing.
//!
//! 1. Lines: pitch and stiffness of each string are fitted anew in the treble, where the fit below 4.5 kHz is
//!    tens of hertz off. Up to 32 rows a string describe low lines one by one and higher ones together: their level
//!    in 56 frames of 60 ms, the level between them, and where the power lies around a line. A string that touches
//!    is a little higher. The same is read at whole multiples of the string's pitch, where a hit once a period
//!    drives it.
//! 2. Pulses: the envelope of eight half-octave bands from 1 to 16 kHz, in ten windows, at eight multiples of
//!    the string's pitch. A clean stiff string's stretched partials beat a little faster than it swings.
//! 3. Bands: the course of 24 bands from 0.7 to 11 kHz, the same for all strings, from 0.3 s before the strum
//!    on. It shows what was there already.
//!
//! A string may begin to strike late, while it falls; so a recording that goes on is read for 2.5 s. It is read only as long
//! as the strum sounds alone: a light stroke between strums, or fingers that leave the strings, have a treble of their own.
//!
//! All this begins at the last string, and the network for the strings tells when that is struck. The finder hears
//! one onset of most strums; what begins earlier takes the strings still to come for buzz.
//!
//! One click smears the lines of all strings. Where sound was lost on its way, no buzz is told.
//!
//! A picked pass is read stroke by stroke: the strings that sound by then, up to the next stroke. What buzzes is told of the
//! string that was struck.
//!
//! Recordings at less than 19.2 kHz are not judged for buzz. Below 32 kHz the highest bands are left out. When the fits change, run `scripts/train buzz` again, then `scripts/train thresholds`, and set
//! the thresholds here.

mod network;
pub mod treble;

pub use network::{BuzzProbabilities, CONSTANTS, LAYOUT, Network, Scratch};

use crate::fretboard::STRINGS;

/// From this probability up something is said to buzz. Of clean takes of makers of buzz that a network never heard, 3 of 311
/// reach it, of hard-struck ones 2 of 120, and 3 of 660 takes of recorded notes alone (`scripts/train thresholds 60`).
const TOLD: f32 = 0.9;
/// From this probability up a string is said to be one that may buzz. Of takes of makers and guitars that the network never heard
/// 15 lie from here to [`TOLD`]; 10 buzz, each time that string. So do 8 of 660 takes of recorded notes alone (as above).
const POSSIBLE: f32 = 0.5;
/// From this probability up a string is said to be the one that buzzes; of those so named by the same networks 46 of 48 are.
const NAMED: f32 = 0.5;
/// From this probability up something is said to rattle, where nothing buzzes: none of 311 clean takes reaches it, and 72 of
/// 100 of those that rattle.
const RATTLES: f32 = 0.9;

/// Strings and things that buzz.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BuzzFindings {
    /// Probability that the string buzzes, where that is to be said.
    pub strings: [Option<f32>; STRINGS],
    /// The two strings that buzz most probably, where something does and it cannot be told which.
    pub either: Option<[usize; 2]>,
    /// The string that buzzes most probably, where it is not sure that any does.
    pub possible: Option<usize>,
    /// Probability that any string buzzes.
    pub any: f32,
    /// Probability that something rattles that follows no single string, where that is to be said.
    pub rattle: Option<f32>,
}

impl BuzzFindings {
    /// Tells whether anything is said to buzz.
    pub fn is_any(&self) -> bool {
        self.either.is_some() || self.strings.iter().any(Option::is_some)
    }
}

/// Gives what is to be said of a take.
pub fn found(said: &BuzzProbabilities) -> BuzzFindings {
    let mut found = BuzzFindings {
        any: said.any,
        ..BuzzFindings::default()
    };
    let mut strings: Vec<(usize, f32)> = (said.buzzes.iter().enumerate())
        .filter_map(|(s, p)| Some((s, (*p)?)))
        .collect();
    strings.sort_by(|a, b| b.1.total_cmp(&a.1));
    if said.any < TOLD || strings.is_empty() {
        found.rattle = (said.rattles >= RATTLES).then_some(said.rattles);
        if found.rattle.is_none() && said.any >= POSSIBLE {
            found.possible = strings.first().map(|(string, _)| *string);
        }
    } else if strings[0].1 >= NAMED || strings.len() == 1 {
        for (place, &(string, p)) in strings.iter().enumerate() {
            found.strings[string] = (place == 0 || p >= NAMED).then_some(p);
        }
    } else {
        found.either = Some([strings[0].0, strings[1].0]);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(fifth: f32, fourth: f32, any: f32, rattles: f32) -> BuzzProbabilities {
        BuzzProbabilities {
            buzzes: [None, Some(fifth), Some(fourth), Some(0.02), None, None],
            any,
            rattles,
        }
    }

    #[test]
    fn strings_that_buzz_are_named_each() {
        assert_eq!(found(&said(0.1, 0.1, 0.1, 0.1)).strings, [None; STRINGS]);
        let one = found(&said(0.1, 0.95, 0.97, 0.1));
        assert_eq!(one.strings, [None, None, Some(0.95), None, None, None]);
        assert!(one.is_any() && one.either.is_none() && one.rattle.is_none());
        let two = found(&said(0.7, 0.95, 0.97, 0.99));
        assert_eq!(two.strings, [None, Some(0.7), Some(0.95), None, None, None]);
        assert_eq!(two.rattle, None);
    }

    #[test]
    fn where_no_string_is_sure_the_two_likeliest_are_told() {
        let found = found(&said(0.3, 0.4, 0.95, 0.1));
        assert_eq!(found.strings, [None; STRINGS]);
        assert_eq!(found.either, Some([2, 1]));
        assert!(found.is_any());
    }

    #[test]
    fn a_string_that_may_buzz_is_told_as_no_more_than_that() {
        let possible = found(&said(0.3, 0.4, 0.8, 0.1));
        assert_eq!(possible.possible, Some(2));
        assert!(!possible.is_any());
        assert_eq!(found(&said(0.3, 0.4, 0.8, 0.95)).possible, None);
        assert_eq!(found(&said(0.3, 0.4, 0.4, 0.1)).possible, None);
        assert_eq!(found(&said(0.3, 0.4, 0.95, 0.1)).possible, None);
    }

    #[test]
    fn a_rattle_is_told_where_no_string_buzzes() {
        let rattle = found(&said(0.1, 0.2, 0.3, 0.95));
        assert_eq!(rattle.rattle, Some(0.95));
        assert!(!rattle.is_any());
    }
}
