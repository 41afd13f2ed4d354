//! Keeping takes whatever becomes of the diary: practice goes on without it.
//!
//! What the diary cannot take goes at once into a file of JSON lines, which `progress --import` takes in later. A
//! take is in the diary once, told apart by its millisecond and frets.

use std::fs::{File, OpenOptions};
use std::io::{Seek, Write};
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::{Correction, Diary, DiaryError, Entry};
use crate::audio::write_wav;
use crate::take::Take;

/// Place where a take was put.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KeptIn {
    /// Entry of the diary, under this number.
    Diary(i64),
    /// Entry that was there already.
    Before,
    /// Line among those that the diary could not take: the how-manieth.
    Line(usize),
}

/// Keeps takes in a diary; what the diary cannot take goes into a file of JSON lines at once, and
/// where no file can be made either, stays here until the end.
#[derive(Debug)]
pub struct DiaryKeeper {
    diary: Option<Diary>,
    /// The first thing that went wrong.
    trouble: Option<DiaryError>,
    /// Folders to try for the file of lines.
    folders: Vec<PathBuf>,
    lines: Vec<String>,
    file: Option<(PathBuf, File)>,
}

impl DiaryKeeper {
    /// Keeps in the diary, or without one where it cannot be had. `folders` are tried in their order
    /// for what the diary cannot take.
    pub fn new(diary: Result<Diary, DiaryError>, folders: Vec<PathBuf>) -> DiaryKeeper {
        let (diary, trouble) = match diary {
            Ok(diary) => (Some(diary), None),
            Err(error) => (None, Some(error)),
        };
        DiaryKeeper {
            diary,
            trouble,
            folders,
            lines: Vec::new(),
            file: None,
        }
    }

    /// Gives what is wrong with the diary, once something is.
    pub fn trouble(&self) -> Option<&DiaryError> {
        self.trouble.as_ref()
    }

    /// The takes that the diary could not take, a JSON object each.
    pub fn lines(&self) -> &[String] {
        &self.lines
    }

    /// The file that these lines are in, where one could be made.
    pub fn file(&self) -> Option<&Path> {
        self.file.as_ref().map(|(path, _)| path.as_path())
    }

    /// Keeps a take, somewhere.
    pub fn keep(&mut self, entry: &Entry) -> KeptIn {
        let kept = match &self.diary {
            Some(diary) => diary.keep(entry),
            None => return self.keep_line(entry),
        };
        match kept {
            Ok(Some(number)) => KeptIn::Diary(number),
            Ok(None) => KeptIn::Before,
            Err(error) => {
                self.complain(error);
                self.keep_line(entry)
            }
        }
    }

    /// Notes what the player says of a take; gives whether that could be kept. What the diary could not take
    /// stays as it was heard.
    pub fn put_right(&mut self, kept: KeptIn, said: &Correction) -> bool {
        let (KeptIn::Diary(number), Some(diary)) = (kept, &self.diary) else {
            return false;
        };
        match diary.put_right(number, Some(said)) {
            Ok(there) => there,
            Err(error) => {
                self.complain(error);
                false
            }
        }
    }

    /// Takes a take out again that has turned out to be none; of lines only the last one can go.
    pub fn remove(&mut self, kept: KeptIn) {
        match (kept, &self.diary) {
            (KeptIn::Diary(number), Some(diary)) => {
                if let Err(error) = diary.remove(number) {
                    self.complain(error);
                }
            }
            (KeptIn::Line(line), _) if line + 1 == self.lines.len() => {
                let gone = self.lines.pop().map_or(0, |line| line.len() as u64 + 1);
                if let Some((_, file)) = &mut self.file
                    && let Ok(length) = file.stream_position()
                    && file.set_len(length.saturating_sub(gone)).is_ok()
                {
                    let _ = file.seek(std::io::SeekFrom::End(0));
                }
            }
            _ => {}
        }
    }

    /// Keeps takes in the place of others that were only preliminary.
    pub fn replace(&mut self, preliminary: &[KeptIn], entries: &[Entry]) -> Vec<KeptIn> {
        let numbers: Vec<i64> = (preliminary.iter())
            .filter_map(|kept| match kept {
                KeptIn::Diary(number) => Some(*number),
                _ => None,
            })
            .collect();
        // Lines go from the last one back.
        for kept in preliminary.iter().rev() {
            if matches!(kept, KeptIn::Line(_)) {
                self.remove(*kept);
            }
        }
        match self.diary.as_mut().map(|d| d.replace(&numbers, entries)) {
            Some(Ok(numbers)) => {
                return (numbers.into_iter())
                    .map(|number| number.map_or(KeptIn::Before, KeptIn::Diary))
                    .collect();
            }
            Some(Err(error)) => self.complain(error),
            None => {}
        }
        entries.iter().map(|entry| self.keep_line(entry)).collect()
    }

