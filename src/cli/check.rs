//! `ringtrue check`: judges the takes of recordings against a chord.

use std::io;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, anyhow, bail};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::{AS_IT_SHOULD_BE, Console, FAULT, NOT_JUDGED};
use crate::audio::{Health, Reader};
use crate::fretboard::library::{self, name_voicing, voicing_for};
use crate::fretboard::{ChordName, Frets, STRINGS, Shape, Tuning, string_number};
use crate::report::json::Json;
use crate::report::text::{Look, Text};
use crate::report::{Form, Outcome, Tally};
use crate::take::{Finder, Strum};
use crate::verdict::{self as analysis, Analyser};
use crate::verdict::{Reason, SURE_ENOUGH, StringVerdict, Take, Verdict, Warning};

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
    /// Frets, string 6 to 1, as in x13331 or "x 10 12 12 12 10"
    #[arg(long)]
    frets: Option<String>,
    /// Chord, as in Bb, F#m, C7, Dsus4
    #[arg(long, value_name = "NAME")]
    chord: Option<String>,
    /// Shape of the chord: E, A, D, C or G
    #[arg(long)]
    shape: Option<String>,
    /// The fret that the shape is played at
    #[arg(long, value_name = "FRET", allow_negative_numbers = true)]
    at: Option<String>,
    /// Tuning: drop d, open g, or six notes as in DADGAD
    #[arg(long, value_name = "NOTES")]
    tuning: Option<String>,
    /// Fret of the capo; frets and chord are counted from it
    #[arg(long, value_name = "FRET", allow_negative_numbers = true)]
    capo: Option<String>,
    /// Frequency of A4, 440 if left out
    #[arg(long, value_name = "HZ", allow_negative_numbers = true)]
    a4: Option<String>,
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

/// What the takes are held against.
enum Expected {
    /// This voicing.
    Named(Voicing),
    /// The one of these that fits a take best.
    Guessed {
        frets: Vec<Frets>,
        names: Vec<String>,
    },
}

struct Voicing {
    frets: Frets,
    chord: Option<String>,
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
            let take = settings.expected.judge(&mut analyser, &strum);
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

impl Expected {
    fn judge(&self, analyser: &mut Analyser, strum: &Strum) -> Take {
        match self {
            Expected::Named(voicing) => {
                let mut take = analyser.analyse(strum, &voicing.frets);
                take.chord = voicing.chord.clone();
                take
            }
            Expected::Guessed { frets, names } => {
                let Some((best, sure)) = analyser.best_voicing(strum, frets) else {
                    return not_judged(strum, Frets([None; STRINGS]), 0.0);
                };
                let mut take = if sure >= SURE_ENOUGH {
                    let mut take = analyser.analyse(strum, &frets[best]);
                    take.warnings.insert(0, Warning::ChordGuessed { sure });
                    take
                } else {
                    not_judged(strum, frets[best], sure)
                };
                take.chord = Some(names[best].clone());
                take
            }
        }
    }
}

/// The take of a strum whose chord stays open.
fn not_judged(strum: &Strum, frets: Frets, sure: f32) -> Take {
    Take {
        start_s: strum.start_s(),
        manner: strum.manner,
        chord: None,
        frets,
        tuning_cents: 0.0,
        warnings: vec![Warning::ChordGuessed { sure }],
        strings: std::array::from_fn(|index| StringVerdict {
            string: string_number(index),
            expected_fret: frets.0[index],
            verdict: Verdict::Unsure,
            heard_fret: None,
            rings: 0.5,
            confidence: 0.0,
            cents: None,
            reason: Some(Reason::NotJudged),
        }),
        advice: Vec::new(),
    }
}

/// What of the file is missing or no sound, where that is worth a word.
fn damage(file: &Path, health: &Health, rate_hz: u32) -> Option<String> {
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
fn nothing_found(file: &Path, health: &Health) -> String {
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
    let tuning = tuning(args)?;
    let expected = expected(args, &tuning)?;
    if let Expected::Named(voicing) = &expected {
        tuning.reaches(&voicing.frets)?;
    }
    Ok(Settings {
        files: args.files.clone(),
        expected,
        tuning,
        left: args.left,
        json: args.json,
    })
}

fn tuning(args: &Args) -> anyhow::Result<Tuning> {
    let mut tuning: Tuning = match &args.tuning {
        Some(text) => text.parse().context("--tuning")?,
        None => Tuning::default(),
    };
    if let Some(text) = &args.capo {
        let capo = fret("--capo", text, Tuning::HIGHEST_CAPO)?;
        tuning = tuning.with_capo(capo).context("--capo")?;
    }
    if let Some(text) = &args.a4 {
        let a4_hz = text.trim().replace(',', ".").parse().map_err(|_| {
            anyhow!("--a4: a frequency in Hz was expected, as in 442; {text:?} is none")
        })?;
        tuning = tuning.with_a4_hz(a4_hz).context("--a4")?;
    }
    Ok(tuning)
}

fn expected(args: &Args, tuning: &Tuning) -> anyhow::Result<Expected> {
    let shape_or_at = match (&args.shape, &args.at) {
        (Some(_), _) => Some("--shape"),
        (None, Some(_)) => Some("--at"),
        (None, None) => None,
    };
    match (&args.frets, &args.chord, shape_or_at) {
        (Some(_), Some(_), _) => {
            bail!("--frets and --chord both say what is played; give one of them")
        }
        (Some(_), None, Some(option)) => bail!(
            "{option} goes with --chord; --frets already says where every finger is: leave {option} out"
        ),
        (None, None, Some(option)) => {
            bail!("{option} goes with --chord: name the chord too, as in --chord Bb --shape A")
        }
        (None, Some(_), Some("--at")) => bail!(
            "--at is the fret of a shape: name the shape too, as in --chord Bb --shape A --at 1"
        ),
        (Some(frets), None, None) => {
            let frets: Frets = frets.parse().context("--frets")?;
            Ok(Expected::Named(Voicing {
                frets,
                chord: name_voicing(&frets, tuning).map(|named| named.chord.to_string()),
            }))
        }
        (None, Some(chord), _) => {
            let chord: ChordName = chord.parse().context("--chord")?;
            let shape: Option<Shape> = match &args.shape {
                Some(text) => Some(text.parse().context("--shape")?),
                None => None,
            };
            let at = match &args.at {
                Some(text) => Some(fret("--at", text, Frets::HIGHEST)?),
                None => None,
            };
            Ok(Expected::Named(Voicing {
                frets: voicing_for(&chord, shape, at, tuning)?.frets,
                chord: Some(chord.to_string()),
            }))
        }
        (None, None, None) => {
            let within_reach = |v: &library::Voicing| tuning.reaches(&v.frets).is_ok();
            let (frets, names): (Vec<_>, _) = library::all(tuning)
                .into_iter()
                .filter(within_reach)
                .map(|voicing| (voicing.frets, voicing.chord.to_string()))
                .unzip();
            if frets.is_empty() {
                bail!(
                    "no chord was named, and no shapes are known in this tuning: say what is played, as in --frets 000000"
                )
            }
            Ok(Expected::Guessed { frets, names })
        }
    }
}

/// The fret that an option names.
fn fret(option: &str, text: &str, highest: u8) -> anyhow::Result<u8> {
    text.trim()
        .parse()
        .ok()
        .filter(|&fret| fret <= highest)
        .with_context(|| {
            format!(
                "{option}: a fret from 0 to {highest} was expected, as in {option} 1; {text:?} is none"
            )
        })
}
