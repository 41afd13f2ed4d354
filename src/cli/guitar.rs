//! The options that name a guitar: where profiles are kept, what they bring, and how it is tuned.

use std::path::{Path, PathBuf};

use anyhow::{Context, anyhow};
use etcetera::BaseStrategy;

use crate::fretboard::Tuning;
use crate::progression::Progression;
use crate::strings::Learnt;
use crate::strings::profile::{Profile, Profiles};
use crate::words;
use crate::words::help::{chord as tuning_help, guitar as help};

/// Options that say whose guitar it is.
#[derive(Debug, Clone, Default, clap::Args)]
pub struct GuitarArgs {
    #[arg(long, value_name = "NAME", help = help::GUITAR)]
    guitar: Option<String>,
    #[arg(
        long,
        value_name = "FOLDER",
        hide_short_help = true,
        requires = "guitar",
        help = help::GUITARS,
    )]
    guitars: Option<PathBuf>,
}

impl GuitarArgs {
    /// The name as it was typed.
    pub fn name(&self) -> Option<&str> {
        self.guitar.as_deref()
    }

    /// Tells where profiles are kept.
    ///
    /// # Errors
    /// Where the system names no folder for a program's data.
    pub fn profiles(&self) -> anyhow::Result<Profiles> {
        let folder = match &self.guitars {
            Some(folder) => folder.clone(),
            None => etcetera::choose_base_strategy()
                .context(words::commands::NO_DATA_FOLDER)?
                .data_dir()
                .join("ringtrue")
                .join("guitars"),
        };
        Ok(Profiles::new(&folder))
    }

    /// Folder of the profiles, and the name, where one is named.
    ///
    /// # Errors
    /// As [`profiles`](Self::profiles).
    pub fn profiles_and_name(&self) -> anyhow::Result<Option<(Profiles, &str)>> {
        match &self.guitar {
            Some(name) => Ok(Some((self.profiles()?, name))),
            None => Ok(None),
        }
    }

    /// The file of the guitar's profile, where one is named.
    ///
    /// # Errors
    /// As [`profiles`](Self::profiles); a name that is none.
    pub fn file(&self) -> anyhow::Result<Option<PathBuf>> {
        match &self.guitar {
            Some(name) => Ok(Some(self.profiles()?.path(name).context("--guitar")?)),
            None => Ok(None),
        }
    }

    /// The guitar, with its profile where one is named.
    ///
    /// # Errors
    /// A guitar that is not known, or a file that is damaged, as a sentence.
    pub fn guitar(&self) -> anyhow::Result<NamedGuitar> {
        let profile = self
            .guitar
            .as_ref()
            .map(|name| self.profiles()?.load(name).context("--guitar"));
        Ok(NamedGuitar(profile.transpose()?))
    }
}

/// A guitar: what its profile says of it, and what is usual where it has none.
#[derive(Debug, Clone, Default)]
pub struct NamedGuitar(pub Option<Profile>);

impl NamedGuitar {
    /// The name in its profile.
    pub fn name(&self) -> Option<String> {
        self.0.as_ref().map(|profile| profile.guitar.clone())
    }

    /// Its tuning, as far as options do not say otherwise.
    pub fn tuning(&self) -> Tuning {
        self.0
            .as_ref()
            .map_or_else(Tuning::default, |profile| Tuning {
                open: profile.open,
                capo: profile.capo,
                a4_hz: profile.a4_hz,
            })
    }

    /// Result of a trial of it.
    pub fn learnt(&self) -> Learnt {
        self.0
            .as_ref()
            .map_or_else(Learnt::default, |profile| profile.learnt)
    }

    /// Tells whether it is played left-handed, or that was `asked` for.
    pub fn is_left(&self, asked: bool) -> bool {
        asked || self.0.as_ref().is_some_and(|profile| profile.left)
    }

    /// Time in which sound goes from the loudspeaker to the microphone, in seconds.
    pub fn delay_s(&self) -> Option<f64> {
        self.0.as_ref()?.delay_s
    }

    /// The microphone to listen to: the one named, else the guitar's; a recording (`from`) needs none.
    pub fn input(&self, named: Option<&str>, from: Option<&Path>) -> Option<String> {
        let of_guitar = || self.0.as_ref().filter(|_| from.is_none())?.input.clone();
        named.map(str::to_owned).or_else(of_guitar)
    }
}

/// Tuning of the guitar.
#[derive(Debug, Clone, Default, clap::Args)]
pub struct TuningArgs {
    #[arg(long, value_name = "NOTES", help = tuning_help::TUNING)]
    tuning: Option<String>,
    #[arg(long, value_name = "FRET", allow_negative_numbers = true, help = tuning_help::CAPO)]
    capo: Option<String>,
    #[arg(long, value_name = "HZ", allow_negative_numbers = true, help = tuning_help::A4)]
    a4: Option<String>,
}

impl TuningArgs {
    /// The tuning that is usual, changed as the options say.
    ///
    /// # Errors
    /// An option that makes no sense, as a sentence.
    pub fn tuning(&self, usual: Tuning) -> anyhow::Result<Tuning> {
        let mut tuning = usual;
        if let Some(text) = &self.tuning {
            let named: Tuning = text.parse().context("--tuning")?;
            tuning.open = named.open;
        }
        if let Some(text) = &self.capo {
            let capo = fret("--capo", text, Tuning::HIGHEST_CAPO)?;
            tuning = tuning.with_capo(capo).context("--capo")?;
        }
        if let Some(text) = &self.a4 {
            let a4_hz = text
                .trim()
                .replace(',', ".")
                .parse()
                .map_err(|_| anyhow!(words::commands::a4_expected(text)))?;
            tuning = tuning.with_a4_hz(a4_hz).context("--a4")?;
        }
        Ok(tuning)
    }

    /// Gives [`tuning`](Self::tuning) for a song, whose text may name a capo.
    ///
    /// # Errors
    /// As [`tuning`](Self::tuning); a capo in the song that no guitar has.
    pub fn tuning_for(&self, song: &Progression, usual: Tuning) -> anyhow::Result<Tuning> {
        self.tuning(usual.with_capo(song.capo.unwrap_or(usual.capo))?)
    }
}

/// The fret that an option names.
pub fn fret(option: &str, text: &str, highest: u8) -> anyhow::Result<u8> {
    text.trim()
        .parse()
        .ok()
        .filter(|&fret| fret <= highest)
        .with_context(|| words::commands::fret_expected(option, highest, text))
}
