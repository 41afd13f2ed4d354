//! Strings that a finger lets go while others still sound: they slap and buzz as they leave the fret, which is no fault.
//!
//! A string that is let go falls steeply, and stays down. Lines that beat come back.

use super::spectrum::Spectrum;
use crate::decibels;
use crate::fretboard::STRINGS;
use crate::strings::CandidateNotes;
use crate::strings::fit::distance_hz;

/// A string's own lines are sought among so many, below so many Hz, and at least so far from another string's: a frame of 60 ms
/// sees 33 Hz to either side of a line.
const LINES: usize = 10;
const HIGHEST_HZ: f32 = 1_500.0;
const APART_HZ: f32 = 35.0;
/// Nothing is said to be let go before this, in seconds after the last string: it dies, or never rang.
const FROM_S: f64 = 0.15;
/// A string that is let go falls by so much within so long, in dB and seconds: finger-stopped strings of two takes of GuitarSet
/// lose 211 dB/s and more (a tenth of them less; see `take`), ringing ones 10 to 40.
const FALL_DB: f32 = 9.0;
const FALL_S: f64 = 0.07;
/// ... and is not back within so long.
const GONE_S: f64 = 0.15;
const BACK_DB: f32 = 6.0;
/// A string this far below the loudest is hidden by the others, in dB.
const HIDDEN_DB: f32 = 25.0;

/// Gives when the first of the strings of `notes` is let go, in seconds after the last string is struck; `None` where none is seen
/// to be. `frames` lie at `times_s`, in order.
pub fn released_s(frames: &[Spectrum], times_s: &[f64], notes: &CandidateNotes) -> Option<f64> {
    let levels: [Option<Vec<f32>>; STRINGS] =
        std::array::from_fn(|s| Some(levels_db(frames, &own_lines(notes, s)?)));
    let loudest: Vec<f32> = (0..frames.len())
        .map(|k| {
            let there = levels.iter().flatten();
            there.fold(f32::NEG_INFINITY, |loudest, l| loudest.max(l[k]))
        })
        .collect();
    let first = |levels: &Vec<f32>| {
        (0..frames.len()).find(|&k| {
            times_s[k] >= FROM_S
                && levels[k] > loudest[k] - HIDDEN_DB
                && is_let_go(&levels[k..], &times_s[k..])
        })
    };
    let first = levels.iter().flatten().filter_map(first).min()?;
    Some(times_s[first])
}

/// Does a string with these levels fall from the first of them on, and stay down?
fn is_let_go(levels_db: &[f32], times_s: &[f64]) -> bool {
    let Some(fallen) = times_s.iter().position(|t| *t >= times_s[0] + FALL_S) else {
        return false;
    };
    let back = |(level, _): &(&f32, &f64)| **level > levels_db[0] - BACK_DB;
    let mut after = (levels_db[fallen..].iter())
        .zip(&times_s[fallen..])
        .take_while(|(level, at)| !level.is_nan() && **at <= times_s[fallen] + GONE_S);
    levels_db[fallen] < levels_db[0] - FALL_DB && !after.any(|pair| back(&pair))
}

/// The lines of a string that no other expected one has near, in Hz; `None` where it has none.
fn own_lines(notes: &CandidateNotes, string: usize) -> Option<Vec<f32>> {
    let fit = &notes.expected[string].as_ref()?.fit;
    let others = notes.foreign(&[None; STRINGS], string);
    let own: Vec<f32> = (1..=LINES)
        .map(|n| fit.hz(n))
        .filter(|hz| *hz < HIGHEST_HZ && distance_hz(&others, *hz) > APART_HZ)
        .collect();
    (!own.is_empty()).then_some(own)
}

/// The level of lines together frame by frame, in dB; not a number where a frame has no sound.
fn levels_db(frames: &[Spectrum], lines_hz: &[f32]) -> Vec<f32> {
    let level = |frame: &Spectrum| match frame.is_filled() {
        true => {
            let power: f32 = lines_hz.iter().map(|hz| frame.at(*hz)).sum();
            decibels::level(power)
        }
        false => f32::NAN,
    };
    frames.iter().map(level).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEP_S: f64 = 0.025;

    /// Levels every 25 ms of a string that falls 20 dB a second, and from `at_s` to `back_s` by 30 dB more.
    fn levels(at_s: f64, back_s: f64) -> (Vec<f32>, Vec<f64>) {
        let times_s: Vec<f64> = (0..40).map(|k| f64::from(k) * STEP_S).collect();
        let level = |t: &f64| {
            let lost = if (at_s..back_s).contains(t) {
                30.0
            } else {
                0.0
            };
            (-20.0 * t - lost) as f32
        };
        (times_s.iter().map(level).collect(), times_s)
    }

    fn first(at_s: f64, back_s: f64) -> Option<f64> {
        let (levels, times_s) = levels(at_s, back_s);
        let first = (0..levels.len()).find(|&k| is_let_go(&levels[k..], &times_s[k..]));
        first.map(|k| times_s[k])
    }

    #[test]
    fn a_string_that_is_let_go_falls_and_stays_down() {
        let at_s = first(0.5, 2.0).expect("it falls");
        assert!((0.4..0.5).contains(&at_s), "{at_s}");
    }

    #[test]
    fn a_string_that_rings_or_whose_lines_beat_is_not_let_go() {
        assert_eq!(first(2.0, 2.0), None);
        assert_eq!(first(0.5, 0.6), None);
    }
}
