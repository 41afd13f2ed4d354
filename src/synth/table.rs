//! Tables of recordings that takes are made of.

use std::path::{Path, PathBuf};

use serde::de::DeserializeOwned;
use thiserror::Error;

use crate::audio::AudioError;
use crate::words;

/// Faults of a table of recordings, and of what it names.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum TableError {
    /// The table cannot be read, or a row of it is not as it should be.
    #[error("{}: {source}", path.display())]
    Row {
        /// The table's file.
        path: PathBuf,
        /// Fault of the table, and in which line.
        source: csv::Error,
    },
    /// A row lacks what its kind of recording needs.
    #[error("{}", words::networks::cell_missing(file, column))]
    Missing {
        /// The recording.
        file: String,
        /// The column that is empty.
        column: &'static str,
    },
    /// A recording cannot be read.
    #[error(transparent)]
    Sound(#[from] AudioError),
    /// A recording has another rate than all others.
    #[error("{}", words::networks::rate_expected(file, *rate_hz))]
    Rate {
        /// The recording.
        file: String,
        /// The rate that it should have, in Hz.
        rate_hz: u32,
    },
}

/// Reads the rows of a table with a heading; columns that a row has no place for are left out.
pub(super) fn rows<T: DeserializeOwned>(path: &Path) -> Result<Vec<T>, TableError> {
    let wrong = |source| TableError::Row {
        path: path.to_owned(),
        source,
    };
    let mut reader = csv::Reader::from_path(path).map_err(wrong)?;
    reader
        .deserialize()
        .collect::<Result<_, _>>()
        .map_err(wrong)
}
