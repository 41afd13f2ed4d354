//! Comma-separated values: tables that a spreadsheet opens. One writer for all of them, so that none holds
//! what a spreadsheet would run.

use std::borrow::Cow;
use std::io::{self, Write};

use super::page::Summary;
use super::terminal::visible;
use crate::fretboard::{STRINGS, string_number};
use crate::practice::diary::{Entry, Said};
use crate::take::Manner;

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

/// The numbers of a summary per voicing and string; then a row for each take and recording that could not be judged,
/// which has nothing but its name, where it begins and why.
///
/// # Errors
/// Where `out` cannot be written.
pub fn summary(out: &mut dyn Write, summary: &Summary) -> io::Result<()> {
    let heading = [
        "chord",
        "frets",
        "string",
        "expected_fret",
        "takes",
        "told",
        "as_it_should",
        "muted",
        "choked",
        "buzzing",
        "wrong_fret",
        "ringing",
        "unsure",
        "file",
        "at_s",
        "not_judged_because",
    ];
    let mut table = Table::new(out, heading)?;
    for chord in &summary.chords {
        for s in &chord.strings {
            table.row([
                chord.chord.clone().unwrap_or_default(),
                chord.frets.to_string(),
                s.string.to_string(),
                s.expected_fret.map_or("x".to_owned(), |f| f.to_string()),
                chord.takes.to_string(),
                s.told.to_string(),
                s.as_it_should.to_string(),
                s.muted.to_string(),
                s.choked.to_string(),
                s.buzzing.to_string(),
                s.wrong_fret.to_string(),
                s.ringing.to_string(),
                s.unsure.to_string(),
                String::new(),
                String::new(),
                String::new(),
            ])?;
        }
    }
    for left_out in &summary.left_out {
        let mut row = vec![String::new(); heading.len() - 3];
        row.extend([
            left_out.file.clone(),
            left_out
                .at_s
                .map_or_else(String::new, |at_s| format!("{at_s:.2}")),
            left_out.why.clone(),
        ]);
        table.row(row)?;
    }
    table.end()
}

/// Begins a table of takes: a row a take, as [`take`] has it.
///
/// # Errors
/// Where `out` cannot be written.
pub fn takes<W: Write>(out: W) -> io::Result<Table<W>> {
    let mut heading: Vec<String> = [
        "at",
        "guitar",
        "lesson",
        "began",
        "step",
        "exercise",
        "stage",
        "chord",
        "shape",
        "fret",
        "frets",
        "clean",
        "from",
        "gap_s",
        "off_ms",
        "tempo_bpm",
        "manner",
        "tuning_cents",
        "warnings",
        "causes",
        "program",
        "model",
        "sound",
    ]
    .map(str::to_owned)
    .to_vec();
    for string in (0..STRINGS).map(string_number) {
        for column in ["verdict", "heard_fret", "rings", "confidence", "cents"] {
            heading.push(format!("{column}_{string}"));
        }
    }
    heading.push("said".to_owned());
    Table::new(out, heading)
}

/// The cells of a take.
pub fn take(entry: &Entry) -> Vec<String> {
    fn text<T: ToString>(value: &Option<T>) -> String {
        value.as_ref().map_or_else(String::new, T::to_string)
    }
    let manner = match entry.manner {
        Manner::Strummed => "strummed",
        Manner::Picked => "picked",
    };
    let mut line = vec![
        entry.at.to_string(),
        text(&entry.guitar),
        text(&entry.lesson),
        text(&entry.began),
        text(&entry.step),
        text(&entry.exercise),
        text(&entry.stage),
        text(&entry.chord),
        text(&entry.shape),
        text(&entry.fret),
        entry.frets.to_string(),
        text(&entry.clean),
        text(&entry.from),
        text(&entry.gap_s),
        text(&entry.off_ms),
        text(&entry.tempo_bpm),
        manner.to_owned(),
        entry.tuning_cents.to_string(),
        entry.warnings.join(" "),
        entry.causes.join(" "),
        entry.program.clone(),
        entry.model.clone(),
        text(&entry.sound),
    ];
    for string in &entry.strings {
        line.extend([
            string.verdict.word().to_owned(),
            text(&string.heard_fret),
            string.rings.to_string(),
            string.confidence.to_string(),
            text(&string.cents),
        ]);
    }
    line.push(entry.said.as_ref().map_or_else(String::new, Said::words));
    line
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::Tuning;
    use crate::verdict::examples::bb;

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
    fn both_tables_are_without_formulas() {
        let odd = "=cmd|' /C calc'!A0";
        let mut entry = Entry::of(
            &bb(),
            "2026-11-20T10:00:00Z".parse().unwrap(),
            &Tuning::default(),
        );
        entry.chord = Some(odd.to_owned());
        entry.guitar = Some("@odd".to_owned());
        entry.tuning_cents = -12.5;
        let mut out = Vec::new();
        let mut table = takes(&mut out).unwrap();
        table.row(take(&entry)).unwrap();
        table.end().unwrap();
        let rows: Vec<csv::StringRecord> = csv::Reader::from_reader(out.as_slice())
            .records()
            .map(Result::unwrap)
            .collect();
        assert_eq!(&rows[0][7], format!("'{odd}"));
        assert_eq!((&rows[0][1], &rows[0][17]), ("'@odd", "-12.5"));
    }
}
