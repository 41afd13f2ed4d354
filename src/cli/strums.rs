//! The strums of recordings, and what is wrong with a recording.

use std::collections::VecDeque;
use std::path::{Path, PathBuf};

use anyhow::bail;
use indicatif::ProgressBar;

use crate::audio::{AudioError, Health, Reader};
use crate::take::{Finder, Strum};

/// Missing sound shorter than this is not worth a word, in seconds: players and encoders drop a
/// packet at a file's ends.
const LOST_S: f64 = 0.1;
/// Below this peak a recording without a take is called too quiet, in dBFS: strums down to -35 are
/// found, so this one holds hardly more than its noise.
const HARDLY_ANY_SOUND_DBFS: f32 = -45.0;

/// The strums of a recording, each as soon as it is certain. Reading stops where the recording ends or
/// cannot be read on: [`problem`](Strums::problem) says so.
pub struct Strums {
    path: PathBuf,
    reader: Reader,
    finder: Finder,
    block: Vec<f32>,
    found: VecDeque<Strum>,
    /// Strums found so far.
    pub count: usize,
    ended: bool,
    /// Why reading stopped before the end, if it did.
    pub error: Option<AudioError>,
    /// Goes on with every second read.
    pub bar: ProgressBar,
    read: u64,
}

impl Strums {
    /// Opens a recording.
    ///
    /// # Errors
    /// As [`Reader::open`].
    pub fn of(path: &Path) -> Result<Strums, AudioError> {
        let reader = Reader::open(path)?;
        Ok(Strums {
            path: path.to_owned(),
            finder: Finder::new(reader.rate_hz()),
            reader,
            block: Vec::new(),
            found: VecDeque::new(),
            count: 0,
            ended: false,
            error: None,
            bar: ProgressBar::hidden(),
            read: 0,
        })
    }

    /// Length in seconds as the file states it, where it does.
    pub fn duration_s(&self) -> Option<f64> {
        self.reader.duration_s()
    }

    /// What is wrong with the recording, where that is worth a word; to be asked at the end.
    pub fn problem(&self) -> Option<String> {
        let error = self.error.as_ref().map(AudioError::to_string);
        let (health, rate_hz) = (self.reader.health(), self.reader.rate_hz());
        problem(&self.path, error, &health, rate_hz, self.count)
    }

    fn read(&mut self) {
        let mut found = Vec::new();
        match self.reader.read(&mut self.block) {
            Ok(true) => self.finder.push(&self.block, &mut found),
            Ok(false) => self.ended = true,
            Err(error) => {
                self.error = Some(error);
                self.ended = true;
            }
        }
        if self.ended {
            self.finder.finish(&mut found);
        }
        self.found.extend(found);
        self.read += self.block.len() as u64;
        self.bar
            .set_position(self.read / u64::from(self.reader.rate_hz()));
    }
}

impl Iterator for Strums {
    type Item = Strum;

    fn next(&mut self) -> Option<Strum> {
        while self.found.is_empty() && !self.ended {
            self.read();
        }
        let strum = self.found.pop_front()?;
        self.count += 1;
        Some(strum)
    }
}

/// The strum with a number, counted from 1, and how many there are.
///
/// # Errors
/// A recording that cannot be read, or that has no such strum.
pub fn nth(file: &Path, number: usize) -> anyhow::Result<(Strum, usize)> {
    let mut strums = Strums::of(file)?;
    let mut kept = None;
    while let Some(strum) = strums.next() {
        if strums.count == number {
            kept = Some(strum);
        }
    }
    if let Some(error) = strums.error {
        bail!(error);
    }
    let name = file.display();
    match (kept, strums.count) {
        (Some(strum), count) => Ok((strum, count)),
        (None, 0) => bail!(nothing_found(file, &strums.reader.health())),
        (None, 1) => {
            bail!("{name}: there is one strum, so take {number} was not found; leave --take out")
        }
        (None, count) => {
            bail!("{name}: takes 1 to {count} were found, take {number} was not; name one of them")
        }
    }
}

/// What is wrong with a recording that was read as far as it could be, where that is worth a word:
/// why it could not be read on (`error`), what of it is missing or no sound, why no strum was found.
pub fn problem(
    file: &Path,
    error: Option<String>,
    health: &Health,
    rate_hz: u32,
    strums: usize,
) -> Option<String> {
    let damage = damage(file, health, rate_hz).map(|damage| match strums {
        0 => format!("{damage}; in what is there no strum was found"),
        _ => damage,
    });
    error
        .or(damage)
        .or_else(|| (strums == 0).then(|| nothing_found(file, health)))
}

/// What of the file is missing or no sound, where that is worth a word.
pub fn damage(file: &Path, health: &Health, rate_hz: u32) -> Option<String> {
    let name = file.display();
    let lost_s = health.lost_frames as f64 / f64::from(rate_hz);
    if health.cut_off {
        Some(format!(
            "{name}: the file breaks off before its end; what is there was used; for the rest, copy or export it again"
        ))
    } else if lost_s >= LOST_S {
        Some(format!(
            "{name}: {lost_s:.1} s of the file are damaged and were left out; copy or export it again"
        ))
    } else if health.unusable_samples > 0 {
        Some(format!(
            "{name}: {} samples are not numbers and were taken as silence; export the file again",
            health.unusable_samples
        ))
    } else {
        None
    }
}

/// Why no take was found, and what to do.
fn nothing_found(file: &Path, health: &Health) -> String {
    let name = file.display();
    if health.is_all_zero() {
        format!(
            "{name}: complete silence, as from a microphone that is muted or not allowed; \
             switch it on and record again"
        )
    } else if 20.0 * health.peak.log10() < HARDLY_ANY_SOUND_DBFS {
        format!(
            "{name}: no strum was found, there is hardly any sound; move the microphone nearer \
             or turn its level up, and record again"
        )
    } else {
        format!(
            "{name}: no strum was found; strum the chord once, let it ring for two seconds, \
             and record again"
        )
    }
}
