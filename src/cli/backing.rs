//! `ringtrue backing`: something to play along with, as a file or aloud.

use std::path::PathBuf;
use std::process::ExitCode;
use std::thread;
use std::time::Duration;

use anyhow::{Result, anyhow, bail};

use super::Console;
use super::guitar::TuningArgs;
use super::picture::check_ending;
use super::song::{Pace, ProgressionArgs, VolumeArgs, warn};
use crate::audio::live::{Sink, open_output};
use crate::audio::write_wav;
use crate::disk;
use crate::fretboard::Tuning;
use crate::progression::Plan;
use crate::progression::backing::{Hit, arrangement};
use crate::progression::band::{loudness, sound};
use crate::progression::midi::midi;
use crate::report::terminal::shown;
use crate::words;
use crate::words::help::backing as help;

/// Rate of the files, in Hz.
const FILE_RATE_HZ: u32 = 44_100;
/// Arguments of `ringtrue backing`.
#[derive(Debug, Clone, clap::Args)]
#[command(about = help::ABOUT, long_about = help::LONG_ABOUT, after_help = help::AFTER)]
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
    #[command(flatten)]
    volume: VolumeArgs,
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
    let tuning = args.tuning.tuning_for(&song, Tuning::default())?;
    let plan = args.pace.plan(&song)?;
    let volume = args.volume.gain()?;
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
        warn(console.out, true)?;
        console.out.flush()?;
        play(&hits, &plan, volume, sink.as_mut())?;
    } else if args.out.is_some() {
        warn(console.out, true)?;
    }
    Ok(ExitCode::SUCCESS)
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
