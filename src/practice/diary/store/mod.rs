//! The diary's file: an SQLite database.
//!
//! A take is written when its verdict is there, each in a transaction of its own, so that a program
//! killed at any moment loses nothing that was finished. Two programs may write at once.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::thread;
use std::time::{Duration, Instant};

use jiff::Timestamp;
use rusqlite::{Connection, ErrorCode, OpenFlags, params_from_iter};

use super::path::{uri_path, with_ending};
use super::{Correction, DiaryError, DiaryRow, Entry, MOMENTS_MS, rows, schema, sounds};
use crate::fretboard::Frets;
use crate::words;

/// Opens the diary named, or the usual one, to write in.
///
/// # Errors
/// As [`Diary::open`]; `Unreachable` where none is named and the system has no folder for data.
pub fn open(path: Option<&Path>) -> Result<Diary, DiaryError> {
    Diary::open(&named_or_usual(path)?)
}

/// Opens the diary named, or the usual one, if it is there.
///
/// # Errors
/// As [`Diary::open_existing`], and as [`open`].
pub fn open_existing(path: Option<&Path>) -> Result<Diary, DiaryError> {
    Diary::open_existing(&named_or_usual(path)?)
}

/// The place of the diary named, or of the usual one.
///
/// # Errors
/// `Unreachable` where none is named and the system has no folder for data.
pub fn named_or_usual(path: Option<&Path>) -> Result<PathBuf, DiaryError> {
    let named = path.map(Path::to_owned);
    named
        .or_else(Diary::usual_path)
        .ok_or_else(|| DiaryError::Unreachable {
            path: PathBuf::from("diary.sqlite"),
            why: words::diary::NO_FOLDER_FOR_DATA.to_owned(),
        })
}

/// The files that a diary is made of while it is open: itself, and what SQLite puts beside it.
pub fn files_of(path: &Path) -> Vec<PathBuf> {
    let beside = ["", "-wal", "-shm", "-journal"];
    beside.map(|ending| with_ending(path, ending)).to_vec()
}

/// That nothing but a plain file has the name: a pipe would be waited for.
fn check_file(path: &Path) -> Result<(), DiaryError> {
    match path.metadata() {
        Ok(about) if !about.is_file() => Err(DiaryError::Unreachable {
            path: path.to_owned(),
            why: words::diary::NO_PLAIN_FILE.to_owned(),
        }),
        _ => Ok(()),
    }
}

/// How long one program waits for another to finish writing. A take is written in milliseconds; a
/// microphone's sound waits for two seconds at most.
const PATIENCE: Duration = Duration::from_secs(1);
/// Between two tries where SQLite does not wait by itself.
const PAUSE: Duration = Duration::from_millis(10);

/// Takes that are meant; all where nothing is named.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Filter {
    /// Played then or later.
    pub since: Option<Timestamp>,
    /// Played before then.
    pub before: Option<Timestamp>,
    /// The chord's name as the diary has it.
    pub chord: Option<String>,
    /// The user's name for the guitar.
    pub guitar: Option<String>,
}

impl Filter {
    /// Tells whether all takes are meant.
    pub fn is_all(&self) -> bool {
        *self == Filter::default()
    }

    /// The condition, and what its question marks stand for.
    fn sql(&self) -> (String, Vec<rusqlite::types::Value>) {
        let mut conditions = vec!["1"];
        let mut values = Vec::new();
        if let Some(since) = self.since {
            conditions.push("at_ms >= ?");
            values.push(since.as_millisecond().into());
        }
        if let Some(before) = self.before {
            conditions.push("at_ms < ?");
            values.push(before.as_millisecond().into());
        }
        if let Some(chord) = &self.chord {
            conditions.push("chord = ?");
            values.push(chord.clone().into());
        }
        if let Some(guitar) = &self.guitar {
            conditions.push("guitar = ?");
            values.push(guitar.clone().into());
        }
        (conditions.join(" AND "), values)
    }
}

/// An open diary.
#[derive(Debug)]
pub struct Diary {
    path: PathBuf,
    connection: Connection,
}

impl Diary {
    /// The diary's usual place: `ringtrue/diary.sqlite` in the platform's folder for data. `None`
    /// where the system names no such folder.
    pub fn usual_path() -> Option<PathBuf> {
        use etcetera::BaseStrategy;
        let base = etcetera::choose_base_strategy().ok()?;
        Some(base.data_dir().join("ringtrue").join("diary.sqlite"))
    }

