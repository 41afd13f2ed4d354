//! Beginning of a trial, kept beside its sounds: with it a trial that was broken off goes on.

use std::path::Path;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::Deed;
use super::plan::{Choice, FAULTS, MINUTES, TrialPlan};
use crate::disk::{self, DiskError};
use crate::fretboard::library::name_voicing;
use crate::fretboard::{Frets, STRINGS, Tuning};
use crate::strings::bounds::{self, LONGEST_NAME, LONGEST_TEXT};
use crate::verdict::ExpectedVoicing;
use crate::words;
use crate::words::foreign::shown;

/// The file's name, in the folder of the trial.
pub const FILE: &str = "trial.toml";
/// No such file is longer, in bytes: one of ten chords has about 600.
const LONGEST_FILE: u64 = 16 * 1024;
/// More chords than this nobody chooses. A choice.
const MOST_CHORDS: usize = 40;
/// Form of the file that this program writes. Another plan would come from the same seed in another form.
const FORM: u32 = 1;

/// Beginning of a trial.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Written")]
pub struct Begun {
    form: u32,
    /// Seed that the plan is drawn from.
    pub seed: u64,
    /// Length in minutes, of [`MINUTES`].
    pub minutes: u8,
    /// Frets of each chord, strings 6 to 1.
    chords: Vec<String>,
    /// Words of the deeds.
    deeds: Vec<String>,
    /// The guitar, in words.
    pub guitar: String,
    /// The microphone, in words.
    pub microphone: String,
    /// The licence that the player chose.
    pub licence: String,
    /// MIDI notes of the open strings, 6 to 1, without the capo.
    open: [u8; STRINGS],
    /// The capo's fret; 0 is none.
    capo: u8,
    /// Reference pitch, in Hz.
    a4_hz: f64,
}

/// The same as a file has it, whatever it holds.
#[derive(Deserialize)]
struct Written {
    form: u32,
    seed: u64,
    minutes: u8,
    chords: Vec<String>,
    deeds: Vec<String>,
    guitar: String,
    microphone: String,
    licence: String,
    open: [u8; STRINGS],
    capo: u8,
    a4_hz: f64,
}

impl TryFrom<Written> for Begun {
    type Error = String;

    fn try_from(written: Written) -> Result<Begun, String> {
        let Written { form, minutes, .. } = written;
        if form != FORM {
            return Err(words::trial::another_form(form, FORM));
        }
        if !MINUTES.contains(&minutes) {
            return Err(words::trial::minutes_expected(minutes));
        }
        if written.chords.is_empty() || written.chords.len() > MOST_CHORDS {
            return Err(words::trial::chords_expected(
                MOST_CHORDS,
                written.chords.len(),
            ));
        }
        let text = |what, text: &str, most| {
            bounds::text(what, text, most).map_err(|error| error.to_string())
        };
        text("guitar", &written.guitar, LONGEST_NAME)?;
        text("microphone", &written.microphone, LONGEST_TEXT)?;
        text("licence", &written.licence, LONGEST_TEXT)?;
        let begun = Begun {
            form,
            seed: written.seed,
            minutes,
            chords: written.chords,
            deeds: written.deeds,
            guitar: written.guitar,
            microphone: written.microphone,
            licence: written.licence,
            open: written.open,
            capo: written.capo,
            a4_hz: written.a4_hz,
        };
        begun.choice()?;
        Ok(begun)
    }
}

/// Reason why a trial cannot be gone on with.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum BegunError {
    /// The file is not what a trial wrote.
    #[error("{}", words::trial::not_what_was_begun(path, what))]
    Damaged {
        /// The file, in words.
        path: String,
        /// Fault of it, in words.
        what: String,
    },
    /// The file cannot be read or written.
    #[error(transparent)]
    Disk(#[from] DiskError),
}

/// Source of the sound, and what it came through, in words.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct About {
    /// The guitar.
    pub guitar: String,
    /// The microphone.
    pub microphone: String,
    /// The licence of the sounds.
    pub licence: String,
}

impl Begun {
    /// A trial of this choice.
    pub fn new(choice: &Choice, minutes: u8, seed: u64, about: About, tuning: &Tuning) -> Begun {
        Begun {
            form: FORM,
            seed,
            minutes,
            chords: choice.chords.iter().map(|v| v.frets.to_string()).collect(),
            deeds: choice.deeds.iter().map(|d| d.word().to_owned()).collect(),
            guitar: about.guitar,
            microphone: about.microphone,
            licence: about.licence,
            open: tuning.open,
            capo: tuning.capo,
            a4_hz: tuning.a4_hz,
        }
    }

    /// Tuning of the guitar.
    pub fn tuning(&self) -> Tuning {
        Tuning {
            open: self.open,
            capo: self.capo,
            a4_hz: self.a4_hz,
        }
    }

