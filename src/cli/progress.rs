//! `ringtrue progress`: what the diary tells, and how to take it out, in or away.

use std::io::{self, IsTerminal};
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

use anyhow::{anyhow, bail};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::{AS_IT_SHOULD_BE, Console, picture};
use crate::disk;
use crate::practice::diary::{self, Diary, Filter, exchange};
use crate::practice::progress::{Next, ProgressGatherer};
use crate::report::{csv, progress as screen, progress_picture};
use crate::words;
use crate::words::help::progress as help;

/// Arguments of `ringtrue progress`.
#[derive(Debug, clap::Args)]
#[command(about = help::ABOUT, long_about = help::LONG_ABOUT, after_help = help::AFTER)]
pub struct Args {
    #[arg(long, value_name = "FILE", help = help::DIARY)]
    diary: Option<PathBuf>,
    #[arg(long, value_name = "NUMBER", conflicts_with = "since", help = help::DAYS)]
    days: Option<u32>,
    #[arg(long, value_name = "DATE", help = help::SINCE)]
    since: Option<String>,
    #[arg(long, value_name = "DATE", help = help::BEFORE)]
    before: Option<String>,
    #[arg(long, value_name = "NAME", help = help::CHORD)]
    chord: Option<String>,
    #[arg(long, value_name = "NAME", help = help::GUITAR)]
    guitar: Option<String>,
    #[arg(long, conflicts_with = "json", help = help::CSV)]
    csv: bool,
    #[arg(long, help = help::JSON)]
    json: bool,
    #[arg(
        long,
        value_name = "FILE",
        conflicts_with_all = ["csv", "json", "import", "forget"],
        help = help::PICTURE,
    )]
    picture: Option<PathBuf>,
    #[arg(
        long,
        value_name = "FILE",
        num_args = 1..,
        conflicts_with_all = ["csv", "json", "forget", "days", "since", "before", "chord", "guitar"],
        help = help::IMPORT,
    )]
    import: Vec<PathBuf>,
    #[arg(long, conflicts_with_all = ["csv", "json"], help = help::FORGET)]
    forget: bool,
    #[arg(long, requires = "forget", help = help::YES)]
    yes: bool,
}

/// Shows, exports, imports or forgets.
///
/// # Errors
/// Arguments that make no sense, a diary that cannot be had, as a sentence; output that cannot be
/// written, as an [`io::Error`].
pub fn run(args: &Args, console: &mut Console) -> anyhow::Result<ExitCode> {
    let zone = TimeZone::try_system().unwrap_or(TimeZone::UTC);
    let now = Timestamp::now();
    let filter = filter(args, now, &zone)?;
    if !args.import.is_empty() {
        return import(args, console);
    }
    let picture = (args.picture.as_deref())
        .map(|file| anyhow::Ok((picture::PictureFormat::of("--picture", file)?, file)))
        .transpose()?;
    let path = diary::named_or_usual(args.diary.as_deref())?;
    if let Some((_, file)) = picture {
        disk::keep_apart(file, diary::files_of(&path))?;
    }
    let mut diary = Diary::open_existing(&path)?;
    if args.forget {
        return forget(args, &filter, &mut diary, console);
    }
    if let Some(problem) = super::diary::misdated(&diary, &filter)? {
        console.complain(&problem);
    }
    match (args.csv, args.json) {
        (true, _) => {
            let mut table = csv::takes(&mut *console.out)?;
            diary.each_entry(&filter, |entry| anyhow::Ok(table.row(csv::take(&entry))?))?;
            table.end()?;
        }
        (_, true) => diary.each_entry(&filter, |entry| {
            anyhow::Ok(exchange::write_json(console.out, &entry)?)
        })?,
        (false, false) => {
            let mut gatherer = ProgressGatherer::new(now, zone);
            diary.scan(&filter, |row| gatherer.add(row))?;
            let report = gatherer.report();
            // Whoever reads the text may stop before its end.
            if let Some((form, file)) = picture {
                form.write(&progress_picture::draw(&report, PICTURE_WIDTH), file)?;
            }
            if report.takes == 0 {
                writeln!(console.out, "{}", nothing(&filter))?;
            } else {
                screen::write(console.out, &report)?;
                if let Some(frets) = report.next.first().and_then(Next::frets) {
                    let diary = args.diary.as_deref().map_or(String::new(), |path| {
                        format!(" {:?}", path.display().to_string())
                    });
                    let command = words::progress::to_begin_with(frets, &diary);
                    writeln!(console.out, "\n{command}")?;
                }
            }
        }
    }
    Ok(AS_IT_SHOULD_BE.into())
}

/// Width of the picture, in pixels: what a page shows beside its text.
const PICTURE_WIDTH: u32 = 1000;

fn nothing(filter: &Filter) -> &'static str {
    match filter.is_all() {
        true => words::diary::NO_TAKE_YET,
        false => words::diary::NO_SUCH_TAKE,
    }
}

fn import(args: &Args, console: &mut Console) -> anyhow::Result<ExitCode> {
    // Where anything is wrong no diary is made either.
    for file in &args.import {
        exchange::read(file, &mut |_| Ok(()))?;
    }
    let mut diary = diary::open(args.diary.as_deref())?;
    let (came, new) = diary.take_in(|keep| {
        args.import
            .iter()
            .try_for_each(|file| exchange::read(file, keep))
    })?;
    let before = came - new;
    writeln!(console.out, "{}", words::diary::taken_in(new, before))?;
    Ok(AS_IT_SHOULD_BE.into())
}

fn forget(
    args: &Args,
    filter: &Filter,
    diary: &mut Diary,
    console: &mut Console,
) -> anyhow::Result<ExitCode> {
    let count = diary.count(filter)?;
    if count == 0 {
        writeln!(console.out, "{}", nothing(filter))?;
        return Ok(AS_IT_SHOULD_BE.into());
    }
    let takes = words::grammar::takes(count as usize);
    if !args.yes {
        if !io::stdin().is_terminal() {
            bail!(words::diary::would_remove(takes));
        }
        write!(console.out, "{}", words::diary::remove_now(takes))?;
        console.out.flush()?;
        let mut answer = String::new();
        io::stdin().read_line(&mut answer)?;
        if answer.trim() != words::diary::YES {
            writeln!(console.out, "{}", words::diary::NOTHING_REMOVED)?;
            return Ok(AS_IT_SHOULD_BE.into());
        }
    }
    let gone = diary.forget(filter)?;
    let gone = words::grammar::takes(gone as usize);
    writeln!(console.out, "{}", words::diary::removed(gone))?;
    Ok(AS_IT_SHOULD_BE.into())
}

fn filter(args: &Args, now: Timestamp, zone: &TimeZone) -> anyhow::Result<Filter> {
    let day = |option: &str, text: &str| -> anyhow::Result<Timestamp> {
        let date: Date = text
            .parse()
            .map_err(|_| anyhow!(words::diary::day_expected(option, text)))?;
        Ok(date.to_zoned_datetime(zone.clone())?.timestamp())
    };
    let since = match (&args.since, args.days) {
        (Some(text), _) => Some(day("--since", text)?),
        (None, Some(days)) => {
            let ago = Duration::from_secs(u64::from(days) * 24 * 60 * 60);
            let since = now.checked_sub(ago);
            Some(since.map_err(|_| anyhow!(words::diary::too_long_ago(days)))?)
        }
        (None, None) => None,
    };
    Ok(Filter {
        since,
        before: args
            .before
            .as_deref()
            .map(|text| day("--before", text))
            .transpose()?,
        chord: args.chord.clone(),
        guitar: args.guitar.clone(),
    })
}
