//! Takes to rows and back.

use std::ops::RangeInclusive;
use std::sync::LazyLock;

use jiff::Timestamp;
use rusqlite::types::Value;
use rusqlite::{Connection, Row as SqlRow, params_from_iter};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::correction::{clean_then, right_of};
use super::entry::{GAP_S, OFF_MS, TEMPO_BPM};
use super::{Correction, DiaryRow, Entry, MOMENTS_MS};
use crate::fretboard::{Frets, STRINGS, string_number};
use crate::strings::bounds::{CENTS, PROBABILITY};
use crate::verdict::{StringVerdict, Verdict};
use crate::words;

/// What is kept of a take, but its strings; the order is the one of [`values`] and [`entry`].
const COLUMNS: [&str; 24] = [
    "at_ms",
    "frets",
    "clean",
    "exercise",
    "from_frets",
    "began_ms",
    "step",
    "chord",
    "shape",
    "fret",
    "guitar",
    "gap_s",
    "lesson",
    "stage",
    "manner",
    "tuning_cents",
    "warnings",
    "causes",
    "program",
    "model",
    "sound",
    "off_ms",
    "tempo_bpm",
    "said",
];

/// What is kept of each string.
const STRING_COLUMNS: [&str; 6] = [
    "verdict",
    "heard_fret",
    "rings",
    "confidence",
    "cents",
    "reason",
];

fn columns() -> Vec<String> {
    let strings =
        (0..STRINGS).flat_map(|i| STRING_COLUMNS.map(|c| format!("{c}_{}", string_number(i))));
    COLUMNS
        .map(str::to_owned)
        .into_iter()
        .chain(strings)
        .collect()
}

/// The word that a kind is written as.
fn word(kind: &impl Serialize) -> String {
    match serde_json::to_value(kind) {
        Ok(serde_json::Value::String(word)) => word,
        _ => String::new(),
    }
}

/// The kind that a word stands for.
fn kind<T: DeserializeOwned>(column: usize, word: String) -> rusqlite::Result<T> {
    serde_json::from_value(serde_json::Value::String(word)).map_err(|e| strange(column, e))
}

/// A value that no program of ours has written.
fn strange(
    column: usize,
    error: impl std::error::Error + Send + Sync + 'static,
) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(column, rusqlite::types::Type::Text, Box::new(error))
}

#[derive(Debug, thiserror::Error)]
#[error("{}", words::diary::no_verdict(.0))]
struct UnknownWord(String);

/// Writes what the player said as the column has it.
pub(super) fn said_text(said: &Correction) -> String {
    serde_json::to_string(said).expect("it has words and numbers")
}

/// What a column says; what no program of ours has written says nothing.
fn said(text: Option<String>) -> Option<Correction> {
    let said: Correction = serde_json::from_str(&text?).ok()?;
    said.is_possible().then_some(said)
}

/// JSON knows no NaN, and a database gives none back.
fn number(number: f32) -> Value {
    match number.is_finite() {
        true => f64::from(number).into(),
        false => Value::Null,
    }
}

fn values(entry: &Entry) -> Vec<Value> {
    let mut values: Vec<Value> = vec![
        entry.at.as_millisecond().into(),
        entry.frets.to_string().into(),
        entry.clean.into(),
        entry.exercise.clone().into(),
        entry.from.map(|f| f.to_string()).into(),
        entry.began.map(Timestamp::as_millisecond).into(),
        entry.step.into(),
        entry.chord.clone().into(),
        entry.shape.clone().into(),
        entry.fret.into(),
        entry.guitar.clone().into(),
        entry.gap_s.filter(|s| s.is_finite()).into(),
        entry.lesson.clone().into(),
        entry.stage.clone().into(),
        word(&entry.manner).into(),
        number(entry.tuning_cents),
        entry.warnings.join(" ").into(),
        entry.causes.join(" ").into(),
        entry.program.clone().into(),
        entry.model.clone().into(),
        entry.sound.clone().into(),
        entry.off_ms.filter(|ms| ms.is_finite()).into(),
        entry.tempo_bpm.filter(|bpm| bpm.is_finite()).into(),
        entry.said.as_ref().map(said_text).into(),
    ];
    for string in &entry.strings {
        values.extend([
            word(&string.verdict).into(),
            string.heard_fret.into(),
            number(string.rings),
            number(string.confidence),
            string.cents.map_or(Value::Null, number),
            string.reason.map(|reason| word(&reason)).into(),
        ]);
    }
    values
}

