//! Comma-separated values: a summary and takes as tables that a spreadsheet opens.

use std::io::{self, Write};

use super::page::Summary;
use crate::disk::Table;
use crate::fretboard::{STRINGS, string_number};
use crate::practice::diary::{Correction, Entry};
use crate::take::Manner;

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
    line.push(
        entry
            .said
            .as_ref()
            .map_or_else(String::new, Correction::words),
    );
    line
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::Tuning;
    use crate::verdict::examples::bb;

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
