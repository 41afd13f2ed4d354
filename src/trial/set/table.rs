//! The table of a set, `truth.csv`: written and read.

use std::collections::HashMap;
use std::io::{self, Write};
use std::path::{Component, Path};

use super::fault::Fault;
use super::{ENDINGS, KnownBy, LONGEST_S, Labelled, MOST_ROWS};
use crate::audio::{MAX_RATE_HZ, MIN_RATE_HZ};
use crate::disk::{Table, cell_meant};
use crate::fretboard::{Frets, STRINGS, quoted, string_number};
use crate::strings::bounds::{self, LONGEST_NAME, LONGEST_TEXT};
use crate::trial::Deed;
use crate::words;
use crate::words::foreign::visible;

/// Columns as they are written.
const COLUMNS: [&str; 12] = [
    "file",
    "at_s",
    "frets",
    "string",
    "deed",
    "chord",
    "guitar",
    "microphone",
    "licence",
    "known_by",
    "seconds",
    "rate_hz",
];
/// Those that a table must have.
const NEEDED: [&str; 4] = ["file", "frets", "string", "deed"];
/// Longest name of a file, in characters: what file systems take.
const LONGEST_FILE: usize = 255;

/// Takes with the line that each begins in, and what is wrong in which line.
#[derive(Debug, Default)]
pub struct Rows {
    /// Takes in the order of their first lines.
    pub takes: Vec<(u64, Labelled)>,
    /// Faults with their lines.
    pub faults: Vec<(Option<u64>, Fault)>,
}

/// Writes the whole table.
///
/// # Errors
/// Where `out` cannot be written.
pub fn write(out: &mut dyn Write, takes: &[Labelled]) -> io::Result<()> {
    let mut table = Table::new(out, COLUMNS)?;
    for take in takes {
        let faults: Vec<usize> = (0..STRINGS)
            .filter(|&string| take.deeds[string] != Deed::Clean)
            .collect();
        let mut row = |string: String, deed: &str| {
            table.row([
                take.file.clone(),
                number(take.at_s),
                take.frets.to_string(),
                string,
                deed.to_owned(),
                take.chord.clone().unwrap_or_default(),
                take.guitar.clone(),
                take.microphone.clone(),
                take.licence.clone(),
                take.known_by.word().to_owned(),
                number(take.seconds),
                take.rate_hz.map_or_else(String::new, |hz| hz.to_string()),
            ])
        };
        if faults.is_empty() {
            row(String::new(), "")?;
        }
        for string in faults {
            row(string_number(string).to_string(), take.deeds[string].word())?;
        }
    }
    table.end()
}

fn number(number: Option<f64>) -> String {
    number.map_or_else(String::new, |number| number.to_string())
}

/// A take that is being put together from its lines.
struct Begun {
    line: u64,
    take: Labelled,
    /// Line that names each string.
    named: [Option<u64>; STRINGS],
    /// Line that calls it clean.
    clean: Option<u64>,
}

/// What one line says.
struct Line {
    take: Labelled,
    string: Option<(usize, Deed)>,
}

