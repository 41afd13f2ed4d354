//! `ringtrue check`: judges the takes of recordings against a chord.

use std::io;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::chord::ChordArgs;
use super::guitar::{GuitarArgs, tuning_of};
use super::{AS_IT_SHOULD_BE, Console, FAULT, NOT_JUDGED};
use crate::audio::{Health, Reader};
use crate::fretboard::Tuning;
use crate::report::json::Json;
use crate::report::text::{Look, Text};
use crate::report::{Form, Outcome, Tally};
use crate::take::Finder;
use crate::verdict::{self as analysis, Analyser, Expected, KEPT_TAKES, Take};

/// Recordings from this length on get a progress bar, in seconds.
const LONG_S: f64 = 120.0;
/// So many recordings or more get a progress bar.
const MANY_FILES: usize = 10;
/// Missing sound shorter than this is not worth a word, in seconds: players and encoders drop a
/// packet at a file's ends.
const LOST_S: f64 = 0.1;
/// Below this peak a recording without a take is called too quiet, in dBFS: strums down to -35 are
/// found, so this one holds hardly more than its noise.
const HARDLY_ANY_SOUND_DBFS: f32 = -45.0;

/// Judge recordings of a chord, string by string
///
/// Without --frets and --chord, each strum is compared with all voicings
/// known here, and judged where one of them surely is the one played.
#[derive(Debug, clap::Args)]
#[command(
    verbatim_doc_comment,
    override_usage = "ringtrue check FILE... --frets FRETS [OPTIONS]
       ringtrue check FILE... --chord NAME [--shape SHAPE] [--at FRET] [OPTIONS]
       ringtrue check FILE... [OPTIONS]",
    after_help = "\
Exit status:
  0  every string that could be judged is as it should be
  1  at least one string is not
  2  something could not be judged: an argument or a file is wrong, no strum was
     found in a file, or no string of it could be judged"
)]
pub struct Args {
    /// Recordings: WAV, FLAC, MP3, M4A or OGG Vorbis
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    #[command(flatten)]
    chord: ChordArgs,
    #[command(flatten)]
    guitar: GuitarArgs,
    /// Mirror the picture for a left-handed guitar
    #[arg(long)]
    left: bool,
    /// Write JSON, one object a line and file
    #[arg(long)]
    json: bool,
}

/// What to judge and how to show it.
struct Settings {
    files: Vec<PathBuf>,
    expected: Expected,
    tuning: Tuning,
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
        Box::new(Text::new(look, settings.tuning, settings.files.len()))
    };
    let bar = match settings.files.len() {
        few if few < MANY_FILES => ProgressBar::hidden(),
        many => progress(many as u64, "recordings"),
    };
    let mut worst = Outcome::AsItShouldBe;
    for file in &settings.files {
        let mut tally = Tally::default();
        form.begin(file);
        let problem = judge(file, &settings, &bar, &mut |take| {
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
            Some(_) => Outcome::NotJudged,
            None => tally.outcome(),
        });
    }
    bar.finish_and_clear();
    form.summary(console.out)?;
    let status = match worst {
        Outcome::AsItShouldBe => AS_IT_SHOULD_BE,
        Outcome::Fault => FAULT,
        Outcome::NotJudged => NOT_JUDGED,
    };
    Ok(status.into())
}

/// Judges one file block by block and hands over each take as soon as it is judged. A long file has
/// a progress bar of its own where `files`, the one over all files, is hidden. Gives the sentence
/// that says why the file could not be judged, or not to its end.
fn judge(
    file: &Path,
    settings: &Settings,
    files: &ProgressBar,
    each: &mut dyn FnMut(Take) -> io::Result<()>,
) -> io::Result<Option<String>> {
    let mut reader = match Reader::open(file) {
        Ok(reader) => reader,
        Err(error) => return Ok(Some(error.to_string())),
    };
    let rate_hz = reader.rate_hz();
    let own = match reader.duration_s() {
        Some(duration_s) if duration_s >= LONG_S && files.is_hidden() => {
            progress(duration_s as u64, "s")
        }
        _ => ProgressBar::hidden(),
    };
    let visible = if own.is_hidden() { files } else { &own };
    let mut finder = Finder::new(rate_hz);
    let mut analyser = Analyser::new(analysis::Settings {
        tuning: settings.tuning,
        rate_hz,
    });
    let (mut block, mut strums) = (Vec::new(), Vec::new());
    let (mut read, mut found) = (0u64, false);
    let mut problem = None;
    let mut history: Vec<Take> = Vec::new();
    let mut more = true;
    while more {
        match reader.read(&mut block) {
            Ok(true) => finder.push(&block, &mut strums),
            Ok(false) => more = false,
            Err(error) => {
                problem = Some(error.to_string());
                more = false;
            }
        }
        if !more {
            finder.finish(&mut strums);
        }
        for strum in strums.drain(..) {
            found = true;
            let take = settings.expected.judge(&mut analyser, &strum, &history);
            if history.len() == KEPT_TAKES {
                history.remove(0);
            }
            history.push(take.clone());
            visible.suspend(|| each(take))?;
        }
        read += block.len() as u64;
        own.set_position(read / u64::from(rate_hz));
    }
    own.finish_and_clear();
    let health = reader.health();
    Ok(problem
        .or_else(|| damage(file, &health, rate_hz))
        .or_else(|| (!found).then(|| nothing_found(file, &health))))
}

/// What of the file is missing or no sound, where that is worth a word.
pub(super) fn damage(file: &Path, health: &Health, rate_hz: u32) -> Option<String> {
    let name = file.display();
    let lost_s = health.lost_frames as f64 / f64::from(rate_hz);
    if health.cut_off {
        Some(format!(
            "{name}: the file breaks off before its end; what is there was used; for the rest, copy or export it again"
        ))
    } else if lost_s >= LOST_S {
        Some(format!(
            "{name}: {lost_s:.1} s of the file are damaged and were left out; copy or export it again"
        ))
    } else if health.unusable_samples > 0 {
        Some(format!(
            "{name}: {} samples are not numbers and were taken as silence; export the file again",
            health.unusable_samples
        ))
    } else {
        None
    }
}

/// Why no take was found, and what to do.
pub(super) fn nothing_found(file: &Path, health: &Health) -> String {
    let name = file.display();
    if health.is_all_zero() {
        format!(
            "{name}: complete silence, as from a microphone that is muted or not allowed; \
             switch it on and record again"
        )
    } else if 20.0 * health.peak.log10() < HARDLY_ANY_SOUND_DBFS {
        format!(
            "{name}: no strum was found, there is hardly any sound; move the microphone nearer \
             or turn its level up, and record again"
        )
    } else {
        format!(
            "{name}: no strum was found; strum the chord once, let it ring for two seconds, \
             and record again"
        )
    }
}

/// A bar on standard error; hidden where that is no terminal.
fn progress(length: u64, unit: &str) -> ProgressBar {
    let style = ProgressStyle::with_template(&format!("{{bar:30}} {{pos}} of {{len}} {unit}"))
        .expect("a fixed template")
        .progress_chars("━━ ");
    ProgressBar::with_draw_target(Some(length), ProgressDrawTarget::stderr()).with_style(style)
}

/// The typed arguments as plain settings.
fn settings(args: &Args) -> anyhow::Result<Settings> {
    let profile = args.guitar.profile()?;
    let tuning = args.chord.tuning(profile.as_ref().map(tuning_of))?;
    let expected = args.chord.expected(&tuning)?;
    Ok(Settings {
        files: args.files.clone(),
        expected,
        tuning,
        left: args.left,
        json: args.json,
    })
}
