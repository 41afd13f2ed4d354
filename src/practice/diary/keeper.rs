//! Keeping takes whatever becomes of the diary: practice goes on without it.

use std::fs::{File, OpenOptions};
use std::io::{Seek, Write};
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::{Diary, DiaryError, Entry};
use crate::audio::write_wav;
use crate::take::Strum;

/// Where a take was put.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kept {
    /// Into the diary, under this number.
    Diary(i64),
    /// It was there already.
    Before,
    /// Into the lines that the diary could not take: the how-manieth.
    Line(usize),
}

/// Keeps takes in a diary; what the diary cannot take goes into a file of JSON lines at once, and
/// where no file can be made either, stays here until the end.
#[derive(Debug)]
pub struct Keeper {
    diary: Option<Diary>,
    /// The first thing that went wrong.
    trouble: Option<DiaryError>,
    /// Folders to try for the file of lines.
    folders: Vec<PathBuf>,
    lines: Vec<String>,
    file: Option<(PathBuf, File)>,
}

impl Keeper {
    /// Keeps in the diary, or without one where it cannot be had. `folders` are tried in their order
    /// for what the diary cannot take.
    pub fn new(diary: Result<Diary, DiaryError>, folders: Vec<PathBuf>) -> Keeper {
        let (diary, trouble) = match diary {
            Ok(diary) => (Some(diary), None),
            Err(error) => (None, Some(error)),
        };
        Keeper {
            diary,
            trouble,
            folders,
            lines: Vec::new(),
            file: None,
        }
    }

    /// What is wrong with the diary, once something is.
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
    pub fn keep(&mut self, entry: &Entry) -> Kept {
        let kept = match &self.diary {
            Some(diary) => diary.keep(entry),
            None => return self.keep_line(entry),
        };
        match kept {
            Ok(Some(number)) => Kept::Diary(number),
            Ok(None) => Kept::Before,
            Err(error) => {
                self.complain(error);
                self.keep_line(entry)
            }
        }
    }

    /// Takes a take out again that has turned out to be none; of lines only the last one can go.
    pub fn remove(&mut self, kept: Kept) {
        match (kept, &self.diary) {
            (Kept::Diary(number), Some(diary)) => {
                if let Err(error) = diary.remove(number) {
                    self.complain(error);
                }
            }
            (Kept::Line(line), _) if line + 1 == self.lines.len() => {
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

    /// Keeps the sound of a take that is in the diary, as a WAV file beside it.
    pub fn keep_sound(&mut self, kept: Kept, at: Timestamp, strum: &Strum) {
        let (Kept::Diary(number), Some(diary)) = (kept, &self.diary) else {
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

    fn keep_line(&mut self, entry: &Entry) -> Kept {
        let line = serde_json::to_string(entry).expect("an entry has text keys and plain values");
        if self.file.is_none() {
            self.file = self.new_file();
        }
        self.lines.push(line);
        if let Some((_, file)) = &mut self.file {
            let line = &self.lines[self.lines.len() - 1];
            // A line is written whole or the file is given up: all lines are still here.
            if writeln!(file, "{line}")
                .and_then(|()| file.sync_data())
                .is_err()
            {
                self.file = None;
                self.folders.clear();
            }
        }
        Kept::Line(self.lines.len() - 1)
    }

    /// A new file in the first folder that takes one, with the lines so far.
    fn new_file(&self) -> Option<(PathBuf, File)> {
        let name = format!(
            "ringtrue-takes-{}.jsonl",
            Timestamp::now().strftime("%Y%m%d-%H%M%S-%3f")
        );
        self.folders.iter().find_map(|folder| {
            let path = folder.join(&name);
            let file = OpenOptions::new()
                .write(true)
                .create_new(true)
                .open(&path)
                .ok()?;
            Some((path, file))
        })
    }
}
