//! The options that say what is played along with: a progression, what the hand may do, how the band plays, how loud.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use anyhow::{Result, anyhow, bail};

use super::decimal;
use super::guitar::TuningArgs;
use crate::decibels;
use crate::disk;
use crate::fretboard::{Shape, Tuning};
use crate::progression::backing::SWINGS;
use crate::progression::{Feel, HandWeights, Limits, Plan, Progression, Style, Timing};
use crate::report::picture::wrapped;
use crate::words;
use crate::words::help::{backing as pace, route as help};

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
    pub fn tuning(&self, song: &Progression, usual: Tuning) -> Result<Tuning> {
        self.tuning.tuning_for(song, usual)
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

/// Pace and manner in which the band plays.
#[derive(Debug, Clone, clap::Args)]
pub struct Pace {
    #[arg(long, value_name = "BPM", default_value_t = 72.0, value_parser = decimal, help = pace::TEMPO)]
    tempo: f64,
    #[arg(long, value_name = "BPM", value_parser = decimal, help = pace::TO_TEMPO)]
    to_tempo: Option<f64>,
    #[arg(long, default_value_t = 4, help = pace::BEATS)]
    beats: u32,
    #[arg(long, value_name = "BARS", default_value_t = 1, help = pace::BARS_EACH)]
    bars_each: u32,
    #[arg(long, value_name = "TIMES", default_value_t = 1, help = pace::LOOPS)]
    loops: usize,
    #[arg(long, value_name = "BARS", default_value_t = 2, help = pace::COUNT_IN)]
    count_in: u32,
    #[arg(long, value_parser = feel, default_value = "quarters", help = pace::FEEL)]
    feel: Feel,
    #[arg(long, value_name = "PERCENT", value_parser = decimal, help = pace::SWING)]
    swing: Option<f64>,
}

fn feel(text: &str) -> Result<Feel, String> {
    let text = text.trim().to_lowercase();
    let found = Feel::ALL.into_iter().find(|feel| feel.word() == text);
    found.ok_or_else(|| words::playing::FEELS.to_owned())
}

impl Pace {
    /// The progression in time.
    ///
    /// # Errors
    /// Numbers out of range and crowded bars, as a sentence.
    pub fn plan(&self, song: &Progression) -> Result<Plan> {
        Ok(Plan::new(
            song,
            &Timing {
                from_bpm: self.tempo,
                to_bpm: self.to_tempo.unwrap_or(self.tempo),
                beats: self.beats,
                bars_each: self.bars_each,
                loops: self.loops,
                count_in_bars: self.count_in,
            },
        )?)
    }

    /// # Errors
    /// A swing that is none.
    pub fn style(&self) -> Result<Style> {
        let swing = self.swing.unwrap_or(self.feel.usual_swing());
        if !SWINGS.contains(&swing) {
            bail!(words::playing::swing_out_of_range(swing));
        }
        Ok(Style {
            feel: self.feel,
            swing,
        })
    }
}

/// Level below a file's at which it is played aloud unless asked otherwise, in dB: what is too soft
/// can be turned up, what is too loud has been heard already.
const START_VOLUME_DB: f64 = -12.0;
/// Loudest that may be asked for, in dB against a file.
const HIGHEST_VOLUME_DB: f64 = 0.0;
const LOWEST_VOLUME_DB: f64 = -60.0;

/// Volume aloud.
#[derive(Debug, Clone, clap::Args)]
pub struct VolumeArgs {
    #[arg(
        long = "volume",
        value_name = "DB",
        default_value_t = START_VOLUME_DB,
        allow_negative_numbers = true,
        value_parser = decimal,
        help = pace::VOLUME,
    )]
    db: f64,
}

impl VolumeArgs {
    /// The volume as a factor.
    ///
    /// # Errors
    /// Out of range.
    pub fn gain(&self) -> Result<f32> {
        if !(LOWEST_VOLUME_DB..=HIGHEST_VOLUME_DB).contains(&self.db) {
            bail!(words::playing::volume_out_of_range(self.db));
        }
        Ok(decibels::to_amplitude(self.db as f32))
    }
}

/// Says what is said before anything is played aloud, and where it is judged and no soundcheck tells how late it is heard, that.
///
/// # Errors
/// Where `out` cannot be written.
pub fn warn(out: &mut dyn Write, delay_known: bool) -> io::Result<()> {
    wrapped(out, "", words::playing::HEARING)?;
    if !delay_known {
        wrapped(out, "", words::playing::DELAY_UNKNOWN)?;
    }
    Ok(())
}
