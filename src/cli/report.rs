//! `ringtrue report`: what many takes come to, as a page for the teacher.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::bail;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use rayon::prelude::*;

use super::chord::ChordArgs;
use super::guitar::GuitarArgs;
use super::picture::check_ending;
use super::takes::{Tables, of_name};
use super::trial::result_of;
use super::{AS_IT_SHOULD_BE, Console, NOT_JUDGED};
use crate::disk;
use crate::fretboard::{Frets, Tuning};
use crate::listening::saved::{self, Saved};
use crate::listening::{FoundTakes, Judge};
use crate::practice::diary::{self, Diary, Filter};
use crate::report::csv;
use crate::report::json::json_line;
use crate::report::page::{
    self, Exhibit, Head, Last, LeftOut, PlayedTake, Summary, SummaryGatherer, TypedNote,
};
use crate::strings::Learnt;
use crate::verdict::Expected;
use crate::words;
use crate::words::help::report as help;

/// A page is no longer than this, in bytes: 30 chords are about 14 MB.
const LONGEST_PAGE: u64 = 100_000_000;
/// Endings of files that may hold sound, where a folder is named.
const SOUND: [&str; 11] = [
    "wav", "flac", "mp3", "m4a", "ogg", "oga", "opus", "webm", "aac", "mp4", "mov",
];

/// Arguments of `ringtrue report`.
#[derive(Debug, clap::Args)]
#[command(about = help::ABOUT, long_about = help::LONG_ABOUT, after_help = help::AFTER)]
pub struct Args {
    #[arg(required_unless_present = "diary", value_name = "FILE|FOLDER", help = help::PATHS)]
    paths: Vec<PathBuf>,
    #[arg(long, value_name = "FILE", conflicts_with = "paths", help = help::DIARY)]
    diary: Option<PathBuf>,
    #[arg(long, value_name = "DATE", requires = "diary", help = help::SINCE)]
    since: Option<Date>,
    #[arg(long, value_name = "DATE", requires = "diary", help = help::BEFORE)]
    before: Option<Date>,
    #[command(flatten)]
    chord: ChordArgs,
    #[command(flatten)]
    guitar: GuitarArgs,
    #[arg(long, value_name = "FILE", help = help::OUT)]
    out: Option<PathBuf>,
    #[arg(long, value_name = "TEXT", default_value = words::page::TITLE, help = help::TITLE)]
    title: String,
    #[arg(long, value_name = "NAME", help = help::LEARNER)]
    learner: Option<String>,
    #[arg(long, value_name = "FILE", help = help::LAST)]
    last: Option<PathBuf>,
    #[arg(long, conflicts_with = "json", help = help::CSV)]
    csv: bool,
    #[arg(long, help = help::JSON)]
    json: bool,
}

/// A recording, what was saved beside it, or that alone.
struct ReportInput {
    path: PathBuf,
    has_sound: bool,
    saved: Option<Saved>,
}

/// Sums up the takes and writes what was asked for.
///
/// # Errors
/// Arguments that make no sense, nothing to report on, a page that cannot be written: as a sentence.
pub fn run(args: &Args, console: &mut Console) -> anyhow::Result<ExitCode> {
    if args.out.is_none() && !args.csv && !args.json {
        bail!(words::commands::NAME_THE_PAGE);
    }
    if let Some(out) = &args.out {
        spare(out, args)?;
        check_ending("--out", out, &["html", "htm"])?;
    }
    let before = pages_before(args)?;
    let guitar = args.guitar.guitar()?;
    let tuning = args.chord.tuning(&guitar)?;
    let expected = args.chord.expected(&tuning)?;
    let (summary, played, problems) = match &args.diary {
        Some(diary) => from_diary(diary, args.since, args.before, &tuning)?,
        None => {
            let named = args.chord.is_named().then_some(&expected);
            let learnt = guitar.learnt();
            from_files(&args.paths, named, &expected, (&tuning, learnt))
        }
    };
    for problem in &problems {
        console.complain(problem);
    }
    if summary.takes == 0 {
        bail!(words::commands::NO_TAKE_TO_REPORT);
    }
    if args.csv {
        csv::summary(console.out, &summary)?;
    } else if args.json {
        json_line(console.out, &summary)?;
    }
    if let Some(out) = &args.out {
        let (exhibits, problems) = exhibits(&played, &page::wanted(&summary), &tuning);
        for problem in &problems {
            console.complain(problem);
        }
        let head = Head {
            title: args.title.clone(),
            learner: args.learner.clone(),
            last: before.last().and_then(|page| Last::in_page(page)),
            notes: notes(&before),
            trial: result_of(&args.guitar)?,
        };
        let page = page::html(&head, &played, &summary, &exhibits);
        disk::write_bytes(out, page.as_bytes())?;
        if !args.csv && !args.json {
            let (takes, chords) = (summary.takes, summary.chords.len());
            let written = words::commands::page_written(out.display(), takes, chords);
            writeln!(console.out, "{written}")?;
        }
    }
    Ok(match problems.is_empty() {
        true => AS_IT_SHOULD_BE,
        false => NOT_JUDGED,
    }
    .into())
}

