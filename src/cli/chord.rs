//! The options that say what is played; the same for every command that judges.

use anyhow::{Context, bail};

use super::guitar::{NamedGuitar, TuningArgs, fret};
use crate::fretboard::library::{self, name_voicing, voicing_for};
use crate::fretboard::{ChordName, Fingering, Frets, Shape, Tuning};
use crate::verdict::{Expected, ExpectedVoicing, Hand};
use crate::words;
use crate::words::help::chord as help;

/// Chord that is played, and the guitar's tuning.
#[derive(Debug, Clone, Default, clap::Args)]
pub struct ChordArgs {
    #[arg(long, help = help::FRETS)]
    frets: Option<String>,
    #[arg(long, value_name = "NAME", help = help::CHORD)]
    chord: Option<String>,
    #[arg(long, help = help::SHAPE)]
    shape: Option<String>,
    #[arg(long, value_name = "FRET", allow_negative_numbers = true, help = help::AT)]
    at: Option<String>,
    #[arg(long, help = help::FINGERS)]
    fingers: Option<String>,
    #[command(flatten)]
    tuning: TuningArgs,
}

impl ChordArgs {
    /// A chord's name, in a shape where one is named, or frets: what stands in one word of a table.
    pub fn of(chord: &str, shape: Option<&str>) -> ChordArgs {
        let is_frets = chord.parse::<Frets>().is_ok();
        ChordArgs {
            frets: is_frets.then(|| chord.to_owned()),
            chord: (!is_frets).then(|| chord.to_owned()),
            shape: shape.map(str::to_owned),
            ..ChordArgs::default()
        }
    }

    /// Tells whether a chord was named.
    pub fn is_named(&self) -> bool {
        self.frets.is_some() || self.chord.is_some()
    }

    /// The guitar's tuning, where options do not say otherwise.
    ///
    /// # Errors
    /// An option that makes no sense, as a sentence.
    pub fn tuning(&self, guitar: &NamedGuitar) -> anyhow::Result<Tuning> {
        self.tuning.tuning(guitar.tuning())
    }

    /// Gives what takes are held against: the voicing named, all voicings of a chord named without its shape, or all that are
    /// known where none is.
    ///
    /// # Errors
    /// Options that make no sense, or that this tuning cannot play, as a sentence.
    pub fn expected(&self, tuning: &Tuning) -> anyhow::Result<Expected> {
        let shape_or_at = match (&self.shape, &self.at) {
            (Some(_), _) => Some("--shape"),
            (None, Some(_)) => Some("--at"),
            (None, None) => None,
        };
        match (&self.frets, &self.chord, shape_or_at) {
            (Some(_), Some(_), _) => {
                bail!(words::commands::FRETS_OR_CHORD)
            }
            (Some(_), None, Some(option)) => bail!(words::commands::leave_out_option(option)),
            (None, None, Some(option)) => {
                bail!(words::commands::name_the_chord_too(option))
            }
            (None, None, None) if self.fingers.is_some() => bail!(words::commands::FINGERS_GO_WITH),
            (Some(frets), None, None) => {
                let frets: Frets = frets.parse().context("--frets")?;
                tuning.reaches(&frets)?;
                Ok(Expected::Named(ExpectedVoicing {
                    frets,
                    chord: name_voicing(&frets, tuning).map(|named| named.chord.to_string()),
                    hand: self.hand(&frets, tuning)?,
                }))
            }
            (None, Some(chord), _) => {
                let chord: ChordName = chord.parse().context("--chord")?;
                let shape: Option<Shape> = match &self.shape {
                    Some(text) => Some(text.parse().context("--shape")?),
                    None => None,
                };
                let at = match &self.at {
                    Some(text) => Some(fret("--at", text, Frets::HIGHEST)?),
                    None => None,
                };
                let usual = voicing_for(&chord, shape, at, tuning)?.frets;
                tuning.reaches(&usual)?;
                let voicing = |frets: Frets| -> anyhow::Result<ExpectedVoicing> {
                    Ok(ExpectedVoicing {
                        frets,
                        chord: Some(chord.to_string()),
                        hand: self.hand(&frets, tuning)?,
                    })
                };
                if shape.is_some() || at.is_some() {
                    return Ok(Expected::Named(voicing(usual)?));
                }
                let all = library::frets_of(&chord, tuning)?;
                // Fingers that were named hold some of them only.
                let held: Vec<anyhow::Result<ExpectedVoicing>> =
                    all.into_iter().map(voicing).collect();
                match held.iter().any(Result::is_ok) {
                    true => Ok(Expected::Chord(held.into_iter().flatten().collect())),
                    false => Err(held
                        .into_iter()
                        .find_map(Result::err)
                        .expect("one at least")),
                }
            }
            (None, None, None) => Expected::any(tuning).context(words::commands::NO_SHAPES_KNOWN),
        }
    }

    /// The hand that holds the frets: with the fingers named, else the usual ones.
    fn hand(&self, frets: &Frets, tuning: &Tuning) -> anyhow::Result<Hand> {
        match &self.fingers {
            Some(text) => {
                let fingers: Fingering = text.parse().context("--fingers")?;
                Hand::with_fingers(frets, fingers, tuning).context("--fingers")
            }
            None => Ok(Hand::usual(frets, tuning)),
        }
    }
}

/// A chord named in one word: frets, or a chord name in its usual shape.
///
/// # Errors
/// What is neither, as a sentence.
pub fn further(text: &str, tuning: &Tuning) -> anyhow::Result<Expected> {
    ChordArgs::of(text, None)
        .expected(tuning)
        .with_context(|| format!("--then {text}"))
}
