//! The file of a table: a line of JSON, which says what its columns are, by which constants the program makes them and how they
//! were made; then rows of `f32`, little-endian.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;
use std::process::Command;

use serde_json::json;

/// The line of JSON is filled up with blanks to a multiple of this many bytes.
const ALIGNED: usize = 64;

/// A table that is being written.
pub struct FeatureTable {
    file: BufWriter<File>,
    width: usize,
    rows: usize,
}

/// Name of a column, and how its numbers lie.
pub type Column<'a> = (&'a str, &'a [usize]);

impl FeatureTable {
    /// Begins a table of what a network of this `layout` learns from. How it is made is the program's own command line and the
    /// commit it was built from, as far as git knows.
    pub fn create(
        path: &Path,
        layout: &str,
        constants: &[(&str, f32)],
        columns: &[Column],
    ) -> anyhow::Result<FeatureTable> {
        let texts: Vec<(&str, String)> = (constants.iter())
            .map(|(name, value)| (*name, value.to_string()))
            .collect();
        let command: Vec<String> = std::env::args().skip(1).collect();
        let head = json!({
            "layout": layout,
            "constants": texts,
            "columns": columns,
            "made": { "command": command.join(" "), "commit": commit() },
        });
        let mut line = head.to_string();
        line.extend(std::iter::repeat_n(
            ' ',
            (ALIGNED - (line.len() + 1) % ALIGNED) % ALIGNED,
        ));
        let mut file = BufWriter::new(File::create(path)?);
        writeln!(file, "{line}")?;
        let width = columns
            .iter()
            .map(|(_, shape)| shape.iter().product::<usize>());
        Ok(FeatureTable {
            file,
            width: width.sum(),
            rows: 0,
        })
    }

    /// Adds rows, which lie one after the other.
    pub fn push(&mut self, rows: &[f32]) -> anyhow::Result<()> {
        anyhow::ensure!(
            rows.len().is_multiple_of(self.width),
            "{} numbers are no rows of {}",
            rows.len(),
            self.width
        );
        for value in rows {
            self.file.write_all(&value.to_le_bytes())?;
        }
        self.rows += rows.len() / self.width;
        Ok(())
    }

    /// Ends the table; gives how many rows it has.
    pub fn finish(mut self) -> anyhow::Result<usize> {
        self.file.flush()?;
        Ok(self.rows)
    }
}

/// The commit that is checked out, "-dirty" behind it where files differ.
fn commit() -> String {
    let git = Command::new("git")
        .args(["describe", "--always", "--dirty", "--exclude=*"])
        .output();
    let said = git.ok().filter(|git| git.status.success());
    said.map_or("unknown".to_owned(), |git| {
        String::from_utf8_lossy(&git.stdout).trim().to_owned()
    })
}
