//! The movable shapes and the open chords, as tables (common practice throughout).

use std::fmt;
use std::str::FromStr;

use super::chord::Quality;
use super::pitch::NoteName;
use super::{Frets, STRINGS, quoted};

/// A movable shape, named for the open chord that it comes from. With the chord's quality it names
/// one way to hold the hand: E and minor is the E-minor shape.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize)]
pub enum Shape {
    /// Shape of the open E chord; its root lies on string 6.
    E,
    /// Shape of the open A chord; its root lies on string 5.
    A,
    /// Shape of the open D chord; its root lies on string 4.
    D,
    /// Shape of the open C chord; its root lies on string 5.
    C,
    /// Shape of the open G chord; its root lies on string 6.
    G,
}

impl Shape {
    /// All of them, the two that barre chords are learned on first.
    pub const ALL: [Shape; 5] = [Shape::E, Shape::A, Shape::D, Shape::C, Shape::G];

    /// The root of the open chord that it is named for.
    pub fn root(self) -> NoteName {
        NoteName::usual(match self {
            Shape::E => 4,
            Shape::A => 9,
            Shape::D => 2,
            Shape::C => 0,
            Shape::G => 7,
        })
    }
}

impl fmt::Display for Shape {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.root().fmt(out)
    }
}

/// A text that names no shape.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", words::fretboard::no_such_shape(text))]
pub struct ShapeError {
    text: String,
}

impl FromStr for Shape {
    type Err = ShapeError;

    fn from_str(text: &str) -> Result<Shape, ShapeError> {
        Shape::ALL
            .into_iter()
            .find(|shape| shape.to_string().eq_ignore_ascii_case(text.trim()))
            .ok_or_else(|| ShapeError { text: quoted(text) })
    }
}

/// Finger that holds each string, from string 6 to string 1: 1 index, 2 middle, 3 ring, 4 little
/// finger; `None` for an open string or one that must not sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize)]
pub struct Fingering(pub [Option<u8>; STRINGS]);

/// A text that is no fingering.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", words::fretboard::six_fingers(text))]
pub struct FingeringError {
    text: String,
}

impl FromStr for Fingering {
    type Err = FingeringError;

    fn from_str(text: &str) -> Result<Fingering, FingeringError> {
        let error = || FingeringError { text: quoted(text) };
        let mut fingers = [None; STRINGS];
        let mut entries = text.chars().filter(|c| !c.is_whitespace());
        for finger in &mut fingers {
            *finger = match entries.next() {
                Some('x' | 'X' | '0') => None,
                Some(digit @ '1'..='4') => Some(digit as u8 - b'0'),
                _ => return Err(error()),
            };
        }
        match entries.next() {
            None => Ok(Fingering(fingers)),
            Some(_) => Err(error()),
        }
    }
}

/// Use of a shape: whether a chord means it that is asked for without saying which shape.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Use {
    /// The first choice.
    First,
    /// One that a player chooses on purpose.
    OnPurpose,
}

/// One movable shape, as frets above its lowest one.
pub(super) struct Movable {
    pub shape: Shape,
    pub quality: Quality,
    pub frets: Frets,
    /// Fingers up the neck, where the index finger is the nut.
    pub fingers: Fingering,
    /// Fingers at the nut, where the open strings need none.
    pub open_fingers: Fingering,
    /// Choice to play it at the nut, and up the neck, when no shape is asked for.
    pub open: Use,
    pub barre: Use,
    /// One finger holds strings 4 to 2 in a partial barre, and string 1 may go quiet beneath it.
    pub partial_barre: bool,
}

/// A chord that exists at the nut alone.
pub(super) struct OpenChord {
    /// Chord name as text, the bass with it.
    pub name: &'static str,
    pub frets: Frets,
    pub fingers: Fingering,
    pub usage: Use,
}

/// Six marks, x or a digit, at compile time.
const fn marks(text: &str) -> [Option<u8>; STRINGS] {
    let bytes = text.as_bytes();
    assert!(bytes.len() == STRINGS);
    let mut marks = [None; STRINGS];
    let mut i = 0;
    while i < STRINGS {
        match bytes[i] {
            b'x' => {}
            digit @ b'0'..=b'9' => marks[i] = Some(digit - b'0'),
            _ => panic!("a mark is x or a digit"),
        }
        i += 1;
    }
    marks
}

