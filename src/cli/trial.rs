//! `ringtrue trial`: how right the verdicts are, and sets of sounds whose strings are known.

mod add;
mod pack;
mod score;

use std::process::ExitCode;

use super::Console;

/// Score the verdicts on sounds whose strings are known
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(subcommand)]
    what: What,
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
        What::Add(args) => add::run(args, console),
        What::Pack(args) => pack::run(args, console),
        What::Score(args) => score::run(args, console),
    }
}
