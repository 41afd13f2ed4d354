//! The diary out of its file and back, as JSON lines, and takes that `listen` has saved.

use std::io::{self, BufRead, Read, Write};
use std::path::Path;
use std::time::Duration;

use jiff::Timestamp;

use super::{DiaryError, Entry};
use crate::disk;
use crate::fretboard::Tuning;
use crate::listening::saved::{Saved, SavedTake};
use crate::words;

/// No line is longer, in bytes: `check --json` writes one of some 2 MB about an hour of strums. A choice.
const LONGEST_LINE: u64 = 16 << 20;

/// Writes a take as JSON, one object a line.
///
/// # Errors
/// Where `out` cannot be written.
pub fn write_json(out: &mut dyn Write, entry: &Entry) -> io::Result<()> {
    // One piece a line: the console looks through each.
    let mut line = serde_json::to_vec(entry)?;
    line.push(b'\n');
    out.write_all(&line)
}

/// Reason why takes are not taken in.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// The file, with the line's number where one is wrong, as a sentence.
    #[error("{0}")]
    File(String),
    /// The diary that they go into.
    #[error(transparent)]
    Diary(#[from] DiaryError),
}

/// Hands over the takes of a file of JSON lines, one by one: the diary's own, or saved takes with the time of
/// their recording. It takes no more memory than its longest line.
///
/// # Errors
/// What is wrong, as a sentence with the line's number; and what `each` fails with.
pub fn read(
    path: &Path,
    each: &mut dyn FnMut(&Entry) -> Result<(), DiaryError>,
) -> Result<(), ImportError> {
    let name = path.display().to_string();
    let file = |what: String| ImportError::File(what);
    let unreadable = |e: io::Error| file(words::diary::unreadable(&name, &e));
    disk::check_plain(path).map_err(|error| file(error.to_string()))?;
    let lines = io::BufReader::new(std::fs::File::open(path).map_err(unreadable)?);
    read_lines(&name, lines, each)
}

/// Does [`read`] with lines that are in memory; `name` is what errors call them.
///
/// # Errors
/// As [`read`].
pub fn read_text(
    name: &str,
    text: &str,
    each: &mut dyn FnMut(&Entry) -> Result<(), DiaryError>,
) -> Result<(), ImportError> {
    read_lines(name, text.as_bytes(), each)
}

fn read_lines(
    name: &str,
    mut lines: impl BufRead,
    each: &mut dyn FnMut(&Entry) -> Result<(), DiaryError>,
) -> Result<(), ImportError> {
    let file = |what: String| ImportError::File(what);
    let mut line = Vec::new();
    for number in 1.. {
        let wrong = |why: String| file(words::diary::no_take_of_ours(name, number, &why));
        line.clear();
        let most = LONGEST_LINE + 1;
        let came = (&mut lines).take(most).read_until(b'\n', &mut line);
        if came.map_err(|e| file(words::diary::in_line(name, number, e)))? == 0 {
            break;
        }
        if line.len() as u64 == most {
            let most = LONGEST_LINE >> 20;
            return Err(wrong(words::diary::too_long(most)));
        }
        let text = str::from_utf8(&line).map_err(|_| wrong(words::diary::NO_TEXT.to_owned()))?;
        if text.trim().is_empty() {
            continue;
        }
        for entry in &one(text.trim()).map_err(wrong)? {
            each(entry)?;
        }
    }
    Ok(())
}

fn one(text: &str) -> Result<Vec<Entry>, String> {
    let saved: Saved = match Entry::from_json(text) {
        Ok(entry) => return Ok(vec![entry]),
        Err(no_entry) => Saved::from_json(text).map_err(|no_saved| {
            // Whichever form it was meant to be, its own complaint is the useful one.
            match text.contains("\"takes\"") {
                true => no_saved.to_string(),
                false => no_entry.to_string(),
            }
        })?,
    };
    let recorded_at = saved.recorded_at.ok_or(words::diary::NO_MOMENT)?;
    let takes = saved.takes.iter();
    takes
        .map(|take| of_saved(take, recorded_at.at, saved.guitar.clone()))
        .collect()
}

fn of_saved(
    saved: &SavedTake,
    recorded_at: Timestamp,
    guitar: Option<String>,
) -> Result<Entry, String> {
    let at = recorded_at
        .checked_add(Duration::from_secs_f64(saved.start_s))
        .map_err(|e| e.to_string())?;
    Ok(Entry {
        guitar,
        warnings: saved.warnings.iter().map(|w| w.kind.clone()).collect(),
        ..Entry::of(&saved.take(), at, &Tuning::default())
    })
}