    /// What the player chose.
    ///
    /// # Errors
    /// A chord or a deed that is none, as a sentence.
    fn choice(&self) -> Result<Choice, String> {
        if !self
            .open
            .iter()
            .all(|note| Tuning::OPEN_RANGE.contains(note))
        {
            return Err(words::trial::open_notes_expected(self.open));
        }
        let tuning = self.tuning().with_capo(self.capo);
        let tuning = tuning.and_then(|tuning| tuning.with_a4_hz(self.a4_hz));
        let tuning = tuning.map_err(|error| error.to_string())?;
        let chord = |text: &String| -> Result<ExpectedVoicing, String> {
            let frets: Frets = text.parse().map_err(|e| format!("{e}"))?;
            tuning.reaches(&frets).map_err(|e| e.to_string())?;
            let chord = name_voicing(&frets, &tuning).map(|named| named.chord.to_string());
            Ok(ExpectedVoicing::usual(frets, chord, &tuning))
        };
        let deed = |word: &String| {
            let deed = Deed::parse(word).filter(|deed| FAULTS.contains(deed));
            deed.ok_or_else(|| words::trial::no_such_deed(word))
        };
        Ok(Choice {
            chords: self.chords.iter().map(chord).collect::<Result<_, _>>()?,
            deeds: self.deeds.iter().map(deed).collect::<Result<_, _>>()?,
        })
    }

    /// The plan, the same each time.
    pub fn plan(&self) -> TrialPlan {
        let choice = self
            .choice()
            .expect("what is chosen was looked at when it was read");
        TrialPlan::draw(&choice, self.minutes, self.seed)
    }

    /// Reads what a trial in `folder` was begun with; `None` where there is none.
    ///
    /// # Errors
    /// [`BegunError`].
    pub fn read(folder: &Path) -> Result<Option<Begun>, BegunError> {
        let path = folder.join(FILE);
        let text = match disk::read_text(&path, LONGEST_FILE) {
            Ok(text) => text,
            Err(DiskError::Missing { .. }) => return Ok(None),
            Err(error) => return Err(error.into()),
        };
        let begun = toml::from_str(&text).map_err(|error| BegunError::Damaged {
            path: shown(&path),
            what: error.message().to_owned(),
        });
        begun.map(Some)
    }

    /// Writes it into `folder`.
    ///
    /// # Errors
    /// [`DiskError::Unwritable`].
    pub fn write(&self, folder: &Path) -> Result<(), DiskError> {
        let text = toml::to_string_pretty(self).expect("a trial has text keys and plain values");
        disk::write_bytes(&folder.join(FILE), text.as_bytes())
    }
}

/// Name of the file of a step's sound, from 0.
pub fn file_of(step: usize) -> String {
    format!("strum-{:03}.wav", step + 1)
}

/// The step whose sound a file holds, from 0; `None` of another file.
pub fn step_of(file: &str) -> Option<usize> {
    let number = file.strip_prefix("strum-")?.strip_suffix(".wav")?;
    number.parse::<usize>().ok()?.checked_sub(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn begun() -> Begun {
        let tuning = Tuning::default();
        let chords = ["133211", "x 10 12 12 12 10"];
        let voicing = |frets: &str| ExpectedVoicing::usual(frets.parse().unwrap(), None, &tuning);
        let choice = Choice {
            chords: chords.map(voicing).to_vec(),
            deeds: vec![Deed::Touched, Deed::Slack],
        };
        let about = About {
            guitar: "mine".to_owned(),
            microphone: "of the laptop".to_owned(),
            licence: "CC0-1.0".to_owned(),
        };
        Begun::new(&choice, 3, u64::MAX >> 1, about, &tuning)
    }

    #[test]
    fn a_trial_that_was_broken_off_has_the_same_plan_again() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(Begun::read(folder.path()).unwrap(), None);
        begun().write(folder.path()).unwrap();
        let read = Begun::read(folder.path()).unwrap().unwrap();
        assert_eq!(read, begun());
        assert_eq!(read.plan(), begun().plan());
        assert_eq!(read.plan().steps.len(), 18);
    }

    #[test]
    fn what_no_trial_wrote_is_refused_in_words() {
        let folder = tempfile::tempdir().unwrap();
        let good = toml::to_string_pretty(&begun()).unwrap();
        for (old, new, said) in [
            ("form = 1", "form = 2", "form 1"),
            ("minutes = 3", "minutes = 4", "3, 5 or 10"),
            ("\"133211\"", "\"13321\"", "six entries"),
            ("\"touched\"", "\"kicked\"", "kicked"),
            ("\"touched\"", "\"unknown\"", "unknown"),
            ("capo = 0", "capo = 99", "capo"),
        ] {
            assert!(good.contains(old), "{old}\n{good}");
            std::fs::write(folder.path().join(FILE), good.replace(old, new)).unwrap();
            let error = Begun::read(folder.path()).unwrap_err().to_string();
            assert!(error.contains(said), "{error}");
        }
    }

    #[test]
    fn a_file_knows_its_step() {
        assert_eq!(step_of(&file_of(0)), Some(0));
        assert_eq!(step_of(&file_of(59)), Some(59));
        for other in ["001.wav", "strum-000.wav", "strum-1.flac", ""] {
            assert_eq!(step_of(other), None, "{other}");
        }
    }
}