/// Adds a take; false where it is there already: the same frets struck in the same millisecond.
pub(super) fn insert(connection: &Connection, entry: &Entry) -> rusqlite::Result<bool> {
    static SQL: LazyLock<String> = LazyLock::new(|| {
        let columns = columns();
        format!(
            "INSERT INTO take ({}) VALUES ({}) ON CONFLICT (at_ms, frets) DO NOTHING",
            columns.join(", "),
            vec!["?"; columns.len()].join(", ")
        )
    });
    let added = connection
        .prepare_cached(&SQL)?
        .execute(params_from_iter(values(entry)))?;
    Ok(added > 0)
}

/// Hands over the takes that meet the condition, oldest first, until one is not taken.
pub(super) fn each_entry<E>(
    connection: &Connection,
    condition: &str,
    values: Vec<Value>,
    mut each: impl FnMut(Entry) -> Result<(), E>,
) -> rusqlite::Result<Result<(), E>> {
    let sql = format!(
        "SELECT {} FROM take WHERE {condition} ORDER BY at_ms, id",
        columns().join(", ")
    );
    let mut statement = connection.prepare(&sql)?;
    let mut rows = statement.query(params_from_iter(values))?;
    while let Some(row) = rows.next()? {
        if let Err(error) = each(entry(row)?) {
            return Ok(Err(error));
        }
    }
    Ok(Ok(()))
}

/// The last takes, the newest first, each with its number.
pub(super) fn latest(connection: &Connection, count: usize) -> rusqlite::Result<Vec<(i64, Entry)>> {
    let columns = columns();
    let sql = format!(
        "SELECT {}, id FROM take ORDER BY at_ms DESC, id DESC LIMIT ?",
        columns.join(", ")
    );
    connection
        .prepare(&sql)?
        .query_map([count as i64], |row| {
            Ok((row.get(columns.len())?, entry(row)?))
        })?
        .collect()
}

/// The chord's name that each voicing had last, among takes that meet the condition.
pub(super) fn names(
    connection: &Connection,
    condition: &str,
    values: Vec<Value>,
) -> rusqlite::Result<Vec<(String, String)>> {
    // Beside a greatest value SQLite gives the other columns of its row.
    connection
        .prepare(&format!(
            "SELECT frets, chord, max(at_ms) FROM take WHERE chord IS NOT NULL AND {condition} GROUP BY frets"
        ))?
        .query_map(params_from_iter(values), |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect()
}

/// The nearest moment that a calendar knows.
fn known(ms: i64) -> i64 {
    ms.clamp(*MOMENTS_MS.start(), *MOMENTS_MS.end())
}

/// Counts the takes that meet the condition and whose moment no calendar knows.
pub(super) fn misdated(
    connection: &Connection,
    condition: &str,
    values: Vec<Value>,
) -> rusqlite::Result<u64> {
    let (first, last) = (MOMENTS_MS.start(), MOMENTS_MS.end());
    let sql = format!(
        "SELECT count(*) FROM take WHERE {condition} AND NOT (
            at_ms BETWEEN {first} AND {last} AND coalesce(began_ms, 0) BETWEEN {first} AND {last})"
    );
    let count = connection.query_row(&sql, params_from_iter(values), |row| row.get::<_, i64>(0))?;
    Ok(count.max(0) as u64)
}

/// A number that a take may have; what else stands in the row an earlier program has taken in unseen.
fn within(number: Option<f64>, range: &RangeInclusive<f64>) -> Option<f64> {
    number.filter(|number| range.contains(number))
}

