//! Evidence per string, the trained model.

mod apart;
pub mod bursts;
pub mod buzz;
mod comb;
mod course;
mod courses;
mod dying;
pub mod evidence;
mod fit;
pub mod joint;
pub mod model;
pub mod partials;
pub mod picked;
pub mod profile;
mod shared;
mod spectra;
mod stiffness;
mod traces;
pub mod view;

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
