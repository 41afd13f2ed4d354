//! Sounds whose truth is known.

pub mod body;
pub mod buzz;
pub mod compose;
pub mod disguise;
pub mod distractor;
mod effects;
pub mod instrument;
pub mod labelled;
pub mod mixed;
pub mod modal;
pub mod notes;
pub mod random;
pub mod string;
pub mod strum;
pub mod voicings;
