//! The neck in characters: a column for each fret, a line for each string, low on top as the player
//! looks down on it.

use std::io::{self, Write};

use crate::fretboard::{STRINGS, string_number};
use crate::words;

/// Content of one fret.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NeckColumn {
    /// Over the fret: the root; empty for no such line.
    pub name: String,
    /// Fret, counted from the nut or the capo.
    pub fret: u8,
    /// Cell of each string, string 6 to string 1; at most four characters.
    pub strings: [String; STRINGS],
    /// Cell of all strings together.
    pub all: String,
}

/// Frets to draw, up the neck.
#[derive(Debug, Clone, Copy)]
pub struct NeckTable<'a> {
    /// Content of each fret, up the neck.
    pub columns: &'a [NeckColumn],
}

/// Columns that fit a line of sixty characters.
const MOST: usize = 9;

impl NeckTable<'_> {
    /// Draws the frets, in as many pieces as the width asks for.
    ///
    /// # Errors
    /// Where `out` cannot be written.
    pub fn draw(&self, out: &mut dyn Write) -> io::Result<()> {
        for (i, piece) in self.columns.chunks(MOST).enumerate() {
            if i > 0 {
                writeln!(out)?;
            }
            if piece.iter().any(|c| !c.name.is_empty()) {
                Self::line(
                    out,
                    words::route::ROOT,
                    piece.iter().map(|c| c.name.clone()),
                )?;
            }
            Self::line(
                out,
                words::picture::FRET,
                piece.iter().map(|c| c.fret.to_string()),
            )?;
            for string in 0..STRINGS {
                let name = words::grammar::string(string_number(string));
                Self::line(out, &name, piece.iter().map(|c| c.strings[string].clone()))?;
            }
            Self::line(
                out,
                words::picture::ALL,
                piece.iter().map(|c| c.all.clone()),
            )?;
        }
        Ok(())
    }

    fn line(
        out: &mut dyn Write,
        name: &str,
        cells: impl Iterator<Item = String>,
    ) -> io::Result<()> {
        let cells: String = cells.map(|cell| format!("{cell:>5}")).collect();
        writeln!(out, "{}", format!("{name:<9}{cells}").trim_end())
    }
}