/// Pages of earlier reports: the one that is replaced, whose notes must not be lost, and behind it the one that is named
/// as the report before.
fn pages_before(args: &Args) -> anyhow::Result<Vec<String>> {
    let read = |path: &Path| disk::read_text(path, LONGEST_PAGE);
    let replaced = args.out.as_ref().filter(|out| out.is_file());
    let mut pages = Vec::from_iter(replaced.map(|out| read(out)).transpose()?);
    if let Some(path) = &args.last {
        let page = read(path)?;
        if Last::in_page(&page).is_none() {
            bail!(words::commands::no_report(path.display()));
        }
        pages.push(page);
    }
    Ok(pages)
}

/// Notes that pages carry, each once.
fn notes(pages: &[String]) -> Vec<TypedNote> {
    let mut notes: Vec<TypedNote> = Vec::new();
    for note in pages.iter().flat_map(|page| TypedNote::all_in(page)) {
        if !notes.contains(&note) {
            notes.push(note);
        }
    }
    notes
}

/// Refuses a page in the place of what is read, or of anything that is no page: `--out *.wav` names the first
/// recording for it.
fn spare(out: &Path, args: &Args) -> anyhow::Result<()> {
    // What is wrong with a folder is said where it is read.
    let (files, _) = files(&args.paths);
    for file in &files {
        disk::keep_apart(out, [file, &saved::path_beside(file)])?;
    }
    if let Some(diary) = &args.diary {
        disk::keep_apart(out, diary::files_of(diary))?;
    }
    if holds_other_than_a_page(out) {
        bail!(words::commands::no_page_there(out.display()));
    }
    Ok(())
}

/// Whether a file is there that has something in it and does not begin as a page does.
fn holds_other_than_a_page(path: &Path) -> bool {
    let mut start = Vec::new();
    let read = path.is_file().then(|| {
        let file = fs::File::open(path)?;
        file.take(page::START.len() as u64).read_to_end(&mut start)
    });
    // What cannot be read cannot be written either, and is told then.
    matches!(read, Some(Ok(_)))
        && !start.is_empty()
        && !start.eq_ignore_ascii_case(page::START.as_bytes())
}

/// What takes come to, those of them that it names, and what is wrong with some.
type Gathered = (Summary, HashMap<usize, PlayedTake>, Vec<String>);

/// The takes of recordings, held against `named`, where a chord is named for all of them; where nothing says what a recording
/// holds, against `any`.
fn from_files(
    paths: &[PathBuf],
    named: Option<&Expected>,
    any: &Expected,
    (tuning, learnt): (&Tuning, Learnt),
) -> Gathered {
    let (sources, mut problems) = sources(paths);
    let tables = match named {
        Some(_) => Tables::default(),
        None => Tables::beside(sources.iter().map(|source| &*source.path), tuning),
    };
    let judged: Vec<(String, Vec<PlayedTake>, Option<String>)> = sources
        .into_par_iter()
        .map_init(
            || Judge::of_guitar(*tuning, learnt),
            |judge, source| {
                let by_name = of_name(&source.path, tuning);
                let (meant, for_sure) = match (named.or(tables.get(&source.path)), &by_name) {
                    (Some(meant), _) => (meant, true),
                    (None, by_name) => (by_name.as_ref().unwrap_or(any), false),
                };
                let name = file_name(&source.path);
                let (takes, problem) = takes(source, meant, for_sure, judge);
                (name, takes, problem)
            },
        )
        .collect();
    let mut gatherer = SummaryGatherer::default();
    let left_out = |file: String, why: &str| LeftOut {
        file,
        at_s: None,
        why: why.to_owned(),
    };
    let mut found = Vec::new();
    for (name, takes, problem) in judged {
        let nothing = takes.is_empty();
        found.extend(takes);
        if let Some(problem) = problem {
            match nothing {
                true => gatherer.unread(name, problem.clone()),
                false => gatherer.leave_out(left_out(name, &problem)),
            }
            problems.push(problem);
        }
    }
    for (name, problem) in tables.problems {
        gatherer.leave_out(left_out(name, &problem));
        problems.push(problem);
    }
    // Takes without a date stay in the order of their names, before the others.
    found.sort_by_key(|played: &PlayedTake| played.when);
    found.into_iter().for_each(|played| gatherer.add(played));
    let (summary, played) = gatherer.finish();
    (summary, played, problems)
}

