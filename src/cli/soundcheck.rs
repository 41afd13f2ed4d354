//! `ringtrue soundcheck`: the microphone, the room and the six open strings.

use std::io::{self, IsTerminal, Write};
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use anyhow::{Context, bail};

use super::guitar::{GuitarArgs, TuningArgs};
use super::sound::SoundInput;
use super::stop::Stop;
use super::{AS_IT_SHOULD_BE, Console, FAULT};
use crate::audio::Meter;
use crate::audio::live::{Came, Source, inputs, open_output};
use crate::fretboard::{NoteName, STRINGS, Tuning};
use crate::listening::round_trip;
use crate::report::live::{Key, Stage, Tuner, tuner};
use crate::report::terminal::shown;
use crate::strings::profile::{
    OpenString, Plucks, Profile, ProfileError, RUNNING_S, Sounding, StringReader,
};
use crate::words;
use crate::words::help::soundcheck as help;

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
/// How often the level and the running pitch are drawn.
const REFRESH: Duration = Duration::from_millis(150);
/// A pitch is followed while the string is so much louder than the quiet room, in dB.
const OVER_ROOM_DB: f32 = 15.0;

/// Arguments of `ringtrue soundcheck`.
#[derive(Debug, clap::Args)]
#[command(about = help::ABOUT, long_about = help::LONG_ABOUT, after_help = help::AFTER)]
pub struct Args {
    #[command(flatten)]
    tuning: TuningArgs,
    #[command(flatten)]
    guitar: GuitarArgs,
    #[arg(long, value_name = "NAME", help = help::INPUT)]
    input: Option<String>,
    #[arg(long, help = help::LIST)]
    list: bool,
    #[arg(long, value_name = "FILE", help = help::FROM)]
    from: Option<PathBuf>,
    #[arg(long, help = help::DELAY)]
    delay: bool,
    #[arg(long, requires = "guitar", help = help::LEFT)]
    left: bool,
    #[arg(long, help = help::PLAIN)]
    plain: bool,
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
            let mark = if device.usual {
                words::soundcheck::USUAL
            } else {
                ""
            };
            writeln!(out, "{}{mark}", device.name)?;
        }
        return Ok(AS_IT_SHOULD_BE.into());
    }
    let tuning = args.tuning.tuning(Tuning::default())?;
    if args.delay && args.from.is_some() {
        bail!(words::soundcheck::DELAY_NEEDS_DEVICES);
    }
    let known = match args.guitar.name() {
        Some(name) => match args.guitar.profiles()?.load(name) {
            Ok(profile) => Some(profile),
            // One that cannot be read is made anew.
            Err(ProfileError::Missing { .. } | ProfileError::Damaged { .. }) => None,
            Err(error) => return Err(error).context("--guitar"),
        },
        None => None,
    };
    let delay_alone = args.delay && (known.is_some() || args.guitar.name().is_none());
    let input = args.input.clone().or_else(|| {
        let profile = known.as_ref().filter(|_| delay_alone)?;
        profile.input.clone()
    });
    let SoundInput {
        mut source,
        recording,
    } = SoundInput::open(args.from.as_deref(), input.as_deref())?;
    if delay_alone {
        let delay_s = Some(delay(&mut *source, out)?);
        if let Some(profile) = known {
            let profile = Profile { delay_s, ..profile };
            keep(&profile, &args.guitar, out)?;
        }
        return Ok(AS_IT_SHOULD_BE.into());
    }
    let live = args.from.is_none();
    let whole_screen = live && !args.plain && io::stdout().is_terminal();
    let stop = Stop::new()?;
    let mut check = Soundcheck {
        tuning,
        meter: Meter::new(source.rate_hz()),
        plucks: Plucks::new(source.rate_hz()),
        reader: StringReader::new(source.rate_hz()),
        block: Vec::new(),
        last: Vec::new(),
        drawn: None,
        asked: None,
        live,
        stop,
    };
    let (strings, told) = if whole_screen {
        let mut screen = OnScreen {
            stage: Stage::open()?,
            tuner: Tuner {
                in_tune_cents: IN_TUNE_CENTS,
                ..Tuner::default()
            },
            told: Vec::new(),
        };
        let strings = check.whole(&mut *source, &mut screen);
        (strings, screen.told)
    } else {
        let strings = check.whole(&mut *source, &mut InLines { out: &mut *out });
        (strings, Vec::new())
    };
    // The screen that told it is gone.
    for line in told {
        writeln!(out, "{line}")?;
    }
    if let Some(error) = recording.and_then(|r| r.error()) {
        bail!(error);
    }
    let strings = strings?;
    let delay_s = match args.delay {
        true => Some(delay(&mut *source, out)?),
        false => None,
    };
    if check.meter.clipped() > 0 {
        writeln!(out, "{}", words::soundcheck::TOO_LOUD)?;
    }
    if let Some(name) = args.guitar.name() {
        let profile = Profile {
            guitar: name.trim().to_owned(),
            open: tuning.open,
            capo: tuning.capo,
            a4_hz: tuning.a4_hz,
            floor_dbfs: check.meter.floor_dbfs().unwrap_or(0.0),
            input: args.input.clone(),
            // What was measured before, and which hand it is strung for, stay as they were.
            delay_s: delay_s.or(known.as_ref().and_then(|p| p.delay_s)),
            left: args.left || known.as_ref().is_some_and(|p| p.left),
            // A trial learnt it of this guitar; the next trial says whether it still helps.
            learnt: known.map_or_else(Default::default, |p| p.learnt),
            strings: strings.clone(),
        };
        keep(&profile, &args.guitar, out)?;
        writeln!(out, "{}", words::soundcheck::next(&profile.guitar))?;
        writeln!(out, "{}", words::soundcheck::is_it_right(&profile.guitar))?;
    }
    let out_of_tune = strings.iter().any(|s| s.cents.abs() > IN_TUNE_CENTS);
    Ok(match out_of_tune {
        true => FAULT,
        false => AS_IT_SHOULD_BE,
    }
    .into())
}

