//! Chord names: `Bb`, `F#m7`, `Dsus4`, `C/G`.
//!
//! Chords are spelled as in Harte, Sandler, Abdallah and Gómez, "Symbolic representation of musical
//! chords", ISMIR 2005, 66-71, for those that it names; the rest is common practice.

use std::fmt;
use std::str::FromStr;

use super::pitch::NoteName;
use super::quoted;
use crate::words;

/// Kind of chord that is built on the root.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Quality {
    /// Root, major third, fifth: `C`.
    Major,
    /// Root, minor third, fifth: `Cm`.
    Minor,
    /// Major with a minor seventh, the dominant seventh chord: `C7`.
    Seventh,
    /// Major with a major seventh: `Cmaj7`.
    MajorSeventh,
    /// Minor with a minor seventh: `Cm7`.
    MinorSeventh,
    /// Root, fourth, fifth: `Csus4`.
    Sus4,
    /// Root, second, fifth: `Csus2`.
    Sus2,
    /// Root and fifth alone.
    Power,
    /// Major with a major sixth: `C6`.
    Sixth,
    /// Minor with a major sixth: `Cm6`.
    MinorSixth,
    /// Root, fourth, fifth, minor seventh: `C7sus4`.
    SeventhSus4,
    /// Major with a second, and no seventh: `Cadd9`.
    Add9,
    /// Minor with a second, and no seventh: `Cmadd9`.
    MinorAdd9,
    /// Root, minor third, diminished fifth: `Cdim`.
    Diminished,
    /// Diminished with a diminished seventh: `Cdim7`.
    DiminishedSeventh,
    /// Diminished with a minor seventh: `Cm7b5`.
    HalfDiminished,
    /// Root, major third, augmented fifth: `Caug`.
    Augmented,
    /// Minor with a major seventh: `Cmmaj7`.
    MinorMajorSeventh,
    /// Major with a minor seventh and a ninth: `C9`.
    Ninth,
    /// Major with a major seventh and a ninth: `Cmaj9`.
    MajorNinth,
    /// Minor with a minor seventh and a ninth: `Cm9`.
    MinorNinth,
    /// Major with a major sixth and a ninth: `C69`.
    SixNine,
    /// Seventh chord with an augmented ninth: `C7#9`.
    SeventhSharp9,
    /// Seventh chord with a minor ninth: `C7b9`.
    SeventhFlat9,
    /// Seventh chord with an augmented fifth: `C7#5`.
    SeventhSharp5,
    /// Seventh chord with a diminished fifth: `C7b5`.
    SeventhFlat5,
}

/// One tone of a chord: its degree in the scale on the root, and its semitones above the root.
type ChordTone = (u8, u8);

const ROOT: ChordTone = (1, 0);
const FIFTH: ChordTone = (5, 7);

impl Quality {
    /// All of them, the everyday ones first.
    pub const ALL: [Quality; 26] = [
        Quality::Major,
        Quality::Minor,
        Quality::Seventh,
        Quality::MajorSeventh,
        Quality::MinorSeventh,
        Quality::Sus4,
        Quality::Sus2,
        Quality::Power,
        Quality::Sixth,
        Quality::MinorSixth,
        Quality::SeventhSus4,
        Quality::Add9,
        Quality::MinorAdd9,
        Quality::Diminished,
        Quality::DiminishedSeventh,
        Quality::HalfDiminished,
        Quality::Augmented,
        Quality::MinorMajorSeventh,
        Quality::Ninth,
        Quality::MajorNinth,
        Quality::MinorNinth,
        Quality::SixNine,
        Quality::SeventhSharp9,
        Quality::SeventhFlat9,
        Quality::SeventhSharp5,
        Quality::SeventhFlat5,
    ];

