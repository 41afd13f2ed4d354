//! Results of playing along: a table by bar and by change, how steady it was, what to drill.

use std::io::{self, Write};

use serde_json::{Map, Value, json};

use super::picture::paragraph;
use crate::listening::saved::take_object;
use crate::progression::performance::Performance;
use crate::progression::start::StartSource;
use crate::progression::timing::{
    BeatOutcome, ChangeSummary, IN_TIME_MS, Spread, changes, in_time, to_drill,
};
use crate::verdict::wording::brief;
use crate::words;

/// The start is called unsure below this.
const UNSURE_START: f64 = 0.8;

/// All of a performance that both forms say.
struct Account {
    off: Option<Spread>,
    missed: usize,
    in_time: usize,
    changes: Vec<ChangeSummary>,
}

impl Account {
    fn of(performance: &Performance) -> Self {
        let offs: Vec<f64> = performance
            .outcomes
            .iter()
            .filter_map(|o| o.off_ms)
            .collect();
        Account {
            off: Spread::of(&offs),
            missed: performance.outcomes.len() - offs.len(),
            in_time: in_time(&offs),
            changes: changes(&performance.outcomes),
        }
    }
}

/// `12 ms late`, `3 ms early`, `on the beat`.
pub(super) fn late(ms: f64) -> String {
    match ms.round() as i64 {
        0 => words::playing::ON_THE_BEAT.to_owned(),
        ms if ms > 0 => words::playing::late(ms),
        ms => words::playing::early(ms.unsigned_abs()),
    }
}

/// Writes the report for people, in lines of at most 80 columns.
///
/// # Errors
/// Where `out` cannot be written.
pub fn text(performance: &Performance, out: &mut dyn Write) -> io::Result<()> {
    let account = Account::of(performance);
    headline(performance, &account, out)?;
    for said in remarks(performance) {
        paragraph(out, &said)?;
    }
    by_bar(performance, out)?;
    if !account.changes.is_empty() {
        by_change(&account.changes, out)?;
    }
    writeln!(out)?;
    drill(&account, out)
}

/// The same in a few lines, without its tables.
///
/// # Errors
/// Where `out` cannot be written.
pub fn brief_text(performance: &Performance, out: &mut dyn Write) -> io::Result<()> {
    let account = Account::of(performance);
    headline(performance, &account, out)?;
    if let Some(said) = broken_off(performance) {
        paragraph(out, &said)?;
    }
    drill(&account, out)
}

fn headline(performance: &Performance, account: &Account, out: &mut dyn Write) -> io::Result<()> {
    let count = performance.outcomes.len();
    let extra = match performance.extra_s.len() {
        0 => String::new(),
        // The backing's own strokes may be among them.
        _ if performance.backing_too_loud() => String::new(),
        n => words::playing::extra(n),
    };
    paragraph(
        out,
        &words::playing::in_time(account.in_time, count, IN_TIME_MS, account.missed, &extra),
    )?;
    if let Some(off) = account.off {
        paragraph(
            out,
            &words::playing::usually(late(off.middle_ms), off.spread_ms),
        )?;
    }
    Ok(())
}

fn drill(account: &Account, out: &mut dyn Write) -> io::Result<()> {
    match to_drill(&account.changes) {
        Some(worst) => paragraph(
            out,
            &words::playing::drill_alone(worst.from, worst.to, reason(worst)),
        ),
        None if account.changes.is_empty() => Ok(()),
        None => writeln!(out, "{}", words::playing::NOTHING_STANDS_OUT),
    }
}

/// What was still to come when it was broken off.
fn broken_off(performance: &Performance) -> Option<String> {
    let left = performance.not_reached;
    (left > 0).then(|| words::playing::broken_off(left))
}

/// How the start was found and how loud the backing is, where that needs a word.
fn remarks(performance: &Performance) -> Vec<String> {
    let mut said = Vec::from_iter(broken_off(performance));
    match performance.start.found {
        StartSource::CountIn => said.push(words::playing::backing_heard(performance.start.at_s)),
        StartSource::BestFit => said.push(words::playing::START_FROM_STRUMS.to_owned()),
        StartSource::Told => {}
    }
    if performance.start.sure < UNSURE_START {
        said.push(words::playing::OTHER_START.to_owned());
    }
    if performance.backing_too_loud() {
        said.push(words::playing::backing_too_loud(
            -performance.bleed_db.unwrap_or(0.0),
        ));
    }
    said
}

