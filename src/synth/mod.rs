//! Sounds whose truth is known.

pub mod body;
#[cfg(feature = "measuring")]
pub mod buzz;
#[cfg(feature = "measuring")]
pub mod compose;
#[cfg(feature = "measuring")]
pub mod coupled;
#[cfg(feature = "measuring")]
pub mod disguise;
#[cfg(feature = "measuring")]
pub mod distractor;
#[cfg(feature = "measuring")]
mod effects;
pub mod instrument;
#[cfg(feature = "measuring")]
pub mod labelled;
#[cfg(feature = "measuring")]
pub mod mixed;
#[cfg(feature = "measuring")]
pub mod modal;
pub mod notes;
pub mod random;
pub mod room;
pub mod string;
pub mod strum;
pub mod table;
#[cfg(feature = "measuring")]
pub mod voicings;
