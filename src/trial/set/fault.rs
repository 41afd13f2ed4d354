//! Why a labelled set is refused, line by line.

use std::fmt;

use thiserror::Error;

use super::{ENDINGS, LONGEST_S, MOST_BYTES, MOST_ROWS};
use crate::strings::bounds::OutOfBounds;

/// Fault of a set, and the line of its table that it stands in.
#[derive(Debug)]
pub struct Refusal {
    /// The table, as it is shown.
    pub table: String,
    /// Line of the table, from 1; `None` for a fault of the whole.
    pub line: Option<u64>,
    /// What is wrong.
    pub fault: Fault,
}

impl fmt::Display for Refusal {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(out, "{}, line {line}: {}", self.table, self.fault),
            // Faults of the whole name their file.
            None => write!(out, "{}", self.fault),
        }
    }
}

/// What may be wrong with a set. Foreign text in it is shortened and in quotation marks.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum Fault {
    /// The table, or the folder, cannot be had: a sentence that names the file.
    #[error("{0}")]
    Disk(String),
    /// A column is missing.
    #[error(
        "{table}: the first line should name the columns {expected}; {missing} is missing; add it"
    )]
    Column {
        /// The table, as it is shown.
        table: String,
        /// Columns that a table needs.
        expected: &'static str,
        /// The first one that is missing.
        missing: &'static str,
    },
    /// The line is no line of a table.
    #[error(
        "the line cannot be read ({0}); write it anew, with as many cells as the first line has"
    )]
    Line(String),
    /// The table goes on for too long.
    #[error("a set has at most {MOST_ROWS} lines; divide it into several folders")]
    TooManyRows,
    /// No line holds a take.
    #[error("{0}: no take is in the table; add a line for each, or leave this set out")]
    Nothing(String),
    /// A cell is empty that must not be.
    #[error("the column {0} is empty; fill it in")]
    Empty(&'static str),
    /// The name leads elsewhere, or is hidden.
    #[error(
        "a file in the set's own folder was expected, {0} came; move it there and give its name alone"
    )]
    Name(String),
    /// The name ends otherwise.
    #[error("a name that ends in {expected} was expected, {name} came; save the sound so", expected = ENDINGS.join(" or "))]
    Ending {
        /// The name.
        name: String,
    },
    /// The frets are none.
    #[error("{0}")]
    Frets(String),
    /// The string is none.
    #[error(
        "a string from 6 (low E) to 1 (high E) was expected, or nothing for a clean take; {0} came; correct it"
    )]
    String(String),
    /// The word is unknown.
    #[error("an unknown deed, {found}; the words are {expected}")]
    Deed {
        /// What came.
        found: String,
        /// All words.
        expected: String,
    },
    /// A deed without its string.
    #[error(
        "the deed {0} belongs to a string, and none is named; fill in the string, or leave the deed empty"
    )]
    NoString(&'static str),
    /// A deed that cannot be done there.
    #[error(
        "string {string} cannot be {deed:?} in {frets}; correct the frets, the string or the deed"
    )]
    Impossible {
        /// 6 to 1.
        string: u8,
        /// Word of the deed.
        deed: &'static str,
        /// The frets, as they are written.
        frets: String,
    },
    /// A string named a second time.
    #[error("string {string} of this take stands in line {before} already; leave one of them out")]
    Twice {
        /// 6 to 1.
        string: u8,
        /// Line that names it first.
        before: u64,
    },
    /// Clean and not.
    #[error(
        "line {before} says otherwise of this take: one of them calls it clean; leave that one out"
    )]
    CleanAndNot {
        /// Line that says it first.
        before: u64,
    },
    /// Lines of one take that differ.
    #[error("line {before} has another {column} for this take; the lines of one take say the same")]
    Differs {
        /// The column.
        column: &'static str,
        /// Line that says it first.
        before: u64,
    },
    /// A file that is one take and several.
    #[error("line {before} of this file has {} at_s; a file with several takes needs it in every line", if *with { "an" } else { "no" })]
    SomeAt {
        /// Line that says it first.
        before: u64,
        /// Whether that line has it.
        with: bool,
    },
    /// A number that is none, or out of its range.
    #[error("{column}: a number was expected, {found} came; correct it, or leave the cell empty")]
    Number {
        /// The column.
        column: &'static str,
        /// What came.
        found: String,
    },
    /// A number or a text out of its bounds.
    #[error("{0}; correct it")]
    Bounds(#[from] OutOfBounds),
    /// An unknown ground.
    #[error("known_by: {expected} was expected, or nothing; {found} came; correct it")]
    KnownBy {
        /// The words.
        expected: String,
        /// What came.
        found: String,
    },
    /// The sound cannot be read: a sentence that names the file.
    #[error("{0}")]
    Sound(String),
    /// The name belongs to a link.
    #[error("{0} is a link; put the file itself there")]
    Link(String),
    /// The file is huge.
    #[error(
        "{name} has {bytes} bytes; a sound of a set has at most {MOST_BYTES}; cut it into parts"
    )]
    Huge {
        /// The file.
        name: String,
        /// What it has.
        bytes: u64,
    },
    /// The file goes on for too long.
    #[error("{0} goes on for more than {LONGEST_S} s; cut it into parts")]
    Long(String),
    /// Another length than the table says.
    #[error(
        "{name} holds {found:.2} s of sound, and the table says {said:.2}; copy the whole file again, or correct the line"
    )]
    Length {
        /// The file.
        name: String,
        /// Seconds in it.
        found: f64,
        /// Seconds that the table says.
        said: f64,
    },
    /// Another rate than the table says.
    #[error(
        "{name} has {found} samples a second, and the table says {said}; copy the file again, or correct the line"
    )]
    Rate {
        /// The file.
        name: String,
        /// In Hz.
        found: u32,
        /// What the table says, in Hz.
        said: u32,
    },
    /// A take after the file's end.
    #[error(
        "a take at {at_s} s was expected in {name}, which ends at {found:.2} s; copy the whole file again, or correct at_s"
    )]
    AfterEnd {
        /// The file.
        name: String,
        /// Where the take should be, in seconds.
        at_s: f64,
        /// Seconds in it.
        found: f64,
    },
}
