//! Sounds whose truth is known.

pub mod compose;
pub mod modal;
pub mod notes;
pub mod voicings;