/// Where a soundcheck is shown.
trait Shows {
    /// A sentence for the player.
    fn say(&mut self, sentence: &str) -> io::Result<()>;
    /// This string, as "6 E", is waited for.
    fn ask(&mut self, string: &str) -> io::Result<()>;
    /// A string was read: a line on it.
    fn read(&mut self, line: &str) -> io::Result<()>;
    /// What comes in at this moment. Gives whether the player wants to end it.
    fn moment(&mut self, level_dbfs: f32, cents: Option<f32>) -> io::Result<bool>;
    /// Whether moments are shown at all.
    fn follows(&self) -> bool;
}

struct InLines<'a> {
    out: &'a mut dyn Write,
}

impl Shows for InLines<'_> {
    fn say(&mut self, sentence: &str) -> io::Result<()> {
        writeln!(self.out, "{sentence}")?;
        self.out.flush()
    }

    fn ask(&mut self, _string: &str) -> io::Result<()> {
        Ok(())
    }

    fn read(&mut self, line: &str) -> io::Result<()> {
        self.say(line)
    }

    fn moment(&mut self, _level_dbfs: f32, _cents: Option<f32>) -> io::Result<bool> {
        Ok(false)
    }

    fn follows(&self) -> bool {
        false
    }
}

struct OnScreen {
    stage: Stage,
    tuner: Tuner,
    /// What is to be read when the screen is gone.
    told: Vec<String>,
}

impl Shows for OnScreen {
    fn say(&mut self, sentence: &str) -> io::Result<()> {
        self.tuner.words = sentence.trim().to_owned();
        self.stage.draw(|frame| tuner::draw(frame, &self.tuner))
    }

    fn ask(&mut self, string: &str) -> io::Result<()> {
        self.tuner.string = string.to_owned();
        self.tuner.cents = None;
        Ok(())
    }

    fn read(&mut self, line: &str) -> io::Result<()> {
        // A string that is tuned again has one line, its last.
        let same = |told: &String| told.get(..12) == line.get(..12);
        self.told.retain(|told| !same(told));
        self.told.push(line.to_owned());
        self.tuner.done = self.told.clone();
        Ok(())
    }

