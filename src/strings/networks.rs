//! The trained networks: what became of the strings of a strum, of the string of a stroke, and which one buzzes.

use super::{Learnt, Network, buzz};

/// Networks that a take is judged by.
#[derive(Debug, Clone)]
pub struct Networks {
    /// Network for the strings of a strum.
    pub strums: Network,
    /// Network for the string struck, in one stroke of a picked pass.
    pub strokes: Network,
    /// Network for buzz: which string buzzes, and whether something rattles.
    pub buzz: buzz::Network,
    /// Offsets by which what they say is moved.
    pub learnt: Learnt,
}

impl Networks {
    /// Reads those built into the program.
    pub fn built_in() -> Self {
        Networks {
            strums: Network::of_strums(),
            strokes: Network::of_strokes(),
            buzz: buzz::Network::built_in(),
            learnt: Learnt::default(),
        }
    }

    /// The same, what they say moved by what was learnt of a guitar.
    pub fn with(self, learnt: Learnt) -> Self {
        Networks { learnt, ..self }
    }
}
