//! Direction of a pass: whether its pitches go up or down from string to string.

use crate::fretboard::STRINGS;
use crate::spectrum::partials::cents;

/// Neighbouring strings of a chord are at least this many cents apart.
pub(super) const LEAST_STEP_CENTS: f64 = 60.0;
/// Pitches rise or fall from string to string. One that does not fit may have been misheard, or be a wrong
/// fret, the sooner the more strokes there are; of two that is hard to believe, and more make it a melody.
/// Counting strokes and not only those whose pitch is known: 0.0039 instead of 0.0055 of the clean strings of
/// the same passes called dead, 2 of the same strums fewer.
const ONE_OFF: f64 = 3.0;
const ONE_OFF_OF_FEW: f64 = 6.0;
const TWO_OFF: f64 = 12.0;
const MANY_STROKES: usize = 5;
/// A pitch an octave off is misheard more often than a string is out of line: partials of strings that ring hide the
/// lowest, or stand in below it. It counts only where all the others are in line, or melodies become passes.
const OCTAVE: f64 = 2.0;

/// What the pitches of a pass with so many strokes, at most [`STRINGS`], cost where they do not all rise or fall from one to the
/// next, in log odds; `None` where it is no pass.
pub(super) fn cost(pitches: &mut [f64], strokes: usize) -> Option<f64> {
    let off = pitches.len() - in_line(pitches);
    let as_heard = off_line_cost(off, strokes);
    if off == 0 {
        return as_heard;
    }
    let octave = is_in_line_but_an_octave(pitches).then_some(OCTAVE);
    as_heard.into_iter().chain(octave).reduce(f64::min)
}

/// What it costs that so many pitches of a pass do not rise or fall with the others; `None` where it is none.
fn off_line_cost(off: usize, strokes: usize) -> Option<f64> {
    match off {
        0 => Some(0.0),
        1 if strokes >= MANY_STROKES => Some(ONE_OFF),
        1 => Some(ONE_OFF_OF_FEW),
        2 => Some(TWO_OFF),
        _ => None,
    }
}

/// Do all rise or fall from one to the next where one of them is an octave lower or higher than heard?
fn is_in_line_but_an_octave(pitches: &mut [f64]) -> bool {
    (0..pitches.len()).any(|i| {
        let heard = pitches[i];
        let fits = [heard / 2.0, heard * 2.0].into_iter().any(|hz| {
            pitches[i] = hz;
            in_line(pitches) == pitches.len()
        });
        pitches[i] = heard;
        fits
    })
}

/// How many of at most [`STRINGS`] pitches in a row, the others left out, rise or fall from one to the next.
fn in_line(pitches: &[f64]) -> usize {
    let mut longest = pitches.len().min(1);
    // The longest line up to each pitch that rises, and that falls.
    let mut lines = [[1usize; 2]; STRINGS];
    for (i, hz) in pitches.iter().enumerate() {
        for (j, before_hz) in pitches[..i].iter().enumerate() {
            let step = cents(*before_hz, *hz);
            let way = usize::from(step < 0.0);
            if step.abs() >= LEAST_STEP_CENTS {
                lines[i][way] = lines[i][way].max(lines[j][way] + 1);
                longest = longest.max(lines[i][way]);
            }
        }
    }
    longest
}
