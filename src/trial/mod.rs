//! Trials: how right the verdicts are where somebody knows what every string did.
//!
//! - [`Deed`] is what was done on purpose to one string, and which verdicts tell it.
//! - [`Set`] is a folder of sounds with a table of deeds, `truth.csv`; `fixtures/LABELLED.md` describes its form.
//! - [`hear`] finds its takes as in any recording, and has them judged.
//! - [`pack`](mod@pack) makes one file of a set, for others.
//! - [`put_right`] makes labels of what players put right.
//! - [`Score`] counts verdicts against deeds.
//! - [`range`](mod@range) says where the true share lies.
//! - [`learning`] finds how readily the strings of one guitar are to be said to ring, where that loses nothing.
//! - [`TrialPlan`] says which chord is asked with which deed; [`Run`] is a trial under way; [`Begun`] is what lies beside its
//!   sounds, so that it goes on after it was broken off.

pub mod begun;
mod deed;
mod hearing;
pub mod learning;
#[cfg(feature = "cli")]
pub mod pack;
pub mod plan;
pub mod put_right;
pub mod range;
pub mod run;
mod score;
pub mod set;
#[cfg(feature = "measuring")]
pub mod simulated;
pub mod wording;

pub use begun::Begun;
pub use deed::Deed;
pub use hearing::{TakeResult, hear, hear_file};
pub use plan::{Choice, PlannedStrum, TrialPlan};
pub use run::Run;
pub use score::{DeedCounts, Score, sum};
pub use set::{KnownBy, LabelledTake, Refusal, Set};
