//! Chord that is meant, and how the guitar is tuned, as the page says it.

use anyhow::Context;
use serde::{Deserialize, Serialize};

use super::{PageResult, told};
use crate::fretboard::library::{self, Barre, frets_of, name_voicing};
use crate::fretboard::{ChordName, Frets, STRINGS, Tuning};
use crate::verdict::{Expected, ExpectedVoicing};
use crate::words;

/// Chord that is played: a chord in any shape, one voicing, or any chord where neither is named.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
pub struct Meant {
    /// "standard", "drop d", or six notes.
    tuning: String,
    /// Fret of the capo, 0 for none.
    capo: u8,
    /// Frequency of A4 in Hz; 440 where it is none.
    a4_hz: Option<f64>,
    /// The chord's name; empty for any.
    chord: String,
    /// The frets of the voicing; empty for any.
    frets: String,
}

/// A voicing with its fingers, for a picture.
#[derive(Debug, Serialize)]
pub struct VoicingView {
    frets: String,
    chord: Option<String>,
    /// "A shape at fret 1".
    place: Option<String>,
    /// String 6 to string 1; none for a string that must not sound.
    at: [Option<u8>; STRINGS],
    /// 1 index to 4 little finger; none where no finger holds the string.
    fingers: [Option<u8>; STRINGS],
    barres: Vec<Barre>,
    notes: [Option<String>; STRINGS],
}

/// All that is meant.
#[derive(Debug, Serialize)]
pub struct Voicings {
    chord: Option<String>,
    voicings: Vec<VoicingView>,
}

impl Meant {
    /// Reads what the page says, as JSON.
    pub fn read(text: &str) -> PageResult<Meant> {
        serde_json::from_str(text).map_err(told)
    }

    /// Tells how the guitar is tuned.
    pub fn tuning(&self) -> PageResult<Tuning> {
        self.tuned().map_err(told)
    }

    fn tuned(&self) -> anyhow::Result<Tuning> {
        let mut tuning = match self.tuning.trim() {
            "" => Tuning::default(),
            named => named.parse()?,
        };
        if let Some(a4_hz) = self.a4_hz {
            tuning = tuning.with_a4_hz(a4_hz)?;
        }
        Ok(tuning.with_capo(self.capo)?)
    }

    /// Gives what takes are held against.
    pub fn expected(&self) -> PageResult<Expected> {
        self.held_against().map_err(told)
    }

    fn held_against(&self) -> anyhow::Result<Expected> {
        let tuning = self.tuned()?;
        let (chord, frets) = (self.chord.trim(), self.frets.trim());
        if frets.is_empty() && chord.is_empty() {
            return Expected::any(&tuning).context(words::site::TUNING_UNKNOWN);
        }
        if frets.is_empty() {
            let chord: ChordName = chord.parse()?;
            let name = Some(chord.to_string());
            let held = frets_of(&chord, &tuning)?
                .into_iter()
                .map(|frets| ExpectedVoicing::usual(frets, name.clone(), &tuning));
            return Ok(Expected::Chord(held.collect()));
        }
        let frets: Frets = frets.parse()?;
        tuning.reaches(&frets)?;
        let named = match chord.parse::<ChordName>() {
            Ok(chord) => Some(chord),
            Err(_) => name_voicing(&frets, &tuning).map(|named| named.chord),
        };
        let name = named.map(|chord| chord.to_string());
        Ok(Expected::Named(ExpectedVoicing::usual(
            frets, name, &tuning,
        )))
    }

    /// Every voicing of what is meant; none where nothing is named.
    pub fn voicings(&self) -> PageResult<Voicings> {
        self.all().map_err(told)
    }

    fn all(&self) -> anyhow::Result<Voicings> {
        let tuning = self.tuned()?;
        let frets = match self.held_against()? {
            Expected::Named(voicing) => vec![voicing],
            Expected::Chord(voicings) => voicings,
            _ => Vec::new(),
        };
        Ok(Voicings {
            chord: frets.first().and_then(|voicing| voicing.chord.clone()),
            voicings: frets.iter().map(|v| shown(v, &tuning)).collect(),
        })
    }
}

/// A voicing with its fingers, on a guitar in `tuning`.
pub fn shown(voicing: &ExpectedVoicing, tuning: &Tuning) -> VoicingView {
    let frets = &voicing.frets;
    let known = library::voicing_of(frets, tuning);
    let chord = voicing.chord.as_deref().and_then(|name| name.parse().ok());
    let notes = chord.map_or([None; STRINGS], |chord| {
        library::spelled(frets, &chord, tuning)
    });
    VoicingView {
        frets: frets.to_string(),
        chord: voicing.chord.clone(),
        place: known.as_ref().map(library::Voicing::describe),
        at: frets.0,
        fingers: known.as_ref().map_or([None; STRINGS], |v| v.fingering.0),
        barres: known.map_or_else(Vec::new, |v| v.barres()),
        notes: notes.map(|note| note.map(|note| note.to_string())),
    }
}