    /// Keeps the sound of a take that is in the diary, as a WAV file beside it.
    pub fn keep_sound(&mut self, kept: KeptIn, at: Timestamp, strum: &Take) {
        let (KeptIn::Diary(number), Some(diary)) = (kept, &self.diary) else {
            return;
        };
        let folder = diary.sounds();
        let name = format!("{}.wav", at.strftime("%Y%m%d-%H%M%S-%3f"));
        let written = std::fs::create_dir_all(&folder)
            .map_err(|e| e.to_string())
            .and_then(|()| {
                write_wav(&folder.join(&name), strum.rate_hz, &strum.samples)
                    .map_err(|e| e.to_string())
            });
        let noted = match written {
            Ok(()) => diary.set_sound(number, &name),
            Err(why) => Err(DiaryError::Unreachable {
                path: folder.join(&name),
                why,
            }),
        };
        if let Err(error) = noted {
            self.complain(error);
        }
    }

    fn complain(&mut self, error: DiaryError) {
        self.trouble.get_or_insert(error);
    }

    fn keep_line(&mut self, entry: &Entry) -> KeptIn {
        let line = serde_json::to_string(entry).expect("an entry has text keys and plain values");
        let written = match &mut self.file {
            Some((_, file)) => append(file, std::slice::from_ref(&line)),
            None => Ok(()),
        };
        self.lines.push(line);
        // A file in which a line did not find space whole is left, another one holds all lines.
        if written.is_err() || self.file.is_none() {
            self.file = self.new_file();
        }
        KeptIn::Line(self.lines.len() - 1)
    }

    /// A new file in the first folder left that takes one, with the lines so far. Folders that do not are
    /// not tried again.
    fn new_file(&mut self) -> Option<(PathBuf, File)> {
        let name = format!(
            "ringtrue-takes-{}.jsonl",
            Timestamp::now().strftime("%Y%m%d-%H%M%S-%3f")
        );
        while !self.folders.is_empty() {
            let path = self.folders.remove(0).join(&name);
            let made = OpenOptions::new().write(true).create_new(true).open(&path);
            if let Ok(mut file) = made {
                match append(&mut file, &self.lines) {
                    Ok(()) => return Some((path, file)),
                    // Half a file would only be taken for the whole.
                    Err(_) => drop(std::fs::remove_file(&path)),
                }
            }
        }
        None
    }
}

/// Writes lines so that they are there after a power cut.
fn append(file: &mut File, lines: &[String]) -> std::io::Result<()> {
    for line in lines {
        writeln!(file, "{line}")?;
    }
    file.sync_data()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::Tuning;
    use crate::verdict::examples::bb;

    fn entry(ms: i64) -> Entry {
        let at = Timestamp::from_millisecond(1_760_000_000_000 + ms).unwrap();
        Entry::of(&bb(), at, &Tuning::default())
    }

    #[test]
    fn where_a_file_fails_the_next_folder_gets_all_lines() {
        let (first, second) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let folders = [&first, &second].map(|folder| folder.path().to_owned());
        let no_diary = Err(DiaryError::ReadOnly { path: "d".into() });
        let mut keeper = DiaryKeeper::new(no_diary, folders.to_vec());
        keeper.keep(&entry(1));
        keeper.keep(&entry(2));
        let path = keeper.file().unwrap().to_owned();
        assert!(path.starts_with(first.path()));
        // What can only be read cannot be written, as on a full disk.
        keeper.file = Some((path.clone(), File::open(&path).unwrap()));
        let third = keeper.keep(&entry(3));
        assert!(keeper.file().unwrap().starts_with(second.path()));
        let text = std::fs::read_to_string(keeper.file().unwrap()).unwrap();
        assert_eq!(text.lines().collect::<Vec<_>>(), keeper.lines());
        assert_eq!(keeper.lines().len(), 3);
        keeper.remove(third);
        let text = std::fs::read_to_string(keeper.file().unwrap()).unwrap();
        assert_eq!(text.lines().collect::<Vec<_>>(), keeper.lines());
    }
}