/// Reads the table; `shown` is its name as faults have it. Nothing is looked for on the disk.
pub fn read(text: &str, shown: &str) -> Rows {
    let mut rows = Rows::default();
    // A spreadsheet writes semicolons where the comma is taken by numbers.
    let heading = text.lines().next().unwrap_or_default();
    let delimiter = if heading.contains(';') { b';' } else { b',' };
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let columns = reader.headers().cloned().unwrap_or_default();
    let place = |name: &str| columns.iter().position(|c| c.eq_ignore_ascii_case(name));
    if let Some(missing) = NEEDED.into_iter().find(|name| place(name).is_none()) {
        let fault = Fault::Column {
            table: shown.to_owned(),
            expected: words::labelled::NEEDED_COLUMNS,
            missing,
        };
        rows.faults.push((None, fault));
        return rows;
    }
    let places = COLUMNS.map(place);
    let mut begun: Vec<Begun> = Vec::new();
    // By file, and by file and moment.
    let mut files: HashMap<String, usize> = HashMap::new();
    let mut takes: HashMap<(String, Option<u64>), usize> = HashMap::new();
    for (count, record) in reader.records().enumerate() {
        let at_reader = |error: &csv::Error| error.position().map(csv::Position::line);
        let (line, record) = match record {
            Ok(record) => (record.position().map(csv::Position::line), record),
            Err(error) => {
                let fault = Fault::Line(csv_words(&error));
                rows.faults.push((at_reader(&error), fault));
                continue;
            }
        };
        let number = line.unwrap_or(0);
        if count >= MOST_ROWS {
            rows.faults.push((line, Fault::TooManyRows));
            break;
        }
        let cell = |column: &str| {
            let at = COLUMNS.iter().position(|c| *c == column);
            let at = at.and_then(|at| places[at]);
            cell_meant(at.and_then(|at| record.get(at)).unwrap_or_default())
        };
        if record.iter().all(str::is_empty) {
            continue;
        }
        let said = match parsed(cell) {
            Ok(said) => said,
            Err(fault) => {
                rows.faults.push((line, fault));
                continue;
            }
        };
        let of_file = files.get(&said.take.file).map(|&first| &begun[first]);
        if let Some(first) = of_file.filter(|b| b.take.at_s.is_some() != said.take.at_s.is_some()) {
            let fault = Fault::SomeAt {
                before: first.line,
                with: first.take.at_s.is_some(),
            };
            rows.faults.push((line, fault));
            continue;
        }
        let key = (said.take.file.clone(), said.take.at_s.map(f64::to_bits));
        let index = *takes.entry(key).or_insert_with(|| {
            begun.push(Begun {
                line: number,
                take: said.take.clone(),
                named: [None; STRINGS],
                clean: None,
            });
            begun.len() - 1
        });
        files.entry(said.take.file.clone()).or_insert(index);
        if let Err(fault) = begun[index].add(&said, number) {
            rows.faults.push((line, fault));
        }
    }
    rows.takes = begun.into_iter().map(|b| (b.line, b.take)).collect();
    rows
}

/// What the library says, in one line.
fn csv_words(error: &csv::Error) -> String {
    match error.kind() {
        csv::ErrorKind::UnequalLengths {
            expected_len, len, ..
        } => words::labelled::cells(expected_len, len),
        _ => visible(&error.to_string()).into_owned(),
    }
}

impl Begun {
    /// Takes in what a line says.
    fn add(&mut self, said: &Line, line: u64) -> Result<(), Fault> {
        let (mine, theirs) = (&self.take, &said.take);
        let differs = [
            ("frets", mine.frets != theirs.frets),
            ("chord", mine.chord != theirs.chord),
            ("guitar", mine.guitar != theirs.guitar),
            ("microphone", mine.microphone != theirs.microphone),
            ("licence", mine.licence != theirs.licence),
            ("known_by", mine.known_by != theirs.known_by),
            ("seconds", mine.seconds != theirs.seconds),
            ("rate_hz", mine.rate_hz != theirs.rate_hz),
        ];
        if let Some((column, _)) = differs.into_iter().find(|(_, differs)| *differs) {
            let before = self.line;
            return Err(Fault::Differs { column, before });
        }
        let Some((string, deed)) = said.string else {
            let named = self.named.iter().flatten().next();
            return match named.or(self.clean.as_ref()) {
                Some(&before) => Err(Fault::CleanAndNot { before }),
                None => {
                    self.clean = Some(line);
                    Ok(())
                }
            };
        };
        if let Some(before) = self.clean {
            return Err(Fault::CleanAndNot { before });
        }
        if let Some(before) = self.named[string] {
            let string = string_number(string);
            return Err(Fault::Twice { string, before });
        }
        self.named[string] = Some(line);
        self.take.deeds[string] = deed;
        Ok(())
    }
}

