//! The written form of a voicing: `x24442`, or `x 10 12 12 12 10`.

use std::fmt;
use std::str::FromStr;

use super::{STRINGS, quoted, string_number};

use crate::words;

/// Fret that each string is held at, from string 6 to string 1. `None` = must not sound, `Some(0)` = open.
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

    /// The highest fret of any sounding string, 0 where nothing is held.
    pub fn highest(&self) -> u8 {
        self.sounding().map(|(_, fret)| fret).max().unwrap_or(0)
    }

    /// The lowest fret that a finger holds, `None` where all strings are open or quiet.
    pub fn lowest_held(&self) -> Option<u8> {
        self.sounding()
            .map(|(_, fret)| fret)
            .filter(|&fret| fret > 0)
            .min()
    }

    /// Tells where on the neck it stands: the lowest fret held, 0 where a string is open.
    pub fn place(&self) -> u8 {
        self.sounding().map(|(_, fret)| fret).min().unwrap_or(0)
    }

    /// The barre that this is and nothing else, in words; `None` where strings stand at different frets, open, or alone.
    pub fn barre_name(&self) -> Option<String> {
        let mut sounding = self.sounding();
        let (lowest, at) = sounding.next()?;
        let others: Vec<u8> = sounding.map(|(_, fret)| fret).collect();
        let is_barre = at > 0 && !others.is_empty() && others.iter().all(|&fret| fret == at);
        is_barre.then(|| match lowest {
            0 => words::guitar::barre_at(at),
            _ => words::guitar::barre_from(at, string_number(lowest)),
        })
    }

    /// The same shape so many frets higher, or lower where `by` is negative. `None` where a string is open, which stays where
    /// it is, or where the neck ends.
    pub fn moved(&self, by: i8) -> Option<Frets> {
        let mut moved = *self;
        for fret in moved.0.iter_mut().flatten() {
            *fret = match *fret {
                0 => return None,
                held => held.checked_add_signed(by)?,
            };
        }
        (moved.highest() <= Self::HIGHEST).then_some(moved)
    }
}

/// Reason why a text is no voicing.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FretsError {
    /// Fewer or more than six entries.
    #[error("{}", words::fretboard::six_frets(text, found))]
    Count {
        /// The text that was read, in quotation marks.
        text: String,
        /// Number of entries in it.
        found: usize,
    },
    /// An entry that is neither a number nor x.
    #[error("{}", words::fretboard::no_fret(entry, text))]
    Entry {
        /// The text that was read, in quotation marks.
        text: String,
        /// The entry that is no fret, in quotation marks.
        entry: String,
    },
    /// A fret past the end of the neck.
    #[error("{}", words::fretboard::fret_too_high(Frets::HIGHEST, fret, text))]
    TooHigh {
        /// The text that was read, in quotation marks.
        text: String,
        /// The number that is too high, shortened where it is long.
        fret: String,
    },
    /// Every string is x.
    #[error("{}", words::fretboard::nothing_sounds(text))]
    Nothing {
        /// The text that was read, in quotation marks.
        text: String,
    },
}

impl FromStr for Frets {
    type Err = FretsError;

    fn from_str(text: &str) -> Result<Self, FretsError> {
        let is_separator = |c: char| c.is_whitespace() || c == ',' || c == '-';
        let entries: Vec<String> = if text.trim().contains(is_separator) {
            text.split(is_separator)
                .filter(|entry| !entry.is_empty())
                .map(str::to_owned)
                .collect()
        } else {
            text.trim().chars().map(String::from).collect()
        };
        if entries.len() != STRINGS {
            return Err(FretsError::Count {
                text: quoted(text),
                found: entries.len(),
            });
        }
        let mut frets = [None; STRINGS];
        for (slot, entry) in frets.iter_mut().zip(&entries) {
            *slot = fret(entry, text)?;
        }
        if frets.iter().all(Option::is_none) {
            return Err(FretsError::Nothing { text: quoted(text) });
        }
        Ok(Frets(frets))
    }
}

