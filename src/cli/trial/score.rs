//! `ringtrue trial score`: verdicts against labelled sets.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::Context;
use tempfile::TempDir;

use crate::cli::guitar::{GuitarArgs, TuningArgs};
use crate::cli::{AS_IT_SHOULD_BE, Console, NOT_JUDGED};
use crate::fretboard::Tuning;
use crate::report::score::{Scored, Wrong, json, list, text};
use crate::strings::Networks;
use crate::trial::{KnownBy, Score, Set, hear, pack};
use crate::words;
use crate::words::foreign::shown;
use crate::words::help::trial_score as help;

/// Arguments of `ringtrue trial score`.
#[derive(Debug, clap::Args)]
#[command(
    about = help::ABOUT,
    long_about = help::LONG_ABOUT,
    after_help = help::AFTER
)]
pub struct Args {
    #[arg(required = true, value_name = "FOLDER", help = help::SETS)]
    sets: Vec<PathBuf>,
    #[command(flatten)]
    guitar: GuitarArgs,
    #[command(flatten)]
    tuning: TuningArgs,
    #[arg(long, help = help::WRONG)]
    wrong: bool,
    #[arg(long, help = help::JSON)]
    json: bool,
}

/// Scores all sets and writes one table of each kind of sound.
///
/// # Errors
/// Arguments that make no sense, as a sentence; output that cannot be written, as an [`std::io::Error`].
pub fn run(args: &Args, console: &mut Console) -> anyhow::Result<ExitCode> {
    let guitar = args.guitar.guitar()?;
    let tuning = args.tuning.tuning(guitar.tuning())?;
    let networks = Networks::built_in().with(guitar.learnt());
    let (mut scored, mut wrong) = (Vec::new(), Vec::new());
    let mut status = AS_IT_SHOULD_BE;
    for path in &args.sets {
        // Kept until its set is scored.
        let unpacked = (path.is_file().then(tempfile::tempdir).transpose())
            .context(words::labelled::NO_ROOM_TO_UNPACK)?;
        let folder = unpacked.as_ref().map_or(path.as_path(), TempDir::path);
        if unpacked.is_some()
            && let Err(error) = pack::unpack(path, folder)
        {
            status = NOT_JUDGED;
            console.complain(&error.to_string());
            continue;
        }
        match Set::open(folder) {
            Ok(set) => {
                if let [first, ..] = set.left_over() {
                    let count = set.left_over().len();
                    let said = words::labelled::left_over(shown(folder), count, first);
                    console.complain(&said);
                }
                let named = name_of(path);
                scored.extend(score(&set, &named, &tuning, &networks, &mut wrong)?);
            }
            Err(refusals) => {
                status = NOT_JUDGED;
                for refusal in refusals {
                    // Nobody knows the folder that a packed set is unpacked into.
                    let said = refusal.to_string().replace(&shown(folder), &shown(path));
                    console.complain(&said);
                }
            }
        }
    }
    if !scored.is_empty() {
        match args.json {
            true => json(console.out, &scored, args.wrong.then_some(&wrong))?,
            false => text(console.out, &scored)?,
        }
        if args.wrong && !args.json {
            list(console.out, &wrong)?;
        }
    }
    Ok(status.into())
}

/// Scores a set by its name, each kind of knowledge by itself; takes that are not right go into `wrong`.
fn score(
    set: &Set,
    name: &str,
    tuning: &Tuning,
    networks: &Networks,
    wrong: &mut Vec<Wrong>,
) -> anyhow::Result<Vec<Scored>> {
    for take in set.rows() {
        let of_set = || shown(&set.path(take));
        tuning.reaches(&take.frets).with_context(of_set)?;
    }
    let heard = hear(set, tuning, networks, |analyser, strum, expected| {
        expected.judge(analyser, strum, &[])
    })?;
    let mut by: BTreeMap<KnownBy, Scored> = BTreeMap::new();
    for (take, heard) in heard {
        let scored = by.entry(take.known_by).or_insert_with(|| Scored {
            set: name.to_owned(),
            known_by: take.known_by,
            score: Score::default(),
            further: 0,
        });
        scored.score.add(&take.deeds, heard.said.as_ref());
        scored.further += u32::from(heard.further > 0);
        wrong.extend(Wrong::of(name, take, heard.said.as_ref()));
    }
    Ok(by.into_values().collect())
}

/// The last part of a set's path, which may be `.`.
fn name_of(folder: &Path) -> String {
    let name = folder.file_name().map(Path::new);
    shown(name.unwrap_or(folder))
}
