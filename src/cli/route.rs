//! `ringtrue route`: the way over the neck on which the hand works least.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Result, anyhow};
use serde::Serialize;

use super::Console;
use super::chord::TuningArgs;
use super::guitar::{GuitarArgs, tuning_of};
use crate::disk;
use crate::fretboard::{ChordName, Fingering, Frets, Shape, Tuning, Voicing};
use crate::progression::{HandWeights, Limits, Move, Progression, Route, frets, route};
use crate::report::picture::lines;
use crate::report::voicings::{abreast, each_once};
use crate::words;
use crate::words::help::route as help;

/// A song's text is far shorter, in bytes: 500 pages.
const LONGEST_TEXT: u64 = 1024 * 1024;

/// Progression, typed or in a file.
#[derive(Debug, Clone, clap::Args)]
pub struct ProgressionArgs {
    #[arg(
        value_name = "CHORDS",
        required_unless_present = "file",
        conflicts_with = "file",
        help = help::CHORDS,
    )]
    chords: Vec<String>,
    #[arg(long, value_name = "FILE", help = help::FILE)]
    file: Option<PathBuf>,
}

impl ProgressionArgs {
    /// The file that it is in, where it is in one.
    pub fn file(&self) -> Option<&Path> {
        self.file.as_deref()
    }

    /// Reads it.
    ///
    /// # Errors
    /// A file that cannot be read, or a text that is no progression, as a sentence.
    pub fn read(&self) -> Result<Progression> {
        let Some(path) = &self.file else {
            let text = self.chords.join(" ");
            return Progression::read(&text).map_err(|error| {
                match PathBuf::from(&text).is_file() {
                    true => anyhow!(words::route::text_is_a_file(&text)),
                    false => anyhow!(error.said_of(&text)),
                }
            });
        };
        let text = disk::read_text(path, LONGEST_TEXT)?;
        Progression::read(&text).map_err(|error| anyhow!("{}: {error}", path.display()))
    }
}

/// Limits of what the hand may do.
#[derive(Debug, Clone, clap::Args)]
pub struct HandLimits {
    #[arg(long, value_name = "SHAPES", value_delimiter = ',', help = help::SHAPES)]
    shapes: Option<Vec<Shape>>,
    #[arg(
        long,
        value_name = "STRINGS",
        value_delimiter = ',',
        value_parser = clap::value_parser!(u8).range(4..=6),
        help = help::ROOT_STRINGS,
    )]
    root_strings: Option<Vec<u8>>,
    #[arg(
        long,
        value_name = "FRET",
        default_value_t = 12,
        value_parser = clap::value_parser!(u8).range(0..=12),
        help = help::HIGHEST_FRET,
    )]
    highest_fret: u8,
    #[arg(long, help = help::OPEN)]
    open: bool,
    #[arg(long, help = help::POWER)]
    power: bool,
    #[arg(long, help = help::RING_BARRE)]
    ring_barre: bool,
    #[arg(long, value_name = "PART=NUMBER", help = help::WEIGHT)]
    weight: Vec<String>,
    #[command(flatten)]
    tuning: TuningArgs,
}

impl HandLimits {
    /// The tuning with its capo: what is asked for, else what the song's text names, else what is usual
    /// on the guitar.
    pub fn tuning(&self, song: &Progression, guitar: Option<Tuning>) -> Result<Tuning> {
        let usual = guitar.unwrap_or_default();
        let named = song.capo.unwrap_or(usual.capo);
        self.tuning.tuning_from(usual.with_capo(named)?)
    }

    pub fn limits(&self) -> Limits {
        Limits {
            shapes: self.shapes.clone(),
            root_strings: self.root_strings.clone(),
            highest_fret: self.highest_fret,
            open_chords: self.open,
            power_only: self.power,
            ring_barre: self.ring_barre,
        }
    }

