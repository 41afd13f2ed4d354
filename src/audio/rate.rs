//! Rates of recordings that are read.

use std::path::{Path, PathBuf};

use super::AudioError;

/// Lowest rate that is read, Hz: telephone quality, which still holds the fundamentals.
pub const MIN_RATE_HZ: u32 = 8_000;

/// Highest rate that is read, Hz: the highest that interfaces for musicians usually offer.
pub const MAX_RATE_HZ: u32 = 192_000;

/// Refuses other rates.
pub(super) fn check_rate(path: &Path, rate_hz: u32) -> Result<(), AudioError> {
    if (MIN_RATE_HZ..=MAX_RATE_HZ).contains(&rate_hz) {
        return Ok(());
    }
    let path: PathBuf = path.to_owned();
    Err(AudioError::Rate { path, rate_hz })
}
