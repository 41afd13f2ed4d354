//! Faults of a labelled set, line by line.

use std::fmt;

use thiserror::Error;

use super::{ENDINGS, LONGEST_S, MOST_BYTES, MOST_ROWS};
use crate::strings::bounds::OutOfBounds;
use crate::words;

/// Fault of a set, and the line of its table that it stands in.
#[derive(Debug)]
pub struct Refusal {
    /// The table, as it is shown.
    pub table: String,
    /// Line of the table, from 1; `None` for a fault of the whole.
    pub line: Option<u64>,
    /// Fault of that line.
    pub fault: SetFault,
}

impl fmt::Display for Refusal {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => out.write_str(&words::labelled::in_line(&self.table, line, &self.fault)),
            // Faults of the whole name their file.
            None => write!(out, "{}", self.fault),
        }
    }
}

/// Fault of a set. Foreign text in it is shortened and in quotation marks.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum SetFault {
    /// The table, or the folder, cannot be had: a sentence that names the file.
    #[error("{0}")]
    Disk(String),
    /// A column is missing.
    #[error("{}", words::labelled::column_missing(table, expected, missing))]
    Column {
        /// The table, as it is shown.
        table: String,
        /// Columns that a table needs.
        expected: &'static str,
        /// The first one that is missing.
        missing: &'static str,
    },
    /// The line is no line of a table.
    #[error("{}", words::labelled::line_unreadable(_0))]
    Line(String),
    /// The table goes on for too long.
    #[error("{}", words::labelled::too_many_rows(MOST_ROWS))]
    TooManyRows,
    /// No line holds a take.
    #[error("{}", words::labelled::no_take(_0))]
    Nothing(String),
    /// A cell is empty that must not be.
    #[error("{}", words::labelled::empty(_0))]
    Empty(&'static str),
    /// The name leads elsewhere, or is hidden.
    #[error("{}", words::labelled::not_in_folder(_0))]
    Name(String),
    /// The name ends otherwise.
    #[error("{}", words::labelled::wrong_ending(ENDINGS.join(" or "), name))]
    Ending {
        /// The name.
        name: String,
    },
    /// The frets are none.
    #[error("{0}")]
    Frets(String),
    /// The string is none.
    #[error("{}", words::labelled::no_string(_0))]
    String(String),
    /// The word is unknown.
    #[error("{}", words::labelled::no_deed(found, expected))]
    Deed {
        /// Text that came.
        found: String,
        /// All words.
        expected: String,
    },
    /// A deed without its string.
    #[error("{}", words::labelled::deed_of_no_string(_0))]
    NoString(&'static str),
    /// A deed that cannot be done there.
    #[error("{}", words::labelled::impossible(string, deed, frets))]
    Impossible {
        /// 6 to 1.
        string: u8,
        /// Word of the deed.
        deed: &'static str,
        /// The frets, as they are written.
        frets: String,
    },
    /// A string named a second time.
    #[error("{}", words::labelled::string_twice(string, before))]
    Twice {
        /// 6 to 1.
        string: u8,
        /// Line that names it first.
        before: u64,
    },
    /// Clean and not.
    #[error("{}", words::labelled::clean_and_not(before))]
    CleanAndNot {
        /// Line that says it first.
        before: u64,
    },
    /// Lines of one take that differ.
    #[error("{}", words::labelled::differs(before, column))]
    Differs {
        /// The column.
        column: &'static str,
        /// Line that says it first.
        before: u64,
    },
    /// A file that is one take and several.
    #[error("{}", words::labelled::at_in_every_line(before, *with))]
    SomeAt {
        /// Line that says it first.
        before: u64,
        /// True where that line has it.
        with: bool,
    },
    /// A number that is none, or out of its range.
    #[error("{}", words::labelled::no_number(column, found))]
    Number {
        /// The column.
        column: &'static str,
        /// Text that came.
        found: String,
    },
    /// A number or a text out of its bounds.
    #[error("{}", words::labelled::corrected(_0))]
    Bounds(#[from] OutOfBounds),
    /// An unknown ground.
    #[error("{}", words::labelled::no_ground(expected, found))]
    KnownBy {
        /// The words.
        expected: String,
        /// Text that came.
        found: String,
    },
    /// The sound cannot be read: a sentence that names the file.
    #[error("{0}")]
    Sound(String),
    /// The name belongs to a link.
    #[error("{}", words::labelled::a_link(_0))]
    Link(String),
    /// The file is huge.
    #[error("{}", words::labelled::huge(name, bytes, MOST_BYTES))]
    Huge {
        /// The file.
        name: String,
        /// Size of what it has.
        bytes: u64,
    },
    /// The file goes on for too long.
    #[error("{}", words::labelled::too_long(_0, LONGEST_S))]
    Long(String),
    /// Another length than the table says.
    #[error("{}", words::labelled::other_length(name, *found, *said))]
    Length {
        /// The file.
        name: String,
        /// Seconds in it.
        found: f64,
        /// Seconds that the table says.
        said: f64,
    },
    /// Another rate than the table says.
    #[error("{}", words::labelled::other_rate(name, found, said))]
    Rate {
        /// The file.
        name: String,
        /// Rate found, in Hz.
        found: u32,
        /// Rate that the table says, in Hz.
        said: u32,
    },
    /// A take after the file's end.
    #[error("{}", words::labelled::after_the_end(at_s, name, *found))]
    AfterEnd {
        /// The file.
        name: String,
        /// Place where the take should be, in seconds.
        at_s: f64,
        /// Seconds in it.
        found: f64,
    },
}
