//! The computer's files. Knows no sound and no guitar.
//!
//! [`write`] leaves the old file or the whole new one, whatever happens. [`read_text`] looks at a file before it
//! opens it, and reads no more than it is told to. [`Table`] holds nothing that a spreadsheet would run.
//! [`keep_apart`] keeps an output from being an input.

mod error;
mod place;
mod read;
mod table;
mod write;

pub use error::DiskError;
pub use place::{keep_apart, same_file};
pub use read::{check_plain, read_text};
pub use table::{Table, cell_meant};
pub use write::{WriteSeek, write, write_bytes};
