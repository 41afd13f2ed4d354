//! The keys and values of a lesson, and what is wrong with them.

use std::fmt;
use std::ops::{Range, RangeInclusive};
use std::str::FromStr;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::Problem;
use crate::fretboard::shortened;
use crate::words;

const LONGEST_TEXT: usize = 400;
const LONGEST_LIST: usize = 64;
const MINUTES: RangeInclusive<f64> = 0.25..=60.0;

/// Ends of the lines of a text, and what is wrong with it.
pub(super) struct Page {
    /// Where each line feed stands, in bytes.
    ends: Vec<usize>,
    pub problems: Vec<Problem>,
}

impl Page {
    pub fn new(text: &str) -> Page {
        let feeds = text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n');
        Page {
            ends: feeds.map(|(at, _)| at).collect(),
            problems: Vec::new(),
        }
    }

    pub fn wrong(&mut self, span: Range<usize>, text: impl Into<String>) {
        self.problems.push(Problem {
            line: 1 + self.ends.partition_point(|&end| end < span.start),
            text: text.into(),
        });
    }

    /// Gives what a value was read as; where it is none, says so of the value as it was written.
    fn read_as<T>(
        &mut self,
        value: &Value,
        read: Option<T>,
        wrong: impl FnOnce(String) -> String,
    ) -> Option<T> {
        if read.is_none() {
            self.wrong(value.span(), wrong(shown(value.get_ref())));
        }
        read
    }
}

pub(super) type Value<'a> = Spanned<DeValue<'a>>;

/// The keys of one table; those asked for are the known ones.
pub(super) struct Fields<'a> {
    pub table: &'a DeTable<'a>,
    /// Place of the table.
    pub span: Range<usize>,
    /// Kind of the table: "a build step".
    pub what: String,
    pub known: Vec<&'static str>,
}

impl<'a> Fields<'a> {
    pub fn get(&mut self, key: &'static str) -> Option<&'a Value<'a>> {
        self.known.push(key);
        self.table.get(key)
    }

    pub fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// A text of one line; what a terminal would obey is taken out.
    pub fn text(&mut self, page: &mut Page, key: &'static str) -> Option<(String, Range<usize>)> {
        let value = self.get(key)?;
        text(page, value, key).map(|text| (text, value.span()))
    }

    /// A whole number.
    pub fn number(
        &mut self,
        page: &mut Page,
        key: &'static str,
        range: RangeInclusive<u32>,
        meaning: &str,
    ) -> Option<u32> {
        let value = self.get(key)?;
        let number = match value.get_ref() {
            DeValue::Integer(n) => u32::from_str_radix(n.as_str(), n.radix()).ok(),
            _ => None,
        };
        let fits = number.filter(|n| range.contains(n));
        let (least, most) = range.into_inner();
        let wrong = words::lesson_file::whole_number;
        page.read_as(value, fits, |came| wrong(key, meaning, least, most, came))
    }

    /// A number that may have a fraction.
    pub fn decimal(
        &mut self,
        page: &mut Page,
        key: &'static str,
        range: RangeInclusive<f64>,
        meaning: &str,
    ) -> Option<f64> {
        let value = self.get(key)?;
        let fits = decimal(value).filter(|n| range.contains(n));
        let (least, most) = range.into_inner();
        let wrong = words::lesson_file::number;
        page.read_as(value, fits, |came| wrong(key, meaning, least, most, came))
    }

    /// Minutes, as seconds.
    pub fn minutes(&mut self, page: &mut Page, usual: f64) -> f64 {
        let meaning = words::lesson_file::TIME_LIMIT;
        let minutes = self.decimal(page, "minutes", MINUTES, meaning);
        minutes.unwrap_or(usual) * 60.0
    }

    pub fn yes(&mut self, page: &mut Page, key: &'static str) -> bool {
        let Some(value) = self.get(key) else {
            return false;
        };
        let wrong = |came| words::lesson_file::true_or_false(key, came);
        let yes = page.read_as(value, value.get_ref().as_bool(), wrong);
        yes.unwrap_or_default()
    }

