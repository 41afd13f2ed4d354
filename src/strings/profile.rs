//! Profile of one guitar before one microphone, from a soundcheck: tuning, levels, delay. Handing each
//! string's stiffness to the fit was tried and gained nothing (`fixtures/measured/trials.md`).

use std::fs;
use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::bounds::{self, CENTS, LEVEL_DBFS, LONGEST_NAME, OutOfBounds};
use super::fit::{Fit, fit};
use super::learnt::{Learnt, OFFSET};
use crate::decibels;
use crate::disk::{self, DiskError};
use crate::fretboard::{STRINGS, Tuning, string_number, usual_b};
use crate::spectrum::partials::{cents, offsets_cents, shifted_hz};
use crate::spectrum::{Decimator, LinePlan, LineSpectrum};
use crate::words;

/// Farthest that an open string is looked for from where it should be, in cents: beyond, the next
/// string or the next note is the likelier cause.
const REACH_CENTS: f64 = 250.0;
/// Step of that search: a fit finds what lies within 25 cents of where it begins.
const STEP_CENTS: f64 = 20.0;
/// Sound after the pluck that is read, in seconds.
const PITCH_S: (f64, f64) = (0.08, 1.08);
/// Sound needed after a pluck, in seconds.
pub const NEEDED_S: f64 = 1.1;
/// A partial is there where its line stands this far above its surroundings, in dB.
const LINE_DB: f32 = 15.0;
/// Of the three lowest partials a string has at least two: another string's octave or third partial
/// is one.
const LOWEST: usize = 3;
const LEAST_LOWEST: usize = 2;
/// Lines that the pitch is read from, at the most and at the least.
const MOST_LINES: usize = 16;
const LEAST_LINES: usize = 4;
/// A line lies this near to where the fit has its partial, in Hz.
const LINE_HZ: f32 = 3.0;

/// One open string.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct OpenString {
    /// 6 (low E) to 1 (high E).
    pub string: u8,
    /// Cents above its nominal pitch.
    pub cents: f32,
    /// Level over the first half second, in dBFS (a full-scale square reads 0).
    pub level_dbfs: f32,
}

/// Kind of sound where one open string was asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sounding {
    /// One open string.
    String(OpenString),
    /// Several strings, an open one perhaps among them: a chord, or strings that were not damped.
    Several,
    /// Something else, or nothing for long enough.
    Other,
}

impl Sounding {
    /// The string, where it alone sounds.
    pub fn string(self) -> Option<OpenString> {
        match self {
            Sounding::String(string) => Some(string),
            Sounding::Several | Sounding::Other => None,
        }
    }
}

/// Lines that no partial of the string explains are another string's where they lie no farther below its loudest
/// partial, in dB. Of 178 recorded notes near an open string's pitch the worst has one 14.3 dB below (a guitar
/// recorded with its other strings free); of ten strummed chords, read as each of their strings, the best hidden
/// one lies 11.1 dB below. Chosen between these.
const OTHERS_DB: f32 = 12.5;
/// Where they lie so far above it, the string that was asked for does not sound at all, in dB: ten chords have 9.7
/// at most.
const DROWNED_DB: f32 = 15.0;
/// They are looked for where the fundamentals of strings up to the fifth fret lie, in Hz.
const OTHERS_HZ: (f32, f32) = (60.0, 450.0);
/// A line belongs to a partial that is nearer than so many Hz and this share of its frequency together; two
/// strings of a chord lie farther apart.
const OWN: (f32, f32) = (5.0, 0.03);
/// A string so far off, in cents, needs its fundamental: without it a chord may be a whole series of partials
/// (an open D major is one of the D below string 6).
const FAR_CENTS: f64 = 100.0;
/// Sound that a running pitch is read from, in seconds: short enough to follow a peg that turns.
pub const RUNNING_S: f64 = 0.5;

/// Reads plucked open strings: planned once.
pub struct StringReader {
    decimator: Decimator,
    plan: LinePlan,
    spectrum: LineSpectrum,
    low: Vec<f32>,
    source_hz: u32,
}

impl StringReader {
    /// Plans for samples at `rate_hz`.
    pub fn new(rate_hz: u32) -> Self {
        let decimator = Decimator::new(rate_hz);
        let plan = LinePlan::new(decimator.rate_hz());
        StringReader {
            low: Vec::new(),
            spectrum: plan.spectrum(),
            plan,
            decimator,
            source_hz: rate_hz,
        }
    }

