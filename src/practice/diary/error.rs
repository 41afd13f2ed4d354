//! Why the diary cannot be had, or not written.

#[cfg(feature = "diary")]
use std::path::Path;
use std::path::PathBuf;

#[cfg(feature = "diary")]
use crate::words;
use jiff::Timestamp;
#[cfg(feature = "diary")]
use rusqlite::{Error as Sqlite, ErrorCode, ffi};

/// Faults that a person can do something about, each in its own way.
#[derive(Debug, thiserror::Error)]
pub enum DiaryError {
    /// There is no file yet.
    #[error("there is no diary at {}; practise first, or name another file with --diary", path.display())]
    Missing {
        /// The diary's file.
        path: PathBuf,
    },
    /// The folder for it cannot be made, or the file not be opened at all.
    #[error("the diary {} cannot be opened: {why}; name another file with --diary", path.display())]
    Unreachable {
        /// The diary's file.
        path: PathBuf,
        /// What the system said.
        why: String,
    },
    /// Another kind of file.
    #[error("{} is not a diary; it was left as it is: name another file with --diary", path.display())]
    NoDiary {
        /// The file.
        path: PathBuf,
    },
    /// Written by a later program.
    #[error(
        "the diary {} was written by a newer ringtrue (its form {found}; this program knows {known}); it was left as it is. Use the newer program, or name another file with --diary",
        path.display()
    )]
    Newer {
        /// The diary's file.
        path: PathBuf,
        /// Number of the form that the file has.
        found: i64,
        /// Number of the newest form that this program knows.
        known: i64,
    },
    /// Bytes are not where they should be.
    #[error(
        "the diary {} is damaged; move it away and keep it, then practise with a new one",
        path.display()
    )]
    Damaged {
        /// The diary's file.
        path: PathBuf,
    },
    /// It can be read but not written.
    #[error(
        "the diary {} cannot be written: it or its folder is read-only; change that, or name another file with --diary",
        path.display()
    )]
    ReadOnly {
        /// The diary's file.
        path: PathBuf,
    },
    /// A moment that could not be read again.
    #[error(
        "the diary {} cannot keep a take of {at}, where the calendar ends; set the computer's clock, or say with --recorded-at when it was played",
        path.display()
    )]
    Moment {
        /// The diary's file.
        path: PathBuf,
        /// When the take was played.
        at: Timestamp,
    },
    /// No room.
    #[error("the diary {} cannot be written: the disk is full; make room", path.display())]
    Full {
        /// The diary's file.
        path: PathBuf,
    },
    /// Another program holds it for longer than one waits.
    #[error("the diary {} is in use by another program; try again", path.display())]
    Busy {
        /// The diary's file.
        path: PathBuf,
    },
    /// All else that a disk does.
    #[cfg(feature = "diary")]
    #[error("the diary {} cannot be used: {why}", path.display())]
    Other {
        /// The diary's file.
        path: PathBuf,
        /// What SQLite said.
        why: Sqlite,
    },
}

#[cfg(feature = "diary")]
impl DiaryError {
    /// What SQLite says, as something to act on.
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
