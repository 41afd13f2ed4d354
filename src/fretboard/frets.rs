//! The written form of a voicing: `x24442`, or `x 10 12 12 12 10`.

use std::fmt;
use std::str::FromStr;

use super::STRINGS;

/// Which fret each string is held at, from string 6 to string 1. `None` = must not sound, `Some(0)` = open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Frets(pub [Option<u8>; STRINGS]);

impl Frets {
    /// Highest fret accepted: 24 is the last fret of the longest common necks (common practice).
    pub const HIGHEST: u8 = 24;

    /// The fret of each sounding string with its index (0 = string 6).
    pub fn sounding(&self) -> impl Iterator<Item = (usize, u8)> + '_ {
        self.0
            .iter()
            .enumerate()
            .filter_map(|(i, f)| f.map(|f| (i, f)))
    }
}

/// Why a text is no voicing.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FretsError {
    /// Not six entries.
    #[error(
        "frets need six entries, one per string from string 6 to string 1 (as in x13331, or x 10 12 12 12 10); {text:?} has {found}"
    )]
    Count { text: String, found: usize },
    /// An entry that is neither a number nor x.
    #[error(
        "each fret is a number or x; {entry:?} in {text:?} is neither (as in x13331, or x 10 12 12 12 10)"
    )]
    Entry { text: String, entry: String },
    /// A fret past the end of the neck.
    #[error("fret {fret} in {text:?} is past the end of the neck: frets go from 0 (open) to 24")]
    TooHigh { text: String, fret: u32 },
}

impl FromStr for Frets {
    type Err = FretsError;

    fn from_str(text: &str) -> Result<Self, FretsError> {
        let words: Vec<String> = if text.trim().contains([' ', ',', '-']) {
            text.split([' ', ',', '-'])
                .filter(|w| !w.is_empty())
                .map(str::to_owned)
                .collect()
        } else {
            text.trim().chars().map(String::from).collect()
        };
        if words.len() != STRINGS {
            return Err(FretsError::Count {
                text: text.to_owned(),
                found: words.len(),
            });
        }
        let mut frets = [None; STRINGS];
        for (slot, word) in frets.iter_mut().zip(&words) {
            if word.eq_ignore_ascii_case("x") {
                continue;
            }
            let fret: u32 = word.parse().map_err(|_| FretsError::Entry {
                text: text.to_owned(),
                entry: word.clone(),
            })?;
            if fret > u32::from(Self::HIGHEST) {
                return Err(FretsError::TooHigh {
                    text: text.to_owned(),
                    fret,
                });
            }
            *slot = Some(fret as u8);
        }
        Ok(Frets(frets))
    }
}

impl fmt::Display for Frets {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let wide = self.0.iter().flatten().any(|&f| f > 9);
        for (i, fret) in self.0.iter().enumerate() {
            if wide && i > 0 {
                out.write_str(" ")?;
            }
            match fret {
                Some(f) => write!(out, "{f}")?,
                None => out.write_str("x")?,
            }
        }
        Ok(())
    }
}