fn file_name(path: &Path) -> String {
    let name = path.file_name().unwrap_or(path.as_os_str());
    name.to_string_lossy().into_owned()
}

/// The takes that a diary holds of some days, one by one: there may be more than fit into memory.
fn from_diary(
    path: &Path,
    since: Option<Date>,
    before: Option<Date>,
    tuning: &Tuning,
) -> anyhow::Result<Gathered> {
    let diary = Diary::open_existing(path)?;
    let midnight = |day: Date| {
        let start = day.to_datetime(jiff::civil::Time::midnight());
        TimeZone::system().to_timestamp(start)
    };
    let filter = Filter {
        since: since.map(midnight).transpose()?,
        before: before.map(midnight).transpose()?,
        ..Filter::default()
    };
    let names = diary.names(&filter)?;
    let name_of = |frets: &Frets| {
        let name = names.get(frets).cloned();
        name.unwrap_or_else(|| frets.to_string())
    };
    let mut gatherer = SummaryGatherer::default();
    diary.each_entry(&filter, |entry| {
        // What the player has put right counts, and what is not to count does not.
        if let Some(entry) = entry.standing() {
            gatherer.add(PlayedTake::of_entry(entry, tuning, &name_of));
        }
        anyhow::Ok(())
    })?;
    let (summary, mut played) = gatherer.finish();
    let mut problems = Vec::from_iter(super::diary::misdated(&diary, &filter)?);
    for take in played.values_mut() {
        if let Some(name) = take.sound.take() {
            take.sound = diary.sound(&name.to_string_lossy());
            if take.sound.is_none() {
                problems.push(words::commands::sound_elsewhere(
                    name.display(),
                    diary.sounds().display(),
                ));
            }
        }
    }
    problems.sort();
    problems.dedup();
    Ok((summary, played, problems))
}

/// All recordings that are named or lie in folders that are, in the order of their names, then what was
/// saved of recordings that are gone; and what is wrong with some.
fn sources(paths: &[PathBuf]) -> (Vec<ReportInput>, Vec<String>) {
    let (files, mut problems) = files(paths);
    let mut sources: Vec<ReportInput> = Vec::new();
    let (saved, recordings): (Vec<PathBuf>, Vec<PathBuf>) = files
        .into_iter()
        .partition(|path| has_ending(path, &["json"]));
    for path in recordings {
        let saved = saved::beside(&path).unwrap_or_else(|error| {
            problems.push(format!("{:#}", anyhow::Error::from(error)));
            None
        });
        sources.push(ReportInput {
            path,
            has_sound: true,
            saved,
        });
    }
    let read: HashSet<PathBuf> = (sources.iter())
        .map(|source| saved::path_beside(&source.path))
        .collect();
    for path in saved {
        if read.contains(&path) {
            continue;
        }
        match saved::read(&path) {
            Ok(saved) => {
                let sounds = SOUND.map(|ending| path.with_extension(ending));
                let sound = sounds.into_iter().find(|sound| sound.exists());
                sources.push(ReportInput {
                    has_sound: sound.is_some(),
                    path: sound.unwrap_or(path),
                    saved: Some(saved),
                });
            }
            // A folder may hold other things, too.
            Err(error) if paths.contains(&path) => problems.push(format!("{error:#}")),
            Err(_) => {}
        }
    }
    (sources, problems)
}

/// The files named and those in folders that are named, and what is wrong with some.
fn files(paths: &[PathBuf]) -> (Vec<PathBuf>, Vec<String>) {
    let (mut files, mut problems) = (Vec::new(), Vec::new());
    for path in paths {
        match path.is_dir() {
            true => in_folder(path, &mut files, &mut problems),
            false => files.push(path.clone()),
        }
    }
    (files, problems)
}

