//! One take of a set, and who knows what was done in it.

use crate::fretboard::{Frets, STRINGS};
use crate::trial::Deed;

/// Way in which it is known what each string did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum KnownBy {
    /// The player did it on purpose.
    #[default]
    Deed,
    /// An instrument measured it, as a pickup for each string does.
    Pickup,
    /// The player said so of a verdict that was wrong. Such takes are chosen by their faults.
    Word,
    /// The sound was put together so.
    Composed,
}

impl KnownBy {
    /// All of them, real sound first.
    pub const ALL: [KnownBy; 4] = [
        KnownBy::Deed,
        KnownBy::Pickup,
        KnownBy::Word,
        KnownBy::Composed,
    ];

    /// The word that stands for it in the table.
    pub fn word(self) -> &'static str {
        match self {
            KnownBy::Deed => "deed",
            KnownBy::Pickup => "pickup",
            KnownBy::Word => "word",
            KnownBy::Composed => "composed",
        }
    }

    /// Reads its word; `None` where it is another one.
    pub fn parse(word: &str) -> Option<KnownBy> {
        let is = |by: &KnownBy| by.word().eq_ignore_ascii_case(word);
        KnownBy::ALL.into_iter().find(is)
    }
}

/// One take of a set.
#[derive(Debug, Clone, PartialEq)]
pub struct LabelledTake {
    /// Name of its file, in the set's folder.
    pub file: String,
    /// Beginning in its file, in seconds; `None` where it is the only take there.
    pub at_s: Option<f64>,
    /// Frets that were meant.
    pub frets: Frets,
    /// Deeds done to the strings, 6 to 1.
    pub deeds: [Deed; STRINGS],
    /// Name of the chord, where it has one.
    pub chord: Option<String>,
    /// The guitar, in words.
    pub guitar: String,
    /// The microphone, in words.
    pub microphone: String,
    /// The licence that the player chose.
    pub licence: String,
    /// Way in which the deeds are known.
    pub known_by: KnownBy,
    /// Length of the file, in seconds, where the table says it.
    pub seconds: Option<f64>,
    /// Samples a second of the file, in Hz, where the table says it.
    pub rate_hz: Option<u32>,
}

impl LabelledTake {
    /// A clean take of `frets`, with nothing said about the guitar.
    pub fn clean(file: &str, frets: Frets) -> LabelledTake {
        LabelledTake {
            file: file.to_owned(),
            at_s: None,
            frets,
            deeds: [Deed::Clean; STRINGS],
            chord: None,
            guitar: String::new(),
            microphone: String::new(),
            licence: String::new(),
            known_by: KnownBy::default(),
            seconds: None,
            rate_hz: None,
        }
    }
}
