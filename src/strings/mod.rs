//! Evidence per string, the trained model.

pub mod bursts;
pub mod buzz;
pub mod evidence;
mod fit;
pub mod joint;
pub mod model;
mod shared;
mod spectra;
mod stiffness;

pub use fit::Fit;
pub use model::Model;
pub use spectra::{Moments, Spectra};
pub use stiffness::OPEN_B;

use crate::fretboard::{Frets, STRINGS, Tuning};
use evidence::Evidence;
use joint::{OUTCOMES, Scored, Scores};

/// What the model makes of one strum.
#[derive(Debug, Clone)]
pub struct Heard {
    pub evidence: Evidence,
    pub scores: Scores,
    /// Probability of each [`joint::Outcome`] of each expected note.
    pub outcomes: [Option<[f32; OUTCOMES]>; STRINGS],
}

/// Reads the spectra of one strum against a voicing.
pub fn hear(model: &Model, spectra: &Spectra, tuning: &Tuning, frets: &Frets) -> Heard {
    let evidence = evidence::gather(spectra, tuning, frets);
    let scored = |note: &evidence::NoteEvidence| Scored {
        fret: note.fret,
        midi: tuning.midi(note.string, note.fret),
        log_odds: model.note.scores::<1>(&note.features)[0],
    };
    let scores = Scores {
        expected: std::array::from_fn(|s| evidence.expected[s].as_ref().map(scored)),
        others: std::array::from_fn(|s| evidence.others[s].iter().map(scored).collect()),
    };
    let mut row = Vec::new();
    let outcomes = std::array::from_fn(|s| {
        let note = evidence.expected[s].as_ref()?;
        row.clear();
        row.extend_from_slice(&note.features);
        scores.append(s, &mut row);
        Some(model::softmax(model.string.scores(&row)))
    });
    Heard {
        evidence,
        scores,
        outcomes,
    }
}

/// Of two strokes of one picked pass, each string as the stroke heard it that brought more of it.
pub fn best_of(mut a: Heard, b: Heard) -> Heard {
    for string in 0..STRINGS {
        let newer = match (a.outcomes[string], b.outcomes[string]) {
            (Some(old), Some(new)) => {
                new[joint::Outcome::Gone as usize] < old[joint::Outcome::Gone as usize]
            }
            _ => {
                let best = |h: &Heard| h.scores.best_other(string).map_or(f32::MIN, |s| s.log_odds);
                best(&b) > best(&a)
            }
        };
        if newer {
            a.outcomes[string] = b.outcomes[string];
            a.evidence.expected[string] = b.evidence.expected[string].clone();
            a.scores.expected[string] = b.scores.expected[string];
            a.scores.others[string] = b.scores.others[string].clone();
        }
    }
    a.evidence.strongest_db = a.evidence.strongest_db.max(b.evidence.strongest_db);
    a.evidence.explained = a.evidence.explained.max(b.evidence.explained);
    if b.evidence.tuning_score > a.evidence.tuning_score {
        a.evidence.tuning_score = b.evidence.tuning_score;
        a.evidence.tuning_cents = b.evidence.tuning_cents;
    }
    a
}
