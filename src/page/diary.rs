//! The diary on the page: its storage is the browser's, what it says is said here.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde::Serialize;
use wasm_bindgen::prelude::*;

use super::{PageResult, json, told};
use crate::practice::Share;
use crate::practice::diary::{DiaryRow, exchange};
use crate::practice::progress::ProgressGatherer;
use crate::report::progress::{MOST_NEXT, reason};

/// Reads a file of JSON lines as `ringtrue progress --import` does; gives its takes, a JSON object each, one a line.
///
/// # Errors
/// What is wrong, as a sentence with the line's number; then nothing is taken in.
#[wasm_bindgen]
pub fn import(name: &str, text: &str) -> PageResult<String> {
    let mut lines = String::new();
    exchange::read_text(name, text, &mut |entry| {
        lines += &json(entry);
        lines.push('\n');
        Ok(())
    })
    .map_err(told)?;
    Ok(lines)
}

/// A chord or a day, and how its takes came out.
#[derive(Debug, Serialize)]
struct Line {
    name: String,
    takes: u32,
    clean: u32,
    /// Where the true share lies with 95 % confidence, 0 to 1.
    sure: (f64, f64),
}

/// What the diary tells.
#[derive(Debug, Serialize)]
struct ProgressView {
    takes: u64,
    /// What to take up next, the greatest need first, in words.
    next: Vec<String>,
    /// The latest first.
    days: Vec<Line>,
    /// The one with most takes first.
    chords: Vec<Line>,
}

fn line(name: String, share: &Share) -> Line {
    Line {
        name,
        takes: share.of,
        clean: share.part,
        sure: share.interval(),
    }
}

/// Gives what the diary tells, as JSON. `lines`: its takes, a JSON object each, the oldest first; `now_ms`: milliseconds since
/// 1970.
///
/// # Errors
/// As [`import`].
#[wasm_bindgen]
pub fn progress(lines: &str, now_ms: f64) -> PageResult<String> {
    let now = Timestamp::from_millisecond(now_ms as i64).map_err(told)?;
    let mut gatherer = ProgressGatherer::new(now, TimeZone::system());
    exchange::read_text("diary", lines, &mut |entry| {
        let (frets, from) = (entry.frets.to_string(), entry.from.map(|f| f.to_string()));
        gatherer.add(&DiaryRow::of(entry, &frets, from.as_deref()));
        Ok(())
    })
    .map_err(told)?;
    let report = gatherer.report();
    let days = report.days.iter().rev();
    Ok(json(&ProgressView {
        takes: report.takes,
        next: report.next.iter().take(MOST_NEXT).map(reason).collect(),
        days: days
            .map(|day| line(day.date.to_string(), &day.clean))
            .collect(),
        chords: (report.chords.iter())
            .map(|chord| line(chord.name.clone(), &chord.clean))
            .collect(),
    }))
}
