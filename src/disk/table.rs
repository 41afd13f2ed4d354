//! Comma-separated values: tables that a spreadsheet opens. One writer for all of them, so that none holds
//! what a spreadsheet would run.

use std::borrow::Cow;
use std::io::{self, Write};

use crate::words::foreign::visible;

/// A table that is written row by row.
pub struct Table<W: Write>(csv::Writer<W>);

impl<W: Write> Table<W> {
    /// Begins with the names of the columns.
    ///
    /// # Errors
    /// Where `out` cannot be written, as all of this.
    pub fn new<S: AsRef<str>>(out: W, heading: impl IntoIterator<Item = S>) -> io::Result<Self> {
        let mut table = Table(csv::Writer::from_writer(out));
        table.row(heading)?;
        Ok(table)
    }

    /// Adds a row of as many cells as there are columns.
    pub fn row<S: AsRef<str>>(&mut self, cells: impl IntoIterator<Item = S>) -> io::Result<()> {
        for cell in cells {
            self.0.write_field(harmless(cell.as_ref()).as_bytes())?;
        }
        self.0.write_record(None::<&[u8]>)?;
        Ok(())
    }

    /// Writes what is still kept back.
    pub fn end(mut self) -> io::Result<()> {
        self.0.flush()
    }
}

/// What makes a spreadsheet take a cell for a formula, at its beginning (OWASP, "CSV injection"), the wide
/// forms among them.
const BEGIN_FORMULAS: [char; 8] = ['=', '+', '-', '@', '＝', '＋', '－', '＠'];

/// A cell that no spreadsheet takes for a formula, in one line: behind an apostrophe where it looks like one.
/// Numbers are none.
fn harmless(cell: &str) -> Cow<'_, str> {
    // Spaces and control characters before it may be skipped.
    let first = cell.trim_start_matches(|c: char| c.is_whitespace() || c.is_control());
    let hidden = cell.starts_with(['\t', '\r', '\n']);
    let is_number = || {
        let digits = |c: char| c.is_ascii_digit() || ".eE+-".contains(c);
        cell.chars().all(digits) && cell.parse::<f64>().is_ok()
    };
    match hidden || first.starts_with(BEGIN_FORMULAS) && !is_number() {
        true => Cow::Owned(format!("'{}", visible(cell))),
        false => visible(cell),
    }
}

/// Gives what a cell held before [`Table::row`] made it harmless.
pub fn cell_meant(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(meant) if harmless(meant) == cell => meant,
        _ => cell,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_cell_is_a_formula_and_numbers_stay_numbers() {
        for (cell, expected) in [
            ("=1+1", "'=1+1"),
            ("+cmd", "'+cmd"),
            ("@SUM(A1)", "'@SUM(A1)"),
            ("-2+3", "'-2+3"),
            ("\t=1", "'\\u0009=1"),
            ("\rx", "'\\u000dx"),
            (" =1", "' =1"),
            ("＝1", "'＝1"),
            ("-12.5", "-12.5"),
            ("+3", "+3"),
            ("-1e-5", "-1e-5"),
            ("-inf", "'-inf"),
            ("Bb", "Bb"),
            ("a\nb", "a\\u000ab"),
            ("", ""),
        ] {
            assert_eq!(harmless(cell), expected, "{cell:?}");
        }
    }

    #[test]
    fn a_harmless_cell_is_read_as_it_was_meant() {
        for cell in ["=1+1", "-2+3", "Bb", "'quoted'", "-12.5", ""] {
            assert_eq!(cell_meant(&harmless(cell)), cell);
        }
    }
}
