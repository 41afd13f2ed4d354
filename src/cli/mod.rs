//! The command line: one file per command; typed arguments become plain settings before anything runs.

mod check;
mod stand_in; // STAND-IN

use std::ffi::OsString;
use std::io::{self, IsTerminal, Write};
use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Nothing to complain of: every judged string is as it should be.
pub const AS_IT_SHOULD_BE: u8 = 0;
/// At least one string is not as it should be.
pub const FAULT: u8 = 1;
/// Could not judge: bad arguments, a file that cannot be read, no take in it.
pub const NOT_JUDGED: u8 = 2;

/// Listens to a guitar strum through one microphone and says, string by string,
/// what happened. Works on this computer alone; no sound leaves it.
#[derive(Debug, Parser)]
#[command(name = "ringtrue", version, verbatim_doc_comment)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Check(check::Args),
}

/// Runs the command line given (the program's name first) and gives the exit status.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    // A second call in one process keeps the first logger.
    let _ = env_logger::Builder::from_env(env_logger::Env::new().filter("RINGTRUE_LOG")).try_init();
    let stdout = io::stdout();
    let wants_colour = stdout.is_terminal()
        && std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty())
        && std::env::var_os("TERM").is_none_or(|v| v != "dumb");
    ExitCode::from(run_to(arguments, &mut stdout.lock(), wants_colour))
}

/// As [`run`], with the report written to `out`, coloured or not; gives the exit status as a number.
/// Complaints still go to standard error.
pub fn run_to(
    arguments: impl IntoIterator<Item = OsString>,
    out: &mut dyn Write,
    colour: bool,
) -> u8 {
    let cli = match Cli::try_parse_from(arguments) {
        Ok(cli) => cli,
        Err(error) => {
            // Help and version come this way too, with status 0.
            let _ = error.print();
            return if error.use_stderr() {
                NOT_JUDGED
            } else {
                AS_IT_SHOULD_BE
            };
        }
    };
    let result = match cli.command {
        Command::Check(args) => check::run(&args, out, colour),
    };
    result.unwrap_or_else(|error| {
        if is_broken_pipe(&error) {
            // Whoever read us has seen enough.
            return AS_IT_SHOULD_BE;
        }
        complain(&format!("{error:#}"));
        NOT_JUDGED
    })
}

/// Says what is wrong on standard error; where even that is closed, nobody is there to tell.
fn complain(sentence: &str) {
    let _ = writeln!(io::stderr(), "ringtrue: {sentence}");
}

fn is_broken_pipe(error: &anyhow::Error) -> bool {
    error
        .downcast_ref::<io::Error>()
        .is_some_and(|e| e.kind() == io::ErrorKind::BrokenPipe)
}
