//! Content of a set's sound, against what the table says of it.

use std::fs;
use std::path::Path;

use super::fault::SetFault;
use super::{LENGTH_S, LONGEST_S, LabelledTake, MOST_BYTES};
use crate::audio::{AudioError, Reader};
use crate::fretboard::quoted;
use crate::listening::damage;

/// Content of a file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Holds {
    /// Seconds of sound.
    pub seconds: f64,
    /// Samples a second, as the file states them, in Hz.
    pub rate_hz: u32,
}

/// Reads a file to its end.
///
/// # Errors
/// What is no plain file, is too long, is cut or holds something else.
pub fn holds(path: &Path, name: &str) -> Result<Holds, SetFault> {
    let sound = |error: AudioError| SetFault::Sound(error.to_string());
    let name = || quoted(name);
    if let Ok(about) = fs::symlink_metadata(path) {
        if about.is_symlink() {
            return Err(SetFault::Link(name()));
        }
        if about.len() > MOST_BYTES {
            let bytes = about.len();
            return Err(SetFault::Huge {
                name: name(),
                bytes,
            });
        }
    }
    let mut reader = Reader::open(path).map_err(sound)?;
    let rate_hz = reader.rate_hz();
    let most = (LONGEST_S * f64::from(rate_hz)) as usize;
    let (mut samples, mut block) = (0, Vec::new());
    while reader.read(&mut block).map_err(sound)? {
        samples += block.len();
        if samples > most {
            return Err(SetFault::Long(name()));
        }
    }
    if let Some(damage) = damage(path, &reader.health(), rate_hz) {
        return Err(SetFault::Sound(damage));
    }
    Ok(Holds {
        seconds: samples as f64 / f64::from(rate_hz),
        rate_hz: reader.file_rate_hz(),
    })
}

/// Holds what the table says of a take against its file.
///
/// # Errors
/// Where the table claims something else.
pub fn check(take: &LabelledTake, holds: Holds) -> Result<(), SetFault> {
    let name = || quoted(&take.file);
    if let Some(said) = take.rate_hz.filter(|&said| said != holds.rate_hz) {
        let found = holds.rate_hz;
        return Err(SetFault::Rate {
            name: name(),
            found,
            said,
        });
    }
    let found = holds.seconds;
    let is_off = |said: &f64| (said - found).abs() > LENGTH_S;
    if let Some(said) = take.seconds.filter(is_off) {
        return Err(SetFault::Length {
            name: name(),
            found,
            said,
        });
    }
    match take.at_s {
        Some(at_s) if at_s >= found => Err(SetFault::AfterEnd {
            name: name(),
            at_s,
            found,
        }),
        _ => Ok(()),
    }
}
