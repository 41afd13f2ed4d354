//! `ringtrue put-right`: says how a take in the diary really was.

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::bail;
use jiff::tz::TimeZone;

use super::{AS_IT_SHOULD_BE, Console};
use crate::practice::diary::{self, Correction, Diary, Entry};
use crate::words;
use crate::words::help::put_right as help;

/// Takes that are listed.
const LISTED: usize = 10;
/// Farthest back that a take may lie.
const FARTHEST: usize = 1000;

/// Arguments of `ringtrue put-right`.
#[derive(Debug, clap::Args)]
#[command(about = help::ABOUT, long_about = help::LONG_ABOUT, after_help = help::AFTER)]
pub struct Args {
    #[arg(long, value_name = "FILE", help = help::DIARY)]
    diary: Option<PathBuf>,
    #[arg(
        long,
        value_name = "NUMBER",
        default_value_t = 1,
        value_parser = clap::value_parser!(u32).range(1..=FARTHEST as i64),
        help = help::TAKE,
    )]
    take: u32,
    #[arg(
        long,
        value_name = "NUMBER",
        group = "what",
        value_parser = clap::value_parser!(u8).range(1..=6),
        help = help::STRING,
    )]
    string: Vec<u8>,
    #[arg(long, group = "what", help = help::ANOTHER_CHORD)]
    another_chord: bool,
    #[arg(long, group = "what", help = help::FORGET)]
    forget: bool,
    #[arg(long, group = "what", help = help::AS_HEARD)]
    as_heard: bool,
}

/// Lists the last takes, or puts one right.
///
/// # Errors
/// A diary that cannot be had, a take that is not there, as a sentence; output that cannot be written, as an
/// [`std::io::Error`].
pub fn run(args: &Args, console: &mut Console) -> anyhow::Result<ExitCode> {
    let diary = Diary::open_existing(&diary::named_or_usual(args.diary.as_deref())?)?;
    let said = match args {
        Args { string, .. } if !string.is_empty() => Some(Correction::Right(string.clone())),
        Args {
            another_chord: true,
            ..
        } => Some(Correction::AnotherChord),
        Args { forget: true, .. } => Some(Correction::Forget),
        Args { as_heard: true, .. } => None,
        _ => {
            for (i, (_, entry)) in diary.latest(LISTED)?.iter().enumerate() {
                writeln!(console.out, "{:>2}  {}", i + 1, line(entry))?;
            }
            return Ok(AS_IT_SHOULD_BE.into());
        }
    };
    let takes = diary.latest(args.take as usize)?;
    let Some((number, entry)) = takes.get(args.take as usize - 1) else {
        bail!(words::diary::not_among_them(takes.len(), args.take));
    };
    let said = said.map(|said| said.after(entry.said.as_ref()));
    diary.put_right(*number, said.as_ref())?;
    let entry = Entry {
        said,
        ..entry.clone()
    };
    writeln!(console.out, "{}", line(&entry))?;
    Ok(AS_IT_SHOULD_BE.into())
}

/// "2026-11-25 18:02:03  F (133211)  string 2 muted; you: string 2 was right".
fn line(entry: &Entry) -> String {
    let when = TimeZone::system().to_datetime(entry.at);
    let chord = match &entry.chord {
        Some(chord) => format!("{chord} ({})", entry.frets),
        None => entry.frets.to_string(),
    };
    let faults: Vec<String> = (entry.strings.iter())
        .filter(|s| s.verdict.is_fault())
        .map(|s| words::diary::string_was(s.string, s.verdict.word()))
        .collect();
    let heard = match (faults.is_empty(), entry.clean) {
        (false, _) => faults.join(", "),
        (true, Some(_)) => words::take::WORD_CLEAN.to_owned(),
        (true, None) => words::commands::NOT_JUDGED.to_owned(),
    };
    let said = match &entry.said {
        Some(said) => words::diary::you_said(said.words()),
        None => String::new(),
    };
    format!("{}  {chord}  {heard}{said}", when.strftime("%F %T"))
}
