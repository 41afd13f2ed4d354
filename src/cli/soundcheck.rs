//! `ringtrue soundcheck`: the microphone, the room and the six open strings.

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use anyhow::{Context, bail};

use super::chord::TuningArgs;
use super::guitar::GuitarArgs;
use super::sound::Sound;
use super::{AS_IT_SHOULD_BE, Console, FAULT};
use crate::audio::Meter;
use crate::audio::live::{Came, Source, inputs, open_output};
use crate::fretboard::{Note, STRINGS, Tuning};
use crate::listening::round_trip;
use crate::report::terminal::shown;
use crate::strings::profile::{OpenString, Plucks, Profile, StringReader};

/// A string is in tune within this, in cents: half of what amateurs hear in an interval (Hill and
/// Summers, JASA 121 (2007) 2376).
const IN_TUNE_CENTS: f32 = 5.0;
/// The room is listened to for this long, in seconds.
const ROOM_S: f64 = 2.0;
/// A quiet room lies below this, in dBFS: strums are judged down to 15 dB over the room, and a
/// usual one has -20.
const QUIET_ROOM_DBFS: f32 = -45.0;
/// A string should reach this, in dBFS: what is recorded lower is easily lost in the room.
const QUIET_STRING_DBFS: f32 = -45.0;

/// Check microphone, room and tuning, and learn a guitar
///
/// Listens to the quiet room, then asks for the six open strings one by one and
/// waits until each is in tune. With --guitar, what was learned is kept under that
/// name, for --guitar of check, listen, practice and play.
#[derive(Debug, clap::Args)]
#[command(
    verbatim_doc_comment,
    after_help = "\
Exit status:
  0  all strings were heard and are in tune
  1  a string of the recording is out of tune
  2  it could not be made: an argument is wrong, there is no microphone, or a string is
     missing"
)]
pub struct Args {
    #[command(flatten)]
    tuning: TuningArgs,
    #[command(flatten)]
    guitar: GuitarArgs,
    /// Microphone: its name or a part of it
    #[arg(long, value_name = "NAME")]
    input: Option<String>,
    /// List the microphones and end
    #[arg(long)]
    list: bool,
    /// Hear a recording of the six open strings, 6 to 1, instead of a microphone
    #[arg(long, value_name = "FILE")]
    from: Option<PathBuf>,
    /// Play clicks and measure the delay until they are heard, for playing with a backing
    #[arg(long)]
    delay: bool,
}

/// Makes the soundcheck.
///
/// # Errors
/// Arguments that make no sense, no microphone, a string missing from a recording, as a sentence;
/// output that cannot be written, as an [`std::io::Error`].
pub fn run(args: &Args, console: &mut Console) -> anyhow::Result<ExitCode> {
    let out = &mut *console.out;
    if args.list {
        for device in inputs()? {
            let mark = if device.usual { "  (usual)" } else { "" };
            writeln!(out, "{}{mark}", device.name)?;
        }
        return Ok(AS_IT_SHOULD_BE.into());
    }
    let tuning = args.tuning.tuning()?;
    if args.delay && args.from.is_some() {
        bail!("--delay needs a microphone and a loudspeaker; leave --from out");
    }
    let Sound {
        mut source,
        recording,
    } = Sound::open(args.from.as_deref(), args.input.as_deref())?;
    let mut check = Check {
        tuning,
        meter: Meter::new(source.rate_hz()),
        plucks: Plucks::new(source.rate_hz()),
        reader: StringReader::new(source.rate_hz()),
        block: Vec::new(),
        live: args.from.is_none(),
    };
    if check.live {
        check.room(&mut *source, out)?;
    }
    let strings = check.strings(&mut *source, out);
    if let Some(error) = recording.and_then(|r| r.error()) {
        bail!(error);
    }
    let strings = strings?;
    let delay_s = match args.delay {
        true => Some(delay(&mut *source, out)?),
        false => None,
    };
    if check.meter.clipped() > 0 {
        writeln!(
            out,
            "It was too loud: move the microphone away or turn its level down."
        )?;
    }
    if let Some(name) = args.guitar.name() {
        let profile = Profile {
            guitar: name.trim().to_owned(),
            open: tuning.open,
            capo: tuning.capo,
            a4_hz: tuning.a4_hz,
            floor_dbfs: check.meter.floor_dbfs().unwrap_or(0.0),
            input: args.input.clone(),
            delay_s,
            strings: strings.clone(),
        };
        let path = args.guitar.profiles()?.keep(&profile)?;
        writeln!(out, "Kept as {:?} in {}.", profile.guitar, shown(&path))?;
    }
    let out_of_tune = strings.iter().any(|s| s.cents.abs() > IN_TUNE_CENTS);
    Ok(match out_of_tune {
        true => FAULT,
        false => AS_IT_SHOULD_BE,
    }
    .into())
}

struct Check {
    tuning: Tuning,
    meter: Meter,
    plucks: Plucks,
    reader: StringReader,
    block: Vec<f32>,
    live: bool,
}

impl Check {
    /// The next pluck; `None` at the end of a recording.
    fn pluck(&mut self, source: &mut dyn Source) -> anyhow::Result<Option<Vec<f32>>> {
        loop {
            match source.read(&mut self.block)? {
                Came::Sound => {
                    self.meter.push(&self.block);
                    if self.meter.is_dead() && self.live {
                        bail!(DEAD);
                    }
                    if let Some(pluck) = self.plucks.push(&self.block) {
                        return Ok(Some(pluck));
                    }
                }
                // A pluck with a hole in it is read wrongly: begin anew.
                Came::Lost(_) => self.plucks = Plucks::new(source.rate_hz()),
                Came::End => return Ok(None),
            }
        }
    }

