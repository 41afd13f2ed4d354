//! `ringtrue trial`: how right the verdicts are, and sets of sounds whose strings are known.

mod add;
mod choice;
mod faces;
mod keep;
mod lead;
mod pack;
mod score;

use std::process::ExitCode;

pub use self::keep::result_of;
use super::Console;
use crate::strings::bounds::{self, LONGEST_TEXT};
use crate::trial::LabelledTake;
use crate::words::foreign::visible;
use crate::words::help::trial as help;

/// Arguments of `ringtrue trial`.
#[derive(Debug, clap::Args)]
#[command(
    about = help::ABOUT,
    long_about = help::LONG_ABOUT,
    args_conflicts_with_subcommands = true,
    after_help = help::AFTER
)]
pub struct Args {
    #[command(subcommand)]
    what: Option<What>,
    #[command(flatten)]
    trial: lead::Leading,
}

#[derive(Debug, clap::Subcommand)]
enum What {
    Add(add::Args),
    Pack(pack::Args),
    Score(score::Args),
}

/// Runs the command.
///
/// # Errors
/// As the command that was asked for.
pub fn run(args: &Args, console: &mut Console) -> anyhow::Result<ExitCode> {
    match &args.what {
        None => lead::run(&args.trial, console),
        Some(What::Add(args)) => add::run(args, console),
        Some(What::Pack(args)) => pack::run(args, console),
        Some(What::Score(args)) => score::run(args, console),
    }
}

/// Puts what the options say in place of a take's words about guitar and microphone, and of its licence.
fn put_words(
    take: &mut LabelledTake,
    [guitar, microphone, licence]: [&Option<String>; 3],
) -> anyhow::Result<()> {
    for (what, said, cell) in [
        ("--guitar-words", guitar, &mut take.guitar),
        ("--microphone-words", microphone, &mut take.microphone),
        ("--licence", licence, &mut take.licence),
    ] {
        if let Some(said) = said {
            bounds::text(what, said, LONGEST_TEXT)?;
            *cell = visible(said.trim()).into_owned();
        }
    }
    Ok(())
}