    /// Opens a diary to write in; makes it, and its folder, where there is none.
    ///
    /// # Errors
    /// All of [`DiaryError`] but `Missing`.
    pub fn open(path: &Path) -> Result<Diary, DiaryError> {
        if let Some(folder) = path.parent().filter(|f| !f.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder).map_err(|error| DiaryError::Unreachable {
                path: path.to_owned(),
                why: words::diary::folder_not_made(&error),
            })?;
        }
        Diary::connect(
            path,
            OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE,
        )
    }

    /// Opens a diary that is there; to read where it cannot be written.
    ///
    /// # Errors
    /// All of [`DiaryError`].
    pub fn open_existing(path: &Path) -> Result<Diary, DiaryError> {
        if !path.exists() {
            return Err(DiaryError::Missing {
                path: path.to_owned(),
            });
        }
        check_file(path)?;
        match Diary::connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE) {
            // Nothing needs space to be read.
            Err(
                DiaryError::ReadOnly { .. }
                | DiaryError::Unreachable { .. }
                | DiaryError::Full { .. },
            ) => {}
            other => return other,
        }
        Diary::read_only(path, &path.to_string_lossy(), OpenFlags::empty()).or_else(|_| {
            // SQLite wants to write beside even what it only reads, unless told that nobody writes.
            let uri = format!("file:{}?immutable=1", uri_path(path));
            Diary::read_only(path, &uri, OpenFlags::SQLITE_OPEN_URI)
        })
    }

    fn read_only(path: &Path, name: &str, more: OpenFlags) -> Result<Diary, DiaryError> {
        let failed = |error| DiaryError::from_sqlite(path, error);
        let connection = Connection::open_with_flags(name, OpenFlags::SQLITE_OPEN_READ_ONLY | more)
            .map_err(failed)?;
        let diary = Diary {
            path: path.to_owned(),
            connection,
        };
        diary.check()?;
        if schema::form(&diary.connection).map_err(failed)? < schema::migrations().len() as i64 {
            // An older one would have to be rewritten first.
            return Err(DiaryError::ReadOnly {
                path: path.to_owned(),
            });
        }
        Ok(diary)
    }

    fn connect(path: &Path, flags: OpenFlags) -> Result<Diary, DiaryError> {
        check_file(path)?;
        let failed = |error| DiaryError::from_sqlite(path, error);
        let connection = Connection::open_with_flags(path, flags).map_err(failed)?;
        connection.busy_timeout(PATIENCE).map_err(failed)?;
        let mut diary = Diary {
            path: path.to_owned(),
            connection,
        };
        diary.check()?;
        diary.prepare().map_err(failed)?;
        Ok(diary)
    }

    /// That it is a diary, and not a newer one.
    fn check(&self) -> Result<(), DiaryError> {
        let failed = |error| DiaryError::from_sqlite(&self.path, error);
        if schema::is_foreign(&self.connection).map_err(failed)? {
            return Err(DiaryError::NoDiary {
                path: self.path.clone(),
            });
        }
        let found = schema::form(&self.connection).map_err(failed)?;
        let known = schema::migrations().len() as i64;
        if found > known {
            return Err(DiaryError::Newer {
                path: self.path.clone(),
                found,
                known,
            });
        }
        Ok(())
    }

    fn prepare(&mut self) -> rusqlite::Result<()> {
        // Readers and a writer at once, and nothing half written after a crash. Where a file system
        // cannot, SQLite keeps its older way, which is as safe.
        // Two programs that make the diary at once: this change alone does not wait by itself.
        let begun = Instant::now();
        loop {
            let changed =
                (self.connection).pragma_update_and_check(None, "journal_mode", "WAL", |_| Ok(()));
            match changed.map_err(|error| (error.sqlite_error_code(), error)) {
                Ok(()) => break,
                Err((Some(ErrorCode::DatabaseBusy), _)) if begun.elapsed() < PATIENCE => {
                    thread::sleep(PAUSE);
                }
                Err((_, error)) => return Err(error),
            }
        }
        // A finished take outlives a power cut too: takes are seconds apart, a write is milliseconds.
        self.connection.pragma_update(None, "synchronous", "FULL")?;
        // What is forgotten is overwritten.
        self.connection.pragma_update(None, "secure_delete", true)?;
        schema::migrate(&mut self.connection, &schema::migrations())
    }

    /// The folder that sounds are kept in, beside the diary; it need not be there.
    pub fn sounds(&self) -> PathBuf {
        sounds::folder(&self.path)
    }

    /// The file that holds a sound kept of a take: `None` where the name is more than a file's name, where the file
    /// is a link, a folder or a pipe, and where the folder itself is a link. So nothing that a diary says makes a
    /// program read a file elsewhere. A file that is not there is given, too.
    pub fn sound(&self, file: &str) -> Option<PathBuf> {
        sounds::find(&self.path, file)
    }

    fn failed(&self, error: rusqlite::Error) -> DiaryError {
        DiaryError::from_sqlite(&self.path, error)
    }

    /// Keeps a take; gives its number, `None` where this take is there already.
    ///
    /// # Errors
    /// Where it cannot be written; the diary is then as before.
    pub fn keep(&self, entry: &Entry) -> Result<Option<i64>, DiaryError> {
        check_moments(&self.path, entry)?;
        let added = rows::insert(&self.connection, entry).map_err(|e| self.failed(e))?;
        Ok(added.then(|| self.connection.last_insert_rowid()))
    }

    /// Keeps many takes at once, all or none; gives how many were new.
    ///
    /// # Errors
    /// As [`Self::keep`].
    pub fn keep_all(&mut self, entries: &[Entry]) -> Result<usize, DiaryError> {
        Ok(self.take_in(|keep| entries.iter().try_for_each(keep))?.1)
    }

    /// Keeps takes that come one by one, all or none: `fill` hands each to the function that it is given. Gives how
    /// many came and how many of them were new.
    ///
    /// # Errors
    /// As [`Self::keep`], and what `fill` fails with.
    pub fn take_in<E: From<DiaryError>>(
        &mut self,
        fill: impl FnOnce(&mut dyn FnMut(&Entry) -> Result<(), DiaryError>) -> Result<(), E>,
    ) -> Result<(usize, usize), E> {
        let path = self.path.clone();
        let failed = |error| DiaryError::from_sqlite(&path, error);
        let all = self.connection.transaction().map_err(failed)?;
        let (mut came, mut new) = (0, 0);
        fill(&mut |entry| {
            check_moments(&path, entry)?;
            came += 1;
            new += usize::from(rows::insert(&all, entry).map_err(failed)?);
            Ok(())
        })?;
        all.commit().map_err(failed)?;
        Ok((came, new))
    }

    /// Takes a take out again that has turned out to be none.
    ///
    /// # Errors
    /// Where the file cannot be written.
    pub fn remove(&self, number: i64) -> Result<(), DiaryError> {
        self.connection
            .execute("DELETE FROM take WHERE id = ?", [number])
            .map(|_| ())
            .map_err(|e| self.failed(e))
    }

    /// Puts takes in the place of others that were only preliminary, all or none; gives the number of each,
    /// `None` where that take is there already.
    ///
    /// # Errors
    /// As [`Self::keep`].
    pub fn replace(
        &mut self,
        preliminary: &[i64],
        entries: &[Entry],
    ) -> Result<Vec<Option<i64>>, DiaryError> {
        for entry in entries {
            check_moments(&self.path, entry)?;
        }
        let path = self.path.clone();
        let failed = |error| DiaryError::from_sqlite(&path, error);
        let all = self.connection.transaction().map_err(failed)?;
        for number in preliminary {
            all.execute("DELETE FROM take WHERE id = ?", [number])
                .map_err(failed)?;
        }
        let mut numbers = Vec::new();
        for entry in entries {
            let added = rows::insert(&all, entry).map_err(failed)?;
            numbers.push(added.then(|| all.last_insert_rowid()));
        }
        all.commit().map_err(failed)?;
        Ok(numbers)
    }

    /// Notes what the player says of a take, or that it is as it was heard; gives whether there is such a take.
    ///
    /// # Errors
    /// Where the file cannot be written.
    pub fn put_right(&self, number: i64, said: Option<&Correction>) -> Result<bool, DiaryError> {
        let text = said.map(rows::said_text);
        self.connection
            .execute("UPDATE take SET said = ? WHERE id = ?", (text, number))
            .map(|changed| changed > 0)
            .map_err(|e| self.failed(e))
    }

    /// The last takes, the newest first, each with its number.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn latest(&self, count: usize) -> Result<Vec<(i64, Entry)>, DiaryError> {
        rows::latest(&self.connection, count).map_err(|e| self.failed(e))
    }

    /// Notes where the sound of a take is kept: a file name in [`Self::sounds`].
    ///
    /// # Errors
    /// Where the file cannot be written.
    pub fn set_sound(&self, number: i64, file: &str) -> Result<(), DiaryError> {
        self.connection
            .execute("UPDATE take SET sound = ? WHERE id = ?", (file, number))
            .map(|_| ())
            .map_err(|e| self.failed(e))
    }

    /// Tells how many takes there are.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn count(&self, filter: &Filter) -> Result<u64, DiaryError> {
        let (condition, values) = filter.sql();
        self.connection
            .query_row(
                &format!("SELECT count(*) FROM take WHERE {condition}"),
                params_from_iter(values),
                |row| row.get::<_, i64>(0),
            )
            .map(|count| count.max(0) as u64)
            .map_err(|e| self.failed(e))
    }

    /// Tells how many takes have a moment that no calendar knows, as an earlier version of this program wrote them where
    /// the computer's clock was far off. They are given with the nearest moment there is.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn misdated(&self, filter: &Filter) -> Result<u64, DiaryError> {
        let (condition, values) = filter.sql();
        rows::misdated(&self.connection, &condition, values).map_err(|e| self.failed(e))
    }

    /// Hands over the takes in the order in which they were played, each with what tables need.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn scan(&self, filter: &Filter, each: impl FnMut(&DiaryRow)) -> Result<(), DiaryError> {
        let (condition, values) = filter.sql();
        rows::scan(&self.connection, &condition, values, each).map_err(|e| self.failed(e))
    }

    /// Hands over the takes in the order in which they were played, whole.
    ///
    /// # Errors
    /// Where the file cannot be read, and what `each` fails with, which ends it.
    pub fn each_entry<E: From<DiaryError>>(
        &self,
        filter: &Filter,
        each: impl FnMut(Entry) -> Result<(), E>,
    ) -> Result<(), E> {
        let (condition, values) = filter.sql();
        rows::each_entry(&self.connection, &condition, values, each).map_err(|e| self.failed(e))?
    }

    /// The takes in the order in which they were played, whole. A diary of years may need more memory than
    /// there is: see [`Self::each_entry`].
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn entries(&self, filter: &Filter) -> Result<Vec<Entry>, DiaryError> {
        let mut entries = Vec::new();
        self.each_entry(filter, |entry| {
            entries.push(entry);
            Ok::<(), DiaryError>(())
        })?;
        Ok(entries)
    }

    /// Gives what the chord of each voicing was called last.
    ///
    /// # Errors
    /// Where the file cannot be read.
    pub fn names(&self, filter: &Filter) -> Result<HashMap<Frets, String>, DiaryError> {
        let (condition, values) = filter.sql();
        let names = rows::names(&self.connection, &condition, values);
        let names = names.map_err(|e| self.failed(e))?.into_iter();
        let read = names.filter_map(|(frets, name)| Some((frets.parse().ok()?, name)));
        Ok(read.collect())
    }

    /// Takes takes out for good, with the sound kept of them, unless another diary has it too; gives how many.
    ///
    /// # Errors
    /// Where the file cannot be written; nothing is then forgotten.
    pub fn forget(&mut self, filter: &Filter) -> Result<u64, DiaryError> {
        let (condition, values) = filter.sql();
        let path = self.path.clone();
        let failed = |error| DiaryError::from_sqlite(&path, error);
        let files = rows::sounds(&self.connection, &condition, values.clone()).map_err(failed)?;
        let gone = self
            .connection
            .execute(
                &format!("DELETE FROM take WHERE {condition}"),
                params_from_iter(values),
            )
            .map_err(failed)?;
        for file in files {
            sounds::remove(&path, &file);
        }
        // The journal still holds the old pages; without it they are gone.
        self.connection
            .execute_batch("PRAGMA wal_checkpoint(TRUNCATE)")
            .map_err(failed)?;
        Ok(gone as u64)
    }
}

/// That what is written can be read again.
fn check_moments(path: &Path, entry: &Entry) -> Result<(), DiaryError> {
    let mut moments = [Some(entry.at), entry.began].into_iter().flatten();
    match moments.find(|at| !MOMENTS_MS.contains(&at.as_millisecond())) {
        Some(at) => Err(DiaryError::Moment {
            path: path.to_owned(),
            at,
        }),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests;
