//! Which stroke fell on which string.

use super::note::Sounded;
use crate::fretboard::{Frets, STRINGS};

/// A stroke whose note is not heard belongs to a string in its turn; this much speaks for it, less
/// where the string should not sound.
const TURN: f32 = 0.03;
const TURN_DAMPED: f32 = 0.02;
/// What it costs that a stroke goes back against the direction of the pass.
const TURN_BACK: f32 = 0.15;

/// Which stroke fell on each string: the assignment, one stroke a string at most, that explains most
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
                        let turn = match frets.0[string] {
                            Some(_) => TURN,
                            None => TURN_DAMPED,
                        };
                        let back = last < STRINGS && (string > last) != down;
                        let cost = if back { TURN_BACK } else { 0.0 };
                        let score = score + of[string].fit.max(turn) - cost;
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
