//! Chords in a row: reading them, the shortest way over the neck, a backing to play along with, and
//! how well the playing kept time.

mod hand;
mod parse;
mod route;

pub use hand::{Move, Weights, frets};
pub use parse::{Bar, MOST_BARS, Placed, Progression, ProgressionError};
pub use route::{Limits, OneShape, Route, RouteError, Step, route};