fn entry(row: &SqlRow) -> rusqlite::Result<Entry> {
    let time = |column: usize, ms: i64| {
        Timestamp::from_millisecond(known(ms)).map_err(|e| strange(column, e))
    };
    let frets = |column: usize, text: String| -> rusqlite::Result<Frets> {
        text.parse().map_err(|e| strange(column, e))
    };
    let words = |text: String| text.split_whitespace().map(str::to_owned).collect();
    let own_frets = frets(1, row.get(1)?)?;
    let share = |column: usize| -> rusqlite::Result<Option<f32>> {
        Ok(within(row.get(column)?, &PROBABILITY).map(|share| share as f32))
    };
    let string = |index: usize| -> rusqlite::Result<StringVerdict> {
        let at = COLUMNS.len() + index * STRING_COLUMNS.len();
        let reason: Option<String> = row.get(at + 5)?;
        Ok(StringVerdict {
            string: string_number(index),
            expected_fret: own_frets.0[index],
            verdict: kind(at, row.get(at)?)?,
            heard_fret: row.get(at + 1)?,
            rings: share(at + 2)?.unwrap_or(0.5),
            confidence: share(at + 3)?.unwrap_or(0.0),
            cents: within(row.get(at + 4)?, &CENTS).map(|cents| cents as f32),
            level_db: None,
            reason: reason.map(|word| kind(at + 5, word)).transpose()?,
        })
    };
    Ok(Entry {
        at: time(0, row.get(0)?)?,
        frets: own_frets,
        clean: row.get(2)?,
        exercise: row.get(3)?,
        from: row
            .get::<_, Option<String>>(4)?
            .map(|text| frets(4, text))
            .transpose()?,
        began: row
            .get::<_, Option<i64>>(5)?
            .map(|ms| time(5, ms))
            .transpose()?,
        step: row.get(6)?,
        chord: row.get(7)?,
        shape: row.get(8)?,
        fret: row.get(9)?,
        guitar: row.get(10)?,
        gap_s: within(row.get(11)?, &GAP_S),
        lesson: row.get(12)?,
        stage: row.get(13)?,
        manner: kind(14, row.get(14)?)?,
        tuning_cents: within(row.get(15)?, &CENTS).unwrap_or(0.0) as f32,
        warnings: words(row.get(16)?),
        causes: words(row.get(17)?),
        program: row.get(18)?,
        model: row.get(19)?,
        sound: row.get(20)?,
        off_ms: within(row.get(21)?, &OFF_MS),
        tempo_bpm: within(row.get(22)?, &TEMPO_BPM),
        said: said(row.get(23)?),
        strings: [
            string(0)?,
            string(1)?,
            string(2)?,
            string(3)?,
            string(4)?,
            string(5)?,
        ],
    })
}

/// As [`each_entry`], with only what tables need, and without a copy of it.
pub(super) fn scan(
    connection: &Connection,
    condition: &str,
    values: Vec<Value>,
    mut each: impl FnMut(&DiaryRow),
) -> rusqlite::Result<()> {
    let verdicts: Vec<String> = (0..STRINGS)
        .map(|i| format!("verdict_{}", string_number(i)))
        .collect();
    let sql = format!(
        "SELECT at_ms, frets, clean, from_frets, began_ms, step, exercise, chord, shape, fret, gap_s, off_ms, tempo_bpm, said, {}
         FROM take WHERE {condition} ORDER BY at_ms, id",
        verdicts.join(", ")
    );
    let words: Vec<(String, Verdict)> = Verdict::ALL.iter().map(|v| (word(v), *v)).collect();
    let mut statement = connection.prepare(&sql)?;
    let mut rows = statement.query(params_from_iter(values))?;
    while let Some(row) = rows.next()? {
        let mut verdicts = [Verdict::Unsure; STRINGS];
        for (i, verdict) in verdicts.iter_mut().enumerate() {
            let written = row.get_ref(14 + i)?.as_str()?;
            *verdict = words
                .iter()
                .find(|(word, _)| word == written)
                .ok_or_else(|| strange(14 + i, UnknownWord(written.to_owned())))?
                .1;
        }
        let frets = row.get_ref(1)?.as_str()?;
        let mut clean: Option<bool> = row.get(2)?;
        let said = said(row.get(13)?);
        if let Some(Correction::Right(strings)) = &said {
            let own: Frets = frets.parse().map_err(|e| strange(1, e))?;
            for (i, verdict) in verdicts.iter_mut().enumerate() {
                if strings.contains(&string_number(i)) {
                    *verdict = right_of(own.0[i].is_some());
                }
            }
            clean = clean_then(clean, verdicts.iter().any(|v| v.is_fault()));
        }
        each(&DiaryRow {
            at_ms: known(row.get(0)?),
            frets,
            clean,
            from: row.get_ref(3)?.as_str_or_null()?,
            began_ms: row.get::<_, Option<i64>>(4)?.map(known),
            step: row.get(5)?,
            exercise: row.get_ref(6)?.as_str_or_null()?,
            chord: row.get_ref(7)?.as_str_or_null()?,
            shape: row.get_ref(8)?.as_str_or_null()?,
            fret: row.get(9)?,
            gap_s: within(row.get(10)?, &GAP_S),
            off_ms: within(row.get(11)?, &OFF_MS),
            tempo_bpm: within(row.get(12)?, &TEMPO_BPM),
            verdicts,
            put_right: said.is_some(),
            counts: said.is_none_or(|said| said.counts()),
        });
    }
    Ok(())
}

/// The sound files of takes that meet the condition.
pub(super) fn sounds(
    connection: &Connection,
    condition: &str,
    values: Vec<Value>,
) -> rusqlite::Result<Vec<String>> {
    connection
        .prepare(&format!(
            "SELECT sound FROM take WHERE sound IS NOT NULL AND {condition}"
        ))?
        .query_map(params_from_iter(values), |row| row.get(0))?
        .collect()
}
