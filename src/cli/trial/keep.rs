//! Where the strums of a trial are kept: a labelled set, and beside it what the trial was begun with.

use std::path::{Path, PathBuf};

use anyhow::{anyhow, bail};

use crate::trial::begun::{file_of, step_of};
use crate::trial::set::TABLE;
use crate::trial::{Begun, KnownBy, Labelled, Set, Step};
use crate::words;
use crate::words::foreign::shown;

/// A folder of the usual place is looked for under so many numbers.
const MOST_TRIALS: u32 = 10_000;

/// A trial and its set.
pub struct Kept {
    pub begun: Begun,
    pub set: Set,
}

impl Kept {
    /// The trial in a folder; `None` where there is none.
    ///
    /// # Errors
    /// A file or a set that is damaged, or a set that no trial made, as a sentence.
    pub fn open(folder: &Path) -> anyhow::Result<Option<Kept>> {
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
        Ok(Some(Kept { begun, set }))
    }

    /// Begins a trial in a folder.
    ///
    /// # Errors
    /// A folder that cannot be made or written, as a sentence.
    pub fn begin(folder: &Path, begun: Begun) -> anyhow::Result<Kept> {
        std::fs::create_dir_all(folder)
            .map_err(|why| anyhow!(words::labelled::folder_not_made(shown(folder), why)))?;
        begun.write(folder)?;
        let set = Set::create(folder).map_err(|refusal| anyhow!(refusal.to_string()))?;
        Ok(Kept { begun, set })
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
        step: &Step,
        samples: &[f32],
        rate_hz: u32,
    ) -> anyhow::Result<()> {
        let labelled = Labelled {
            deeds: step.deeds(),
            chord: step.voicing.chord.clone(),
            guitar: self.begun.guitar.clone(),
            microphone: self.begun.microphone.clone(),
            licence: self.begun.licence.clone(),
            known_by: KnownBy::Deed,
            ..Labelled::clean(&file_of(number), step.voicing.frets)
        };
        Ok(self.set.add(&labelled, samples, rate_hz)?)
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
/// As [`Kept::open`].
pub fn folder_of(trials: &Path, guitar: &str, anew: bool) -> anyhow::Result<PathBuf> {
    let named = |number: u32| match number {
        1 => trials.join(guitar),
        n => trials.join(format!("{guitar}-{n}")),
    };
    let free = (1..MOST_TRIALS).find(|number| !named(*number).exists());
    let free = free.ok_or_else(|| anyhow!(words::recording::NO_NAME_LEFT))?;
    let last = named(free - 1);
    if free > 1
        && !anew
        && let Some(kept) = Kept::open(&last)?
        && kept.done().count() < kept.begun.plan().steps.len()
    {
        return Ok(last);
    }
    Ok(named(free))
}
