//! `ringtrue plot`: pictures of a take.

use std::iter;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::bail;
use clap::ValueEnum;

use super::chord::ChordArgs;
use super::guitar::GuitarArgs;
use super::picture::PictureFormat;
use super::{AS_IT_SHOULD_BE, Console};
use crate::disk;
use crate::fretboard::Tuning;
use crate::listening::{FoundTakes, Judge, saved};
use crate::report::picture::clock;
use crate::report::plot::{self, PlottedTake, WIDTHS};
use crate::strings::view::Viewer;
use crate::take::Take;
use crate::verdict::{Expected, ExpectedVoicing};
use crate::words;
use crate::words::help::plot as help;

/// Arguments of `ringtrue plot`.
#[derive(Debug, clap::Args)]
#[command(about = help::ABOUT, long_about = help::LONG_ABOUT, after_help = help::AFTER)]
pub struct Args {
    #[arg(help = help::FILE)]
    file: PathBuf,
    #[command(flatten)]
    chord: ChordArgs,
    #[command(flatten)]
    guitar: GuitarArgs,
    #[arg(long, value_name = "FILE", help = help::OUT)]
    out: PathBuf,
    #[arg(
        long,
        value_enum,
        value_name = "KIND",
        value_delimiter = ',',
        default_value = "ringdown",
        help = help::KIND,
    )]
    kind: Vec<PictureChoice>,
    #[arg(long, value_name = "NUMBER", default_value_t = 1, help = help::TAKE)]
    take: usize,
    #[arg(long, value_name = "FILE", help = help::AGAINST)]
    against: Option<PathBuf>,
    #[arg(long, value_name = "NUMBER", default_value_t = 1, requires = "against", help = help::AGAINST_TAKE)]
    against_take: usize,
    #[arg(
        long,
        value_name = "PIXELS",
        default_value_t = 1200,
        value_parser = clap::value_parser!(u32).range(*WIDTHS.start() as i64..=*WIDTHS.end() as i64),
        help = help::WIDTH,
    )]
    width: u32,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum PictureChoice {
    #[value(help = help::RINGDOWN)]
    Ringdown,
    #[value(help = help::SPECTRUM)]
    Spectrum,
    #[value(help = help::SPECTROGRAM)]
    Spectrogram,
    #[value(help = help::CHROMA)]
    Chroma,
    #[value(help = help::ALL)]
    All,
}

impl PictureChoice {
    fn plain(self) -> &'static [plot::PictureKind] {
        match self {
            PictureChoice::Ringdown => &[plot::PictureKind::Ringdown],
            PictureChoice::Spectrum => &[plot::PictureKind::Spectrum],
            PictureChoice::Spectrogram => &[plot::PictureKind::Spectrogram],
            PictureChoice::Chroma => &[plot::PictureKind::Chroma],
            PictureChoice::All => &plot::PictureKind::ALL,
        }
    }
}

/// Draws the picture and writes it.
///
/// # Errors
/// Arguments that make no sense, recordings that cannot be read or have no such take, a picture that
/// cannot be written: as a sentence.
pub fn run(args: &Args, console: &mut Console) -> anyhow::Result<ExitCode> {
    let form = PictureFormat::of("--out", &args.out)?;
    for recording in iter::once(&args.file).chain(&args.against) {
        disk::keep_apart(&args.out, [recording, &saved::path_beside(recording)])?;
    }
    let guitar = args.guitar.guitar()?;
    let tuning = args.chord.tuning(&guitar)?;
    let named = args.chord.expected(&tuning)?;
    let mut judge = Judge::of_guitar(tuning, guitar.learnt());
    let first = look(
        &args.file,
        args.take,
        &named,
        (&tuning, &mut judge),
        console,
    )?;
    let mut takes = vec![first];
    if let Some(other) = &args.against {
        let PlottedTake { take, .. } = &takes[0];
        let same = ExpectedVoicing::usual(take.frets, take.chord.clone(), &tuning);
        let same = Expected::Named(same);
        let expected = match saved::beside(other)? {
            Some(_) => &named,
            None => &same,
        };
        let by = (&tuning, &mut judge);
        takes.push(look(other, args.against_take, expected, by, console)?);
    }
    let mut kinds: Vec<plot::PictureKind> = Vec::new();
    for kind in args.kind.iter().flat_map(|kind| kind.plain()) {
        if !kinds.contains(kind) {
            kinds.push(*kind);
        }
    }
    let drawing = plot::draw(&kinds, &takes, args.width);
    form.write(&drawing, &args.out)?;
    let written = words::commands::picture_written(args.out.display(), takes.len());
    writeln!(console.out, "{written}")?;
    Ok(AS_IT_SHOULD_BE.into())
}

/// Judges one take of a recording and looks at it. Where no chord is named, the one saved beside the
/// recording counts.
fn look(
    file: &Path,
    number: usize,
    named: &Expected,
    (tuning, judge): (&Tuning, &mut Judge),
    console: &mut Console,
) -> anyhow::Result<PlottedTake> {
    let saved = match named {
        Expected::Named(_) | Expected::Chord(_) => None,
        _ => saved::beside(file)?,
    };
    let meant = saved.as_ref().and_then(|saved| saved.voicing(tuning));
    let meant = meant.map(Expected::Named);
    let (strum, count) = nth(file, number, meant.as_ref().unwrap_or(named), tuning)?;
    if count > 1 {
        console.complain(&words::commands::takes_found(
            file.display(),
            count,
            number,
            clock(strum.start_s()),
        ));
    }
    let saved = saved.as_ref().and_then(|s| s.nearest(strum.start_s()));
    let saved = saved.map(|take| Expected::Named(take.voicing(tuning)));
    let take = judge.strum(&strum, saved.as_ref().unwrap_or(named));
    let name = file.file_name().unwrap_or(file.as_os_str());
    let name = name.to_string_lossy().into_owned();
    let mut viewer = Viewer::new(strum.rate_hz, *tuning);
    Ok(PlottedTake::new(&mut viewer, strum, take, *tuning, name))
}

/// The strum with a number, counted from 1, and how many there are.
fn nth(
    file: &Path,
    number: usize,
    expected: &Expected,
    tuning: &Tuning,
) -> anyhow::Result<(Take, usize)> {
    let mut strums = FoundTakes::open(file, tuning, expected)?;
    let (mut kept, mut count) = (None, 0);
    for strum in &mut strums {
        count += 1;
        if count == number {
            kept = Some(strum);
        }
    }
    if let Some(error) = strums.error() {
        bail!("{error}");
    }
    match kept {
        Some(strum) => Ok((strum, count)),
        None => bail!(strums.no_such_take(number)),
    }
}
