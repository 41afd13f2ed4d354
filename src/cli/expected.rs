//! What the hand plays, as options say it: the same for every command that judges takes.

use anyhow::{Context, anyhow, bail};

use crate::fretboard::library::{self, name_voicing, voicing_for};
use crate::fretboard::{ChordName, Frets, STRINGS, Shape, Tuning, string_number};
use crate::take::Strum;
use crate::verdict::{Analyser, Reason, SURE_ENOUGH, StringVerdict, Take, Verdict, Warning};

/// The options that name a chord and a tuning.
#[derive(Debug, Clone, Default, clap::Args)]
pub struct Played {
    /// Frets, string 6 to 1, as in x13331 or "x 10 12 12 12 10"
    #[arg(long)]
    pub frets: Option<String>,
    /// Chord, as in Bb, F#m, C7, Dsus4
    #[arg(long, value_name = "NAME")]
    pub chord: Option<String>,
    /// Shape of the chord: E, A, D, C or G
    #[arg(long)]
    pub shape: Option<String>,
    /// The fret that the shape is played at
    #[arg(long, value_name = "FRET", allow_negative_numbers = true)]
    pub at: Option<String>,
    /// Tuning: drop d, open g, or six notes as in DADGAD
    #[arg(long, value_name = "NOTES")]
    pub tuning: Option<String>,
    /// Fret of the capo; frets and chord are counted from it
    #[arg(long, value_name = "FRET", allow_negative_numbers = true)]
    pub capo: Option<String>,
    /// Frequency of A4, 440 if left out
    #[arg(long, value_name = "HZ", allow_negative_numbers = true)]
    pub a4: Option<String>,
}

/// What the takes are held against.
pub enum Expected {
    /// This voicing.
    Named(Voicing),
    /// The one of these that fits a take best.
    Guessed {
        frets: Vec<Frets>,
        names: Vec<String>,
    },
}

/// Frets and the chord that they make, where it has a name.
pub struct Voicing {
    pub frets: Frets,
    pub chord: Option<String>,
}

impl Played {
    /// What the guitar is tuned to.
    pub fn tuning(&self) -> anyhow::Result<Tuning> {
        let mut tuning: Tuning = match &self.tuning {
            Some(text) => text.parse().context("--tuning")?,
            None => Tuning::default(),
        };
        if let Some(text) = &self.capo {
            let capo = fret("--capo", text, Tuning::HIGHEST_CAPO)?;
            tuning = tuning.with_capo(capo).context("--capo")?;
        }
        if let Some(text) = &self.a4 {
            let a4_hz = text.trim().replace(',', ".").parse().map_err(|_| {
                anyhow!("--a4: a frequency in Hz was expected, as in 442; {text:?} is none")
            })?;
            tuning = tuning.with_a4_hz(a4_hz).context("--a4")?;
        }
        Ok(tuning)
    }

    /// What the takes are held against.
    pub fn expected(&self, tuning: &Tuning) -> anyhow::Result<Expected> {
        let shape_or_at = match (&self.shape, &self.at) {
            (Some(_), _) => Some("--shape"),
            (None, Some(_)) => Some("--at"),
            (None, None) => None,
        };
        match (&self.frets, &self.chord, shape_or_at) {
            (Some(_), Some(_), _) => {
                bail!("--frets and --chord both say what is played; give one of them")
            }
            (Some(_), None, Some(option)) => bail!(
                "{option} goes with --chord; --frets already says where every finger is: leave {option} out"
            ),
            (None, None, Some(option)) => {
                bail!("{option} goes with --chord: name the chord too, as in --chord Bb --shape A")
            }
            (None, Some(_), Some("--at")) => bail!(
                "--at is the fret of a shape: name the shape too, as in --chord Bb --shape A --at 1"
            ),
            (Some(frets), None, None) => {
                let frets: Frets = frets.parse().context("--frets")?;
                tuning.reaches(&frets)?;
                Ok(Expected::Named(Voicing {
                    frets,
                    chord: name_voicing(&frets, tuning).map(|named| named.chord.to_string()),
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
                let frets = voicing_for(&chord, shape, at, tuning)?.frets;
                tuning.reaches(&frets)?;
                Ok(Expected::Named(Voicing {
                    frets,
                    chord: Some(chord.to_string()),
                }))
            }
            (None, None, None) => {
                let within_reach = |v: &library::Voicing| tuning.reaches(&v.frets).is_ok();
                let (frets, names): (Vec<_>, _) = library::all(tuning)
                    .into_iter()
                    .filter(within_reach)
                    .map(|voicing| (voicing.frets, voicing.chord.to_string()))
                    .unzip();
                if frets.is_empty() {
                    bail!(
                        "no chord was named, and no shapes are known in this tuning: say what is played, as in --frets 000000"
                    )
                }
                Ok(Expected::Guessed { frets, names })
            }
        }
    }
}

impl Expected {
    /// Judges one strum.
    pub fn judge(&self, analyser: &mut Analyser, strum: &Strum) -> Take {
        match self {
            Expected::Named(voicing) => {
                let mut take = analyser.analyse(strum, &voicing.frets);
                take.chord = voicing.chord.clone();
                take
            }
            Expected::Guessed { frets, names } => {
                let Some((best, sure)) = analyser.best_voicing(strum, frets) else {
                    return not_judged(strum, Frets([None; STRINGS]), 0.0);
                };
                let mut take = if sure >= SURE_ENOUGH {
                    let mut take = analyser.analyse(strum, &frets[best]);
                    take.warnings.insert(0, Warning::ChordGuessed { sure });
                    take
                } else {
                    not_judged(strum, frets[best], sure)
                };
                take.chord = Some(names[best].clone());
                take
            }
        }
    }
}

/// The take of a strum whose chord stays open.
fn not_judged(strum: &Strum, frets: Frets, sure: f32) -> Take {
    Take {
        start_s: strum.start_s(),
        manner: strum.manner,
        chord: None,
        frets,
        tuning_cents: 0.0,
        warnings: vec![Warning::ChordGuessed { sure }],
        strings: std::array::from_fn(|index| StringVerdict {
            string: string_number(index),
            expected_fret: frets.0[index],
            verdict: Verdict::Unsure,
            heard_fret: None,
            rings: 0.5,
            confidence: 0.0,
            cents: None,
            reason: Some(Reason::NotJudged),
        }),
        advice: Vec::new(),
    }
}

/// The fret that an option names.
fn fret(option: &str, text: &str, highest: u8) -> anyhow::Result<u8> {
    text.trim()
        .parse()
        .ok()
        .filter(|&fret| fret <= highest)
        .with_context(|| {
            format!(
                "{option}: a fret from 0 to {highest} was expected, as in {option} 1; {text:?} is none"
            )
        })
}