/// Fingers; 0 stands for none.
const fn fingers(text: &str) -> Fingering {
    let mut fingers = marks(text);
    let mut i = 0;
    while i < STRINGS {
        if let Some(0) = fingers[i] {
            fingers[i] = None;
        }
        i += 1;
    }
    Fingering(fingers)
}

/// A shape that is the first choice for its open chord alone.
const fn row(shape: Shape, quality: Quality, frets: &str, barre: &str, open: &str) -> Movable {
    Movable {
        shape,
        quality,
        frets: Frets(marks(frets)),
        fingers: fingers(barre),
        open_fingers: fingers(open),
        open: Use::First,
        barre: Use::OnPurpose,
        partial_barre: false,
    }
}

impl Movable {
    /// Also the first choice up the neck.
    const fn first(self) -> Movable {
        Movable {
            barre: Use::First,
            ..self
        }
    }

    /// Possible at the nut, but not what is usually played there.
    const fn rarely_open(self) -> Movable {
        Movable {
            open: Use::OnPurpose,
            ..self
        }
    }

    const fn partial_barre(self) -> Movable {
        Movable {
            partial_barre: true,
            ..self
        }
    }
}

const fn open(name: &'static str, frets: &str, fingering: &str, usage: Use) -> OpenChord {
    OpenChord {
        name,
        frets: Frets(marks(frets)),
        fingers: fingers(fingering),
        usage,
    }
}

use Quality as Q;
use Shape::{A, C, D, E, G};

use crate::words;

