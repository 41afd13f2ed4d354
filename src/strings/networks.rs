//! The trained networks: what became of the strings of a strum, of the string of a stroke, and which one buzzes.

use std::sync::{Arc, LazyLock};

use super::{Learnt, Network, buzz};

/// A network that is read when it is first asked for, and shared by all that judge by it.
pub type SharedNetwork<T> = Arc<LazyLock<T, Box<dyn FnOnce() -> T + Send>>>;

/// Shares what `read` gives.
pub fn shared<T>(read: impl FnOnce() -> T + Send + 'static) -> SharedNetwork<T> {
    Arc::new(LazyLock::new(Box::new(read)))
}

/// Networks that a take is judged by.
#[derive(Debug, Clone)]
pub struct Networks {
    /// Network for the strings of a strum.
    pub strums: SharedNetwork<Network>,
    /// Network for the string struck, in one stroke of a picked pass.
    pub strokes: SharedNetwork<Network>,
    /// Network for buzz: which string buzzes, and whether something rattles.
    pub buzz: SharedNetwork<buzz::Network>,
    /// Offsets by which what they say is moved.
    pub learnt: Learnt,
}

impl Networks {
    /// Gives those built into the program.
    pub fn built_in() -> Self {
        Networks {
            strums: shared(Network::of_strums),
            strokes: shared(Network::of_strokes),
            buzz: shared(buzz::Network::built_in),
            learnt: Learnt::default(),
        }
    }

    /// The same, what they say moved by what was learnt of a guitar.
    pub fn with(self, learnt: Learnt) -> Self {
        Networks { learnt, ..self }
    }
}
