//! A session at the guitar as it is shown and heard. [`Session`] goes step by step: it listens
//! through an [`Ear`](crate::verdict::Ear), shows what came on a [`Face`] ([`Screen`]: a [`Board`] on a
//! whole terminal; [`LineFace`]: lines for people or programs) and plays [`Sounds`] so that eyes can
//! stay on the hand. [`Keeper`] keeps takes as files.

mod board;
mod delay;
mod font;
mod keep;
mod lines;
mod session;
mod sounds;
mod stage;
pub mod view;

pub use board::{Board, HISTORY};
pub use delay::{RoundTrip, caught_up, round_trip};
pub use keep::Keeper;
pub use lines::{JsonLines, Lines, Plain};
pub use session::{Face, Following, LineFace, Notice, Screen, Session, Step, Wish};
pub use sounds::Sounds;
pub use stage::{Key, Stage};
