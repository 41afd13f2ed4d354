//! The options that name a guitar: where profiles are kept and what they bring.

use std::path::{Path, PathBuf};

use anyhow::Context;
use etcetera::BaseStrategy;

use crate::fretboard::Tuning;
use crate::strings::Learnt;
use crate::strings::profile::{Profile, Profiles};
use crate::words;
use crate::words::help::guitar as help;

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

    /// The guitar's profile, where one is named.
    ///
    /// # Errors
    /// A guitar that is not known, or a file that is damaged, as a sentence.
    pub fn profile(&self) -> anyhow::Result<Option<Profile>> {
        match &self.guitar {
            Some(name) => Ok(Some(self.profiles()?.load(name).context("--guitar")?)),
            None => Ok(None),
        }
    }
}

/// The tuning of a profile, as far as options do not say otherwise.
pub fn tuning_of(profile: &Profile) -> Tuning {
    Tuning {
        open: profile.open,
        capo: profile.capo,
        a4_hz: profile.a4_hz,
    }
}

/// Result of a trial of the guitar; nothing where none is named.
pub fn learnt_of(profile: Option<&Profile>) -> Learnt {
    profile.map_or_else(Learnt::default, |profile| profile.learnt)
}

/// The microphone to listen to: the one named, else the guitar's; a recording (`from`) needs none.
pub fn input_of(
    named: Option<&str>,
    profile: Option<&Profile>,
    from: Option<&Path>,
) -> Option<String> {
    let of_guitar = || profile.filter(|_| from.is_none())?.input.clone();
    named.map(str::to_owned).or_else(of_guitar)
}
