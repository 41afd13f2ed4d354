//! Sounds whose truth is known.

pub mod body;
pub mod compose;
pub mod instrument;
pub mod labelled;
pub mod modal;
pub mod notes;
pub mod string;
pub mod strum;
pub mod voicings;
