//! `ringtrue demo`: the sound of a chord, with any fault on any string, as a WAV file.

use std::path::PathBuf;
use std::process::ExitCode;
use std::str::FromStr;

use anyhow::{Context, anyhow, bail};
use ebur128::{EbuR128, Mode};
use rand::SeedableRng;
use rand::rngs::SmallRng;

use super::chord::ChordArgs;
use super::guitar::NamedGuitar;
use super::picture::check_ending;
use super::{AS_IT_SHOULD_BE, Console};
use crate::audio::write_wav;
use crate::decibels;
use crate::fretboard::{Frets, STRINGS, Tuning, string_number};
use crate::report::terminal::shown;
use crate::synth::instrument::Instrument;
use crate::synth::notes::NOTE_RATE_HZ;
use crate::synth::string::Touch;
use crate::synth::strum::{Behaviour, Gesture, StringPart, strum};
use crate::take::Manner;
use crate::words;
use crate::words::help::demo as help;

/// Loudness of the file in LUFS: EBU R 128.
const LOUDNESS_LUFS: f64 = -23.0;
/// The highest peak in dBFS, wherever the loudness would lead: a plucked string is all peak. A choice,
/// well below the -1 dBTP of EBU R 128.
const HIGHEST_PEAK_DBFS: f64 = -6.0;
/// How long the chord sounds after its last string, in seconds.
const SECONDS: f64 = 2.5;
/// From string to string when picked, in seconds.
const PICKED_S: f64 = 0.6;
/// How hard a buzzing string hits: well heard for some tenths of a second. A choice.
const BUZZ: f64 = 0.85;
/// How long a choked string lasts, in seconds.
const CHOKED_S: f64 = 0.3;
/// How much farther than usual a hard stroke draws the strings: they meet the frets for a moment. A choice.
const HARD: f64 = 1.5;
/// Allowed span of a strum's step from string to string, in milliseconds.
const STEP_MS: (f64, f64) = (1.0, 60.0);

/// Arguments of `ringtrue demo`.
#[derive(Debug, clap::Args)]
#[command(
    about = help::ABOUT,
    long_about = help::LONG_ABOUT,
    override_usage = "ringtrue demo --frets FRETS --out FILE.wav [OPTIONS]
       ringtrue demo --chord NAME [--shape SHAPE] [--at FRET] --out FILE.wav [OPTIONS]",
    after_help = help::AFTER
)]
pub struct Args {
    #[command(flatten)]
    chord: ChordArgs,
    #[arg(long, value_name = "FILE", help = help::OUT)]
    out: PathBuf,
    #[arg(long = "fault", value_name = "STRING=FAULT", help = help::FAULTS)]
    faults: Vec<String>,
    #[arg(long, help = help::UP)]
    up: bool,
    #[arg(long, conflicts_with = "step", help = help::PICKED)]
    picked: bool,
    #[arg(long, value_name = "MS", allow_negative_numbers = true, help = help::STEP)]
    step: Option<String>,
    #[arg(long, help = help::NO_PLECTRUM)]
    no_plectrum: bool,
    #[arg(long, help = help::HARD)]
    hard: bool,
    #[arg(long, value_name = "NUMBER", default_value_t = 0, help = help::SEED)]
    seed: u64,
}

/// What is to be heard.
struct Settings {
    tuning: Tuning,
    frets: Frets,
    parts: [Option<StringPart>; STRINGS],
    stroke: Gesture,
}

/// Writes the file and says what is in it.
///
/// # Errors
/// Arguments that make no sense, a file that cannot be written.
pub fn run(args: &Args, console: &mut Console) -> anyhow::Result<ExitCode> {
    check_ending("--out", &args.out, &["wav"])?;
    let settings = settings(args)?;
    let mut rng = SmallRng::seed_from_u64(args.seed);
    let guitar = match args.seed {
        0 => Instrument::usual(&settings.tuning),
        _ => Instrument::drawn(&settings.tuning, &mut rng),
    };
    let struck = strum(
        &guitar,
        &settings.parts,
        &settings.stroke,
        SECONDS,
        &mut rng,
    );
    let mut samples = struck.samples;
    level(&mut samples)?;
    write_wav(&args.out, NOTE_RATE_HZ, &samples)?;
    let seconds = samples.len() as f64 / f64::from(NOTE_RATE_HZ);
    let said = args.faults.join(", ");
    writeln!(
        console.out,
        "{}: {}{}, {seconds:.1} s",
        shown(&args.out),
        settings.frets,
        if said.is_empty() {
            words::demo::ALL_CLEAN.to_owned()
        } else {
            words::demo::with_faults(said)
        },
    )?;
    Ok(AS_IT_SHOULD_BE.into())
}

