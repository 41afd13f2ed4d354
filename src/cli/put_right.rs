//! `ringtrue put-right`: says how a take in the diary really was.

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::bail;
use jiff::tz::TimeZone;

use super::{AS_IT_SHOULD_BE, Console};
use crate::practice::diary::{self, Diary, Entry, Said};
use crate::words;

/// Takes that are listed.
const LISTED: usize = 10;
/// Farthest back that a take may lie.
const FARTHEST: usize = 1000;

/// Say how a take in the diary really was
///
/// The diary keeps what was heard and what you say; progress and the report count
/// what you say. Without an option it lists the last takes, 1 the last one.
#[derive(Debug, clap::Args)]
#[command(
    verbatim_doc_comment,
    after_help = "\
Exit status:
  0  done
  2  the diary cannot be had, there is no such take, or an argument is wrong"
)]
pub struct Args {
    /// The diary, a file; the usual one if left out
    #[arg(long, value_name = "FILE")]
    diary: Option<PathBuf>,
    /// Which take, counted back: 1 is the last one
    #[arg(long, value_name = "NUMBER", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=FARTHEST as i64))]
    take: u32,
    /// This string (6 to 1) did what it should; may be given again
    #[arg(long, value_name = "NUMBER", group = "what", value_parser = clap::value_parser!(u8).range(1..=6))]
    string: Vec<u8>,
    /// Another chord was played
    #[arg(long, group = "what")]
    another_chord: bool,
    /// The take is not to count
    #[arg(long, group = "what")]
    forget: bool,
    /// It was as it was heard, after all
    #[arg(long, group = "what")]
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
        Args { string, .. } if !string.is_empty() => Some(Said::Right(string.clone())),
        Args {
            another_chord: true,
            ..
        } => Some(Said::AnotherChord),
        Args { forget: true, .. } => Some(Said::Forget),
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
        .map(|s| format!("string {} {}", s.string, s.verdict.word()))
        .collect();
    let heard = match (faults.is_empty(), entry.clean) {
        (false, _) => faults.join(", "),
        (true, Some(_)) => "clean".to_owned(),
        (true, None) => words::commands::NOT_JUDGED.to_owned(),
    };
    let said = match &entry.said {
        Some(said) => format!("; you: {}", said.words()),
        None => String::new(),
    };
    format!("{}  {chord}  {heard}{said}", when.strftime("%F %T"))
}
