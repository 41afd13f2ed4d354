//! Ringtrue listens to one strum of a guitar through one microphone and says, string by string,
//! what happened.
//!
//! ```
//! use std::path::Path;
//!
//! use ringtrue::fretboard::Tuning;
//! use ringtrue::listening::Judge;
//! use ringtrue::verdict::{Expected, ExpectedVoicing, Verdict};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let tuning = Tuning::default();
//! let chord = ExpectedVoicing::usual("133211".parse()?, Some("F".to_owned()), &tuning);
//! let expected = Expected::Named(chord);
//! let file = Path::new("fixtures/strums/133211-string-3-dead-string-1-choked.wav");
//!
//! let mut judge = Judge::new(tuning);
//! for judged in judge.recording(file, &expected)? {
//!     for string in judged.take.strings {
//!         println!("string {}: {:?}", string.string, string.verdict);
//!     }
//!     # assert_eq!(judged.take.strings[0].verdict, Verdict::Clean);
//!     # assert!(judged.take.strings[3].verdict.is_fault());
//! }
//! # Ok(())
//! # }
//! ```
//!
//! # The path of sound
//! The modules stand in the order in which sound travels. Each uses only those above it.
//!
//! | module | takes | gives |
//! | --- | --- | --- |
//! | `words` | numbers and names | the sentences that users read |
//! | [`disk`] | files | their text; outputs written whole or not at all |
//! | `fourier` | sizes, rates | plans of transforms and resamplers: a crate of its own |
//! | [`fretboard`] | names of chords and notes | frets, pitches, fingers: what should sound |
//! | [`audio`] | files, a microphone | mono samples |
//! | [`spectrum`] | samples | line spectra, partials |
//! | [`layers`] | weights | the parts of trained networks |
//! | [`take`] | samples | strums and picked passes, cut out |
//! | [`strings`] | one strum, the frets meant | probabilities for each string |
//! | [`verdict`] | probabilities | a verdict for each string, a cause, what to try, the words |
//! | [`synth`] | frets and faults | sounds whose truth is known |
//! | [`listening`] | a source or a recording, the chord meant | judged takes |
//! | [`progression`] | chords | a way over the neck, a backing, strums against beats |
//! | [`practice`] | lessons, judged takes | what to play next, the diary |
//! | [`trial`] | labelled sets, verdicts | how often the verdicts are right |
//! | [`report`] | judged takes | text, JSON, pictures, pages, screens |
//! | `page` | what a browser sends | what its page shows (feature `page`) |
//! | [`cli`] | arguments | one command each |
//!
//! # Conventions
//! - Lists of six run from string 6 (low E) to string 1 (high E): index 0 is string 6.
//! - Samples are mono `f32`, full scale ±1. Positions are in samples, times in seconds from the start of the
//!   recording.
//! - Frequencies are in Hz, intervals in cents. A4 is 440 Hz (ISO 16) unless a [`Tuning`](fretboard::Tuning) says
//!   otherwise.
//! - Levels in dBFS: 0 dB is a sample, or a sine's peak, of 1. Other levels say in their name or doc line what 0 dB is.
//! - Spectra are not scaled by the FFT: the forward transform sums, the inverse is divided by its length where it is
//!   used.
//! - Probabilities run from 0 to 1 and are calibrated on guitars that the networks never heard.
//!
//! # Features
//! - `cli` (on by default) brings the program's commands, and with them `diary` (its file), `pictures` (of takes and of the
//!   diary, the teacher's page) and `terminal` (the whole screen). Without them the library is small.
//! - `page` (off by default) brings what the page for browsers calls, compiled for `wasm32-unknown-unknown`.
//! - `mic` (on by default) brings the microphone and the loudspeaker.
//! - `measuring` (off by default) brings what measures and trains: composed takes with a known truth, and networks that
//!   never heard a guitar.

#![warn(missing_docs)]

pub mod audio;
#[cfg(feature = "cli")]
pub mod cli;
pub(crate) mod decibels;
pub mod disk;
pub mod fretboard;
pub mod layers;
pub mod listening;
#[cfg(all(feature = "page", target_arch = "wasm32"))]
pub mod page;
pub mod practice;
pub mod progression;
pub mod report;
pub mod spectrum;
pub mod strings;
pub mod synth;
pub mod take;
pub mod trial;
pub mod verdict;
pub(crate) mod words;