/// Columns: shape, quality, frets, fingers up the neck, fingers at the nut.
#[rustfmt::skip]
pub(super) const MOVABLE: &[Movable] = &[
    row(E, Q::Major, "022100", "134211", "023100").first(),
    row(E, Q::Major, "xx2100", "xx3211", "xx2100").rarely_open(),
    row(E, Q::Minor, "022000", "134111", "023000").first(),
    row(E, Q::Seventh, "020100", "131211", "020100").first(),
    row(E, Q::MajorSeventh, "021100", "142311", "031200").first(),
    row(E, Q::MinorSeventh, "020000", "131111", "020000").first(),
    row(E, Q::Sus4, "022200", "123411", "023400").first(),
    row(E, Q::Sus2, "024400", "123411", "013400"),
    row(E, Q::Power, "022xxx", "134xxx", "012xxx").first(),
    row(E, Q::Power, "02xxxx", "13xxxx", "01xxxx"),
    row(E, Q::Sixth, "022120", "133241", "023140"),
    row(E, Q::MinorSixth, "022020", "123141", "023040").first(),
    row(E, Q::SeventhSus4, "020200", "131411", "020300").first(),
    row(E, Q::Add9, "024100", "134211", "024100"),
    row(E, Q::MinorAdd9, "024000", "134111", "013000"),
    row(E, Q::MinorMajorSeventh, "021000", "132111", "021000").first(),
    row(E, Q::Augmented, "0321xx", "1432xx", "0321xx").rarely_open(),
    row(E, Q::SeventhSharp5, "0x011x", "1x234x", "0x012x").rarely_open().first(),
    row(A, Q::Major, "x02220", "x12341", "x01230").first(),
    row(A, Q::Major, "x02220", "x13331", "x01110").rarely_open().partial_barre(),
    row(A, Q::Minor, "x02210", "x13421", "x02310").first(),
    row(A, Q::Seventh, "x02020", "x13141", "x02030").first(),
    row(A, Q::MajorSeventh, "x02120", "x13241", "x02130").first(),
    row(A, Q::MinorSeventh, "x02010", "x13121", "x02010").first(),
    row(A, Q::Sus4, "x02230", "x12341", "x01240").first(),
    row(A, Q::Sus2, "x02200", "x13411", "x01200").first(),
    row(A, Q::Power, "x022xx", "x134xx", "x012xx").first(),
    row(A, Q::Power, "x02xxx", "x13xxx", "x01xxx"),
    row(A, Q::Sixth, "x02222", "x13333", "x01111").first(),
    row(A, Q::MinorSixth, "x02212", "x13324", "x02314").first(),
    row(A, Q::SeventhSus4, "x02030", "x13141", "x01030").first(),
    row(A, Q::Add9, "x02420", "x12431", "x01420"),
    row(A, Q::MinorAdd9, "x02410", "x13421", "x02410").first(),
    row(A, Q::MinorMajorSeventh, "x02110", "x14231", "x03120").first(),
    row(A, Q::Diminished, "x0121x", "x1243x", "x0132x").first(),
    row(A, Q::HalfDiminished, "x0101x", "x1324x", "x0102x").first(),
    row(A, Q::Augmented, "x03221", "x14332", "x04231").first(),
    row(A, Q::SeventhFlat5, "x0102x", "x1214x", "x0103x").first(),
    row(D, Q::Major, "xx0232", "xx1243", "xx0132"),
    row(D, Q::Minor, "xx0231", "xx1342", "xx0231"),
    row(D, Q::Seventh, "xx0212", "xx1324", "xx0213"),
    row(D, Q::MajorSeventh, "xx0222", "xx1333", "xx0111"),
    row(D, Q::MinorSeventh, "xx0211", "xx1322", "xx0211"),
    row(D, Q::Sus4, "xx0233", "xx1234", "xx0134"),
    row(D, Q::Sus2, "xx0230", "xx1341", "xx0130"),
    row(D, Q::Power, "xx023x", "xx134x", "xx013x"),
    row(D, Q::Power, "xx02xx", "xx13xx", "xx01xx"),
    row(D, Q::Sixth, "xx0202", "xx1314", "xx0203"),
    row(D, Q::MinorSixth, "xx0201", "xx1312", "xx0201"),
    row(D, Q::SeventhSus4, "xx0213", "xx1324", "xx0213"),
    row(D, Q::DiminishedSeventh, "xx0101", "xx1213", "xx0102").first(),
    row(D, Q::Augmented, "xx0332", "xx1342", "xx0231"),
    row(C, Q::Major, "x32010", "x43121", "x32010"),
    row(C, Q::Minor, "x3101x", "x4213x", "x3102x").rarely_open(),
    row(C, Q::Seventh, "x2120x", "x3241x", "x2130x").rarely_open(),
    row(C, Q::MajorSeventh, "x32000", "x43111", "x32000"),
    row(C, Q::MinorSeventh, "x20202", "x21314", "x20304").rarely_open(),
    row(C, Q::Power, "x3x013", "x3x124", "x3x014").rarely_open(),
    row(C, Q::Sus4, "x33011", "x34122", "x34011"),
    row(C, Q::Sus2, "x30013", "x31124", "x30014"),
    row(C, Q::Add9, "x32030", "x32141", "x21030"),
    row(C, Q::Ninth, "x10111", "x21333", "x10234").rarely_open().first(),
    row(C, Q::MajorNinth, "x1021x", "x2143x", "x1032x").rarely_open().first(),
    row(C, Q::MinorNinth, "x2022x", "x2134x", "x1023x").rarely_open().first(),
    row(C, Q::SixNine, "x10011", "x21134", "x10023").rarely_open().first(),
    row(C, Q::SeventhSharp9, "x1012x", "x2134x", "x1023x").rarely_open().first(),
    row(C, Q::SeventhFlat9, "x1010x", "x2131x", "x1020x").rarely_open().first(),
    row(G, Q::Major, "320003", "321114", "210003"),
    row(G, Q::Minor, "310033", "321144", "210034").rarely_open(),
    row(G, Q::Seventh, "320001", "431112", "320001"),
    row(G, Q::MajorSeventh, "320002", "421113", "310002"),
    row(G, Q::MinorSeventh, "3x0331", "3x1442", "2x0341").rarely_open(),
    row(G, Q::Power, "3x0033", "3x1144", "2x0034").rarely_open(),
    row(G, Q::Sus4, "3x0013", "3x1124", "3x0014"),
    row(G, Q::Sus2, "300033", "311144", "200034"),
    row(G, Q::Sixth, "320000", "431111", "320000"),
];

/// Columns: name, frets, fingers, usage.
pub(super) const OPEN: &[OpenChord] = &[
    open("C7", "x32310", "x32410", Use::First),
    open("B7", "x21202", "x21304", Use::First),
    open("Em7", "022030", "023040", Use::OnPurpose),
    open("G", "320033", "210034", Use::OnPurpose),
    open("Fmaj7", "xx3210", "xx3210", Use::First),
    open("Gadd9", "320203", "310204", Use::First),
    open("C/G", "332010", "342010", Use::First),
    open("C/E", "032010", "032010", Use::First),
    open("D/A", "x00232", "x00132", Use::First),
    open("D/F#", "2x0232", "1x0243", Use::First),
    open("G/B", "x20033", "x10034", Use::First),
    open("A/E", "002220", "001230", Use::First),
    open("Am/E", "002210", "002310", Use::First),
    open("Am/G", "3x2210", "4x2310", Use::First),
];
