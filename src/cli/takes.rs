//! Chords of a folder's recordings: from a table beside them, `chords.csv`, or from their names.

use std::collections::{BTreeSet, HashMap};
use std::path::{Path, PathBuf};

use super::chord::ChordArgs;
use crate::disk;
use crate::fretboard::library::name_voicing;
use crate::fretboard::{ChordName, Frets, Shape, Tuning};
use crate::verdict::Expected;
use crate::words;

/// The table's name, in the folder of the recordings that it is about.
pub const TABLE: &str = "chords.csv";
/// No table is longer, in bytes: some 100,000 recordings.
const MOST_BYTES: u64 = 4_000_000;
/// What its heading may hold.
const COLUMNS: &str = words::commands::COLUMNS;

/// Chords that are played in recordings, by the tables beside them.
#[derive(Debug, Default)]
pub struct Tables {
    meant: HashMap<PathBuf, Expected>,
    /// Faults of a table or of a row of it, and the file that it is about.
    pub problems: Vec<(String, String)>,
}

impl Tables {
    /// Reads the table of each folder that holds one of these recordings.
    pub fn beside<'a>(recordings: impl Iterator<Item = &'a Path>, tuning: &Tuning) -> Tables {
        let mut tables = Tables::default();
        let files: BTreeSet<&Path> = recordings.collect();
        let folders: BTreeSet<&Path> = files.iter().filter_map(|file| file.parent()).collect();
        for folder in folders {
            let table = folder.join(TABLE);
            if table.is_file() {
                tables.read(&table, &files, tuning);
            }
        }
        tables
    }

    /// Gives what a recording was said to hold.
    pub fn get(&self, recording: &Path) -> Option<&Expected> {
        self.meant.get(recording)
    }

    fn read(&mut self, table: &Path, files: &BTreeSet<&Path>, tuning: &Tuning) {
        let mut complain = |name: String, what: String| self.problems.push((name, what));
        let here = table.display().to_string();
        let text = match disk::read_text(table, MOST_BYTES) {
            Ok(text) => text,
            Err(error) => return complain(here, error.to_string()),
        };
        // A spreadsheet writes semicolons where the comma is taken by numbers.
        let heading = text.lines().next().unwrap_or_default();
        let delimiter = if heading.contains(';') { b';' } else { b',' };
        let mut rows = csv::ReaderBuilder::new()
            .delimiter(delimiter)
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let columns = rows.headers().cloned().unwrap_or_default();
        let column = |name: &str| columns.iter().position(|c| c.eq_ignore_ascii_case(name));
        let (Some(file), true) = (
            column("file"),
            column("chord").or(column("frets")).is_some(),
        ) else {
            let what = words::commands::name_the_columns(&here, COLUMNS);
            return complain(here, what);
        };
        for (row, number) in rows.records().zip(2..) {
            let row = match row {
                Ok(row) => row,
                Err(error) => {
                    complain(here.clone(), words::diary::in_line(&here, number, error));
                    continue;
                }
            };
            let cell = |at: Option<usize>| at.and_then(|at| row.get(at)).filter(|c| !c.is_empty());
            let Some(name) = cell(Some(file)) else {
                continue;
            };
            let path = table.with_file_name(name);
            if !files.contains(&*path) {
                let what = words::commands::no_such_recording(&here, number);
                complain(name.to_owned(), what);
                continue;
            }
            let chord = cell(column("frets")).or(cell(column("chord")));
            let said = chord.map(|chord| expected(chord, cell(column("shape")), tuning));
            match said {
                Some(Ok(expected)) => {
                    self.meant.insert(path, expected);
                }
                Some(Err(error)) => {
                    let what = words::diary::in_line(&here, number, format!("{error:#}"));
                    complain(name.to_owned(), what);
                }
                None => {
                    let what = words::commands::no_chord_named(&here, number);
                    complain(name.to_owned(), what);
                }
            }
        }
    }
}

/// What a chord's name, or frets, in a cell or in the name of a file stands for.
fn expected(chord: &str, shape: Option<&str>, tuning: &Tuning) -> anyhow::Result<Expected> {
    ChordArgs::of(chord, shape).expected(tuning)
}

/// Gives what the name of a recording says, as in `F-1.wav`, `Bb_A-shape.wav` and `x13331-monday.wav`: its first word is a chord's
/// name that begins with a capital letter, or frets. Six digits may be a day, so they must be a voicing that is known.
pub fn of_name(recording: &Path, tuning: &Tuning) -> Option<Expected> {
    let stem = recording.file_stem()?.to_str()?;
    let mut words = stem
        .split(['-', '_', ' ', '(', '.'])
        .filter(|w| !w.is_empty());
    let first = words.next()?;
    if let Ok(frets) = first.parse::<Frets>() {
        let known = first.contains(['x', 'X']) || name_voicing(&frets, tuning).is_some();
        return known.then(|| expected(first, None, tuning).ok()).flatten();
    }
    let is_chord = first.starts_with(|c| ('A'..='G').contains(&c));
    let chord: ChordName = first.parse().ok().filter(|_| is_chord)?;
    let (second, third) = (words.next(), words.next());
    let shape = match (second, third) {
        (Some(shape), Some(word)) if word.eq_ignore_ascii_case("shape") => Some(shape),
        _ => None,
    };
    let shape = shape.filter(|shape| shape.parse::<Shape>().is_ok());
    let in_shape = expected(&chord.to_string(), shape, tuning);
    in_shape.ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frets(name: &str) -> Option<String> {
        let meant = of_name(Path::new(name), &Tuning::default())?;
        Some(match meant {
            Expected::Named(voicing) => voicing.frets.to_string(),
            Expected::Chord(voicings) => format!("any {}", voicings[0].chord.as_deref()?),
            _ => return None,
        })
    }

    #[test]
    fn a_recordings_name_may_begin_with_its_chord() {
        let said = |name: &str| frets(name).unwrap_or_default();
        assert_eq!(said("F-1.wav"), "any F");
        assert_eq!(said("Bb_A-shape.wav"), "x13331");
        assert_eq!(said("F#m 2.m4a"), "any F#m");
        assert_eq!(said("x13331-monday.wav"), "x13331");
        assert_eq!(said("133211.wav"), "133211");
    }

    #[test]
    fn other_names_say_nothing() {
        for name in [
            "1.wav",
            "take-2.wav",
            "a.wav",
            "Demo.wav",
            "240302.wav",
            "Bass.wav",
            ".wav",
        ] {
            assert_eq!(frets(name), None, "{name}");
        }
    }
}