/// Reads one line, whose cells `cell` gives by their column.
fn parsed<'a>(cell: impl Fn(&str) -> &'a str) -> Result<Line, Fault> {
    let file = cell("file");
    check_name(file)?;
    let frets = match cell("frets") {
        "" => return Err(Fault::Empty("frets")),
        text => text.parse::<Frets>(),
    };
    let frets = frets.map_err(|error| Fault::Frets(error.to_string()))?;
    let deed = match cell("deed") {
        "" => Deed::Clean,
        word => Deed::parse(word).ok_or_else(|| Fault::Deed {
            found: quoted(word),
            expected: Deed::ALL.map(Deed::word).join(", "),
        })?,
    };
    let string = match (cell("string"), deed) {
        ("", Deed::Clean) => None,
        ("", deed) => return Err(Fault::NoString(deed.word())),
        (text, deed) => {
            let number = text.parse::<u8>().ok().filter(|n| (1..=6).contains(n));
            let number = number.ok_or_else(|| Fault::String(quoted(text)))?;
            let string = STRINGS - usize::from(number);
            if !deed.can_be_done(frets.0[string]) {
                return Err(Fault::Impossible {
                    string: number,
                    deed: deed.word(),
                    frets: frets.to_string(),
                });
            }
            Some((string, deed))
        }
    };
    let text = |column: &'static str, most: usize| {
        let text = visible(cell(column)).into_owned();
        bounds::text(column, &text, most).map(|()| text)
    };
    let chord = text("chord", LONGEST_NAME)?;
    let known_by = match cell("known_by") {
        "" => KnownBy::default(),
        word => KnownBy::parse(word).ok_or_else(|| Fault::KnownBy {
            expected: KnownBy::ALL.map(KnownBy::word).join(", "),
            found: quoted(word),
        })?,
    };
    let take = Labelled {
        file: file.to_owned(),
        at_s: decimal("at_s", cell("at_s"), 0.0..=LONGEST_S)?,
        frets,
        deeds: [Deed::Clean; STRINGS],
        chord: Some(chord).filter(|chord| !chord.is_empty()),
        guitar: text("guitar", LONGEST_TEXT)?,
        microphone: text("microphone", LONGEST_TEXT)?,
        licence: text("licence", LONGEST_TEXT)?,
        known_by,
        seconds: decimal("seconds", cell("seconds"), 0.0..=LONGEST_S)?,
        rate_hz: rate("rate_hz", cell("rate_hz"))?,
    };
    Ok(Line { take, string })
}

fn decimal(
    column: &'static str,
    text: &str,
    range: std::ops::RangeInclusive<f64>,
) -> Result<Option<f64>, Fault> {
    if text.is_empty() {
        return Ok(None);
    }
    // A spreadsheet may write a comma.
    let number: f64 = text.replace(',', ".").parse().map_err(|_| Fault::Number {
        column,
        found: quoted(text),
    })?;
    bounds::number(column, number, &range)?;
    // Without the sign of a zero, by which one moment would be two.
    Ok(Some(number + 0.0))
}

fn rate(column: &'static str, text: &str) -> Result<Option<u32>, Fault> {
    let range = f64::from(MIN_RATE_HZ)..=f64::from(MAX_RATE_HZ);
    let rate = decimal(column, text, range)?;
    match rate {
        Some(rate) if rate.fract() != 0.0 => Err(Fault::Number {
            column,
            found: quoted(text),
        }),
        rate => Ok(rate.map(|rate| rate as u32)),
    }
}

/// Makes sure that a name is a sound in the set's own folder and nothing more, here and on another system.
fn check_name(name: &str) -> Result<(), Fault> {
    if name.is_empty() {
        return Err(Fault::Empty("file"));
    }
    let mut parts = Path::new(name).components();
    let only = (parts.next(), parts.next());
    let is_bare = matches!(only, (Some(Component::Normal(part)), None) if part == name)
        && !name.contains(['/', '\\', ':'])
        && !name.starts_with('.')
        && visible(name) == name
        && name.chars().count() <= LONGEST_FILE;
    if !is_bare {
        return Err(Fault::Name(quoted(name)));
    }
    let ending = name.rsplit_once('.').map(|(_, ending)| ending);
    let is_sound = |e: &str| {
        let same = |known: &&str| known[1..].eq_ignore_ascii_case(e);
        ENDINGS.iter().any(same)
    };
    match ending.is_some_and(is_sound) {
        true => Ok(()),
        false => Err(Fault::Ending { name: quoted(name) }),
    }
}