    /// The ways to write it after the root, the first of which is ours; and its tones.
    fn row(self) -> (&'static [&'static str], &'static [ChordTone]) {
        match self {
            Quality::Major => (&["", "M", "maj", "major"], &[ROOT, (3, 4), FIFTH]),
            Quality::Minor => (&["m", "-", "min", "minor", "mi"], &[ROOT, (3, 3), FIFTH]),
            Quality::Seventh => (&["7", "dom7"], &[ROOT, (3, 4), FIFTH, (7, 10)]),
            Quality::MajorSeventh => (
                &["maj7", "M7", "Δ", "Δ7", "ma7", "major7"],
                &[ROOT, (3, 4), FIFTH, (7, 11)],
            ),
            Quality::MinorSeventh => (
                &["m7", "-7", "min7", "minor7", "mi7"],
                &[ROOT, (3, 3), FIFTH, (7, 10)],
            ),
            Quality::Sus4 => (&["sus4", "sus"], &[ROOT, (4, 5), FIFTH]),
            Quality::Sus2 => (&["sus2"], &[ROOT, (2, 2), FIFTH]),
            Quality::Power => (&["5"], &[ROOT, FIFTH]),
            Quality::Sixth => (&["6", "M6", "maj6"], &[ROOT, (3, 4), FIFTH, (6, 9)]),
            Quality::MinorSixth => (&["m6", "-6", "min6"], &[ROOT, (3, 3), FIFTH, (6, 9)]),
            Quality::SeventhSus4 => (&["7sus4", "7sus"], &[ROOT, (4, 5), FIFTH, (7, 10)]),
            Quality::Add9 => (&["add9", "add2"], &[ROOT, (3, 4), FIFTH, (2, 2)]),
            Quality::MinorAdd9 => (&["madd9", "minadd9"], &[ROOT, (3, 3), FIFTH, (2, 2)]),
            Quality::Diminished => (&["dim", "°", "o"], &[ROOT, (3, 3), (5, 6)]),
            Quality::DiminishedSeventh => (&["dim7", "°7", "o7"], &[ROOT, (3, 3), (5, 6), (7, 9)]),
            Quality::HalfDiminished => (
                &["m7b5", "ø", "ø7", "-7b5", "min7b5", "hdim7"],
                &[ROOT, (3, 3), (5, 6), (7, 10)],
            ),
            Quality::Augmented => (&["aug", "+"], &[ROOT, (3, 4), (5, 8)]),
            Quality::MinorMajorSeventh => (
                &["mmaj7", "mM7", "minmaj7", "mΔ", "mΔ7"],
                &[ROOT, (3, 3), FIFTH, (7, 11)],
            ),
            Quality::Ninth => (&["9"], &[ROOT, (3, 4), FIFTH, (7, 10), (2, 2)]),
            Quality::MajorNinth => (
                &["maj9", "M9", "Δ9"],
                &[ROOT, (3, 4), FIFTH, (7, 11), (2, 2)],
            ),
            Quality::MinorNinth => (
                &["m9", "-9", "min9"],
                &[ROOT, (3, 3), FIFTH, (7, 10), (2, 2)],
            ),
            Quality::SixNine => (&["69", "6/9"], &[ROOT, (3, 4), FIFTH, (6, 9), (2, 2)]),
            Quality::SeventhSharp9 => (&["7#9"], &[ROOT, (3, 4), FIFTH, (7, 10), (2, 3)]),
            Quality::SeventhFlat9 => (&["7b9"], &[ROOT, (3, 4), FIFTH, (7, 10), (2, 1)]),
            Quality::SeventhSharp5 => (
                &["7#5", "aug7", "+7", "7+"],
                &[ROOT, (3, 4), (5, 8), (7, 10)],
            ),
            Quality::SeventhFlat5 => (&["7b5"], &[ROOT, (3, 4), (5, 6), (7, 10)]),
        }
    }

    /// The way it is written after the root: empty for major, `m7` for a minor seventh.
    pub fn symbol(self) -> &'static str {
        self.row().0[0]
    }

    /// Semitones of its tones above the root, the root first.
    pub fn intervals(self) -> impl Iterator<Item = u8> {
        self.row().1.iter().map(|tone| tone.1)
    }

    /// Tells whether the chord is still itself without its fifth: with a seventh, and an unaltered fifth
    /// (common practice).
    pub fn fifth_may_be_missing(self) -> bool {
        let tones = self.row().1;
        tones.contains(&FIFTH) && tones.iter().any(|t| t.0 == 7) && tones.iter().any(|t| t.0 == 3)
    }

    /// The quality written as `text` after a root.
    fn read(text: &str) -> Option<Quality> {
        let text: String = text
            .chars()
            .filter(|c| !c.is_whitespace() && !matches!(c, '(' | ')'))
            .map(|c| match c {
                '♯' => '#',
                '♭' => 'b',
                '△' => 'Δ',
                '−' | '–' => '-',
                'Ø' => 'ø',
                'º' => '°',
                c => c,
            })
            .collect();
        let written = |wanted: &str| {
            Quality::ALL
                .into_iter()
                .find(|q| q.row().0.contains(&wanted))
        };
        // M and m differ; words such as Maj7 or SUS4 may be written large or small.
        let small = text.to_lowercase();
        let has_word = ["maj", "min", "sus", "add", "dim", "aug"]
            .iter()
            .any(|word| small.contains(word));
        written(&text).or_else(|| written(&small).filter(|_| has_word))
    }
}

/// A chord's name: a root, what is built on it, and the bass where that is another note.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct ChordName {
    /// Root, spelled as written: Db and C# are two names of one pitch class.
    pub root: NoteName,
    /// Tones that stand on the root.
    pub quality: Quality,
    /// The lowest note where it is not the root, as in `C/G`.
    pub bass: Option<NoteName>,
}

