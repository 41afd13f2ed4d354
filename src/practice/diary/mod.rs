//! The diary: every judged take, in one SQLite file. Only this folder names the database.
//!
//! What a take is kept as ([`Entry`]) and how it is exchanged ([`exchange`]) need no file: without the feature
//! `diary` these are all there is.

mod correction;
mod entry;
mod error;
pub mod exchange;
#[cfg(feature = "diary")]
mod keeper;
#[cfg(feature = "diary")]
mod path;
mod row;
#[cfg(feature = "diary")]
mod rows;
#[cfg(feature = "diary")]
mod schema;
#[cfg(feature = "diary")]
mod sounds;
#[cfg(feature = "diary")]
mod store;

pub use correction::Correction;
pub use entry::{Entry, MOMENTS_MS, moment};
pub use error::DiaryError;
#[cfg(feature = "diary")]
pub use keeper::{DiaryKeeper, KeptIn};
pub use row::DiaryRow;
#[cfg(feature = "diary")]
pub use store::{Diary, Filter, files_of, named_or_usual, open, open_existing};
