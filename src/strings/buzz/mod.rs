//! Which string buzzes: the forest that weighs what [`bursts`] gathers, and what is said of it.

pub mod bursts;
mod comb;
mod forest;
mod levels;
pub mod treble;

pub use forest::{Forest, ForestError};

use crate::fretboard::STRINGS;
use forest::softmax;

/// What the forest tells apart, in its own order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(usize)]
pub enum Kind {
    /// This string strikes no fret, and nothing rattles.
    Clean = 0,
    /// This string buzzes.
    Buzzes = 1,
    /// Something rattles, and it is not this string.
    Rattle = 2,
}

/// Number of kinds.
pub const KINDS: usize = 3;

/// The forest built into the program.
///
/// # Panics
/// When it is damaged, which a test rules out.
pub fn built_in() -> Forest {
    Forest::read(include_bytes!("buzz.bin")).expect("the built-in forest is checked by a test")
}

/// Probability of each [`Kind`] for each string with a note.
pub type Kinds = [Option<[f32; KINDS]>; STRINGS];

/// Weighs the evidence on each string.
pub fn kinds(forest: &Forest, rows: &[Option<Vec<f32>>; STRINGS]) -> Kinds {
    std::array::from_fn(|s| rows[s].as_ref().map(|row| softmax(forest.scores(row))))
}

/// A string is said to buzz from this probability up. On the takes that trained, each guitar judged by a
/// forest that never heard it, 1.9 % of the clean takes in which a string met a fret for a moment reach
/// it, and 1.7 % of the other clean ones (`scripts/train buzz thresholds`).
const BUZZES: f32 = 0.83;
/// Something is said to rattle from this probability up, the mean over the strings, when none buzzes: on
/// the same takes 81 % of those with a rattle and 0.6 % of the clean ones reach it.
const RATTLES: f32 = 0.35;

/// What buzzes.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Found {
    /// How probable it is that the string buzzes, where that is to be said.
    pub strings: [Option<f32>; STRINGS],
    /// How probable it is that something rattles that follows no single string, where that is to be said.
    pub rattle: Option<f32>,
}

/// What is to be said of a take.
pub fn found(kinds: &Kinds) -> Found {
    let strings = kinds.map(|k| k.map(|k| k[Kind::Buzzes as usize]).filter(|p| *p >= BUZZES));
    let rattles = kinds.iter().flatten().map(|k| k[Kind::Rattle as usize]);
    let mean = rattles.clone().sum::<f32>() / rattles.count().max(1) as f32;
    let silent = strings.iter().all(Option::is_none);
    Found {
        strings,
        rattle: (silent && mean >= RATTLES).then_some(mean),
    }
}

#[cfg(test)]
mod tests {
    use super::bursts::FEATURES;
    use super::*;

    #[test]
    fn the_built_in_forest_fits_the_evidence() {
        assert_eq!(built_in().features(), FEATURES);
    }

    #[test]
    fn a_string_that_buzzes_is_named_and_a_rattle_that_none_explains_is_told() {
        let calm = Some([0.98, 0.01, 0.01]);
        let none = found(&[None, calm, calm, calm, calm, calm]);
        assert_eq!(none, Found::default());
        let one = found(&[None, calm, Some([0.1, 0.85, 0.05]), calm, calm, calm]);
        assert_eq!(one.strings, [None, None, Some(0.85), None, None, None]);
        assert_eq!(one.rattle, None);
        let rattle = found(&[
            None,
            None,
            None,
            Some([0.1, 0.1, 0.8]),
            Some([0.2, 0.1, 0.7]),
            None,
        ]);
        assert_eq!(rattle.strings, [None; STRINGS]);
        assert!(rattle.rattle.is_some_and(|p| (p - 0.75).abs() < 1e-6));
    }
}