/// Brings the sound to a safe level: a loudness, and a highest peak.
fn level(samples: &mut [f32]) -> anyhow::Result<()> {
    let mut meter = EbuR128::new(1, NOTE_RATE_HZ, Mode::I)?;
    meter.add_frames_f32(samples)?;
    let loudness_lufs = meter.loudness_global()?;
    let peak = samples.iter().fold(0f32, |p, s| p.max(s.abs()));
    if peak == 0.0 {
        bail!(words::demo::ALL_MISSED);
    }
    let most_db = HIGHEST_PEAK_DBFS - decibels::of_amplitude(f64::from(peak));
    // A sound too short or too soft to have a loudness is held by its peak alone.
    let gain_db = match loudness_lufs {
        lufs if lufs.is_finite() => (LOUDNESS_LUFS - lufs).min(most_db),
        _ => most_db,
    };
    let gain = decibels::to_amplitude(gain_db) as f32;
    samples.iter_mut().for_each(|s| *s *= gain);
    Ok(())
}

/// A fault as the option names it.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Fault {
    Does(Behaviour),
    AtFret(u8),
    Ringing,
    Missed,
}

impl FromStr for Fault {
    type Err = anyhow::Error;

    fn from_str(text: &str) -> anyhow::Result<Self> {
        if let Some(fret) = text.strip_prefix("fret-") {
            return fret
                .parse()
                .ok()
                .filter(|&fret| fret <= Frets::HIGHEST)
                .map(Fault::AtFret)
                .with_context(|| words::demo::fret_expected(Frets::HIGHEST, fret));
        }
        Ok(match text {
            "muted" => Fault::Does(Behaviour::Muted),
            "choked" => Fault::Does(Behaviour::Choked { t60_s: CHOKED_S }),
            "buzzing" => Fault::Does(Behaviour::Buzzes { strength: BUZZ }),
            "rattling" => Fault::Does(Behaviour::Rattles {
                strength: BUZZ,
                flesh_db_s: 40.0,
            }),
            "ringing" => Fault::Ringing,
            "missed" => Fault::Missed,
            other => bail!(words::demo::no_such_fault(other)),
        })
    }
}

/// The typed arguments as plain settings.
fn settings(args: &Args) -> anyhow::Result<Settings> {
    let tuning = args.chord.tuning(&NamedGuitar::default())?;
    let expected = args.chord.expected(&tuning)?;
    let Some(voicing) = expected.example() else {
        bail!(words::demo::WHICH_CHORD);
    };
    let mut parts = voicing.frets.0.map(|fret| {
        fret.map(|fret| StringPart {
            fret,
            behaviour: Behaviour::Rings,
        })
    });
    let mut told = [false; STRINGS];
    for text in &args.faults {
        let (index, fault) = fault(text).with_context(|| format!("--fault {text}"))?;
        if std::mem::replace(&mut told[index], true) {
            bail!(words::demo::second_fault(text, string_number(index)));
        }
        parts[index] = part(index, voicing.frets.0[index], fault)
            .with_context(|| format!("--fault {text}"))?;
    }
    let sounding = Frets(parts.map(|p| p.map(|p| p.fret)));
    tuning.reaches(&sounding)?;
    Ok(Settings {
        tuning,
        frets: voicing.frets,
        parts,
        stroke: stroke(args)?,
    })
}

/// String and fault of `3=muted`.
fn fault(text: &str) -> anyhow::Result<(usize, Fault)> {
    let (string, fault) = text
        .split_once('=')
        .ok_or_else(|| anyhow!(words::demo::FORM_OF_A_FAULT))?;
    let index = string
        .trim()
        .parse::<usize>()
        .ok()
        .filter(|s| (1..=STRINGS).contains(s))
        .map(|s| STRINGS - s)
        .with_context(|| words::demo::string_expected(string))?;
    Ok((index, fault.trim().parse()?))
}

/// What the string does instead of what `expected` says.
fn part(index: usize, expected: Option<u8>, fault: Fault) -> anyhow::Result<Option<StringPart>> {
    let string = string_number(index);
    Ok(match (fault, expected) {
        (Fault::Missed, Some(_)) => None,
        (Fault::Does(behaviour), Some(fret)) => Some(StringPart { fret, behaviour }),
        (Fault::AtFret(fret), Some(expected)) if fret == expected => {
            bail!(words::demo::no_fault_there(string, fret))
        }
        (Fault::AtFret(fret), _) => Some(StringPart {
            fret,
            behaviour: Behaviour::Rings,
        }),
        (Fault::Ringing, None) => Some(StringPart {
            fret: 0,
            behaviour: Behaviour::Rings,
        }),
        (Fault::Ringing, Some(_)) => {
            bail!(words::demo::should_ring(string))
        }
        (Fault::Does(_) | Fault::Missed, None) => bail!(words::demo::not_played(string)),
    })
}

fn stroke(args: &Args) -> anyhow::Result<Gesture> {
    let mut stroke = Gesture::usual();
    stroke.down = !args.up;
    if args.picked {
        stroke.manner = Manner::Picked;
        stroke.step_s = PICKED_S;
    }
    if let Some(text) = &args.step {
        let (low, high) = STEP_MS;
        let ms: f64 = text
            .trim()
            .replace(',', ".")
            .parse()
            .ok()
            .filter(|ms| (low..=high).contains(ms))
            .with_context(|| words::demo::step_expected(low, high, text))?;
        stroke.step_s = ms / 1000.0;
    }
    if args.no_plectrum {
        stroke.pluck.touch = Touch::Finger;
    }
    if args.hard {
        stroke.pluck.aside_m *= HARD;
    }
    Ok(stroke)
}
