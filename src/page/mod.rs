//! The page for browsers: what its worker calls. Sound and plain text in, JSON out; nothing here waits, reads a file
//! or asks for the time.
//!
//! `scripts/page` builds it and puts it, with the files of `site`, into one file.

mod check;
mod diary;
mod lesson;
mod listen;
mod meant;
mod report;
mod view;

use wasm_bindgen::prelude::*;

pub use check::Check;
pub use listen::Listen;
pub use report::Report;

use crate::audio::at_rate;
use crate::listening;
use crate::report::plot::{FONT, FONT_NAME};
use crate::synth::notes::NOTE_RATE_HZ;
use crate::verdict::wording;
use meant::Meant;

/// What a function of the page fails with: a sentence.
type PageResult<T> = Result<T, JsError>;

/// An error's sentence, with what it comes from.
fn told(error: impl Into<anyhow::Error>) -> JsError {
    JsError::new(&format!("{:#}", error.into()))
}

/// A value as JSON.
fn json(value: &impl serde::Serialize) -> String {
    serde_json::to_string(value).expect("text keys and plain values")
}

/// Gives what the page shows before anything is played, as JSON: the version, the signs and words of all verdicts, what to bear
/// in mind.
#[wasm_bindgen]
pub fn about() -> String {
    json(&serde_json::json!({
        "version": env!("CARGO_PKG_VERSION"),
        "verdicts": view::signs(),
        "care": wording::CARE,
        "font_name": FONT_NAME,
    }))
}

/// The font of the pictures, a TrueType file.
#[wasm_bindgen]
pub fn font() -> Vec<u8> {
    FONT.to_vec()
}

/// Gives what is meant, as JSON: its name, and each voicing with its fingers. `meant` as [`Meant`] reads it.
///
/// # Errors
/// A chord, frets or a tuning that make no sense, as a sentence.
#[wasm_bindgen]
pub fn voicings(meant: &str) -> PageResult<String> {
    Meant::read(meant)?.voicings().map(|all| json(&all))
}

/// Tells how the clean chord sounds: mono samples at `rate_hz`. Empty where no frets are known.
///
/// # Errors
/// As [`voicings`].
#[wasm_bindgen]
pub fn reference(meant: &str, rate_hz: u32) -> PageResult<Vec<f32>> {
    let meant = Meant::read(meant)?;
    let expected = meant.expected()?;
    let Some(voicing) = expected.example() else {
        return Ok(Vec::new());
    };
    let samples = listening::reference(&meant.tuning()?, &voicing.frets);
    Ok(at_rate(&samples, NOTE_RATE_HZ, rate_hz))
}
