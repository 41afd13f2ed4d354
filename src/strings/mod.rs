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
pub mod network;
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
    let mut scores = Scores {
        expected: std::array::from_fn(|s| evidence.expected[s].as_ref().map(scored)),
        others: std::array::from_fn(|s| evidence.others[s].iter().map(scored).collect()),
    };
    let mut row = Vec::new();
    let mut outcomes = std::array::from_fn(|s| {
        let note = evidence.expected[s].as_ref()?;
        row.clear();
        row.extend_from_slice(&note.features);
        scores.append(s, &mut row);
        Some(model::softmax(model.string.scores(&row)))
    });
    if let Some(network) = &model.network {
        let (notes, said) = net(network, spectra, tuning, frets);
        for (note, said) in notes.iter().zip(said) {
            match said {
                network::Said::Expected(s) => {
                    let share: f32 = std::env::var("SHARE").map_or(1.0, |s| s.parse().unwrap());
                    let old = outcomes[note.string].unwrap();
                    let p = model::softmax(s);
                    outcomes[note.string] = Some(model::softmax(std::array::from_fn(|k| share * p[k].max(1e-6).ln() + (1.0 - share) * old[k].max(1e-6).ln())));
                }
                network::Said::Other(log_odds) => {
                    for other in &mut scores.others[note.string] {
                        if other.fret == note.fret {
                            {
                            let share: f32 = std::env::var("SHARE").map_or(1.0, |s| s.parse().unwrap());
                            other.log_odds = share * log_odds + (1.0 - share) * other.log_odds;
                            }
                        }
                    }
                }
            }
        }
    }
    Heard {
        evidence,
        scores,
        outcomes,
    }
}

/// Lab.
pub fn net(
    network: &network::Network,
    spectra: &Spectra,
    tuning: &Tuning,
    frets: &Frets,
) -> (Vec<network::Note>, Vec<network::Said>) {
    let (expected, others) = evidence::fitted_notes(spectra, tuning, frets);
    let framed = partials::Framed::new(spectra);
    let mut notes = Vec::new();
    let mut fits = Vec::new();
    for (string, note) in expected.iter().enumerate() {
        if let &Some((fret, fit)) = note {
            notes.push(network::Note { string, fret, expected: true, ..Default::default() });
            fits.push((fit, framed.partials(&fit, 16)));
        }
    }
    let loudest = fits.iter().flat_map(|(_, p)| p).map(partials::Partial::highest).fold(1e-6, f32::max);
    for (string, of) in others.iter().enumerate() {
        for &(fret, fit) in of {
            notes.push(network::Note { string, fret, expected: false, ..Default::default() });
            fits.push((fit, framed.partials(&fit, 8)));
        }
    }
    for (note, (fit, partials)) in notes.iter_mut().zip(&fits) {
        for partial in partials {
            note.hz.push(partial.hz);
            partial.describe(spectra, fit, loudest, &mut note.rows);
        }
    }
    let said = network.hear(&notes, (spectra.available_s, spectra.spread_s), &mut network::Room::default());
    (notes, said)
}
