//! Offsets that a trial learnt of one guitar in one room: by how much what the networks say is moved.
//!
//! Three numbers, offsets of logits: log(p / (1 - p)). They move where a verdict tips over, and leave the thresholds
//! alone, so that a probability still says how sure a verdict is. All zero, they change nothing.

use std::ops::RangeInclusive;

use serde::{Deserialize, Serialize};

use super::buzz;
use super::network::OUTCOMES;

/// No offset is larger: 3 makes 1:1 out of 1:20. A choice.
pub const OFFSET: RangeInclusive<f64> = -3.0..=3.0;

/// Offsets learnt of one guitar.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Learnt {
    /// Added to the logit that an expected string rings on.
    pub rings: f32,
    /// Added to the logit that a string sounds which must be quiet.
    pub unwanted: f32,
    /// Added to the logit that a string buzzes, and that any does.
    pub buzzes: f32,
}

/// A probability whose logit is moved. 0 and 1 stay what they are.
fn moved(p: f32, offset: f32) -> f32 {
    if offset == 0.0 {
        return p;
    }
    let odds = offset.exp();
    (p * odds) / (p * odds + (1.0 - p))
}

impl Learnt {
    /// Tells whether nothing is changed.
    pub fn is_nothing(&self) -> bool {
        *self == Learnt::default()
    }

    /// Probabilities of each outcome of an expected string, the first of which is that it rings; what does not ring keeps
    /// its proportions.
    pub fn outcomes(&self, outcomes: [f32; OUTCOMES]) -> [f32; OUTCOMES] {
        let rings = moved(outcomes[0], self.rings);
        let others = 1.0 - outcomes[0];
        if self.rings == 0.0 || others <= 0.0 {
            return outcomes;
        }
        let share = (1.0 - rings) / others;
        std::array::from_fn(|i| match i {
            0 => rings,
            other => outcomes[other] * share,
        })
    }

    /// The probability that a string sounds which must be quiet.
    pub fn unwanted(&self, sounds: f32) -> f32 {
        moved(sounds, self.unwanted)
    }

    /// Moves what is said of buzz.
    pub fn buzz(&self, said: &buzz::BuzzProbabilities) -> buzz::BuzzProbabilities {
        buzz::BuzzProbabilities {
            buzzes: said.buzzes.map(|p| p.map(|p| moved(p, self.buzzes))),
            any: moved(said.any, self.buzzes),
            ..*said
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use proptest::prelude::*;

    #[test]
    fn an_offset_moves_the_logit_by_so_much() {
        assert_abs_diff_eq!(moved(0.5, 3f32.ln()), 0.75, epsilon = 1e-6);
        assert_abs_diff_eq!(moved(0.75, -(3f32.ln())), 0.5, epsilon = 1e-6);
        assert_eq!((moved(0.0, 2.0), moved(1.0, -2.0)), (0.0, 1.0));
    }

    proptest! {
        #[test]
        fn probabilities_stay_probabilities_and_none_changes_without_an_offset(
            weights in prop::array::uniform4(0.001f32..1.0),
            rings in -3.0f32..3.0,
        ) {
            let sum: f32 = weights.iter().sum();
            let outcomes = weights.map(|w| w / sum);
            let learnt = Learnt { rings, ..Learnt::default() };
            let moved = learnt.outcomes(outcomes);
            prop_assert!((moved.iter().sum::<f32>() - 1.0).abs() < 1e-4);
            prop_assert!((moved[0] - outcomes[0]) * rings >= 0.0);
            // What became of a string that does not ring is told as before.
            prop_assert!((moved[1] * outcomes[2] - moved[2] * outcomes[1]).abs() < 1e-5);
            prop_assert_eq!(Learnt::default().outcomes(outcomes), outcomes);
        }
    }
}
