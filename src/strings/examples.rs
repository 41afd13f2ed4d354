//! An estimate for tests.

use super::{CandidateNote, CandidateNotes, Estimate, Fit, OUTCOMES};
use crate::fretboard::STRINGS;

/// Estimate of a voicing of string 6 alone, open, with these outcomes; so much of the lines heard is explained.
pub fn of_one_string(outcomes: [f32; OUTCOMES], explained: f32) -> Estimate {
    let note = |string| CandidateNote {
        string,
        fret: 0,
        midi: 40,
        fit: Fit::nominal(82.4, 1e-4, 4_000.0),
    };
    Estimate {
        notes: CandidateNotes {
            tuning_cents: 0.0,
            tuning_score: 0.0,
            strongest_db: 40.0,
            explained,
            expected: std::array::from_fn(|s| (s == 0).then(|| note(s))),
            others: Default::default(),
        },
        outcomes: std::array::from_fn(|s| (s == 0).then_some(outcomes)),
        onsets_s: [None; STRINGS],
        others: Default::default(),
        levels_db: [None; STRINGS],
    }
}
