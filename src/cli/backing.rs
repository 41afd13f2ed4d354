//! `ringtrue backing`: something to play along with, as a file or aloud.

use std::path::PathBuf;
use std::process::ExitCode;
use std::thread;
use std::time::Duration;

use anyhow::{Result, anyhow, bail};

use super::chord::TuningArgs;
use super::picture::check_ending;
use super::route::{ProgressionArgs, wrapped};
use super::{Console, decimal};
use crate::audio::live::{Sink, open_output};
use crate::audio::write_wav;
use crate::disk;
use crate::fretboard::Tuning;
use crate::progression::backing::{Hit, SWINGS, arrangement};
use crate::progression::band::{loudness, sound};
use crate::progression::midi::midi;
use crate::progression::{Feel, Plan, Progression, Style, Timing};
use crate::report::terminal::shown;
use crate::words;
use crate::words::help::backing as help;

/// Rate of the files, in Hz.
const FILE_RATE_HZ: u32 = 44_100;
/// Level below a file's at which it is played aloud unless asked otherwise, in dB: what is too soft
/// can be turned up, what is too loud has been heard already.
pub const START_VOLUME_DB: f64 = -12.0;
/// Loudest that may be asked for, in dB against a file.
const HIGHEST_VOLUME_DB: f64 = 0.0;
const LOWEST_VOLUME_DB: f64 = -60.0;
/// Sentences that are said before anything is played aloud. The hours: WHO-ITU H.870, 80 dB(A) for 40 hours a
/// week, halved for each 3 dB more.
pub const HEARING: &str = words::playing::HEARING;
/// Said where no soundcheck tells how late sound is heard.
pub const DELAY_UNKNOWN: &str = words::playing::DELAY_UNKNOWN;

/// Pace and manner in which the band plays.
#[derive(Debug, Clone, clap::Args)]
pub struct Pace {
    #[arg(long, value_name = "BPM", default_value_t = 72.0, value_parser = decimal, help = help::TEMPO)]
    tempo: f64,
    #[arg(long, value_name = "BPM", value_parser = decimal, help = help::TO_TEMPO)]
    to_tempo: Option<f64>,
    #[arg(long, default_value_t = 4, help = help::BEATS)]
    beats: u32,
    #[arg(long, value_name = "BARS", default_value_t = 1, help = help::BARS_EACH)]
    bars_each: u32,
    #[arg(long, value_name = "TIMES", default_value_t = 1, help = help::LOOPS)]
    loops: usize,
    #[arg(long, value_name = "BARS", default_value_t = 2, help = help::COUNT_IN)]
    count_in: u32,
    #[arg(long, value_parser = feel, default_value = "quarters", help = help::FEEL)]
    feel: Feel,
    #[arg(long, value_name = "PERCENT", value_parser = decimal, help = help::SWING)]
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

/// Arguments of `ringtrue backing`.
#[derive(Debug, Clone, clap::Args)]
#[command(
    about = help::ABOUT,
    long_about = help::LONG_ABOUT,
    after_help = help::AFTER
)]
pub struct Args {
    #[command(flatten)]
    song: ProgressionArgs,
    #[command(flatten)]
    pace: Pace,
    #[command(flatten)]
    tuning: TuningArgs,
    #[arg(long, value_name = "FILE", help = help::OUT)]
    out: Option<PathBuf>,
    #[arg(long, value_name = "FILE", help = help::MIDI)]
    midi: Option<PathBuf>,
    #[arg(
        long,
        value_name = "DB",
        default_value_t = START_VOLUME_DB,
        allow_negative_numbers = true,
        value_parser = decimal,
        help = help::VOLUME,
    )]
    volume: f64,
}

/// Runs the command.
///
/// # Errors
/// A progression that cannot be read or put in time, files that cannot be written, a loudspeaker
/// that does not work.
pub fn run(args: &Args, console: &mut Console) -> Result<ExitCode> {
    for file in args.out.iter().chain(&args.midi) {
        disk::keep_apart(file, args.song.file())?;
    }
    if let (Some(out), Some(midi)) = (&args.out, &args.midi)
        && disk::same_file(out, midi)
    {
        bail!(words::playing::one_file_for_both(out.display()));
    }
    if let Some(out) = &args.out {
        check_ending("--out", out, &["wav"])?;
    }
    if let Some(midi) = &args.midi {
        check_ending("--midi", midi, &["mid"])?;
    }
    let song = args.song.read()?;
    let named = Tuning::default().with_capo(song.capo.unwrap_or(0))?;
    let tuning = args.tuning.tuning_from(named)?;
    let plan = args.pace.plan(&song)?;
    let volume = volume(args.volume)?;
    let hits = arrangement(&plan, &args.pace.style()?, &tuning);
    // Nothing is said before all that was asked for is there.
    let mut made = Vec::new();
    if let Some(path) = &args.out {
        let samples = sound(&hits, &plan, 1.0, FILE_RATE_HZ);
        write_wav(path, FILE_RATE_HZ, &samples)?;
        let found = loudness(&samples, FILE_RATE_HZ).map_or(String::new(), |l| {
            words::playing::loudness(l.lufs, l.peak_dbtp)
        });
        let seconds = samples.len() as f64 / f64::from(FILE_RATE_HZ);
        made.push(format!("{}: {seconds:.1} s{found}", shown(path)));
    }
    if let Some(path) = &args.midi {
        let bytes = midi(&plan, &hits, &tuning).map_err(|error| anyhow!("{error}"))?;
        disk::write_bytes(path, &bytes)?;
        made.push(words::playing::notes_in_file(shown(path), hits.len()));
    }
    for line in &made {
        writeln!(console.out, "{line}")?;
    }
    if args.out.is_none() && args.midi.is_none() {
        let mut sink = open_output()?;
        wrapped(console.out, "", HEARING)?;
        console.out.flush()?;
        play(&hits, &plan, volume, sink.as_mut())?;
    } else if args.out.is_some() {
        wrapped(console.out, "", HEARING)?;
    }
    Ok(ExitCode::SUCCESS)
}

/// A volume in dB as a factor.
///
/// # Errors
/// Out of range.
pub fn volume(db: f64) -> Result<f32> {
    if !(LOWEST_VOLUME_DB..=HIGHEST_VOLUME_DB).contains(&db) {
        bail!(words::playing::volume_out_of_range(db));
    }
    Ok(10f32.powf(db as f32 / 20.0))
}

/// Plays to the end.
fn play(hits: &[Hit], plan: &Plan, volume: f32, sink: &mut dyn Sink) -> Result<()> {
    let samples = sound(hits, plan, volume, sink.rate_hz());
    let mut queued = 0;
    while queued < samples.len() || sink.waiting() > 0 {
        queued += sink.queue(&samples[queued..]);
        if !sink.works() {
            bail!(words::playing::LOUDSPEAKER_GONE);
        }
        thread::sleep(Duration::from_millis(20));
    }
    Ok(())
}
