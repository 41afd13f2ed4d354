//! `ringtrue trial add`: what a player put right becomes part of a labelled set.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, bail};

use crate::audio::read_all;
use crate::cli::{AS_IT_SHOULD_BE, Console, NOT_JUDGED};
use crate::listening::saved::{self, SavedTake};
use crate::practice::diary::{Diary, Entry, Filter, named_or_usual};
use crate::strings::bounds::{self, LONGEST_TEXT};
use crate::trial::put_right::{by_word, is_same};
use crate::trial::set::{LONGEST_S, TABLE};
use crate::trial::{Labelled, Set};
use crate::words;
use crate::words::foreign::{shown, visible};

/// Add to a set what you put right
///
/// Takes of the diary of which you said that a string was right, with their
/// sound: practice keeps it beside the diary, listen --save in a folder. They are
/// marked as your word. Strings that you said nothing of are not counted.
#[derive(Debug, clap::Args)]
#[command(
    verbatim_doc_comment,
    after_help = "\
Exit status:
  0  done
  2  the set or the diary cannot be had, or an argument is wrong"
)]
pub struct Args {
    /// The set: a folder; it is made where it is missing
    #[arg(value_name = "FOLDER")]
    set: PathBuf,
    /// The diary, a file; the usual one if left out
    #[arg(long, value_name = "FILE")]
    diary: Option<PathBuf>,
    /// Folder that listen --save kept takes in; may be given again
    #[arg(long, value_name = "FOLDER")]
    saved: Vec<PathBuf>,
    /// The guitar in words, instead of its name in the diary
    #[arg(long, value_name = "TEXT")]
    guitar_words: Option<String>,
    /// The microphone in words
    #[arg(long, value_name = "TEXT")]
    microphone_words: Option<String>,
    /// What others may do with it, as in "CC0 1.0"
    #[arg(long, value_name = "TEXT")]
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
    for (what, said, cell) in [
        ("--guitar-words", &args.guitar_words, &mut take.guitar),
        (
            "--microphone-words",
            &args.microphone_words,
            &mut take.microphone,
        ),
        ("--licence", &args.licence, &mut take.licence),
    ] {
        if let Some(said) = said {
            bounds::text(what, said, LONGEST_TEXT)?;
            *cell = visible(said.trim()).into_owned();
        }
    }
    if let Some(before) = set.rows().iter().find(|row| row.file == take.file) {
        if before.frets != take.frets {
            bail!(words::labelled::another_take(shown(&set.path(&take))));
        }
        if before.deeds == take.deeds {
            return Ok(false);
        }
        let relabelled = Labelled {
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
