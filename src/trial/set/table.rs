//! The table of a set, `truth.csv`: written and read.

use std::collections::HashMap;
use std::io::{self, Write};
use std::path::{Component, Path};

use super::fault::SetFault;
use super::{ENDINGS, KnownBy, LONGEST_S, LabelledTake, MOST_ROWS};
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
    pub takes: Vec<(u64, LabelledTake)>,
    /// Faults with their lines.
    pub faults: Vec<(Option<u64>, SetFault)>,
}

/// Writes the whole table.
///
/// # Errors
/// Where `out` cannot be written.
pub fn write(out: &mut dyn Write, takes: &[LabelledTake]) -> io::Result<()> {
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
struct BegunTake {
    line: u64,
    take: LabelledTake,
    /// Line that names each string.
    named: [Option<u64>; STRINGS],
    /// Line that calls it clean.
    clean: Option<u64>,
}

/// What one line says.
struct Line {
    take: LabelledTake,
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
        let fault = SetFault::Column {
            table: shown.to_owned(),
            expected: words::labelled::NEEDED_COLUMNS,
            missing,
        };
        rows.faults.push((None, fault));
        return rows;
    }
    let places = COLUMNS.map(place);
    let mut begun: Vec<BegunTake> = Vec::new();
    // By file, and by file and moment.
    let mut files: HashMap<String, usize> = HashMap::new();
    let mut takes: HashMap<(String, Option<u64>), usize> = HashMap::new();
    for (count, record) in reader.records().enumerate() {
        let at_reader = |error: &csv::Error| error.position().map(csv::Position::line);
        let (line, record) = match record {
            Ok(record) => (record.position().map(csv::Position::line), record),
            Err(error) => {
                let fault = SetFault::Line(csv_words(&error));
                rows.faults.push((at_reader(&error), fault));
                continue;
            }
        };
        let number = line.unwrap_or(0);
        if count >= MOST_ROWS {
            rows.faults.push((line, SetFault::TooManyRows));
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
            let fault = SetFault::SomeAt {
                before: first.line,
                with: first.take.at_s.is_some(),
            };
            rows.faults.push((line, fault));
            continue;
        }
        let key = (said.take.file.clone(), said.take.at_s.map(f64::to_bits));
        let index = *takes.entry(key).or_insert_with(|| {
            begun.push(BegunTake {
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

impl BegunTake {
    /// Takes in what a line says.
    fn add(&mut self, said: &Line, line: u64) -> Result<(), SetFault> {
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
            return Err(SetFault::Differs { column, before });
        }
        let Some((string, deed)) = said.string else {
            let named = self.named.iter().flatten().next();
            return match named.or(self.clean.as_ref()) {
                Some(&before) => Err(SetFault::CleanAndNot { before }),
                None => {
                    self.clean = Some(line);
                    Ok(())
                }
            };
        };
        if let Some(before) = self.clean {
            return Err(SetFault::CleanAndNot { before });
        }
        if let Some(before) = self.named[string] {
            let string = string_number(string);
            return Err(SetFault::Twice { string, before });
        }
        self.named[string] = Some(line);
        self.take.deeds[string] = deed;
        Ok(())
    }
}

/// Reads one line, whose cells `cell` gives by their column.
fn parsed<'a>(cell: impl Fn(&str) -> &'a str) -> Result<Line, SetFault> {
    let file = cell("file");
    check_name(file)?;
    let frets = match cell("frets") {
        "" => return Err(SetFault::Empty("frets")),
        text => text.parse::<Frets>(),
    };
    let frets = frets.map_err(|error| SetFault::Frets(error.to_string()))?;
    let deed = match cell("deed") {
        "" => Deed::Clean,
        word => Deed::parse(word).ok_or_else(|| SetFault::Deed {
            found: quoted(word),
            expected: Deed::ALL.map(Deed::word).join(", "),
        })?,
    };
    let string = match (cell("string"), deed) {
        ("", Deed::Clean) => None,
        ("", deed) => return Err(SetFault::NoString(deed.word())),
        (text, deed) => {
            let number = text.parse::<u8>().ok().filter(|n| (1..=6).contains(n));
            let number = number.ok_or_else(|| SetFault::String(quoted(text)))?;
            let string = STRINGS - usize::from(number);
            if !deed.can_be_done(frets.0[string]) {
                return Err(SetFault::Impossible {
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
        word => KnownBy::parse(word).ok_or_else(|| SetFault::KnownBy {
            expected: KnownBy::ALL.map(KnownBy::word).join(", "),
            found: quoted(word),
        })?,
    };
    let take = LabelledTake {
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
) -> Result<Option<f64>, SetFault> {
    if text.is_empty() {
        return Ok(None);
    }
    // A spreadsheet may write a comma.
    let number: f64 = text
        .replace(',', ".")
        .parse()
        .map_err(|_| SetFault::Number {
            column,
            found: quoted(text),
        })?;
    bounds::number(column, number, &range)?;
    // Without the sign of a zero, by which one moment would be two.
    Ok(Some(number + 0.0))
}

fn rate(column: &'static str, text: &str) -> Result<Option<u32>, SetFault> {
    let range = f64::from(MIN_RATE_HZ)..=f64::from(MAX_RATE_HZ);
    let rate = decimal(column, text, range)?;
    match rate {
        Some(rate) if rate.fract() != 0.0 => Err(SetFault::Number {
            column,
            found: quoted(text),
        }),
        rate => Ok(rate.map(|rate| rate as u32)),
    }
}

/// Makes sure that a name is a sound in the set's own folder and nothing more, here and on another system.
fn check_name(name: &str) -> Result<(), SetFault> {
    if name.is_empty() {
        return Err(SetFault::Empty("file"));
    }
    let mut parts = Path::new(name).components();
    let only = (parts.next(), parts.next());
    let is_bare = matches!(only, (Some(Component::Normal(part)), None) if part == name)
        && !name.contains(['/', '\\', ':'])
        && !name.starts_with('.')
        && visible(name) == name
        && name.chars().count() <= LONGEST_FILE;
    if !is_bare {
        return Err(SetFault::Name(quoted(name)));
    }
    let ending = name.rsplit_once('.').map(|(_, ending)| ending);
    let is_sound = |e: &str| {
        let same = |known: &&str| known[1..].eq_ignore_ascii_case(e);
        ENDINGS.iter().any(same)
    };
    match ending.is_some_and(is_sound) {
        true => Ok(()),
        false => Err(SetFault::Ending { name: quoted(name) }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const SHOWN: &str = "truth.csv";

    fn written(takes: &[LabelledTake]) -> String {
        let mut out = Vec::new();
        write(&mut out, takes).unwrap();
        String::from_utf8(out).unwrap()
    }

    fn read_rows(lines: &[&str]) -> Rows {
        let heading = "file,frets,string,deed,at_s,chord,known_by,seconds,rate_hz";
        read(&[&[heading], lines].concat().join("\n"), SHOWN)
    }

    /// The faults of some lines, each with its line.
    fn faults(lines: &[&str]) -> Vec<String> {
        let rows = read_rows(lines);
        (rows.faults.iter())
            .map(|(line, fault)| format!("{}: {fault}", line.unwrap_or(0)))
            .collect()
    }

    fn text() -> impl Strategy<Value = String> {
        // What is written is trimmed and one line; an apostrophe at the beginning may be of the table's own.
        "[=@+A-Za-z0-9é\",;#-][ A-Za-z0-9é\",;'#]{0,20}[A-Za-z]|".prop_map(|text| text)
    }

    prop_compose! {
        fn take(index: usize)(
            frets in prop::array::uniform6(prop::option::of(0..=Frets::HIGHEST))
                .prop_filter("one string sounds", |frets| frets.iter().any(Option::is_some)),
            deeds in prop::array::uniform6(0..Deed::ALL.len()),
            at_ms in 0u32..600_000,
            with_at: bool,
            (chord, guitar, microphone, licence) in (text(), text(), text(), text()),
            known_by in 0..KnownBy::ALL.len(),
            hundredths in prop::option::of(0u32..60_000),
            rate_hz in prop::option::of(MIN_RATE_HZ..MAX_RATE_HZ),
        ) -> LabelledTake {
            let deeds: [Deed; STRINGS] = std::array::from_fn(|string| {
                let deed = Deed::ALL[deeds[string]];
                if deed.can_be_done(frets[string]) { deed } else { Deed::Clean }
            });
            LabelledTake {
                at_s: with_at.then(|| f64::from(at_ms) / 1000.0),
                deeds,
                chord: Some(chord).filter(|chord| !chord.is_empty()),
                guitar,
                microphone,
                licence,
                known_by: KnownBy::ALL[known_by],
                seconds: hundredths.map(|h| f64::from(h) / 100.0),
                rate_hz,
                ..LabelledTake::clean(&format!("{index:03}.wav"), Frets(frets))
            }
        }
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_back(takes in (take(1), take(2), take(3))) {
            let takes = [takes.0, takes.1, takes.2];
            let text = written(&takes);
            let rows = read(&text, SHOWN);
            prop_assert!(rows.faults.is_empty(), "{:?} of\n{}", rows.faults, text);
            let back: Vec<LabelledTake> = rows.takes.into_iter().map(|(_, take)| take).collect();
            prop_assert_eq!(back.as_slice(), &takes[..], "{}", text);
        }

        #[test]
        fn no_text_makes_it_panic(text in "\\PC*", lines in "([a-z0-9.,;x\"\n-]|file|frets|deed|string){0,60}") {
            let _ = read(&text, SHOWN);
            let _ = read(&format!("file,frets,string,deed\n{lines}"), SHOWN);
        }
    }

    #[test]
    fn lines_of_one_take_are_put_together() {
        let rows = read_rows(&[
            "1.wav,133211,3,touched,,F,,,",
            "2.wav,x13331,,,,,,,",
            "1.wav,133211,1,slack,,F,,,",
            "long.flac,x13331,6,rings,0.5,,word,,",
            "long.flac,x35553,,,3.25,,,,",
        ]);
        assert!(rows.faults.is_empty(), "{:?}", rows.faults);
        let begin: Vec<u64> = rows.takes.iter().map(|(line, _)| *line).collect();
        assert_eq!(begin, [2, 3, 5, 6]);
        let first = &rows.takes[0].1;
        let mut deeds = [Deed::Clean; STRINGS];
        (deeds[3], deeds[5]) = (Deed::Touched, Deed::Slack);
        assert_eq!((first.deeds, first.chord.as_deref()), (deeds, Some("F")));
        assert_eq!(rows.takes[1].1.deeds, [Deed::Clean; STRINGS]);
        assert_eq!(rows.takes[2].1.at_s, Some(0.5));
        assert_eq!(rows.takes[2].1.known_by, KnownBy::Word);
    }

    #[test]
    fn a_spreadsheet_may_have_saved_it() {
        let text = "\u{feff}FILE;Frets;string;DEED;at_s\n1.WAV;x13331;6;Rings;0,5\n;;;;\n";
        let rows = read(text.trim_start_matches('\u{feff}'), SHOWN);
        assert!(rows.faults.is_empty(), "{:?}", rows.faults);
        assert_eq!(rows.takes[0].1.at_s, Some(0.5));
        assert_eq!(rows.takes[0].1.deeds[0], Deed::Rings);
    }

    #[test]
    fn each_wrong_line_has_a_sentence() {
        for (line, words) in [
            ("../x.wav,133211,,,,,,,", "own folder"),
            ("a/x.wav,133211,,,,,,,", "own folder"),
            ("a\\x.wav,133211,,,,,,,", "own folder"),
            ("c:x.wav,133211,,,,,,,", "own folder"),
            ("..,133211,,,,,,,", "own folder"),
            (".x.wav,133211,,,,,,,", "own folder"),
            ("/etc/x.wav,133211,,,,,,,", "own folder"),
            ("\u{202e}x.wav,133211,,,,,,,", "own folder"),
            ("x.mp3,133211,,,,,,,", "ends in .wav or .flac"),
            (",133211,,,,,,,", "column file is empty"),
            ("x.wav,,,,,,,,", "column frets is empty"),
            ("x.wav,13321,,,,,,,", "six entries"),
            ("x.wav,x 1 3 3 3 40,,,,,,,", "past the end of the neck"),
            ("x.wav,xxxxxx,,,,,,,", "at least one string must sound"),
            ("x.wav,133211,7,muted,,,,,", "\"7\" came"),
            ("x.wav,133211,0,muted,,,,,", "6 (low E) to 1"),
            ("x.wav,133211,3,dead,,,,,", "an unknown deed, \"dead\""),
            ("x.wav,133211,,muted,,,,,", "belongs to a string"),
            ("x.wav,133211,3,rings,,,,,", "cannot be \"rings\""),
            ("x.wav,x13331,6,muted,,,,,", "cannot be \"muted\""),
            ("x.wav,022100,6,lifted,,,,,", "cannot be \"lifted\""),
            ("x.wav,133211,,,soon,,,,", "at_s: a number was expected"),
            ("x.wav,133211,,,-1,,,,", "from 0 to 600"),
            ("x.wav,133211,,,nan,,,,", "from 0 to 600"),
            ("x.wav,133211,,,,,hearsay,,", "known_by"),
            ("x.wav,133211,,,,,,1e9,", "from 0 to 600"),
            ("x.wav,133211,,,,,,,100", "from 8000 to 192000"),
            ("x.wav,133211,,,,,,,44100.5", "rate_hz: a number"),
            ("x.wav,133211,,", "9 cells were expected, 4 came"),
        ] {
            let faults = faults(&[line]);
            assert_eq!(faults.len(), 1, "{line}: {faults:?}");
            assert!(faults[0].starts_with("2: "), "{faults:?}");
            assert!(faults[0].contains(words), "{line}: {faults:?}");
        }
        let long = format!("x.wav,133211,,,,{},,,", "F".repeat(61));
        assert!(faults(&[&long])[0].contains("at most 60 characters"));
    }

    #[test]
    fn lines_that_contradict_each_other_name_both() {
        for (lines, words) in [
            (
                ["x.wav,133211,3,muted,,,,,", "x.wav,x13331,1,muted,,,,,"],
                "another frets",
            ),
            (
                ["x.wav,133211,3,muted,,F,,,", "x.wav,133211,1,muted,,Fm,,,"],
                "another chord",
            ),
            (
                ["x.wav,133211,3,muted,,,,1,", "x.wav,133211,1,muted,,,,2,"],
                "another seconds",
            ),
            (
                ["x.wav,133211,3,muted,,,,,", "x.wav,133211,3,choked,,,,,"],
                "string 3 of this take stands in line 2",
            ),
            (
                ["x.wav,133211,3,muted,,,,,", "x.wav,133211,,,,,,,"],
                "one of them calls it clean",
            ),
            (
                ["x.wav,133211,,,,,,,", "x.wav,133211,3,muted,,,,,"],
                "one of them calls it clean",
            ),
            (
                ["x.wav,133211,,,,,,,", "x.wav,133211,,,,,,,"],
                "one of them calls it clean",
            ),
            (
                ["x.wav,133211,,,0.5,,,,", "x.wav,x13331,,,,,,,"],
                "line 2 of this file has an at_s",
            ),
            (
                ["x.wav,133211,,,,,,,", "x.wav,x13331,,,3,,,,"],
                "line 2 of this file has no at_s",
            ),
        ] {
            let faults = faults(&lines);
            assert_eq!(faults.len(), 1, "{lines:?}: {faults:?}");
            assert!(faults[0].starts_with("3: "), "{faults:?}");
            assert!(faults[0].contains(words), "{lines:?}: {faults:?}");
        }
    }

    #[test]
    fn a_table_without_its_columns_says_which() {
        for (text, missing) in [
            ("", "file is missing"),
            ("file,frets,string\n", "deed is missing"),
        ] {
            let rows = read(text, SHOWN);
            let said = rows.faults[0].1.to_string();
            assert!(
                said.contains(missing) && said.contains("truth.csv"),
                "{said}"
            );
        }
    }
}