    /// A text that something is read from; its complaint is told.
    pub fn read<T>(&mut self, page: &mut Page, key: &'static str) -> Option<T>
    where
        T: FromStr,
        T::Err: fmt::Display,
    {
        let (text, span) = self.text(page, key)?;
        match text.parse() {
            Ok(read) => Some(read),
            Err(error) => {
                page.wrong(span, error.to_string());
                None
            }
        }
    }

    pub fn list(
        &mut self,
        page: &mut Page,
        key: &'static str,
        example: &str,
    ) -> Option<Vec<&'a Value<'a>>> {
        let value = self.get(key)?;
        let list: Option<Vec<_>> = value.get_ref().as_array().map(|a| a.iter().collect());
        let fits = list.filter(|list| (1..=LONGEST_LIST).contains(&list.len()));
        page.read_as(value, fits, |_| {
            words::lesson_file::list_of(key, LONGEST_LIST, example)
        })
    }

    /// Complains about every key that nothing has asked for.
    pub fn finish(self, page: &mut Page) {
        for key in self.table.keys() {
            let name: &str = key.get_ref();
            if !self.known.contains(&name) {
                page.wrong(
                    key.span(),
                    words::lesson_file::means_nothing(
                        shortened(name),
                        &self.what,
                        self.known.join(", "),
                    ),
                );
            }
        }
    }
}

/// A whole number, or one with a fraction.
pub(super) fn decimal(value: &Value) -> Option<f64> {
    match value.get_ref() {
        DeValue::Integer(n) => n.as_str().parse().ok().filter(|_| n.radix() == 10),
        DeValue::Float(n) => n.as_str().parse().ok(),
        _ => None,
    }
}

pub(super) fn text(page: &mut Page, value: &Value, key: &str) -> Option<String> {
    let wrong = |came| words::lesson_file::text_in_quotes(key, came);
    let text = page.read_as(value, value.get_ref().as_str(), wrong)?;
    let text: String = text
        .split(|c: char| c.is_control() || c.is_whitespace())
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join(" ");
    if text.is_empty() || text.chars().count() > LONGEST_TEXT {
        page.wrong(value.span(), words::lesson_file::text_of(key, LONGEST_TEXT));
        return None;
    }
    Some(text)
}

/// A value as the teacher wrote it, shortened.
pub(super) fn shown(value: &DeValue) -> String {
    match value {
        DeValue::String(text) => format!("{:?}", shortened(text)),
        DeValue::Integer(number) => shortened(&number.to_string()),
        DeValue::Float(number) => shortened(&number.to_string()),
        DeValue::Boolean(yes) => yes.to_string(),
        DeValue::Datetime(_) => words::lesson_file::A_DATE.to_owned(),
        DeValue::Array(_) => words::lesson_file::A_LIST.to_owned(),
        DeValue::Table(_) => words::lesson_file::A_TABLE.to_owned(),
    }
}

pub(super) fn required<T>(
    page: &mut Page,
    fields: &mut Fields,
    key: &'static str,
    example: &str,
) -> Option<T>
where
    T: FromStr,
    T::Err: fmt::Display,
{
    if !fields.has(key) {
        let text = words::lesson_file::needs_key(&fields.what, key, example);
        page.wrong(fields.span.clone(), text);
    }
    fields.read(page, key)
}

pub(super) fn choice<T: Copy>(
    page: &mut Page,
    value: &Value,
    key: &str,
    all: &[T],
    word: fn(T) -> &'static str,
) -> Option<T> {
    let text = text(page, value, key)?;
    let found = all
        .iter()
        .copied()
        .find(|&one| word(one).eq_ignore_ascii_case(&text));
    if found.is_none() {
        let words: Vec<&str> = all.iter().map(|&one| word(one)).collect();
        page.wrong(
            value.span(),
            words::lesson_file::known_are(key, words.join(", "), shortened(&text)),
        );
    }
    found
}
