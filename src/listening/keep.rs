//! Takes kept as files: the sound, and beside it what `check --json` says of it.

use std::path::{Path, PathBuf};
use std::{fs, io};

use serde_json::json;

use super::saved::take_object;
use crate::audio::write_wav;
use crate::disk::{self, DiskError};
use crate::take::Take;
use crate::verdict::JudgedTake;
use crate::words;

/// Faults of keeping a take.
#[derive(Debug, thiserror::Error)]
pub enum KeepError {
    /// The folder cannot be made.
    #[error("{}", words::recording::folder_not_made(path.display()))]
    Folder {
        /// The folder.
        path: PathBuf,
        /// Message of the system.
        source: io::Error,
    },
    /// The folder has a file of every name that a take of this moment could have.
    #[error("{}", words::recording::NO_NAME_LEFT)]
    NoName,
    /// The sound, or what was said of it, cannot be written.
    #[error(transparent)]
    Disk(#[from] DiskError),
}

/// Keeps takes in a folder.
#[derive(Debug)]
pub struct FolderKeeper {
    folder: PathBuf,
    guitar: Option<String>,
}

impl FolderKeeper {
    /// Keeps takes in `folder`, which is made where it is missing, as played on `guitar`.
    ///
    /// # Errors
    /// Where the folder cannot be made.
    pub fn new(folder: &Path, guitar: Option<String>) -> Result<Self, KeepError> {
        fs::create_dir_all(folder).map_err(|source| KeepError::Folder {
            path: folder.to_owned(),
            source,
        })?;
        Ok(FolderKeeper {
            folder: folder.to_owned(),
            guitar,
        })
    }

    /// Writes a take as `NAME.wav` and `NAME.json`; gives the path of the first. The name tells
    /// date, time and frets.
    ///
    /// # Errors
    /// Where a file cannot be written.
    pub fn keep(&self, take: &JudgedTake, strum: &Take) -> Result<PathBuf, KeepError> {
        let now = jiff::ZonedDateTime::now();
        let frets = take.frets.to_string().replace(' ', "-");
        let name = format!("{}-{frets}", now.strftime("%Y-%m-%d-%H%M%S"));
        let wav = (1..)
            .map(|n| match n {
                1 => self.folder.join(format!("{name}.wav")),
                n => self.folder.join(format!("{name}-{n}.wav")),
            })
            .find(|path| !path.exists())
            .ok_or(KeepError::NoName)?;
        write_wav(&wav, strum.rate_hz, &strum.samples)?;
        // Time is counted from the beginning of the file.
        let take = JudgedTake {
            start_s: strum.start_s() - strum.first as f64 / f64::from(strum.rate_hz),
            ..take.clone()
        };
        let mut object = json!({
            "file": wav.file_name().unwrap_or_default().to_string_lossy(),
            "takes": [take_object(&take)],
            "recorded_at": now.timestamp().to_string(),
        });
        if let Some(guitar) = &self.guitar {
            object["guitar"] = guitar.as_str().into();
        }
        disk::write_bytes(&wav.with_extension("json"), object.to_string().as_bytes())?;
        Ok(wav)
    }
}