fn by_bar(performance: &Performance, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "{}", words::playing::BY_BAR_HEAD)?;
    for (outcome, take) in performance.outcomes.iter().zip(&performance.takes) {
        let beat = outcome.beat;
        let line = format!(
            "{:>3} {:<4}  {:<6}  {:<12}  {:<7}  {}",
            beat.bar + 1,
            beat_name(beat.beat),
            beat.chord.to_string(),
            outcome
                .off_ms
                .map_or(words::playing::MISSED.to_owned(), late),
            outcome
                .gap_ms
                .map_or(String::new(), |ms| format!("{ms:.0} ms")),
            take.as_ref().map_or(String::new(), brief),
        );
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}

/// Beats count from 1; what lies between two is "and".
fn beat_name(beat: f64) -> String {
    match beat.fract() > 0.0 {
        true => words::playing::and_of(beat.floor() as u32 + 1),
        false => format!("{}", beat as u32 + 1),
    }
}

fn by_change(changes: &[ChangeSummary], out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "{}", words::playing::BY_CHANGE_HEAD)?;
    for change in changes {
        let line = format!(
            "{:<15}  {:>5}  {:>6}  {:<12}  {:<7}  {:<7}  {}",
            words::playing::change(change.from, change.to),
            change.times,
            change.missed,
            change.off.map_or(String::new(), |off| late(off.middle_ms)),
            change
                .off
                .map_or(String::new(), |off| format!("{:.0} ms", off.spread_ms)),
            change
                .gap_ms
                .map_or(String::new(), |ms| format!("{ms:.0} ms")),
            match change.judged {
                0 => String::new(),
                n => words::page::part_of(change.clean, n),
            }
        );
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}

/// Why a change is the one to drill.
fn reason(change: &ChangeSummary) -> String {
    let mut parts = Vec::new();
    if change.missed > 0 {
        parts.push(words::playing::change_missed(change.missed, change.times));
    }
    if let Some(off) = change.off {
        if off.middle_ms.abs() > IN_TIME_MS {
            parts.push(late(off.middle_ms));
        }
        if off.spread_ms > IN_TIME_MS {
            parts.push(words::playing::uneven_by(off.spread_ms));
        }
    }
    if change.clean < change.judged {
        parts.push(words::playing::change_clean(change.clean, change.judged));
    }
    if let Some(gap) = change.gap_ms.filter(|gap| *gap > 2.0 * IN_TIME_MS) {
        parts.push(words::playing::silent_before(gap));
    }
    match parts.is_empty() {
        true => String::new(),
        false => words::playing::it_was(parts.join(", ")),
    }
}

/// The report for programs, one object.
pub fn value(performance: &Performance) -> Value {
    let account = Account::of(performance);
    let strum = |(outcome, take): (&BeatOutcome, &Option<crate::verdict::JudgedTake>)| {
        json!({
            "bar": outcome.beat.bar + 1,
            "beat": outcome.beat.beat + 1.0,
            "chord": outcome.beat.chord,
            "wanted_s": rounded(performance.start.at_s + outcome.beat.at_s, 4),
            "off_ms": outcome.off_ms.map(|ms| rounded(ms, 1)),
            "gap_ms": outcome.gap_ms.map(|ms| rounded(ms, 0)),
            "take": take.as_ref().map(take_object),
        })
    };
    let change = |change: &ChangeSummary| {
        let mut object = match serde_json::to_value(change) {
            Ok(Value::Object(object)) => object,
            _ => Map::new(),
        };
        object.insert(
            "untidy_ms".to_owned(),
            json!(rounded(change.untidy_ms(), 0)),
        );
        Value::Object(object)
    };
    json!({
        "start": performance.start,
        "backing_db": performance.bleed_db.map(|db| rounded(db, 1)),
        "backing_too_loud": performance.backing_too_loud(),
        "strums": performance.outcomes.iter().zip(&performance.takes).map(strum).collect::<Vec<_>>(),
        "not_reached": performance.not_reached,
        "extra_s": performance.extra_s.iter().map(|at| rounded(*at, 3)).collect::<Vec<_>>(),
        "in_time": account.in_time,
        "missed": account.missed,
        "off": account.off,
        "changes": account.changes.iter().map(change).collect::<Vec<_>>(),
        "drill": to_drill(&account.changes).map(|worst| json!({
            "from": worst.from, "to": worst.to, "why": reason(worst),
        })),
    })
}

fn rounded(number: f64, decimals: i32) -> f64 {
    let scale = 10f64.powi(decimals);
    (number * scale).round() / scale + 0.0
}
