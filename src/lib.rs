//! Ringtrue listens to one strum of a guitar through one microphone and says, string by string,
//! what happened.
//!
//! [`disk`] reads and writes the computer's files. The other modules follow the path of sound: [`fretboard`] knows what should sound, [`audio`] reads
//! samples, [`spectrum`] turns them into partials, [`layers`] is what trained networks are made of,
//! [`take`] finds strums, [`strings`] gathers evidence per string, [`verdict`] decides and puts it
//! into words, [`synth`] makes sounds whose truth is known, [`report`] and [`cli`] show it all.
//!
//! # Conventions
//! - Lists of six run from string 6 (low E) to string 1 (high E): index 0 is string 6.
//! - Samples are mono `f32`, full scale ±1; times in seconds from the start of the recording.
//! - Frequencies in Hz, intervals in cents, levels in dB relative to what the name says.

pub mod audio;
pub mod cli;
pub mod disk;
pub mod fretboard;
pub mod layers;
pub mod practice;
pub mod progression;
pub mod report;
pub mod spectrum;
pub mod strings;
pub mod synth;
pub mod take;
pub mod verdict;