/// Adds the files of a folder, and of those in it, that may belong to takes.
fn in_folder(folder: &Path, files: &mut Vec<PathBuf>, problems: &mut Vec<String>) {
    let entries = fs::read_dir(folder).and_then(|all| {
        let mut paths = Vec::new();
        for entry in all {
            let entry = entry?;
            // A linked folder might lead back here.
            paths.push((entry.path(), entry.file_type()?.is_dir()));
        }
        Ok(paths)
    });
    let mut paths = match entries {
        Ok(paths) => paths,
        Err(error) => {
            let folder = folder.display();
            problems.push(words::commands::folder_unreadable(&folder, &error));
            return;
        }
    };
    paths.sort();
    for (path, is_folder) in paths {
        if is_folder {
            in_folder(&path, files, problems);
        } else if has_ending(&path, &SOUND) || has_ending(&path, &["json"]) {
            files.push(path);
        }
    }
}

fn has_ending(path: &Path, endings: &[&str]) -> bool {
    let ending = path.extension().unwrap_or_default();
    endings.iter().any(|e| ending.eq_ignore_ascii_case(e))
}

/// The takes of one recording: as they were saved, unless it is `for_sure` what was meant, else as they are judged now. And
/// what is wrong.
fn takes(
    source: ReportInput,
    expected: &Expected,
    for_sure: bool,
    judge: &mut Judge,
) -> (Vec<PlayedTake>, Option<String>) {
    let ReportInput {
        path,
        has_sound,
        saved,
    } = source;
    let name = file_name(&path);
    let of_it = |played: PlayedTake| PlayedTake {
        when: saved
            .as_ref()
            .and_then(|s| s.recorded_at)
            .map(|m| m.on_the_wall),
        guitar: saved.as_ref().and_then(|s| s.guitar.clone()),
        sound: has_sound.then(|| path.clone()),
        ..played
    };
    if let (Some(saved), false) = (&saved, for_sure) {
        let takes = saved.takes.iter();
        let takes = takes.map(|take| of_it(PlayedTake::of_saved(take, name.clone())));
        return (takes.collect(), None);
    }
    let mut judged = match judge.recording(&path, expected) {
        Ok(judged) => judged,
        Err(error) => return (Vec::new(), Some(error.to_string())),
    };
    let takes = (&mut judged)
        .map(|judged| of_it(PlayedTake::of_judged(judged.take, name.clone())))
        .collect();
    (takes, judged.problem())
}

/// Pictures and sound of the takes wanted, each recording read once; and what is wrong with some.
fn exhibits(
    played: &HashMap<usize, PlayedTake>,
    wanted: &[usize],
    tuning: &Tuning,
) -> (HashMap<usize, Exhibit>, Vec<String>) {
    let mut by_file: BTreeMap<&Path, Vec<usize>> = BTreeMap::new();
    for &at in wanted {
        if let Some(path) = &played[&at].sound {
            by_file.entry(path).or_default().push(at);
        }
    }
    let read: Vec<anyhow::Result<Vec<(usize, Exhibit)>>> = by_file
        .into_par_iter()
        .map(|(path, takes)| of_file(path, &takes, played, tuning))
        .collect();
    let (mut exhibits, mut problems) = (HashMap::new(), Vec::new());
    for one in read {
        match one {
            Ok(some) => exhibits.extend(some),
            Err(error) => problems.push(format!("{error:#}")),
        }
    }
    (exhibits, problems)
}

/// Pictures and sound of some takes of one recording.
fn of_file(
    path: &Path,
    takes: &[usize],
    played: &HashMap<usize, PlayedTake>,
    tuning: &Tuning,
) -> anyhow::Result<Vec<(usize, Exhibit)>> {
    let about: Vec<&PlayedTake> = takes.iter().map(|at| &played[at]).collect();
    let meant = page::meant(about.iter().copied(), tuning);
    let mut strums = FoundTakes::open(path, tuning, &meant)?;
    let nearest = page::nearest(&mut strums, &about);
    if let Some(error) = strums.error() {
        bail!("{error}");
    }
    let found = takes.iter().zip(about).zip(nearest);
    Ok(found
        .filter_map(|((&at, played), strum)| Some((at, Exhibit::of(strum?, played, tuning))))
        .collect())
}
