//! `ringtrue trial pack`: a labelled set as one file to send.

use std::io::{self, IsTerminal};
use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::bail;

use super::put_words;
use crate::cli::{AS_IT_SHOULD_BE, Console, NOT_JUDGED};
use crate::disk;
use crate::trial::pack::{pack, words_of};
use crate::trial::set::TABLE;
use crate::trial::{LabelledTake, Set};
use crate::words;
use crate::words::foreign::shown;
use crate::words::help::trial_pack as help;

/// Arguments of `ringtrue trial pack`.
#[derive(Debug, clap::Args)]
#[command(
    about = help::ABOUT,
    long_about = help::LONG_ABOUT,
    after_help = help::AFTER
)]
pub struct Args {
    #[arg(value_name = "FOLDER", help = help::SET)]
    set: PathBuf,
    #[arg(long, value_name = "FILE", help = help::OUT)]
    out: PathBuf,
    #[arg(long, value_name = "TEXT", help = help::GUITAR_WORDS)]
    guitar_words: Option<String>,
    #[arg(long, value_name = "TEXT", help = help::MICROPHONE_WORDS)]
    microphone_words: Option<String>,
    #[arg(long, value_name = "TEXT", help = help::LICENCE)]
    licence: Option<String>,
    #[arg(long, help = help::YES)]
    yes: bool,
}

/// Shows the words, asks, and writes the file.
///
/// # Errors
/// Arguments that make no sense, a file that cannot be written, as a sentence; output that cannot be written, as an
/// [`io::Error`].
pub fn run(args: &Args, console: &mut Console) -> anyhow::Result<ExitCode> {
    let set = match Set::open(&args.set) {
        Ok(set) => set,
        Err(refusals) => {
            for refusal in refusals {
                console.complain(&refusal.to_string());
            }
            return Ok(NOT_JUDGED.into());
        }
    };
    let rows = rows(args, &set)?;
    let sounds = rows.iter().map(|row| set.path(row));
    disk::keep_apart(&args.out, sounds.chain([args.set.join(TABLE)]))?;
    writeln!(console.out, "{}", words::labelled::GOES_ALONG)?;
    for about in words_of(&rows) {
        for (what, said) in [
            (words::labelled::GUITAR, &about.guitar),
            (words::labelled::MICROPHONE, &about.microphone),
            (words::labelled::LICENCE, &about.licence),
        ] {
            let said = match said.as_str() {
                "" => words::labelled::NO_WORDS,
                said => said,
            };
            writeln!(console.out, "  {what}: {said}")?;
        }
    }
    writeln!(console.out, "{}", words::labelled::NOT_ALONG)?;
    if !args.yes {
        writeln!(console.out, "{}", words::labelled::OTHER_WORDS)?;
        if !io::stdin().is_terminal() {
            bail!(words::labelled::ADD_YES);
        }
        write!(
            console.out,
            "{}",
            words::labelled::write_now(shown(&args.out))
        )?;
        console.out.flush()?;
        let mut answer = String::new();
        io::stdin().read_line(&mut answer)?;
        if answer.trim() != "yes" {
            writeln!(console.out, "{}", words::labelled::NOTHING_WRITTEN)?;
            return Ok(AS_IT_SHOULD_BE.into());
        }
    }
    let bytes = pack(&set, &rows, &args.out)?;
    let megabytes = bytes as f64 / 1e6;
    let said = words::labelled::packed(shown(&args.out), rows.len(), megabytes);
    writeln!(console.out, "{said}")?;
    Ok(AS_IT_SHOULD_BE.into())
}

/// The set's takes, with other words where options have some.
fn rows(args: &Args, set: &Set) -> anyhow::Result<Vec<LabelledTake>> {
    if set.rows().is_empty() {
        bail!(words::labelled::nothing_to_pack(shown(&args.set)));
    }
    let mut rows = set.rows().to_vec();
    for row in &mut rows {
        put_words(
            row,
            [&args.guitar_words, &args.microphone_words, &args.licence],
        )?;
    }
    let without = rows.iter().filter(|row| row.licence.is_empty()).count();
    if without > 0 {
        bail!(words::labelled::no_licence(without));
    }
    Ok(rows)
}
