//! Labelled sets: a folder of sounds and a table, `truth.csv`, that says what each string did. The form is described
//! in `fixtures/LABELLED.md`.

mod fault;
mod labelled;
mod sound;
mod table;

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

pub use fault::{Refusal, SetFault};
pub use labelled::{KnownBy, LabelledTake};

use crate::audio::write_wav;
use crate::disk::{self, DiskError};
use crate::words;
use crate::words::foreign::shown;

/// The table's name, in the set's folder.
pub const TABLE: &str = "truth.csv";
/// Endings of the sounds that a set may hold.
pub const ENDINGS: [&str; 2] = [".wav", ".flac"];
/// No table is longer, in bytes.
const MOST_TABLE_BYTES: u64 = 32 * 1024 * 1024;
/// No table has more lines. A choice.
const MOST_ROWS: usize = 100_000;
/// No sound of a set is longer, in seconds. A choice: a whole trial of ten minutes.
pub const LONGEST_S: f64 = 600.0;
/// No sound of a set has more bytes: so many seconds of four bytes at 96,000 samples a second.
pub const MOST_BYTES: u64 = 230_400_000;
/// A length may differ by so much from what the table says, in seconds: what rounding to hundredths leaves.
const LENGTH_S: f64 = 0.011;

/// A labelled set.
#[derive(Debug)]
pub struct Set {
    folder: PathBuf,
    rows: Vec<LabelledTake>,
    left_over: Vec<String>,
}

impl Set {
    /// Begins a set in `folder`, which is made where it is missing.
    ///
    /// # Errors
    /// A folder that cannot be made, and one that has a table already, as a sentence.
    pub fn create(folder: &Path) -> Result<Set, Refusal> {
        let refusal = |what: String| Refusal {
            table: shown(folder),
            line: None,
            fault: SetFault::Disk(what),
        };
        fs::create_dir_all(folder)
            .map_err(|why| refusal(words::labelled::folder_not_made(shown(folder), why)))?;
        if folder.join(TABLE).exists() {
            return Err(refusal(words::labelled::is_a_set(shown(folder))));
        }
        let set = Set {
            folder: folder.to_owned(),
            rows: Vec::new(),
            left_over: Vec::new(),
        };
        set.write_table()
            .map_err(|error| refusal(error.to_string()))?;
        Ok(set)
    }

