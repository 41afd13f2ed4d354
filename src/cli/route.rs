//! `ringtrue route`: the way over the neck on which the hand works least.

use std::process::ExitCode;

use anyhow::Result;

use super::Console;
use super::guitar::GuitarArgs;
use super::song::{HandLimits, ProgressionArgs};
use crate::progression::route;
use crate::report::route::{json, text};
use crate::words::help::route as help;

/// Arguments of `ringtrue route`.
#[derive(Debug, Clone, clap::Args)]
#[command(about = help::ABOUT, long_about = help::LONG_ABOUT, after_help = help::AFTER)]
pub struct Args {
    #[command(flatten)]
    song: ProgressionArgs,
    #[arg(long = "loop", help = help::CLOSED)]
    closed: bool,
    #[command(flatten)]
    hand: HandLimits,
    #[command(flatten)]
    guitar: GuitarArgs,
    #[arg(long, help = help::LEFT)]
    left: bool,
    #[arg(long, help = help::JSON)]
    json: bool,
}

/// Runs the command.
///
/// # Errors
/// A progression that cannot be read or played within the limits, as a sentence; output that fails.
pub fn run(args: &Args, console: &mut Console) -> Result<ExitCode> {
    let song = args.song.read()?;
    let guitar = args.guitar.guitar()?;
    let tuning = args.hand.tuning(&song, guitar.tuning())?;
    let chords = song.chords();
    let weights = args.hand.weights()?;
    let found = route(&chords, &args.hand.limits(), &weights, args.closed, &tuning)?;
    if args.json {
        json(&found, console.out)?;
    } else {
        text(&found, args.left, &tuning, console.out)?;
    }
    Ok(ExitCode::SUCCESS)
}