    /// The weights as documented, changed as asked.
    pub fn weights(&self) -> Result<HandWeights> {
        let mut weights = HandWeights::default();
        for text in &self.weight {
            let (name, number) = text
                .split_once('=')
                .ok_or_else(|| anyhow!(words::route::form_of_a_weight(text)))?;
            let value = number
                .trim()
                .parse()
                .map_err(|_| anyhow!(words::route::weight_expected(number)))?;
            weights
                .set(name.trim(), value)
                .map_err(|why| anyhow!(why))?;
        }
        Ok(weights)
    }
}

/// Arguments of `ringtrue route`.
#[derive(Debug, Clone, clap::Args)]
#[command(
    about = help::ABOUT,
    long_about = help::LONG_ABOUT,
    after_help = help::AFTER
)]
pub struct Args {
    #[command(flatten)]
    song: ProgressionArgs,
    #[arg(long = "loop", help = help::CLOSED)]
    closed: bool,
    #[command(flatten)]
    hand: HandLimits,
    #[command(flatten)]
    guitar: GuitarArgs,
    #[arg(long, help = help::LEFT)]
    left: bool,
    #[arg(long, help = help::JSON)]
    json: bool,
}

/// Runs the command.
///
/// # Errors
/// A progression that cannot be read or played within the limits, as a sentence; output that fails.
pub fn run(args: &Args, console: &mut Console) -> Result<ExitCode> {
    let song = args.song.read()?;
    let profile = args.guitar.profile()?;
    let tuning = args.hand.tuning(&song, profile.as_ref().map(tuning_of))?;
    let chords = song.chords();
    let weights = args.hand.weights()?;
    let found = route(&chords, &args.hand.limits(), &weights, args.closed, &tuning)?;
    if args.json {
        serde_json::to_writer(&mut *console.out, &json(&found))?;
        writeln!(console.out)?;
    } else {
        text(&found, args, &tuning, console.out)?;
    }
    Ok(ExitCode::SUCCESS)
}

fn text(route: &Route, args: &Args, tuning: &Tuning, out: &mut dyn Write) -> Result<()> {
    wrapped(out, "", &headline(route))?;
    writeln!(out)?;
    let width = |least: usize, of: fn(&Voicing) -> String| {
        let widths = route.steps.iter().map(|s| of(&s.voicing).chars().count());
        widths.max().unwrap_or(0).max(least)
    };
    let frets_width = width(5, |v| v.frets.to_string());
    let shape_width = width(5, Voicing::describe);
    writeln!(out, "{}", words::route::head(frets_width, shape_width))?;
    let moves = route.moves();
    let mut before: Option<(&Voicing, &Move)> = None;
    let mut times = 1;
    for (index, step) in route.steps.iter().enumerate() {
        // The same chord again is told once.
        let same = (route.steps.get(index + 1)).is_some_and(|next| {
            next.chord == step.chord && next.voicing.frets == step.voicing.frets
        });
        if same {
            times += 1;
            continue;
        }
        let first = index + 1 - times;
        if first > 0 {
            before = Some((&route.steps[first - 1].voicing, &moves[first - 1]));
        }
        let way = before.map_or(String::new(), |(from, step_to)| {
            step_to.describe(from, &step.voicing)
        });
        let name = match times {
            1 => step.chord.to_string(),
            n => format!("{} x{n}", step.chord),
        };
        let line = format!(
            "{name:<6}  {:<frets_width$}  {:<shape_width$}  ",
            step.voicing.frets.to_string(),
            step.voicing.describe()
        );
        wrapped(out, &line, &way)?;
        times = 1;
    }
    if let (true, Some(back), [first, .., last]) = (route.closed, moves.last(), &route.steps[..]) {
        let way = back.describe(&last.voicing, &first.voicing);
        let line = format!(
            "{:<6}  {:<frets_width$}  {:<shape_width$}  ",
            words::route::BACK,
            "",
            ""
        );
        wrapped(out, &line, &way)?;
    }
    writeln!(out)?;
    let voicings = each_once(route.steps.iter().map(|step| &step.voicing));
    abreast(out, &voicings, args.left, tuning)?;
    if route.steps.len() > 1 {
        writeln!(out)?;
        wrapped(out, "", &why(route))?;
    }
    Ok(())
}

/// Columns of a terminal.
const WIDTH: usize = 80;

