//! The options on the diary, and what commands that keep takes do with it.

use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use anyhow::anyhow;
use jiff::Timestamp;

use super::Console;
use crate::practice::diary::{self, Diary, DiaryError, DiaryKeeper, Filter};
use crate::report::practice::left_over;
use crate::words;
use crate::words::help::diary as help;

/// Place where takes are kept.
#[derive(Debug, Clone, clap::Args)]
pub struct DiaryArgs {
    #[arg(long, value_name = "FILE", conflicts_with = "no_diary", help = help::DIARY)]
    diary: Option<PathBuf>,
    #[arg(long, help = help::NO_DIARY)]
    no_diary: bool,
    #[arg(long, value_name = "TIME", requires = "from", help = help::RECORDED_AT)]
    recorded_at: Option<String>,
}

impl DiaryArgs {
    /// Tells where takes go, if they go anywhere.
    pub fn keeper(&self) -> Option<DiaryKeeper> {
        (!self.no_diary).then(|| keeper(self.diary.as_deref()))
    }

    /// The files of the diary that takes go into.
    pub fn files(&self) -> Vec<PathBuf> {
        let path = diary::named_or_usual(self.diary.as_deref()).ok();
        let path = path.filter(|_| !self.no_diary);
        path.map_or(Vec::new(), |path| diary::files_of(&path))
    }

    /// Tells when the sound begins: now, or when the recording `from`, so many seconds long, was made. A recorder
    /// writes a file's time when it ends.
    ///
    /// # Errors
    /// A time that is none, as a sentence.
    pub fn began(&self, from: Option<&Path>, length_s: f64) -> anyhow::Result<Timestamp> {
        if let Some(text) = &self.recorded_at {
            return text
                .parse()
                .map_err(|_| anyhow!(words::diary::time_expected(text)));
        }
        let Some(file) = from else {
            return Ok(Timestamp::now());
        };
        let modified = file.metadata().and_then(|about| about.modified());
        let ended = Timestamp::try_from(modified.unwrap_or_else(|_| SystemTime::now()))?;
        let length = Duration::from_secs_f64(length_s.clamp(0.0, 1e6));
        Ok(ended.checked_sub(length).unwrap_or(ended))
    }
}

/// The diary named or the usual one to keep takes in; what it cannot take goes into a file of lines
/// where the program was started, or in the folder for passing things.
pub fn keeper(path: Option<&Path>) -> DiaryKeeper {
    let folders = [std::env::current_dir().ok(), Some(std::env::temp_dir())];
    DiaryKeeper::new(diary::open(path), folders.into_iter().flatten().collect())
}

/// Gives what is to be said of takes whose moment no calendar knows.
///
/// # Errors
/// Where the diary cannot be read.
pub fn misdated(diary: &Diary, filter: &Filter) -> Result<Option<String>, DiaryError> {
    let count = diary.misdated(filter)?;
    Ok((count > 0).then(|| words::diary::misdated(count)))
}

/// Says what was wrong with the diary, and where the takes are that it could not take.
///
/// # Errors
/// Where the report cannot be written.
pub fn close(keeper: &DiaryKeeper, console: &mut Console) -> anyhow::Result<()> {
    if let Some(trouble) = keeper.trouble() {
        console.complain(&trouble.to_string());
    }
    Ok(left_over(console.out, keeper)?)
}
