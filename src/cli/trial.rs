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

/// Find out how right the verdicts are on your guitar
///
/// Leads through some thirty strums: each is announced, to be played clean or with
/// one fault on purpose. At the end it says how many were told rightly. The strums
/// and what you did are kept as a labelled set. Strike twice, or press x, and a
/// strum is thrown away. Broken off, the same command goes on.
#[derive(Debug, clap::Args)]
#[command(
    verbatim_doc_comment,
    args_conflicts_with_subcommands = true,
    after_help = "\
Exit status:
  0  the trial, or this part of it, has ended
  2  it could not begin: an argument is wrong, there is no microphone; or a strum
     could not be kept; or there was none"
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

/// Does what was asked.
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