    /// Reads the string at `index` (0 = string 6) of `tuning` from `samples`, which begin at its
    /// pluck; [`NEEDED_S`] of them are needed.
    pub fn read(&mut self, samples: &[f32], tuning: &Tuning, index: usize) -> Sounding {
        let source = f64::from(self.source_hz);
        let needed = (NEEDED_S * source) as usize;
        let Some(samples) = samples.get(..needed) else {
            return Sounding::Other;
        };
        let Some((found, cents)) = self.pitch(samples, PITCH_S, tuning, index) else {
            return Sounding::Other;
        };
        if self.others_db(&found) > -OTHERS_DB {
            return Sounding::Several;
        }
        let head = &samples[..(0.5 * source) as usize];
        let power = head.iter().map(|s| s * s).sum::<f32>() / head.len() as f32;
        Sounding::String(OpenString {
            string: string_number(index),
            cents: cents as f32,
            level_dbfs: decibels::level(power),
        })
    }

    /// Cents above its nominal pitch of the string that rings, from the last [`RUNNING_S`] of sound; `None` where
    /// it does not, or not alone.
    pub fn running_cents(&mut self, last: &[f32], tuning: &Tuning, index: usize) -> Option<f32> {
        let (found, cents) = self.pitch(last, (0.0, RUNNING_S), tuning, index)?;
        (self.others_db(&found) <= -OTHERS_DB).then_some(cents as f32)
    }

    /// The fit of a string to a part of the samples, in seconds, and how many cents it lies above its nominal pitch.
    fn pitch(
        &mut self,
        samples: &[f32],
        part_s: (f64, f64),
        tuning: &Tuning,
        index: usize,
    ) -> Option<(Fit, f64)> {
        self.decimator.run(samples, &mut self.low);
        let rate = self.decimator.rate_hz();
        let end = ((part_s.1 * rate) as usize).min(self.low.len());
        let part = self.low.get((part_s.0 * rate) as usize..end)?;
        self.plan.fill(part, &mut self.spectrum);
        let usual = usual_b(index, tuning.capo);
        let nominal_hz = tuning.hz(index, 0);
        let mut fits: Vec<Fit> = offsets_cents(REACH_CENTS, STEP_CENTS)
            .map(|cents| shifted_hz(nominal_hz, cents))
            .map(|hz| fit(&self.spectrum, hz, usual, None, None))
            .collect();
        fits.sort_by(|a, b| b.score.total_cmp(&a.score));
        // A fit looks at how far lines stand out, not at how loud they are: the faintest hum may be a whole series.
        let found = (fits.into_iter()).find(|found| self.others_db(found) <= DROWNED_DB)?;
        let lowest = lines(&self.spectrum, &found).take_while(|(n, _)| *n <= LOWEST);
        if lowest.count() < LEAST_LOWEST {
            return None;
        }
        let f1_hz = fundamental_hz(lines(&self.spectrum, &found))?;
        let off_cents = cents(nominal_hz, f1_hz);
        let has_fundamental = || lines(&self.spectrum, &found).any(|(n, _)| n == 1);
        (off_cents.abs() <= FAR_CENTS || has_fundamental()).then_some((found, off_cents))
    }

    /// How far the strongest low line that is no partial of the fit lies above the loudest partial, in dB.
    fn others_db(&self, found: &Fit) -> f32 {
        let partials = || (1..=found.count.min(MOST_LINES)).map(|n| found.hz(n));
        let (hz, share) = OWN;
        let own = |line: f32| partials().any(|p| (p - line).abs() < hz + share * line);
        let level = |hz: f32| self.spectrum.peak_db(hz, LINE_HZ);
        let loudest = partials().map(level).fold(f32::MIN, f32::max);
        let lines = self.spectrum.lines(OTHERS_HZ, LINE_DB, f32::MAX);
        let others = lines.iter().filter(|(hz, _)| !own(*hz));
        others.map(|(hz, _)| level(*hz)).fold(f32::MIN, f32::max) - loudest
    }
}

/// Number and frequency of each line at a partial of the fit.
fn lines<'a>(spectrum: &'a LineSpectrum, fit: &'a Fit) -> impl Iterator<Item = (usize, f64)> + 'a {
    (1..=fit.count.min(MOST_LINES)).filter_map(|n| {
        let (hz, standing_db) = spectrum.line_near(fit.hz(n), LINE_HZ);
        (standing_db >= LINE_DB).then_some((n, hz))
    })
}

