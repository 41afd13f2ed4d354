use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::{MAX_RATE_HZ, MIN_RATE_HZ};

use crate::words;

/// Faults of a file. Each kind asks for a different step from the person.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum AudioError {
    /// Nothing has that name. Differs from [`AudioError::Io`]: the name is wrong, not the disk.
    #[error("{}", words::recording::missing(path.display()))]
    Missing {
        /// The name that was given.
        path: PathBuf,
    },

    /// The name belongs to a folder.
    #[error("{}", words::recording::is_folder(path.display()))]
    Folder {
        /// The folder.
        path: PathBuf,
    },

    /// The system refused: no permission, a failing disk. What it said is part of the sentence and no
    /// source of the error: a chain would say it twice.
    #[error("{}", words::recording::cannot_be_read(path.display(), why))]
    Io {
        /// The file.
        path: PathBuf,
        /// Message of the system.
        why: io::Error,
    },

    /// The file has no bytes, as an interrupted copy leaves it.
    #[error("{}", words::recording::empty(path.display()))]
    Empty {
        /// The file.
        path: PathBuf,
    },

    /// The content is not sound that is known here, whatever the name says.
    #[error("{}", words::recording::no_recording(path.display(), found))]
    NotAudio {
        /// The file.
        path: PathBuf,
        /// Content of the file instead, with its article: "text", "a picture (PNG)".
        found: &'static str,
    },

    /// Sound, and probably whole, but of a kind that is not read here.
    #[error("{}", words::recording::not_read_here(path.display(), found))]
    Unsupported {
        /// The file.
        path: PathBuf,
        /// Form that was found, as the start of a sentence: "Opus sound", "a WAV file with 32 channels".
        found: String,
    },

    /// A known kind of file whose content contradicts itself or breaks off before any sound.
    #[error("{}", words::recording::file_damaged(path.display(), what))]
    Damaged {
        /// The file.
        path: PathBuf,
        /// Fault of the file, in words.
        what: String,
    },

    /// A whole file with nothing in it.
    #[error("{}", words::recording::no_sound_in_file(path.display()))]
    NoSound {
        /// The file.
        path: PathBuf,
    },

    /// The file's sampling rate is outside what is read.
    #[error("{}", words::recording::rate_out_of_range(
        path.display(),
        MIN_RATE_HZ,
        MAX_RATE_HZ,
        rate_hz,
    ))]
    Rate {
        /// The file.
        path: PathBuf,
        /// The sampling rate that the file states, in Hz.
        rate_hz: u32,
    },

    /// Longer than the caller of [`read_all`](super::read_all) allows to be held at once.
    #[error("{}", words::recording::too_long(path.display(), limit_s))]
    TooLong {
        /// The file.
        path: PathBuf,
        /// The longest that the caller allows, in seconds.
        limit_s: f64,
    },
}

impl AudioError {
    /// The file that the error speaks of.
    pub fn path(&self) -> &Path {
        match self {
            Self::Missing { path }
            | Self::Folder { path }
            | Self::Io { path, .. }
            | Self::Empty { path }
            | Self::NotAudio { path, .. }
            | Self::Unsupported { path, .. }
            | Self::Damaged { path, .. }
            | Self::NoSound { path }
            | Self::Rate { path, .. }
            | Self::TooLong { path, .. } => path,
        }
    }

    pub(super) fn reading(path: &Path, why: io::Error) -> Self {
        let path = path.to_owned();
        match why.kind() {
            io::ErrorKind::NotFound => Self::Missing { path },
            _ => Self::Io { path, why },
        }
    }

    pub(super) fn damaged(path: &Path, what: impl Into<String>) -> Self {
        Self::Damaged {
            path: path.to_owned(),
            what: what.into(),
        }
    }

    pub(super) fn unsupported(path: &Path, found: impl Into<String>) -> Self {
        Self::Unsupported {
            path: path.to_owned(),
            found: found.into(),
        }
    }
}
