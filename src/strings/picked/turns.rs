//! Assignment of strokes to strings.

use super::note::Sounded;
use crate::fretboard::{Frets, STRINGS};

/// A stroke whose note is not heard belongs to a string in its turn; this much speaks for it, less
/// where the string should not sound.
const TURN: f32 = 0.03;
const TURN_DAMPED: f32 = 0.02;
/// Two strings often have the same note in reach: it is rather the one that is expected there than one that
/// is not, and that rather on a string that should sound.
const OTHER_FRET: f32 = 0.05;
const UNWANTED: f32 = 0.07;
/// What it costs that a stroke goes back against the direction of the pass.
const TURN_BACK: f32 = 0.15;

/// Tells which stroke fell on each string: the assignment, one stroke a string at most, that explains most
/// while it follows one direction.
pub fn assign(notes: &[[Sounded; STRINGS]], frets: &Frets) -> [Option<usize>; STRINGS] {
    let mut best = (f32::MIN, [None; STRINGS]);
    for down in [true, false] {
        // By the strings taken so far and the last of them: score and assignment.
        let mut states: Vec<Option<(f32, [Option<usize>; STRINGS])>> =
            vec![None; (1 << STRINGS) * (STRINGS + 1)];
        states[STRINGS] = Some((0.0, [None; STRINGS]));
        for (stroke, of) in notes.iter().enumerate() {
            // Fuller sets first, so that no stroke is used twice.
            for taken in (0..1usize << STRINGS).rev() {
                for last in 0..=STRINGS {
                    let Some((score, struck)) = states[taken * (STRINGS + 1) + last] else {
                        continue;
                    };
                    for string in (0..STRINGS).filter(|s| taken & 1 << s == 0) {
                        let (turn, unexpected) = match frets.0[string] {
                            Some(fret) if fret == of[string].fret => (TURN, 0.0),
                            Some(_) => (TURN, OTHER_FRET),
                            None => (TURN_DAMPED, UNWANTED),
                        };
                        let back = last < STRINGS && (string > last) != down;
                        let cost = if back { TURN_BACK } else { 0.0 };
                        let score = score + (of[string].fit - unexpected).max(turn) - cost;
                        let to = (taken | 1 << string) * (STRINGS + 1) + string;
                        if states[to].is_none_or(|(so_far, _)| score > so_far) {
                            let mut struck = struck;
                            struck[string] = Some(stroke);
                            states[to] = Some((score, struck));
                        }
                    }
                }
            }
        }
        for state in states.into_iter().flatten() {
            if state.0 > best.0 {
                best = state;
            }
        }
    }
    best.1
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What could sound after a stroke that these strings explain: index, fret, fit.
    fn stroke(explained: &[(usize, u8, f32)]) -> [Sounded; STRINGS] {
        std::array::from_fn(|string| {
            let of = explained.iter().find(|e| e.0 == string);
            let (fret, fit) = of.map_or((0, 0.0), |e| (e.1, e.2));
            Sounded {
                string,
                fret,
                cents: 0.0,
                fit,
            }
        })
    }

    #[test]
    fn a_note_that_two_strings_have_is_the_one_that_is_expected() {
        let frets: Frets = "355533".parse().unwrap();
        // String 5 at fret 5 and the open string 4 are both D; no stroke of string 4 was heard.
        let strokes = [
            stroke(&[(0, 3, 0.9)]),
            stroke(&[(1, 5, 0.8), (2, 0, 0.8)]),
            stroke(&[(3, 5, 0.9)]),
        ];
        let struck = assign(&strokes, &frets);
        assert_eq!(struck, [Some(0), Some(1), None, Some(2), None, None]);
    }

    #[test]
    fn strokes_that_explain_nothing_fall_on_the_strings_between() {
        let frets: Frets = "355533".parse().unwrap();
        let strokes = [stroke(&[(0, 3, 0.9)]), stroke(&[]), stroke(&[(2, 5, 0.9)])];
        let struck = assign(&strokes, &frets);
        assert_eq!(struck[..3], [Some(0), Some(1), Some(2)]);
    }
}
