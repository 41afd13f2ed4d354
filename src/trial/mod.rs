//! Trials: how right the verdicts are where somebody knows what every string did.
//!
//! - [`Deed`] is what was done on purpose to one string, and which verdicts tell it.
//! - [`Set`] is a folder of sounds with a table of deeds, `truth.csv`; `fixtures/LABELLED.md` describes its form.
//! - [`hear`] judges its takes as any recording.
//! - [`pack`](mod@pack) makes one file of a set, for others.
//! - [`put_right`] makes labels of what players put right.
//! - [`Score`] counts verdicts against deeds.

mod deed;
mod hearing;
#[cfg(feature = "cli")]
pub mod pack;
pub mod put_right;
mod score;
pub mod set;

pub use deed::Deed;
pub use hearing::{Heard, hear};
pub use score::{Counts, Score, sum};
pub use set::{KnownBy, Labelled, Refusal, Set};
