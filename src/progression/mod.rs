//! Chords in a row: reading them, the shortest way over the neck, a backing to play along with, and
//! how well the playing kept time.

mod attacks;
pub mod backing;
pub mod band;
pub mod bleed;
#[cfg(test)]
mod examples;
pub mod first_stroke;
mod gap;
pub mod grid;
mod hand;
pub mod live;
pub mod midi;
mod parse;
pub mod performance;
mod route;
mod span;
pub mod start;
pub mod timing;

pub use backing::{Feel, Plan, PlanError, Style, Timing};
pub use grid::{Grid, GridError};
pub use hand::{HandWeights, Move, frets};
pub use parse::{Bar, LineError, MOST_BARS, Placed, Progression, ProgressionError};
pub use route::{Limits, OneShape, Route, RouteChord, RouteError, route};
pub use start::StartSource;