    /// Listens to the quiet room.
    fn room(&mut self, source: &mut dyn Source, out: &mut dyn Write) -> anyhow::Result<()> {
        writeln!(out, "Keep quiet for two seconds ...")?;
        out.flush()?;
        let mut heard = 0;
        while (heard as f64) < ROOM_S * f64::from(source.rate_hz()) {
            source.read(&mut self.block)?;
            heard += self.block.len();
            self.meter.push(&self.block);
        }
        if self.meter.is_dead() {
            bail!(DEAD);
        }
        let floor = self.meter.floor_dbfs().unwrap_or_default();
        let word = match floor < QUIET_ROOM_DBFS {
            true => "quiet enough",
            false => "loud: switch off what hums, or move the microphone nearer",
        };
        writeln!(out, "The room is {word} ({floor:.0} dBFS).")?;
        Ok(())
    }

    /// The six strings, 6 to 1. Live, each is waited for until it is in tune.
    fn strings(
        &mut self,
        source: &mut dyn Source,
        out: &mut dyn Write,
    ) -> anyhow::Result<Vec<OpenString>> {
        let mut strings: Vec<OpenString> = Vec::with_capacity(STRINGS);
        if self.live {
            self.ask(out, 0)?;
        }
        while strings.len() < STRINGS {
            let Some(pluck) = self.pluck(source)? else {
                break;
            };
            let index = strings.len();
            let Some(string) = self.reader.read(&pluck, &self.tuning, index) else {
                // In a recording a string may be plucked again after tuning.
                if let Some(again) = index
                    .checked_sub(1)
                    .filter(|_| !self.live)
                    .and_then(|before| self.reader.read(&pluck, &self.tuning, before))
                {
                    self.tell(out, &again)?;
                    strings[index - 1] = again;
                } else if self.live {
                    self.puzzled(out, &pluck, index)?;
                }
                continue;
            };
            self.tell(out, &string)?;
            if self.live && string.cents.abs() > IN_TUNE_CENTS {
                continue;
            }
            strings.push(string);
            if self.live && strings.len() < STRINGS {
                self.ask(out, strings.len())?;
            }
        }
        if strings.len() < STRINGS {
            let index = strings.len();
            bail!(
                "string {} was not heard; pluck the open strings one by one, 6 to 1, and let each \
                 ring for two seconds",
                STRINGS - index
            );
        }
        Ok(strings)
    }

    fn name(&self, index: usize) -> Note {
        Note::usual(self.tuning.midi(index, 0) % 12)
    }

    fn ask(&self, out: &mut dyn Write, index: usize) -> anyhow::Result<()> {
        let (number, name) = (STRINGS - index, self.name(index));
        writeln!(out, "Pluck open string {number} ({name}).")?;
        Ok(out.flush()?)
    }

    /// How the string is tuned, and what to do.
    fn tell(&self, out: &mut dyn Write, string: &OpenString) -> anyhow::Result<()> {
        let name = self.name(STRINGS - usize::from(string.string)).to_string();
        let off = string.cents.abs();
        let how = match string.cents {
            _ if off <= IN_TUNE_CENTS => "in tune".to_owned(),
            c if c < 0.0 => format!("{off:.0} cents flat: tune it up"),
            _ => format!("{off:.0} cents sharp: tune it down"),
        };
        let level = match string.level_dbfs < QUIET_STRING_DBFS {
            true => "; very quiet: move the microphone nearer",
            false => "",
        };
        // Adding zero turns -0.0 into 0.0.
        let cents = (string.cents * 10.0).round() / 10.0 + 0.0;
        writeln!(
            out,
            "  string {} {name:<2} {cents:+6.1} cents  {how}{level}",
            string.string
        )?;
        Ok(out.flush()?)
    }

    fn puzzled(&mut self, out: &mut dyn Write, pluck: &[f32], index: usize) -> anyhow::Result<()> {
        let other = (0..STRINGS)
            .filter(|&i| i != index)
            .filter_map(|i| self.reader.read(pluck, &self.tuning, i))
            .min_by(|a, b| a.cents.abs().total_cmp(&b.cents.abs()));
        let number = STRINGS - index;
        match other {
            Some(other) => writeln!(
                out,
                "  That sounds like string {}; string {number} is asked for.",
                other.string
            )?,
            None => writeln!(
                out,
                "  No string was heard clearly; pluck string {number} alone and let it ring."
            )?,
        }
        Ok(out.flush()?)
    }
}

const DEAD: &str = "no sound at all from the microphone: it is switched off, or the system keeps its \
                    sound away; allow it in the privacy settings and start again";

/// Measures the delay between playing and hearing.
fn delay(source: &mut dyn Source, out: &mut dyn Write) -> anyhow::Result<f64> {
    let mut sink = open_output()?;
    writeln!(out, "Listening for clicks: keep quiet, loudspeaker on ...")?;
    out.flush()?;
    let begun = Instant::now();
    let delays = round_trip(source, &mut *sink)?;
    let found = delays.context(
        "the clicks were not heard: turn the loudspeaker up, take headphones off, and see that \
         the microphone hears it",
    )?;
    writeln!(
        out,
        "From playing to hearing: {:.0} ms (clicks within {:.0} ms of each other).",
        1e3 * found.delay_s,
        1e3 * found.spread_s
    )?;
    log::debug!("measured in {:?}", begun.elapsed().max(Duration::ZERO));
    Ok(found.delay_s)
}
