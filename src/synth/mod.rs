//! Sounds whose truth is known.

pub mod compose;
pub mod notes;
pub mod voicings;