/// Sounding fundamental in Hz of a stiff string with these partials: (f_n / n)² = f0² + f0² B n² is a
/// straight line over n². `None` for fewer than four, or where the line falls.
fn fundamental_hz(lines: impl Iterator<Item = (usize, f64)>) -> Option<f64> {
    let (mut count, mut w, mut wx, mut wy, mut wxx, mut wxy) = (0, 0.0, 0.0, 0.0, 0.0, 0.0);
    for (n, hz) in lines {
        let n = n as f64;
        let (x, y) = (n * n, (hz / n).powi(2));
        // An error of so many Hz matters the less the higher the partial.
        let weight = x;
        count += 1;
        w += weight;
        wx += weight * x;
        wy += weight * y;
        wxx += weight * x * x;
        wxy += weight * x * y;
    }
    let slope = (w * wxy - wx * wy) / (w * wxx - wx * wx);
    let at_zero = (wy - slope * wx) / w;
    let plausible = count >= LEAST_LINES && slope > 0.0 && at_zero > 0.0;
    plausible.then(|| (at_zero + slope).sqrt())
}

/// Finds plucks in a stream: moments at which the level steps up.
pub struct Plucks {
    rate_hz: u32,
    /// Sound kept: since the pluck that is waiting, or the last moment.
    kept: Vec<f32>,
    /// Mean powers of the last moments, oldest first.
    recent: [f32; BEFORE],
    moment: Vec<f32>,
    waiting: bool,
}

/// Length of a moment, in seconds.
const MOMENT_S: f64 = 0.02;
/// A pluck steps up the level over the loudest of the moments before it ...
const BEFORE: usize = 8;
/// ... by this factor in power (8 dB), and to this level at least (-50 dBFS). Choices.
const STEP_UP: f32 = 6.0;
const LEAST_POWER: f32 = 1e-5;

impl Plucks {
    /// Plans for samples at `rate_hz`.
    pub fn new(rate_hz: u32) -> Self {
        Plucks {
            rate_hz,
            kept: Vec::new(),
            recent: [0.0; BEFORE],
            moment: Vec::new(),
            waiting: false,
        }
    }

    /// Takes the next samples; gives the sound from a pluck on, [`NEEDED_S`] of it, each time that
    /// much has come. A pluck in that time begins it anew.
    pub fn push(&mut self, samples: &[f32]) -> Option<Vec<f32>> {
        let length = (MOMENT_S * f64::from(self.rate_hz)) as usize;
        let needed = (NEEDED_S * f64::from(self.rate_hz)) as usize;
        let mut found = None;
        for &sample in samples {
            self.moment.push(sample);
            if self.moment.len() < length {
                continue;
            }
            let power = self.moment.iter().map(|s| s * s).sum::<f32>() / length as f32;
            let before = self.recent.iter().copied().fold(0.0, f32::max);
            if power > LEAST_POWER && power > STEP_UP * before {
                self.waiting = true;
                self.kept.clear();
            }
            self.recent.rotate_left(1);
            self.recent[BEFORE - 1] = power;
            if self.waiting {
                self.kept.append(&mut self.moment);
                if self.kept.len() >= needed {
                    self.waiting = false;
                    found = Some(std::mem::take(&mut self.kept));
                }
            }
            self.moment.clear();
        }
        found
    }
}

/// From playing a sound to hearing it, in seconds: soundcheck's clicks come so far apart, and the clocks of
/// loudspeaker and microphone may be off by two blocks either way.
const DELAY_S: RangeInclusive<f64> = -0.15..=0.6;
/// Longest name of a microphone, in characters. A choice.
const LONGEST_INPUT: usize = 400;

