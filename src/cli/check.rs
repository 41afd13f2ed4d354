//! `ringtrue check`: judges the takes of recordings against a chord.

use std::io;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::care;
use super::chord::ChordArgs;
use super::guitar::GuitarArgs;
use super::{AS_IT_SHOULD_BE, Console, FAULT, NOT_JUDGED};
use crate::fretboard::Tuning;
use crate::listening::Judge;
use crate::report::json::Json;
use crate::report::text::{Look, Text};
use crate::report::{Form, RecordingOutcome, TakeTally};
use crate::strings::Learnt;
use crate::verdict::{Expected, JudgedTake};
use crate::words;
use crate::words::help::check as help;

/// Recordings from this length on get a progress bar, in seconds.
const LONG_S: f64 = 120.0;
/// So many recordings or more get a progress bar.
const MANY_FILES: usize = 10;

/// Arguments of `ringtrue check`.
#[derive(Debug, clap::Args)]
#[command(
    about = help::ABOUT,
    long_about = help::LONG_ABOUT,
    override_usage = "ringtrue check FILE... --frets FRETS [OPTIONS]
       ringtrue check FILE... --chord NAME [--shape SHAPE] [--at FRET] [OPTIONS]
       ringtrue check FILE... [OPTIONS]",
    after_help = help::AFTER
)]
pub struct Args {
    #[arg(required = true, value_name = "FILE", help = help::FILES)]
    files: Vec<PathBuf>,
    #[command(flatten)]
    chord: ChordArgs,
    #[command(flatten)]
    guitar: GuitarArgs,
    #[arg(long, help = help::LEFT)]
    left: bool,
    #[arg(long, help = help::JSON)]
    json: bool,
}

/// What to judge and how to show it.
struct Settings {
    files: Vec<PathBuf>,
    expected: Expected,
    tuning: Tuning,
    learnt: Learnt,
    left: bool,
    json: bool,
}

/// Judges all files, writes the report to the console and gives the exit status.
///
/// # Errors
/// Arguments that make no sense, as a sentence; a report that cannot be written, as an
/// [`io::Error`].
pub fn run(args: &Args, console: &mut Console) -> anyhow::Result<ExitCode> {
    let settings = settings(args)?;
    let mut form: Box<dyn Form> = if settings.json {
        Box::new(Json::default())
    } else {
        let look = Look {
            colour: console.colour,
            left: settings.left,
        };
        let text = Text::new(look, settings.tuning, settings.files.len());
        Box::new(text.with_care_where(care::is_due))
    };
    let bar = match settings.files.len() {
        few if few < MANY_FILES => ProgressBar::hidden(),
        many => progress(many as u64, words::commands::RECORDINGS),
    };
    let mut of_all = Judge::of_guitar(settings.tuning, settings.learnt);
    let mut worst = RecordingOutcome::AsItShouldBe;
    for file in &settings.files {
        let mut tally = TakeTally::default();
        form.begin(file);
        let problem = judge(file, &settings.expected, &mut of_all, &bar, &mut |take| {
            tally.add(&take);
            form.take(console.out, take)
        })?;
        bar.suspend(|| {
            form.end(console.out, problem.as_deref())?;
            if let (Some(problem), false) = (&problem, settings.json) {
                console.complain(problem);
            }
            io::Result::Ok(())
        })?;
        bar.inc(1);
        worst = worst.max(match problem {
            Some(_) => RecordingOutcome::NotJudged,
            None => tally.outcome(),
        });
    }
    bar.finish_and_clear();
    form.summary(console.out)?;
    let status = match worst {
        RecordingOutcome::AsItShouldBe => AS_IT_SHOULD_BE,
        RecordingOutcome::Fault => FAULT,
        RecordingOutcome::NotJudged => NOT_JUDGED,
    };
    Ok(status.into())
}

/// Judges one file and hands over each take as soon as it is judged. A long file has a progress bar of
/// its own where `files`, the one over all files, is hidden. Gives the sentence that says why the file
/// could not be judged, or not to its end.
fn judge(
    file: &Path,
    expected: &Expected,
    judge: &mut Judge,
    files: &ProgressBar,
    each: &mut dyn FnMut(JudgedTake) -> io::Result<()>,
) -> io::Result<Option<String>> {
    let mut takes = match judge.recording(file, expected) {
        Ok(takes) => takes,
        Err(error) => return Ok(Some(error.to_string())),
    };
    let own = match takes.duration_s() {
        Some(duration_s) if duration_s >= LONG_S && files.is_hidden() => {
            progress(duration_s as u64, "s")
        }
        _ => ProgressBar::hidden(),
    };
    let visible = if own.is_hidden() { files } else { &own };
    while let Some(judged) = takes.next() {
        own.set_position(takes.position_s() as u64);
        visible.suspend(|| each(judged.take))?;
    }
    own.finish_and_clear();
    Ok(takes.problem())
}

/// A bar on standard error; hidden where that is no terminal.
fn progress(length: u64, unit: &str) -> ProgressBar {
    let style = ProgressStyle::with_template(&words::commands::progress_bar(unit))
        .expect("a fixed template")
        .progress_chars("━━ ");
    ProgressBar::with_draw_target(Some(length), ProgressDrawTarget::stderr()).with_style(style)
}

/// The typed arguments as plain settings.
fn settings(args: &Args) -> anyhow::Result<Settings> {
    let guitar = args.guitar.guitar()?;
    let tuning = args.chord.tuning(&guitar)?;
    let expected = args.chord.expected(&tuning)?;
    Ok(Settings {
        files: args.files.clone(),
        expected,
        tuning,
        learnt: guitar.learnt(),
        left: guitar.is_left(args.left),
        json: args.json,
    })
}