    fn moment(&mut self, level_dbfs: f32, cents: Option<f32>) -> io::Result<bool> {
        self.tuner.level_dbfs = Some(level_dbfs);
        self.tuner.cents = cents;
        self.stage.draw(|frame| tuner::draw(frame, &self.tuner))?;
        Ok(self.stage.key()? == Some(Key::Quit))
    }

    fn follows(&self) -> bool {
        true
    }
}

struct Soundcheck {
    tuning: Tuning,
    meter: Meter,
    plucks: Plucks,
    reader: StringReader,
    block: Vec<f32>,
    /// The last [`RUNNING_S`] of sound.
    last: Vec<f32>,
    drawn: Option<Instant>,
    /// Index of the string that is waited for.
    asked: Option<usize>,
    live: bool,
    stop: Stop,
}

impl Soundcheck {
    /// The room, where a microphone hears it, and the strings.
    fn whole(
        &mut self,
        source: &mut dyn Source,
        face: &mut dyn Shows,
    ) -> anyhow::Result<Vec<OpenString>> {
        if self.live {
            self.room(source, face)?;
        }
        self.strings(source, face)
    }

    /// Takes the next block in and shows the moment.
    fn hear(&mut self, source: &mut dyn Source, face: &mut dyn Shows) -> anyhow::Result<Came> {
        let came = source.read(&mut self.block)?;
        if came == Came::Sound {
            self.meter.push(&self.block);
            let kept = (RUNNING_S * f64::from(source.rate_hz())) as usize;
            self.last.extend_from_slice(&self.block);
            self.last.drain(..self.last.len().saturating_sub(kept));
        }
        if self.stop.is_asked() {
            bail!(BROKEN_OFF);
        }
        if face.follows() && self.drawn.is_none_or(|at| at.elapsed() >= REFRESH) {
            self.drawn = Some(Instant::now());
            let cents = self.running_cents();
            if face.moment(self.meter.peak_dbfs(), cents)? {
                bail!(BROKEN_OFF);
            }
        }
        Ok(came)
    }

    /// How far off the string that is waited for is just now, where it rings alone.
    fn running_cents(&mut self) -> Option<f32> {
        let floor = self.meter.floor_dbfs()?;
        let rings = self.meter.peak_dbfs() > floor + OVER_ROOM_DB;
        let index = self.asked.filter(|_| rings)?;
        self.reader.running_cents(&self.last, &self.tuning, index)
    }