/// Knowledge that a soundcheck learned. Read from a file, every number is within its range.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Written")]
pub struct Profile {
    /// The user's name for the guitar.
    pub guitar: String,
    /// MIDI notes of the open strings, 6 to 1, without the capo.
    pub open: [u8; STRINGS],
    /// The capo's fret; 0 is none.
    pub capo: u8,
    /// Reference pitch, in Hz.
    pub a4_hz: f64,
    /// Level of the quiet room, in dBFS.
    pub floor_dbfs: f32,
    /// The microphone's name, where one was chosen.
    pub input: Option<String>,
    /// Time from playing a sound to hearing it, in seconds, where it was measured.
    pub delay_s: Option<f64>,
    /// True where it is strung for a left-handed player; every picture is then mirrored.
    #[serde(default)]
    pub left: bool,
    /// The open strings, 6 to 1; none where the file has none.
    pub strings: Vec<OpenString>,
    /// Offsets of a trial, where it learnt something that helps.
    #[serde(default, skip_serializing_if = "Learnt::is_nothing")]
    pub learnt: Learnt,
}

/// A profile as a file has it, whatever its numbers are.
#[derive(Deserialize)]
struct Written {
    guitar: String,
    open: Vec<i64>,
    capo: i64,
    a4_hz: f64,
    floor_dbfs: f64,
    input: Option<String>,
    delay_s: Option<f64>,
    #[serde(default)]
    left: bool,
    strings: Vec<WrittenString>,
    #[serde(default)]
    learnt: WrittenLearnt,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct WrittenLearnt {
    rings: f64,
    unwanted: f64,
    buzzes: f64,
}

impl TryFrom<WrittenLearnt> for Learnt {
    type Error = OutOfBounds;

    fn try_from(written: WrittenLearnt) -> Result<Learnt, OutOfBounds> {
        let WrittenLearnt {
            rings,
            unwanted,
            buzzes,
        } = written;
        for (what, offset) in [("rings", rings), ("unwanted", unwanted), ("buzzes", buzzes)] {
            bounds::number(what, offset, &OFFSET)?;
        }
        Ok(Learnt {
            rings: rings as f32,
            unwanted: unwanted as f32,
            buzzes: buzzes as f32,
        })
    }
}

#[derive(Deserialize)]
struct WrittenString {
    string: i64,
    cents: f64,
    level_dbfs: f64,
}

/// A whole number within a range.
fn whole(what: &'static str, found: i64, range: RangeInclusive<u8>) -> Result<u8, OutOfBounds> {
    let within = u8::try_from(found).ok().filter(|n| range.contains(n));
    within.ok_or(OutOfBounds::Number {
        what,
        low: (*range.start()).into(),
        high: (*range.end()).into(),
        found: found as f64,
    })
}

impl TryFrom<Written> for Profile {
    type Error = OutOfBounds;

    fn try_from(written: Written) -> Result<Profile, OutOfBounds> {
        bounds::text(words::guitar::GUITARS_NAME, &written.guitar, LONGEST_NAME)?;
        if let Some(input) = &written.input {
            bounds::text(words::guitar::MICROPHONES_NAME, input, LONGEST_INPUT)?;
        }
        let notes = (written.open.iter())
            .map(|&note| whole(words::guitar::OPEN_NOTES, note, Tuning::OPEN_RANGE))
            .collect::<Result<Vec<u8>, _>>()?;
        let open = <[u8; STRINGS]>::try_from(notes).map_err(|notes| OutOfBounds::Other {
            what: words::guitar::SIX_OPEN_NOTES,
            found: notes.len().to_string(),
        })?;
        bounds::number("a4_hz", written.a4_hz, &Tuning::A4_RANGE_HZ)?;
        bounds::number("floor_dbfs", written.floor_dbfs, &LEVEL_DBFS)?;
        bounds::maybe("delay_s", written.delay_s, &DELAY_S)?;
        let numbers: Vec<i64> = written.strings.iter().map(|s| s.string).collect();
        // Who writes a profile by hand may leave them out: no verdict rests on them.
        if !numbers.is_empty() && !numbers.iter().copied().eq((1..=STRINGS as i64).rev()) {
            return Err(OutOfBounds::Other {
                what: words::guitar::SIX_STRINGS,
                found: format!("{numbers:?}"),
            });
        }
        let strings = (written.strings.iter().enumerate())
            .map(|(index, string)| {
                bounds::number("cents", string.cents, &CENTS)?;
                bounds::number("level_dbfs", string.level_dbfs, &LEVEL_DBFS)?;
                Ok(OpenString {
                    string: string_number(index),
                    cents: string.cents as f32,
                    level_dbfs: string.level_dbfs as f32,
                })
            })
            .collect::<Result<_, _>>()?;
        Ok(Profile {
            guitar: written.guitar,
            open,
            capo: whole("capo", written.capo, 0..=Tuning::HIGHEST_CAPO)?,
            a4_hz: written.a4_hz,
            floor_dbfs: written.floor_dbfs as f32,
            input: written.input,
            delay_s: written.delay_s,
            left: written.left,
            strings,
            learnt: written.learnt.try_into()?,
        })
    }
}

/// Reason why a profile cannot be had.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum ProfileError {
    /// No soundcheck was made under this name.
    #[error("{}", words::guitar::no_such_guitar(name, known(names)))]
    Missing {
        /// The name asked for.
        name: String,
        /// The names that there are.
        names: Vec<String>,
    },
    /// The name cannot be a file's.
    #[error("{}", words::guitar::no_name_for_a_guitar(name))]
    Name {
        /// The name asked for.
        name: String,
    },
    /// The file is not what a soundcheck wrote.
    #[error("{}", words::guitar::profile_damaged(path.display(), what))]
    Damaged {
        /// The profile's file.
        path: PathBuf,
        /// Fault of the file, in words.
        what: String,
    },
    /// The file cannot be read or written.
    #[error(transparent)]
    Disk(#[from] DiskError),
}

fn known(names: &[String]) -> String {
    match names {
        [] => String::new(),
        names => words::guitar::there_is(names.join(", ")),
    }
}

/// The profiles of a folder: one TOML file for each guitar.
#[derive(Debug, Clone)]
pub struct Profiles {
    folder: PathBuf,
}

/// No profile is longer, in bytes: a soundcheck writes about 700.
const LONGEST_PROFILE: u64 = 64 * 1024;

impl Profiles {
    /// Names those kept in `folder`, which need not exist yet.
    pub fn new(folder: &Path) -> Self {
        Profiles {
            folder: folder.to_owned(),
        }
    }

