//! `ringtrue trial add`: what a player put right becomes part of a labelled set.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, bail};

use super::put_words;
use crate::audio::read_all;
use crate::cli::{AS_IT_SHOULD_BE, Console, NOT_JUDGED};
use crate::listening::saved::{self, SavedTake};
use crate::practice::diary::{Diary, Entry, Filter, named_or_usual};
use crate::trial::put_right::{by_word, is_same};
use crate::trial::set::{LONGEST_S, TABLE};
use crate::trial::{LabelledTake, Set};
use crate::words;
use crate::words::foreign::shown;
use crate::words::help::trial_add as help;

/// Arguments of `ringtrue trial add`.
#[derive(Debug, clap::Args)]
#[command(
    about = help::ABOUT,
    long_about = help::LONG_ABOUT,
    after_help = help::AFTER
)]
pub struct Args {
    #[arg(value_name = "FOLDER", help = help::SET)]
    set: PathBuf,
    #[arg(long, value_name = "FILE", help = help::DIARY)]
    diary: Option<PathBuf>,
    #[arg(long, value_name = "FOLDER", help = help::SAVED)]
    saved: Vec<PathBuf>,
    #[arg(long, value_name = "TEXT", help = help::GUITAR_WORDS)]
    guitar_words: Option<String>,
    #[arg(long, value_name = "TEXT", help = help::MICROPHONE_WORDS)]
    microphone_words: Option<String>,
    #[arg(long, value_name = "TEXT", help = help::LICENCE)]
    licence: Option<String>,
}

/// A saved take and its sound.
struct Kept {
    sound: PathBuf,
    take: SavedTake,
}

/// Adds all that was put right and has its sound.
///
/// # Errors
/// A diary or a folder that cannot be had, a sound that cannot be read, as a sentence; output that cannot be written,
/// as an [`std::io::Error`].
pub fn run(args: &Args, console: &mut Console) -> anyhow::Result<ExitCode> {
    let diary = Diary::open_existing(&named_or_usual(args.diary.as_deref())?)?;
    let mut put_right: Vec<Entry> = Vec::new();
    diary.each_entry(&Filter::default(), |entry| {
        if by_word(&entry, "").is_some() {
            put_right.push(entry);
        }
        anyhow::Ok(())
    })?;
    if put_right.is_empty() {
        writeln!(console.out, "{}", words::labelled::NOTHING_PUT_RIGHT)?;
        return Ok(AS_IT_SHOULD_BE.into());
    }
    let mut kept = Vec::new();
    for folder in &args.saved {
        saved_in(folder, &mut kept)?;
    }
    let opened = match args.set.join(TABLE).exists() {
        true => Set::open(&args.set),
        false => Set::create(&args.set).map_err(|refusal| vec![refusal]),
    };
    let mut set = match opened {
        Ok(set) => set,
        Err(refusals) => {
            for refusal in refusals {
                console.complain(&refusal.to_string());
            }
            return Ok(NOT_JUDGED.into());
        }
    };
    let (mut added, mut there, mut soundless) = (0, 0, 0);
    for entry in &put_right {
        let Some(sound) = sound_of(entry, &diary, &kept) else {
            soundless += 1;
            continue;
        };
        match add(args, &mut set, entry, &sound)? {
            true => added += 1,
            false => there += 1,
        }
    }
    let said = words::labelled::added(shown(&args.set), added, there);
    writeln!(console.out, "{said}")?;
    if soundless > 0 {
        writeln!(console.out, "{}", words::labelled::soundless(soundless))?;
    }
    Ok(AS_IT_SHOULD_BE.into())
}

/// Where the sound of a take of the diary lies.
fn sound_of(entry: &Entry, diary: &Diary, kept: &[Kept]) -> Option<PathBuf> {
    let beside = || diary.sound(entry.sound.as_deref()?);
    let saved = || {
        let kept = kept.iter().find(|kept| is_same(&kept.take, entry));
        kept.map(|kept| kept.sound.clone())
    };
    beside().filter(|path| path.is_file()).or_else(saved)
}

/// Takes that were saved in a folder, each with its sound.
fn saved_in(folder: &Path, kept: &mut Vec<Kept>) -> anyhow::Result<()> {
    let unreadable = || words::labelled::folder_unreadable(shown(folder));
    for file in fs::read_dir(folder).with_context(unreadable)? {
        let path = file.with_context(unreadable)?.path();
        let sound = path.with_extension("wav");
        let is_json = path.extension().is_some_and(|ending| ending == "json");
        if !is_json || !sound.is_file() {
            continue;
        }
        // A file of something else is passed over.
        let Ok(saved) = saved::read(&path) else {
            continue;
        };
        if let [take] = saved.takes.as_slice() {
            let take = take.clone();
            kept.push(Kept { sound, take });
        }
    }
    Ok(())
}

/// Adds one take, or what was said of it since; gives whether anything is new.
fn add(args: &Args, set: &mut Set, entry: &Entry, sound: &Path) -> anyhow::Result<bool> {
    let name = sound.file_name().unwrap_or_default().to_string_lossy();
    let Some(mut take) = by_word(entry, &name) else {
        return Ok(false);
    };
    put_words(
        &mut take,
        [&args.guitar_words, &args.microphone_words, &args.licence],
    )?;
    if let Some(before) = set.rows().iter().find(|row| row.file == take.file) {
        if before.frets != take.frets {
            bail!(words::labelled::another_take(shown(&set.path(&take))));
        }
        if before.deeds == take.deeds {
            return Ok(false);
        }
        let relabelled = LabelledTake {
            deeds: take.deeds,
            ..before.clone()
        };
        set.relabel(&relabelled)?;
        return Ok(true);
    }
    let recording = read_all(sound, LONGEST_S)?;
    set.add(&take, &recording.samples, recording.rate_hz)?;
    Ok(true)
}
