//! The command line: one file per command; typed arguments become plain settings before anything runs.

mod backing;
mod care;
mod check;
mod chord;
mod demo;
mod diary;
mod guitar;
mod hands;
mod licences;
mod listen;
mod picture;
mod play;
mod plot;
mod practice;
mod progress;
mod put_right;
mod report;
mod route;
mod shapes;
mod song;
mod sound;
mod soundcheck;
mod spool;
mod start;
mod stop;
mod takes;
mod trial;

use std::ffi::OsString;
use std::io::{self, IsTerminal, Write};
use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::practice::LessonError;
use crate::report::terminal::{Safe, visible};
use crate::words;
use crate::words::help::program as help;

/// Every judged string is as it should be.
const AS_IT_SHOULD_BE: u8 = 0;
/// At least one string is not as it should be.
const FAULT: u8 = 1;
/// Could not judge: bad arguments, a file that cannot be read, no take in it.
const NOT_JUDGED: u8 = 2;

/// Width of help texts, in characters.
const HELP_WIDTH: usize = 80;

/// Arguments of `ringtrue`.
#[derive(Debug, Parser)]
#[command(name = "ringtrue", version, max_term_width = HELP_WIDTH, about = help::ABOUT)]
struct Cli {
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Debug, Subcommand)]
enum Command {
    Backing(backing::Args),
    Check(check::Args),
    Plot(plot::Args),
    Report(report::Args),
    Listen(listen::Args),
    Play(play::Args),
    Practice(practice::Args),
    Progress(progress::Args),
    PutRight(put_right::Args),
    Route(route::Args),
    Demo(demo::Args),
    Shapes(shapes::Args),
    Soundcheck(soundcheck::Args),
    Trial(trial::Args),
    #[command(about = help::ABOUT_LICENCES)]
    Licences,
}

/// Streams that a command writes to.
pub struct Console<'a> {
    /// The report.
    pub out: &'a mut dyn Write,
    /// Complaints, a line each.
    pub err: &'a mut dyn Write,
    /// True where the report is coloured.
    pub colour: bool,
}

impl Console<'_> {
    /// Says what is wrong; where nobody listens, nobody is there to tell.
    fn complain(&mut self, sentence: &str) {
        let _ = writeln!(self.err, "ringtrue: {}", visible(sentence));
    }
}

/// Runs the command line given (the program's name first) and gives the exit status.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    // Silent unless asked: what matters to a user is said by the report.
    let level = env_logger::Env::new().filter_or("RINGTRUE_LOG", "off");
    env_logger::Builder::from_env(level).init();
    let stdout = io::stdout();
    let colour = stdout.is_terminal()
        && std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty())
        && std::env::var_os("TERM").is_none_or(|v| v != "dumb");
    run_on(
        Console {
            out: &mut stdout.lock(),
            err: &mut io::stderr(),
            colour,
        },
        arguments,
    )
}

/// Does [`run`] on a console of the caller's. Text for it is safe to show, whatever names, files and
/// arguments hold.
pub fn run_on(console: Console, arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let mut console = Console {
        out: &mut Safe::new(console.out, console.colour),
        err: &mut Safe::new(console.err, false),
        ..console
    };
    let status = run_safely(&mut console, arguments.into_iter().collect());
    // Of what cannot be written everything before has complained.
    let _ = console.out.flush().and_then(|()| console.err.flush());
    status
}

fn run_safely(console: &mut Console, arguments: Vec<OsString>) -> ExitCode {
    let cli = match Cli::try_parse_from(&arguments) {
        Ok(cli) => cli,
        Err(usage) if usage.use_stderr() => {
            // The words that are wrong are quoted among lines of help: they are made safe first.
            let safe = arguments
                .iter()
                .map(|a| visible(&a.to_string_lossy()).into_owned());
            let usage = Cli::try_parse_from(safe).err().unwrap_or(usage);
            let _ = write!(console.err, "{}", usage.render());
            return NOT_JUDGED.into();
        }
        Err(help) => {
            let _ = write!(console.out, "{}", help.render());
            return AS_IT_SHOULD_BE.into();
        }
    };
    let Some(command) = cli.command else {
        return match start::run(console) {
            Ok(Ok(status)) => status,
            Ok(Err(arguments)) => run_safely(console, arguments),
            Err(error) => failed(console, &error),
        };
    };
    let result = match command {
        Command::Check(args) => check::run(&args, console),
        Command::Plot(args) => plot::run(&args, console),
        Command::Report(args) => report::run(&args, console),
        Command::Backing(args) => backing::run(&args, console),
        Command::Route(args) => route::run(&args, console),
        Command::Play(args) => play::run(&args, console),
        Command::Listen(args) => listen::run(&args, console),
        Command::Practice(args) => practice::run(&args, console),
        Command::Progress(args) => progress::run(&args, console),
        Command::PutRight(args) => put_right::run(&args, console),
        Command::Soundcheck(args) => soundcheck::run(&args, console),
        Command::Trial(args) => trial::run(&args, console),
        Command::Demo(args) => demo::run(&args, console),
        Command::Shapes(args) => shapes::run(&args, &mut console.out),
        Command::Licences => licences::run(&mut console.out),
    };
    result.unwrap_or_else(|error| failed(console, &error))
}

/// Says why a command failed, and gives its exit status.
fn failed(console: &mut Console, error: &anyhow::Error) -> ExitCode {
    if is_broken_pipe(error) {
        // Whoever read us has seen enough.
        return AS_IT_SHOULD_BE.into();
    }
    // With words of its own around it, it is not the output that failed.
    let bare = error.chain().nth(1).is_none();
    if let Some(error) = error.downcast_ref::<io::Error>().filter(|_| bare) {
        console.complain(&words::commands::output_fails(error));
    } else if let Some(lesson) = error.downcast_ref::<LessonError>() {
        lesson
            .sentences()
            .iter()
            .for_each(|one| console.complain(one));
    } else {
        console.complain(&format!("{error:#}"));
    }
    NOT_JUDGED.into()
}

/// Reads a number of an option.
fn decimal(text: &str) -> Result<f64, String> {
    let number = text.trim().replace(',', ".").parse().ok();
    number
        .filter(|number: &f64| number.is_finite())
        .ok_or_else(|| words::commands::NUMBER_EXPECTED.to_owned())
}

fn is_broken_pipe(error: &anyhow::Error) -> bool {
    let of_json = error
        .downcast_ref()
        .and_then(serde_json::Error::io_error_kind);
    let kind = error.downcast_ref().map(io::Error::kind).or(of_json);
    kind == Some(io::ErrorKind::BrokenPipe)
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn what_stands_under_the_options_keeps_its_lines() {
        for command in Cli::command().get_subcommands() {
            let after = command.get_after_help().map(ToString::to_string);
            for line in after.unwrap_or_default().lines() {
                let name = command.get_name();
                assert!(line.chars().count() <= HELP_WIDTH, "{name}: {line}");
            }
        }
    }
}