    /// The next pluck; `None` at the end of a recording.
    fn pluck(
        &mut self,
        source: &mut dyn Source,
        face: &mut dyn Shows,
    ) -> anyhow::Result<Option<Vec<f32>>> {
        loop {
            match self.hear(source, face)? {
                Came::Sound => {
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
    fn room(&mut self, source: &mut dyn Source, face: &mut dyn Shows) -> anyhow::Result<()> {
        face.say(words::soundcheck::KEEP_QUIET)?;
        let mut heard = 0;
        while (heard as f64) < ROOM_S * f64::from(source.rate_hz()) {
            self.hear(source, face)?;
            heard += self.block.len();
        }
        if self.meter.is_dead() {
            bail!(DEAD);
        }
        let floor = self.meter.floor_dbfs().unwrap_or_default();
        let word = match floor < QUIET_ROOM_DBFS {
            true => words::soundcheck::QUIET_ENOUGH,
            false => words::soundcheck::ROOM_IS_LOUD,
        };
        let line = words::soundcheck::room(word, floor);
        face.read(&line)?;
        Ok(())
    }

    /// The six strings, 6 to 1. Live, each is waited for until it is in tune.
    fn strings(
        &mut self,
        source: &mut dyn Source,
        face: &mut dyn Shows,
    ) -> anyhow::Result<Vec<OpenString>> {
        let mut strings: Vec<OpenString> = Vec::with_capacity(STRINGS);
        if self.live {
            self.ask(face, 0)?;
        }
        while strings.len() < STRINGS {
            let Some(pluck) = self.pluck(source, face)? else {
                break;
            };
            let index = strings.len();
            let sounding = self.reader.read(&pluck, &self.tuning, index);
            let Sounding::String(string) = sounding else {
                // In a recording a string may be plucked again after tuning.
                if let Some(again) = index
                    .checked_sub(1)
                    .filter(|_| !self.live)
                    .and_then(|before| self.reader.read(&pluck, &self.tuning, before).string())
                {
                    self.tell(face, &again)?;
                    strings[index - 1] = again;
                } else if self.live || sounding == Sounding::Several {
                    self.puzzled(face, &pluck, index, sounding)?;
                }
                continue;
            };
            self.tell(face, &string)?;
            if self.live && string.cents.abs() > IN_TUNE_CENTS {
                continue;
            }
            strings.push(string);
            if self.live && strings.len() < STRINGS {
                self.ask(face, strings.len())?;
            }
        }
        if strings.len() < STRINGS {
            let index = strings.len();
            bail!(words::soundcheck::not_heard(STRINGS - index));
        }
        Ok(strings)
    }

    fn name(&self, index: usize) -> NoteName {
        NoteName::usual(self.tuning.midi(index, 0) % 12)
    }

    fn ask(&mut self, face: &mut dyn Shows, index: usize) -> io::Result<()> {
        let (number, name) = (STRINGS - index, self.name(index));
        self.asked = Some(index);
        face.ask(&format!("{number} {name}"))?;
        face.say(&words::soundcheck::pluck(number, name))
    }

    /// How the string is tuned, and what to do.
    fn tell(&self, face: &mut dyn Shows, string: &OpenString) -> io::Result<()> {
        let name = self.name(STRINGS - usize::from(string.string)).to_string();
        let off = string.cents.abs();
        let how = match string.cents {
            _ if off <= IN_TUNE_CENTS => words::soundcheck::IN_TUNE.to_owned(),
            c if c < 0.0 => words::soundcheck::flat(off),
            _ => words::soundcheck::sharp(off),
        };
        let level = match string.level_dbfs < QUIET_STRING_DBFS {
            true => words::soundcheck::VERY_QUIET,
            false => "",
        };
        // Adding zero turns -0.0 into 0.0.
        let cents = (string.cents * 10.0).round() / 10.0 + 0.0;
        face.read(&words::soundcheck::string_line(
            string.string,
            &name,
            cents,
            &how,
            level,
        ))
    }

    fn puzzled(
        &mut self,
        face: &mut dyn Shows,
        pluck: &[f32],
        index: usize,
        sounding: Sounding,
    ) -> io::Result<()> {
        let number = STRINGS - index;
        if sounding == Sounding::Several {
            return face.say(&words::soundcheck::several_strings(number));
        }
        let other = (0..STRINGS)
            .filter(|&i| i != index)
            .filter_map(|i| self.reader.read(pluck, &self.tuning, i).string())
            .min_by(|a, b| a.cents.abs().total_cmp(&b.cents.abs()));
        face.say(&match other {
            Some(other) => words::soundcheck::another_string(other.string, number),
            None => words::soundcheck::no_clear_string(number),
        })
    }
}

const BROKEN_OFF: &str = words::soundcheck::BROKEN_OFF;
const DEAD: &str = words::soundcheck::NO_SOUND_AT_ALL;

/// Keeps a profile and says where.
fn keep(profile: &Profile, guitars: &GuitarArgs, out: &mut dyn Write) -> anyhow::Result<()> {
    let path = guitars.profiles()?.keep(profile)?;
    let kept = words::soundcheck::kept(&profile.guitar, shown(&path));
    Ok(writeln!(out, "{kept}")?)
}

/// Measures the delay between playing and hearing.
fn delay(source: &mut dyn Source, out: &mut dyn Write) -> anyhow::Result<f64> {
    let mut sink = open_output()?;
    writeln!(out, "{}", words::soundcheck::LISTENING_FOR_CLICKS)?;
    out.flush()?;
    let begun = Instant::now();
    let delays = round_trip(source, &mut *sink)?;
    let found = delays.context(words::soundcheck::NO_CLICKS)?;
    let said = words::soundcheck::delay(1e3 * found.delay_s, 1e3 * found.spread_s);
    writeln!(out, "{said}")?;
    log::debug!("measured in {:?}", begun.elapsed().max(Duration::ZERO));
    Ok(found.delay_s)
}
