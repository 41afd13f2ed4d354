use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

use crate::words;
use thiserror::Error;

/// Faults of a file that is read or written as a whole. Each kind asks for a different step.
///
/// What the system said is part of the sentence and no source of the error: a chain would say it twice.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum DiskError {
    /// Nothing has that name.
    #[error("{}", words::files::missing(path.display()))]
    Missing {
        /// The file.
        path: PathBuf,
    },

    /// The name to read belongs to a folder.
    #[error("{}", words::files::is_folder(path.display()))]
    Folder {
        /// The folder.
        path: PathBuf,
    },

    /// The name to read belongs to a pipe or a device, which may give nothing for ever.
    #[error("{}", words::files::is_device(path.display()))]
    Device {
        /// The file.
        path: PathBuf,
    },

    /// More bytes than a file of its kind has.
    #[error("{}", words::files::too_long(path.display(), most / 1024))]
    TooLong {
        /// The file.
        path: PathBuf,
        /// Bytes that are read at the most.
        most: u64,
    },

    /// The bytes are no text.
    #[error("{}", words::files::no_text(path.display()))]
    NoText {
        /// The file.
        path: PathBuf,
    },

    /// The system does not let it be read.
    #[error("{}", words::files::unreadable(path.display(), why))]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// Message of the system.
        why: io::Error,
    },

    /// The system does not let it be written. What was there before is untouched.
    #[error("{}", words::files::unwritable(path.display(), why, way_out(why)))]
    Unwritable {
        /// The file.
        path: PathBuf,
        /// Message of the system.
        why: io::Error,
    },

    /// An output that is an input too.
    #[error("{}", words::files::is_read_too(output.display(), input.display()))]
    IsRead {
        /// The file to write.
        output: PathBuf,
        /// The file to read, as it was named.
        input: PathBuf,
    },
}

/// What helps where a file cannot be written.
fn way_out(why: &io::Error) -> &'static str {
    match why.kind() {
        ErrorKind::NotFound => words::files::MAKE_ITS_FOLDER,
        ErrorKind::IsADirectory => words::files::NAME_A_FILE,
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            words::files::CHANGE_PERMISSIONS
        }
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => {
            words::files::MAKE_ROOM
        }
        _ => words::files::CHECK_THE_DISK,
    }
}

impl DiskError {
    pub(super) fn reading(path: &Path, why: io::Error) -> Self {
        let path = path.to_owned();
        match why.kind() {
            ErrorKind::NotFound => Self::Missing { path },
            _ => Self::Unreadable { path, why },
        }
    }
}