/// One entry of `text`: a fret, or `None` for x.
fn fret(entry: &str, text: &str) -> Result<Option<u8>, FretsError> {
    if entry.eq_ignore_ascii_case("x") {
        return Ok(None);
    }
    if !entry.bytes().all(|b| b.is_ascii_digit()) {
        return Err(FretsError::Entry {
            text: quoted(text),
            entry: quoted(entry),
        });
    }
    match entry.parse() {
        Ok(fret) if fret <= Frets::HIGHEST => Ok(Some(fret)),
        _ => Err(FretsError::TooHigh {
            text: quoted(text),
            fret: super::shortened(entry),
        }),
    }
}

impl fmt::Display for Frets {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let gap = if self.highest() > 9 { " " } else { "" };
        let entries = self
            .0
            .map(|fret| fret.map_or("x".to_owned(), |f| f.to_string()));
        out.pad(&entries.join(gap))
    }
}

impl serde::Serialize for Frets {
    fn serialize<S: serde::Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_str(self)
    }
}

impl<'de> serde::Deserialize<'de> for Frets {
    fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let text = String::deserialize(from)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn error(text: &str) -> String {
        text.parse::<Frets>().unwrap_err().to_string()
    }

    #[test]
    fn a_barre_alone_has_a_name() {
        let name = |text: &str| text.parse::<Frets>().unwrap().barre_name();
        assert_eq!(name("111111").as_deref(), Some("barre at fret 1"));
        let five = name("x33333");
        assert_eq!(five.as_deref(), Some("barre at fret 3, from string 5"));
        for other in ["133211", "000000", "xx3xxx"] {
            assert_eq!(name(other), None, "{other}");
        }
    }

    #[test]
    fn a_shape_is_moved_along_the_neck_where_nothing_is_open() {
        let frets = |text: &str| text.parse::<Frets>().unwrap();
        assert_eq!(frets("x13331").moved(2), Some(frets("x35553")));
        assert_eq!(frets("x13331").moved(-1), Some(frets("x02220")));
        assert_eq!(frets("x13331").moved(-2), None, "the neck ends");
        assert_eq!(frets("x 22 24 24 24 22").moved(1), None);
        assert_eq!(frets("x32010").moved(1), None, "open strings stay");
    }

    #[test]
    fn all_usual_forms_are_read() {
        let bb = Frets([None, Some(1), Some(3), Some(3), Some(3), Some(1)]);
        for text in [
            "x13331",
            "X13331",
            " x13331 ",
            "x 1 3 3 3 1",
            "x,1,3,3,3,1",
            "x-1-3-3-3-1",
            "x\t1 3  3 3 1",
        ] {
            assert_eq!(text.parse(), Ok(bb), "{text}");
        }
        let high: Frets = "x 10 12 12 12 10".parse().unwrap();
        assert_eq!(high.0[1], Some(10));
    }

    #[test]
    fn a_wrong_number_of_entries_is_said() {
        assert!(
            error("x1333").ends_with("\"x1333\" has 5"),
            "{}",
            error("x1333")
        );
        assert!(error("x1 33 31").ends_with("\"x1 33 31\" has 3"));
        assert!(error("").ends_with("\"\" has 0"));
        assert!(error("x1012121210").contains("or with spaces, as in x 10"));
    }

    #[test]
    fn a_wrong_entry_is_named() {
        assert!(error("x1333?").contains("\"?\" in \"x1333?\""));
        assert!(error("x +1 3 3 3 1").contains("\"+1\""));
        assert!(error("x 1 3 3 3 30").contains("30 in \"x 1 3 3 3 30\" is past the end"));
        assert!(error("x 1 3 3 3 99999999999999999999").contains("past the end"));
        assert!(error("xxxxxx").contains("at least one string must sound"));
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_back(
            frets in prop::array::uniform6(prop::option::of(0..=Frets::HIGHEST))
                .prop_filter("one string sounds", |f| f.iter().any(Option::is_some))
        ) {
            let frets = Frets(frets);
            prop_assert_eq!(frets.to_string().parse(), Ok(frets));
        }

        #[test]
        fn no_text_makes_it_panic(text in "\\PC*", near in "[x0-9 ,#-]{0,20}") {
            let _ = text.parse::<Frets>();
            let _ = near.parse::<Frets>();
        }
    }
}
