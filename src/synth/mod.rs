//! Sounds whose truth is known.

pub mod compose;
pub mod labelled;
pub mod modal;
pub mod notes;
pub mod voicings;
