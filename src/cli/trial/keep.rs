//! Keeping of a trial's strums: a labelled set, and beside it what the trial was begun with.

use std::path::{Path, PathBuf};

use anyhow::{anyhow, bail};
use serde::Deserialize;

use crate::cli::guitar::GuitarArgs;
use crate::disk;
use crate::report::trial::{self, TrialOutcome};
use crate::trial::begun::{file_of, step_of};
use crate::trial::set::TABLE;
use crate::trial::{Begun, KnownBy, LabelledTake, PlannedStrum, Set};
use crate::words;
use crate::words::foreign::shown;

/// A folder of the usual place is looked for under so many numbers.
const MOST_TRIALS: u32 = 10_000;

/// A trial and its set.
pub struct KeptTrial {
    pub begun: Begun,
    pub set: Set,
}

impl KeptTrial {
    /// The trial in a folder; `None` where there is none.
    ///
    /// # Errors
    /// A file or a set that is damaged, or a set that no trial made, as a sentence.
    pub fn open(folder: &Path) -> anyhow::Result<Option<KeptTrial>> {
        let Some(begun) = Begun::read(folder)? else {
            if folder.join(TABLE).exists() {
                bail!(words::trial::not_a_trial(shown(folder)));
            }
            return Ok(None);
        };
        // Between the two a kill leaves a trial without its table.
        let set = match folder.join(TABLE).exists() {
            true => open(folder)?,
            false => Set::create(folder).map_err(|refusal| anyhow!(refusal.to_string()))?,
        };
        Ok(Some(KeptTrial { begun, set }))
    }

    /// Begins a trial in a folder.
    ///
    /// # Errors
    /// A folder that cannot be made or written, as a sentence.
    pub fn begin(folder: &Path, begun: Begun) -> anyhow::Result<KeptTrial> {
        std::fs::create_dir_all(folder)
            .map_err(|why| anyhow!(words::labelled::folder_not_made(shown(folder), why)))?;
        begun.write(folder)?;
        let set = Set::create(folder).map_err(|refusal| anyhow!(refusal.to_string()))?;
        Ok(KeptTrial { begun, set })
    }

    /// Writes what the trial came to beside its sounds, for the report.
    ///
    /// # Errors
    /// Where it cannot be written.
    pub fn write_result(&self, result: &TrialOutcome) -> anyhow::Result<()> {
        let mut text = Vec::new();
        trial::json(&mut text, result)?;
        Ok(disk::write_bytes(&self.set.folder().join(RESULT), &text)?)
    }

    /// The steps whose strums are kept, from 0.
    pub fn done(&self) -> impl Iterator<Item = usize> + '_ {
        self.set.rows().iter().filter_map(|row| step_of(&row.file))
    }

    /// Keeps the strum of a step.
    ///
    /// # Errors
    /// Where it cannot be written; the set is then as it was.
    pub fn keep(
        &mut self,
        number: usize,
        step: &PlannedStrum,
        samples: &[f32],
        rate_hz: u32,
    ) -> anyhow::Result<()> {
        let labelled = LabelledTake {
            deeds: step.deeds(),
            chord: step.voicing.chord.clone(),
            guitar: self.begun.guitar.clone(),
            microphone: self.begun.microphone.clone(),
            licence: self.begun.licence.clone(),
            known_by: KnownBy::Deed,
            ..LabelledTake::clean(&file_of(number), step.voicing.frets)
        };
        Ok(self.set.add(&labelled, samples, rate_hz)?)
    }
}

/// Folder of the trials of guitars, beside their profiles; `None` where no guitar is named.
///
/// # Errors
/// A name that cannot be a file's.
pub fn trials_of(guitar: &GuitarArgs) -> anyhow::Result<Option<PathBuf>> {
    let file = guitar.file()?;
    let guitars = file.as_deref().and_then(Path::parent);
    Ok(guitars.map(|guitars| guitars.with_file_name("trials")))
}

/// Result of the last trial of a guitar, in sentences; none where it had no trial.
///
/// # Errors
/// A name that cannot be a file's, a result that is damaged.
pub fn result_of(guitar: &GuitarArgs) -> anyhow::Result<Vec<String>> {
    let (Some(trials), Some(name)) = (trials_of(guitar)?, guitar.name()) else {
        return Ok(Vec::new());
    };
    let results = (1..MOST_TRIALS)
        .map(|number| named(&trials, name.trim(), number))
        .take_while(|folder| folder.exists())
        .map(|folder| folder.join(RESULT))
        .filter(|file| file.exists());
    let Some(file) = results.last() else {
        return Ok(Vec::new());
    };
    let read: Read = serde_json::from_str(&disk::read_text(&file, LONGEST_RESULT)?)
        .map_err(|error| anyhow!(words::trial::damaged(shown(&file), error)))?;
    Ok(read.in_words)
}

/// What is read of a result again.
#[derive(Deserialize)]
struct Read {
    in_words: Vec<String>,
}

/// The result, in the folder of the trial.
const RESULT: &str = "result.json";
/// No result is longer, in bytes: one has about 6,000.
const LONGEST_RESULT: u64 = 64 * 1024;

/// The folder of a guitar's trial by its number, from 1.
fn named(trials: &Path, guitar: &str, number: u32) -> PathBuf {
    match number {
        1 => trials.join(guitar),
        n => trials.join(format!("{guitar}-{n}")),
    }
}

/// A set, or all that is wrong with it in one sentence each.
fn open(folder: &Path) -> anyhow::Result<Set> {
    Set::open(folder).map_err(|refusals| {
        let all: Vec<String> = refusals.iter().map(ToString::to_string).collect();
        anyhow!(all.join("\n"))
    })
}

/// The folder of a guitar's trial below `trials`: that of the last one where it is not over, a new one else, and where
/// another is wanted (`anew`).
///
/// # Errors
/// As [`KeptTrial::open`].
pub fn folder_of(trials: &Path, guitar: &str, anew: bool) -> anyhow::Result<PathBuf> {
    let named = |number| named(trials, guitar, number);
    let free = (1..MOST_TRIALS).find(|number: &u32| !named(*number).exists());
    let free = free.ok_or_else(|| anyhow!(words::recording::NO_NAME_LEFT))?;
    let last = named(free - 1);
    if free > 1
        && !anew
        && let Some(kept) = KeptTrial::open(&last)?
        && kept.done().count() < kept.begun.plan().steps.len()
    {
        return Ok(last);
    }
    Ok(named(free))
}