impl ChordName {
    /// The chord on a pitch class (0 = C … 11 = B), with the root spelled so that its tones carry
    /// the fewest sharps and flats: Db, but C#m.
    pub fn on(root: u8, quality: Quality) -> ChordName {
        let signs = |root: NoteName| {
            let tones = quality.row().1.iter();
            tones.map(|t| root.step(t.0, t.1).signs()).sum::<u8>()
        };
        let usual = NoteName::usual(root);
        let (sharp, flat) = NoteName::both(root);
        let other = if sharp == usual { flat } else { sharp };
        ChordName {
            root: if signs(other) < signs(usual) {
                other
            } else {
                usual
            },
            quality,
            bass: None,
        }
    }

    /// The tones, spelled, the root first; a bass that is not among them comes last.
    pub fn tones(&self) -> Vec<NoteName> {
        let mut tones: Vec<NoteName> = (self.quality.row().1.iter())
            .map(|&(degree, semitones)| self.root.step(degree, semitones))
            .collect();
        if let Some(bass) = self.bass
            && tones.iter().all(|t| t.pitch_class() != bass.pitch_class())
        {
            tones.push(bass);
        }
        tones
    }

    /// Pitch classes (0 = C … 11 = B) of the tones, in the same order.
    pub fn pitch_classes(&self) -> Vec<u8> {
        self.tones().iter().map(|tone| tone.pitch_class()).collect()
    }

    /// The pitch class that should be lowest: the bass's, or the root's.
    pub fn lowest(&self) -> u8 {
        self.bass.unwrap_or(self.root).pitch_class()
    }

    /// The name of a pitch class as this chord spells it: in Bb, 10 is Bb and not A#.
    pub fn spell(&self, pitch_class: u8) -> NoteName {
        let tones = self.tones().into_iter();
        tones
            .chain(self.bass)
            .find(|tone| tone.pitch_class() == pitch_class % 12)
            .unwrap_or_else(|| NoteName::usual(pitch_class))
    }

    /// The same chord `semitones` higher.
    pub fn transposed(&self, semitones: u8) -> ChordName {
        let up = |note: NoteName| (note.pitch_class() + semitones % 12) % 12;
        let moved = ChordName::on(up(self.root), self.quality);
        ChordName {
            bass: self.bass.map(|bass| moved.spell(up(bass))),
            ..moved
        }
    }

    /// Tells whether both names mean the same notes over the same bass, as C# and Db do.
    pub fn sounds_like(&self, other: &ChordName) -> bool {
        self.root.pitch_class() == other.root.pitch_class()
            && self.quality == other.quality
            && self.lowest() == other.lowest()
    }
}

/// Reason why a text is no chord name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ChordError {
    /// Text that does not begin with a note.
    #[error("{}", words::fretboard::no_root(text, hint))]
    Root {
        /// The text that was read, in quotation marks.
        text: String,
        /// Guess at what was meant, to end the sentence with; empty where nothing is guessed.
        hint: &'static str,
    },
    /// Unknown text after the root.
    #[error("{}", words::fretboard::unknown_kind(text, root, rest))]
    Quality {
        /// The text that was read, in quotation marks.
        text: String,
        /// The note that it begins with.
        root: NoteName,
        /// Text after the root, in quotation marks.
        rest: String,
    },
    /// Text after the slash that is no note.
    #[error("{}", words::fretboard::bass_is_no_note(text, bass))]
    Bass {
        /// The text that was read, in quotation marks.
        text: String,
        /// Text after the slash, in quotation marks.
        bass: String,
    },
}

impl FromStr for ChordName {
    type Err = ChordError;

    fn from_str(text: &str) -> Result<ChordName, ChordError> {
        let written = text.trim();
        let (root, rest) = NoteName::split(written).map_err(|_| ChordError::Root {
            text: quoted(text),
            hint: match written.chars().next() {
                Some('H' | 'h') => words::guitar::GERMAN_H,
                _ => "",
            },
        })?;
        // 6/9 is a quality of its own, so the whole is tried before the slash means a bass.
        if let Some(quality) = Quality::read(rest) {
            return Ok(ChordName {
                root,
                quality,
                bass: None,
            });
        }
        let (kind, bass) = match rest.rsplit_once('/') {
            Some((kind, bass)) => (kind, Some(bass)),
            None => (rest, None),
        };
        let quality = Quality::read(kind).ok_or_else(|| ChordError::Quality {
            text: quoted(text),
            root,
            rest: quoted(kind),
        })?;
        let bass = bass
            .map(|bass| {
                bass.parse::<NoteName>().map_err(|_| ChordError::Bass {
                    text: quoted(text),
                    bass: quoted(bass),
                })
            })
            .transpose()?
            .filter(|bass| bass.pitch_class() != root.pitch_class());
        Ok(ChordName {
            root,
            quality,
            bass,
        })
    }
}

impl fmt::Display for ChordName {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut name = format!("{}{}", self.root, self.quality.symbol());
        if let Some(bass) = self.bass {
            name.push_str(&format!("/{bass}"));
        }
        out.pad(&name)
    }
}

impl serde::Serialize for ChordName {
    fn serialize<S: serde::Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_str(self)
    }
}
