//! Reasons why the diary cannot be had, or not written.

#[cfg(feature = "diary")]
use std::path::Path;
use std::path::PathBuf;

use jiff::Timestamp;
#[cfg(feature = "diary")]
use rusqlite::{Error as Sqlite, ErrorCode, ffi};

use crate::words;

/// Faults that a person can do something about, each in its own way.
#[derive(Debug, thiserror::Error)]
pub enum DiaryError {
    /// File that is not there yet.
    #[error("{}", words::diary::missing(path.display()))]
    Missing {
        /// The diary's file.
        path: PathBuf,
    },
    /// The folder for it cannot be made, or the file not be opened at all.
    #[error("{}", words::diary::unreachable(path.display(), why))]
    Unreachable {
        /// The diary's file.
        path: PathBuf,
        /// Message of the system.
        why: String,
    },
    /// Another kind of file.
    #[error("{}", words::diary::no_diary(path.display()))]
    NoDiary {
        /// The file.
        path: PathBuf,
    },
    /// Written by a later program.
    #[error("{}", words::diary::newer(path.display(), found, known))]
    Newer {
        /// The diary's file.
        path: PathBuf,
        /// Number of the form that the file has.
        found: i64,
        /// Number of the newest form that this program knows.
        known: i64,
    },
    /// Bytes are not where they should be.
    #[error("{}", words::diary::damaged(path.display()))]
    Damaged {
        /// The diary's file.
        path: PathBuf,
    },
    /// File that can be read but not written.
    #[error("{}", words::diary::read_only(path.display()))]
    ReadOnly {
        /// The diary's file.
        path: PathBuf,
    },
    /// A moment that could not be read again.
    #[error("{}", words::diary::moment_past_calendar(path.display(), at))]
    Moment {
        /// The diary's file.
        path: PathBuf,
        /// Moment at which the take was played.
        at: Timestamp,
    },
    /// No space left on the disk.
    #[error("{}", words::diary::disk_full(path.display()))]
    Full {
        /// The diary's file.
        path: PathBuf,
    },
    /// Another program holds it for longer than one waits.
    #[error("{}", words::diary::in_use(path.display()))]
    Busy {
        /// The diary's file.
        path: PathBuf,
    },
    /// All else that a disk does.
    #[cfg(feature = "diary")]
    #[error("{}", words::diary::unusable(path.display(), why))]
    Other {
        /// The diary's file.
        path: PathBuf,
        /// Message of SQLite.
        why: Sqlite,
    },
}

#[cfg(feature = "diary")]
impl DiaryError {
    /// Makes of what SQLite says something to act on.
    pub(super) fn from_sqlite(path: &Path, source: Sqlite) -> DiaryError {
        let path = path.to_owned();
        match source.sqlite_error_code() {
            Some(ErrorCode::NotADatabase) => DiaryError::NoDiary { path },
            Some(ErrorCode::DatabaseCorrupt) => DiaryError::Damaged { path },
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => {
                DiaryError::ReadOnly { path }
            }
            Some(ErrorCode::DiskFull) => DiaryError::Full { path },
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => DiaryError::Busy { path },
            Some(ErrorCode::CannotOpen) => DiaryError::Unreachable {
                why: words::diary::CANNOT_BE_OPENED.to_owned(),
                path,
            },
            // A file limit, and some disks, say so instead of "full".
            Some(ErrorCode::SystemIoFailure) if is_write(&source) => DiaryError::Full { path },
            _ => DiaryError::Other { path, why: source },
        }
    }
}

/// Whether writing or making room failed.
#[cfg(feature = "diary")]
fn is_write(error: &Sqlite) -> bool {
    let extended = error.sqlite_error().map_or(0, |e| e.extended_code);
    [
        ffi::SQLITE_IOERR_WRITE,
        ffi::SQLITE_IOERR_TRUNCATE,
        ffi::SQLITE_IOERR_SHMSIZE,
        ffi::SQLITE_IOERR_SHMOPEN,
    ]
    .contains(&extended)
}