/// A line whose last part goes on below itself where it is too long.
pub(super) fn wrapped(out: &mut dyn Write, line: &str, last: &str) -> Result<()> {
    let indent = line.chars().count();
    let lines = lines(last.split(' '), WIDTH.saturating_sub(indent));
    for (index, part) in lines.iter().enumerate() {
        let before = if index == 0 { line } else { "" };
        let text = format!("{before:indent$}{part}");
        writeln!(out, "{}", text.trim_end())?;
    }
    Ok(())
}

/// How far the hand travels, against staying with one shape.
fn headline(route: &Route) -> String {
    let travel = route.travel_frets();
    let way_back = if route.closed {
        words::route::WAY_BACK
    } else {
        ""
    };
    let travelled = match travel {
        0 => words::route::stays(way_back),
        n => words::route::travels(frets(n), way_back),
    };
    match route.one_shape {
        Some(one) if one.travel_frets > travel => words::route::saved(
            &travelled,
            one.shape,
            frets(one.travel_frets),
            one.travel_frets - travel,
        ),
        Some(one) if one.travel_frets == travel => words::route::no_further(&travelled, one.shape),
        Some(one) => words::route::further(&travelled, one.shape, frets(one.travel_frets)),
        None => words::route::no_one_shape(&travelled),
    }
}

/// What the route keeps small.
fn why(route: &Route) -> String {
    let moves = route.moves();
    let changes = moves.iter().filter(|m| m.shape_changes).count();
    let lifted: usize = moves.iter().map(|m| m.lifted.len()).sum();
    let stays = moves.iter().filter(|m| m.staying.contains(&1)).count();
    let plural =
        |n: usize, one: &str, more: &str| format!("{n} {}", if n == 1 { one } else { more });
    let mut text = words::route::why_this_way(
        plural(
            changes,
            words::route::CHANGE_OF_SHAPE,
            words::route::CHANGES_OF_SHAPE,
        ),
        plural(
            lifted,
            words::route::FINGER_LIFTED,
            words::route::FINGERS_LIFTED,
        ),
    );
    if stays > 0 {
        text.push_str(&words::route::index_stays(plural(
            stays,
            words::route::CHANGE,
            words::route::CHANGES,
        )));
    }
    text.push('.');
    text
}

/// What `--json` prints.
#[derive(Serialize)]
struct JsonRoute {
    travel_frets: u32,
    one_shape_travel_frets: Option<u32>,
    one_shape: Option<Shape>,
    #[serde(rename = "loop")]
    closed: bool,
    steps: Vec<JsonStep>,
    /// From the last step back to the first, in a loop.
    #[serde(skip_serializing_if = "Option::is_none")]
    back: Option<Move>,
    why: String,
}

#[derive(Serialize)]
struct JsonStep {
    chord: ChordName,
    frets: Frets,
    shape: Option<Shape>,
    at: u8,
    root_string: u8,
    fingers: Fingering,
    /// From the step before; null for the first.
    from_before: Option<Move>,
    why: Option<String>,
}

fn json(route: &Route) -> JsonRoute {
    let moves = route.moves();
    let back = (route.closed).then(|| moves.get(route.steps.len() - 1).cloned());
    let step = |(index, step): (usize, &crate::progression::RouteChord)| {
        let before = index
            .checked_sub(1)
            .map(|i| (&route.steps[i].voicing, &moves[i]));
        JsonStep {
            chord: step.chord,
            frets: step.voicing.frets,
            shape: step.voicing.shape,
            at: step.voicing.at,
            root_string: step.voicing.root_string,
            fingers: step.voicing.fingering,
            from_before: before.map(|(_, step_to)| step_to.clone()),
            why: before.map(|(from, step_to)| step_to.describe(from, &step.voicing)),
        }
    };
    JsonRoute {
        travel_frets: route.travel_frets(),
        one_shape_travel_frets: route.one_shape.map(|one| one.travel_frets),
        one_shape: route.one_shape.map(|one| one.shape),
        closed: route.closed,
        steps: route.steps.iter().enumerate().map(step).collect(),
        back: back.flatten(),
        why: why(route),
    }
}