    /// Opens a set, reads each of its sounds to the end, and holds what the table says against them. A set that was
    /// begun and has no take yet is a set too.
    ///
    /// # Errors
    /// All that is wrong, line by line.
    pub fn open(folder: &Path) -> Result<Set, Vec<Refusal>> {
        let path = folder.join(TABLE);
        let name = shown(&path);
        let refusal = |line, fault| Refusal {
            table: name.clone(),
            line,
            fault,
        };
        let text = disk::read_text(&path, MOST_TABLE_BYTES)
            .map_err(|error| vec![refusal(None, SetFault::Disk(error.to_string()))])?;
        let read = table::read(&text, &name);
        let mut refusals: Vec<Refusal> = (read.faults.into_iter())
            .map(|(line, fault)| refusal(line, fault))
            .collect();
        let mut files: BTreeMap<&str, Option<sound::Holds>> = BTreeMap::new();
        for (line, take) in &read.takes {
            // A file that cannot be had is told once.
            let holds = *files.entry(&take.file).or_insert_with(|| {
                let holds = sound::holds(&folder.join(&take.file), &take.file);
                holds
                    .map_err(|fault| refusals.push(refusal(Some(*line), fault)))
                    .ok()
            });
            if let Some(Err(fault)) = holds.map(|holds| sound::check(take, holds)) {
                refusals.push(refusal(Some(*line), fault));
            }
        }
        if !refusals.is_empty() {
            refusals.sort_by_key(|refusal| refusal.line);
            return Err(refusals);
        }
        let rows: Vec<LabelledTake> = read.takes.into_iter().map(|(_, take)| take).collect();
        let known: BTreeSet<&str> = rows.iter().map(|take| take.file.as_str()).collect();
        let left_over = sounds_in(folder).filter(|name| !known.contains(name.as_str()));
        let mut left_over: Vec<String> = left_over.collect();
        left_over.sort();
        Ok(Set {
            folder: folder.to_owned(),
            left_over,
            rows,
        })
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The takes, in the order of the table.
    pub fn rows(&self) -> &[LabelledTake] {
        &self.rows
    }

    /// Sounds that the table does not name: written just before the program was ended, or not of the set.
    pub fn left_over(&self) -> &[String] {
        &self.left_over
    }

    /// Takes by file, in the order in which the table names the files: where the file lies, and what is labelled in it.
    pub fn by_file(&self) -> Vec<(PathBuf, Vec<&LabelledTake>)> {
        let mut files: Vec<(PathBuf, Vec<&LabelledTake>)> = Vec::new();
        let mut places: HashMap<&str, usize> = HashMap::new();
        for row in &self.rows {
            let place = *places.entry(&row.file).or_insert(files.len());
            match files.get_mut(place) {
                Some((_, rows)) => rows.push(row),
                None => files.push((self.path(row), vec![row])),
            }
        }
        files
    }

    /// Path of the sound of a take.
    pub fn path(&self, take: &LabelledTake) -> PathBuf {
        self.folder.join(&take.file)
    }

    /// A name for the next sound that no file of the folder has: "031.wav".
    pub fn next_file(&self) -> String {
        let taken: BTreeSet<String> = sounds_in(&self.folder).collect();
        let number = |name: &String| name.split_once('.')?.0.parse::<u32>().ok();
        let last = taken.iter().filter_map(number).max().unwrap_or(0);
        (last.saturating_add(1)..)
            .map(|number| format!("{number:03}.wav"))
            .find(|name| !taken.contains(name))
            .expect("numbers go on for longer than a folder can hold files")
    }

    /// Adds a take whose file holds nothing else: mono samples at a rate in Hz. The sound is written whole first,
    /// then the table; whoever ends the program between leaves a sound that the table does not name.
    ///
    /// # Errors
    /// [`DiskError::Unwritable`]; the table is then as it was.
    pub fn add(
        &mut self,
        take: &LabelledTake,
        samples: &[f32],
        rate_hz: u32,
    ) -> Result<(), DiskError> {
        write_wav(&self.path(take), rate_hz, samples)?;
        self.rows.push(LabelledTake {
            at_s: None,
            seconds: Some(hundredths(samples.len() as f64 / f64::from(rate_hz))),
            rate_hz: Some(rate_hz),
            ..take.clone()
        });
        self.write_table().inspect_err(|_| {
            self.rows.pop();
        })
    }

    /// Adds a take whose sound lies in the folder already. Its length and rate go into the table.
    ///
    /// # Errors
    /// A sound that cannot be had or is not whole, and what the table cannot hold.
    pub fn label(&mut self, take: &LabelledTake) -> Result<(), Refusal> {
        let refusal = |fault| Refusal {
            table: shown(&self.folder.join(TABLE)),
            line: None,
            fault,
        };
        let holds = sound::holds(&self.path(take), &take.file).map_err(refusal)?;
        let labelled = LabelledTake {
            seconds: Some(hundredths(holds.seconds)),
            rate_hz: Some(holds.rate_hz),
            ..take.clone()
        };
        sound::check(&labelled, holds).map_err(refusal)?;
        self.rows.push(labelled);
        let written = self.write_table();
        written.map_err(|error| {
            self.rows.pop();
            Refusal {
                table: shown(&self.folder.join(TABLE)),
                line: None,
                fault: SetFault::Disk(error.to_string()),
            }
        })
    }

    /// Replaces what is said of a take that is there, known by its file and moment; its sound stays.
    ///
    /// # Errors
    /// [`DiskError::Unwritable`]; the table is then as it was.
    pub fn relabel(&mut self, take: &LabelledTake) -> Result<(), DiskError> {
        let is_it = |row: &&mut LabelledTake| row.file == take.file && row.at_s == take.at_s;
        let Some(row) = self.rows.iter_mut().find(is_it) else {
            return Ok(());
        };
        let before = std::mem::replace(row, take.clone());
        let written = self.write_table();
        if written.is_err()
            && let Some(row) = self.rows.iter_mut().find(is_it)
        {
            *row = before;
        }
        written
    }

    /// Takes the last take back: out of the table first, then its sound.
    ///
    /// # Errors
    /// [`DiskError::Unwritable`]; the take is then still there.
    pub fn take_back(&mut self) -> Result<Option<LabelledTake>, DiskError> {
        let Some(last) = self.rows.pop() else {
            return Ok(None);
        };
        if let Err(error) = self.write_table() {
            self.rows.push(last);
            return Err(error);
        }
        // Where it stays, it is a sound that the table does not name.
        let _ = fs::remove_file(self.path(&last));
        Ok(Some(last))
    }

    /// Writes the table beside the old one and puts it in its place.
    fn write_table(&self) -> Result<(), DiskError> {
        let path = self.folder.join(TABLE);
        disk::write(&path, |out| table::write(out, &self.rows))
    }
}

/// The table of some takes, as bytes.
///
/// # Errors
/// None that is known: it is written into memory.
pub fn table_of(takes: &[LabelledTake]) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    table::write(&mut bytes, takes)?;
    Ok(bytes)
}

/// Seconds as the table has them.
fn hundredths(seconds: f64) -> f64 {
    (seconds * 100.0).round() / 100.0
}

/// Names of the sounds in a folder.
fn sounds_in(folder: &Path) -> impl Iterator<Item = String> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let names = entries.filter_map(|entry| entry.file_name().into_string().ok());
    names.filter(|name| {
        let name = name.to_ascii_lowercase();
        !name.starts_with('.') && ENDINGS.iter().any(|ending| name.ends_with(ending))
    })
}