    /// The file that the profile of a guitar is in, or would be.
    ///
    /// # Errors
    /// [`ProfileError::Name`].
    pub fn path(&self, name: &str) -> Result<PathBuf, ProfileError> {
        let plain = |c: char| c.is_alphanumeric() || " -_".contains(c);
        let name = name.trim();
        if name.is_empty() || name.chars().count() > LONGEST_NAME || !name.chars().all(plain) {
            return Err(ProfileError::Name { name: name.into() });
        }
        Ok(self.folder.join(format!("{name}.toml")))
    }

    /// Names of the guitars, in alphabetical order.
    pub fn names(&self) -> Vec<String> {
        let files = fs::read_dir(&self.folder).into_iter().flatten().flatten();
        let mut names: Vec<String> = files
            .map(|f| f.path())
            .filter(|p| p.extension().is_some_and(|e| e == "toml"))
            .filter_map(|p| Some(p.file_stem()?.to_str()?.to_owned()))
            .collect();
        names.sort();
        names
    }

    /// The profile of a guitar.
    ///
    /// # Errors
    /// [`ProfileError::Name`], [`ProfileError::Missing`]; [`ProfileError::Damaged`] where the file
    /// holds something else; [`ProfileError::Disk`].
    pub fn load(&self, name: &str) -> Result<Profile, ProfileError> {
        let path = self.path(name)?;
        let text = match disk::read_text(&path, LONGEST_PROFILE) {
            Ok(text) => text,
            Err(DiskError::Missing { .. }) => {
                return Err(ProfileError::Missing {
                    name: name.trim().into(),
                    names: self.names(),
                });
            }
            Err(error) => return Err(error.into()),
        };
        toml::from_str(&text).map_err(|error| ProfileError::Damaged {
            path,
            what: error.message().to_owned(),
        })
    }

    /// Keeps a profile, in place of an earlier one of that guitar; gives the file's path.
    ///
    /// # Errors
    /// [`ProfileError::Name`], [`ProfileError::Disk`]; an earlier one is then as it was.
    pub fn keep(&self, profile: &Profile) -> Result<PathBuf, ProfileError> {
        let path = self.path(&profile.guitar)?;
        let folder = self.folder.clone();
        fs::create_dir_all(&folder).map_err(|why| DiskError::Unwritable { path: folder, why })?;
        let text =
            toml::to_string_pretty(profile).expect("a profile has text keys and plain values");
        disk::write_bytes(&path, text.as_bytes())?;
        Ok(path)
    }
}

#[cfg(test)]
mod tests;
