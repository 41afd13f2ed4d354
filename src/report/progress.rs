//! Progress in lines: what to take up next, and tables of how it went.

use std::io::{self, Write};

use super::neck::{NeckColumn, NeckTable};
use super::picture::{paragraph, symbol};
use super::playing::late;
use super::practice::change_time;
use super::terminal::visible;
use crate::fretboard::{STRINGS, string_number};
use crate::practice::Share;
use crate::practice::progress::{LATELY_DAYS, Next, ProgressLine, ProgressReport, tempo_range};
use crate::progression::timing::{self, IN_TIME_MS, Spread};
use crate::verdict::{Verdict, wording};
use crate::words;

/// Lines of a table; more would not be read.
const MOST: usize = 12;
/// Chords to take up next: so many at most.
pub const MOST_NEXT: usize = 3;
/// Below this many takes a share says hardly anything: its interval is more than half of all wide
/// (computed from Wilson's interval at one half).
const FEW: u32 = 10;
const BAR: usize = 10;

/// Writes all of it.
///
/// # Errors
/// Where `out` cannot be written.
pub fn write(out: &mut dyn Write, report: &ProgressReport) -> io::Result<()> {
    heading(out, report)?;
    if report.clean.of == 0 {
        return paragraph(out, words::progress::NOTHING_TO_COUNT);
    }
    if !report.next.is_empty() {
        writeln!(out, "{}", words::progress::TAKE_UP_NEXT_HEAD)?;
        for (i, next) in report.next.iter().take(MOST_NEXT).enumerate() {
            paragraph(out, &format!("{}. {}", i + 1, reason(next)))?;
        }
    }
    days(out, report)?;
    lines(out, words::progress::CHORD, &report.chords)?;
    lines(out, words::progress::SHAPE, &report.shapes)?;
    neck(out, report)?;
    strings(out, report)?;
    changes(out, report)?;
    in_time(out, report)?;
    writeln!(out)?;
    paragraph(out, &words::progress::how_to_read(FEW, LATELY_DAYS))
}

fn heading(out: &mut dyn Write, report: &ProgressReport) -> io::Result<()> {
    let takes = words::grammar::takes(report.takes as usize);
    let days = match report.days.as_slice() {
        [] => String::new(),
        [only] => words::progress::on_day(only.date),
        [first, .., last] => words::progress::on_days(report.days.len(), first.date, last.date),
    };
    let open = match report.open {
        0 => String::new(),
        n => words::progress::not_told(n),
    };
    let put_right = match report.put_right {
        0 => String::new(),
        1 => words::progress::ONE_PUT_RIGHT.to_owned(),
        n => words::progress::put_right(n),
    };
    paragraph(out, &format!("{takes}{days}.{open}{put_right}"))
}

/// "Bb (x13331), build: 5 of the last 20 takes clean, not played for 9 days; string 2 most often at
/// fault (choked)."
pub fn reason(next: &Next) -> String {
    let recent = match next.recent.of {
        1 => words::progress::clean_of_one(next.recent.part),
        n => words::progress::clean_of_last(next.recent.part, n),
    };
    let unseen = match next.days_unseen {
        0 => String::new(),
        1 => words::progress::NOT_SINCE_YESTERDAY.to_owned(),
        n => words::progress::not_for_days(n),
    };
    let worst = match next.worst {
        Some((string, verdict, _)) => {
            words::progress::worst_string(string, wording::most_often(verdict))
        }
        None => String::new(),
    };
    format!(
        "{}, {}: {recent}{unseen}{worst}.",
        next.chord, next.exercise
    )
}

fn percent(share: Share) -> String {
    share
        .share()
        .map_or_else(|| "-".to_owned(), |s| format!("{:.0} %", s * 100.0))
}

/// "45 to 77".
fn sure(share: Share) -> String {
    if share.of == 0 {
        return "-".to_owned();
    }
    let (low, high) = share.interval();
    words::progress::sure(low * 100.0, high * 100.0)
}

fn days(out: &mut dyn Write, report: &ProgressReport) -> io::Result<()> {
    writeln!(out, "{}", words::progress::days_head(BAR))?;
    let first = report.days.len().saturating_sub(MOST);
    for day in &report.days[first..] {
        let full = day
            .clean
            .share()
            .map_or(0, |s| (s * BAR as f64).round() as usize);
        let bar = "█".repeat(full) + &"░".repeat(BAR - full);
        let takes = change_time(&day.gaps_s).unwrap_or_default();
        let line = format!(
            "{}  {:>5}  {:>5} {bar}  {:>9}  {takes}",
            day.date,
            day.clean.of,
            percent(day.clean),
            sure(day.clean)
        );
        writeln!(out, "{}", line.trim_end())?;
    }
    if first > 0 {
        writeln!(out, "{}", words::progress::days_before(first))?;
    }
    Ok(())
}

fn lines(out: &mut dyn Write, what: &str, lines: &[ProgressLine]) -> io::Result<()> {
    if lines.is_empty() {
        return Ok(());
    }
    writeln!(out, "{}", words::progress::chords_head(what))?;
    for line in lines.iter().take(MOST) {
        let worst = match line.worst {
            Some((string, verdict, times)) => format!("{string} {} ({times})", symbol(verdict)),
            None => String::new(),
        };
        let text = format!(
            "{:<18} {:>5}  {:>5}  {:>9}  {:>5}  {worst}",
            shortened(&line.name, 18),
            line.clean.of,
            percent(line.clean),
            sure(line.clean),
            percent(line.lately),
        );
        writeln!(out, "{}", text.trim_end())?;
    }
    if lines.len() > MOST {
        writeln!(out, "{}", words::progress::and_more(lines.len() - MOST))?;
    }
    Ok(())
}

fn shortened(text: &str, most: usize) -> String {
    let text = visible(text);
    match text.char_indices().nth(most) {
        Some(_) => text.chars().take(most - 1).chain("…".chars()).collect(),
        None => text.into_owned(),
    }
}

fn neck(out: &mut dyn Write, report: &ProgressReport) -> io::Result<()> {
    if report.neck.is_empty() {
        return Ok(());
    }
    let cell = |share: Share| match share.share() {
        Some(share) => format!("{:.0}", share * 100.0),
        None => "·".to_owned(),
    };
    let columns: Vec<NeckColumn> = report
        .neck
        .iter()
        .map(|(fret, at)| NeckColumn {
            name: String::new(),
            fret: *fret,
            strings: std::array::from_fn(|i| cell(at.strings[i])),
            all: cell(at.all),
        })
        .collect();
    writeln!(out, "{}", words::progress::BY_FRET_HEAD)?;
    writeln!(out, "{}", words::progress::BY_FRET_HEAD_MORE)?;
    NeckTable { columns: &columns }.draw(out)
}

fn strings(out: &mut dyn Write, report: &ProgressReport) -> io::Result<()> {
    let shown: Vec<usize> = (0..Verdict::ALL.len())
        .filter(|&v| report.strings.iter().any(|counts| counts[v] > 0))
        .collect();
    writeln!(
        out,
        "\n{:<12}{}",
        words::progress::STRING,
        numbers((0..STRINGS).map(|i| string_number(i).to_string()))
    )?;
    for verdict in shown {
        let kind = Verdict::ALL[verdict];
        let counts = report.strings.iter().map(|counts| match counts[verdict] {
            0 => String::new(),
            n => n.to_string(),
        });
        let line = format!("{} {:<10}{}", symbol(kind), kind.word(), numbers(counts));
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}

fn numbers(cells: impl Iterator<Item = String>) -> String {
    cells.map(|cell| format!("{cell:>7}")).collect()
}

fn changes(out: &mut dyn Write, report: &ProgressReport) -> io::Result<()> {
    if report.pairs.is_empty() {
        return Ok(());
    }
    writeln!(out, "{}", words::progress::CHANGES_HEAD)?;
    for pair in report.pairs.iter().take(MOST) {
        let takes = change_time(&pair.gaps_s).unwrap_or_else(|| "-".to_owned());
        writeln!(
            out,
            "{:<28} {:>7}  {:>5}  {takes}",
            shortened(&pair.names(), 28),
            pair.changes,
            percent(pair.clean)
        )?;
    }
    if report.pairs.len() > MOST {
        writeln!(
            out,
            "{}",
            words::progress::and_more(report.pairs.len() - MOST)
        )?;
    }
    Ok(())
}

/// How strums kept time that were played along: by day, tempo and change.
fn in_time(out: &mut dyn Write, report: &ProgressReport) -> io::Result<()> {
    if report.tempos.is_empty() {
        return Ok(());
    }
    writeln!(out)?;
    paragraph(out, &words::progress::played_along(IN_TIME_MS))?;
    let days: Vec<(String, &[f64])> = (report.days.iter())
        .filter(|day| !day.offs_ms.is_empty())
        .map(|day| (day.date.to_string(), day.offs_ms.as_slice()))
        .collect();
    kept_time(
        out,
        words::progress::DAY,
        &days[days.len().saturating_sub(MOST)..],
    )?;
    let tempos: Vec<(String, &[f64])> = (report.tempos.iter())
        .map(|(from, offs)| (tempo_range(*from), offs.as_slice()))
        .collect();
    kept_time(out, words::progress::TEMPO, &tempos)?;
    let pairs: Vec<(String, &[f64])> = (report.pairs.iter())
        .filter(|pair| !pair.offs_ms.is_empty())
        .map(|pair| (pair.names(), pair.offs_ms.as_slice()))
        .take(MOST)
        .collect();
    kept_time(out, words::progress::FROM_TO, &pairs)
}

fn kept_time(out: &mut dyn Write, what: &str, lines: &[(String, &[f64])]) -> io::Result<()> {
    if lines.is_empty() {
        return Ok(());
    }
    writeln!(out, "{}", words::progress::along_head(what))?;
    for (name, offs_ms) in lines {
        let Some(spread) = Spread::of(offs_ms) else {
            continue;
        };
        let share = Share {
            part: timing::in_time(offs_ms) as u32,
            of: offs_ms.len() as u32,
        };
        writeln!(
            out,
            "{:<20} {:>6}  {:>7}  {:<12}  {:>3.0} ms",
            shortened(name, 20),
            spread.count,
            percent(share),
            late(spread.middle_ms),
            spread.spread_ms
        )?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::picture::WIDTH;
    use super::*;
    use crate::practice::diary::DiaryRow;
    use crate::practice::progress::ProgressGatherer;
    use jiff::Timestamp;
    use jiff::tz::TimeZone;

    /// Three evenings: F well, Bb badly, changes on the last one.
    fn evenings() -> ProgressReport {
        let now: Timestamp = "2026-11-25T18:00:00Z".parse().unwrap();
        let mut gatherer = ProgressGatherer::new(now, TimeZone::UTC);
        for (evening, day) in ["2026-11-12", "2026-11-23", "2026-11-25"]
            .into_iter()
            .enumerate()
        {
            let start: Timestamp = format!("{day}T17:00:00Z").parse().unwrap();
            for i in 0..24i64 {
                let bb = i % 2 == 1 && evening != 1;
                let clean = if bb { i % 6 == 1 } else { i % 5 > 0 };
                let mut verdicts = [Verdict::Clean; STRINGS];
                if bb {
                    verdicts[0] = Verdict::Silent;
                }
                if !clean {
                    verdicts[4] = if bb { Verdict::Muted } else { Verdict::Choked };
                }
                let change = evening == 2 && i > 0;
                gatherer.add(&DiaryRow {
                    at_ms: start.as_millisecond() + i * 3_000,
                    frets: if bb { "x13331" } else { "133211" },
                    clean: Some(clean),
                    from: change.then_some(if bb { "133211" } else { "x13331" }),
                    began_ms: Some(start.as_millisecond()),
                    step: Some(1),
                    exercise: Some("switch"),
                    chord: Some(if bb { "Bb" } else { "F" }),
                    shape: Some(if bb { "A shape" } else { "E shape" }),
                    fret: Some(1),
                    gap_s: (change && clean).then_some(0.7),
                    off_ms: None,
                    tempo_bpm: None,
                    verdicts,
                    put_right: false,
                    counts: true,
                });
            }
        }
        gatherer.report()
    }

    fn text(report: &ProgressReport) -> String {
        let mut out = Vec::new();
        write(&mut out, report).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn what_comes_next_is_said_first_with_its_reason() {
        insta::assert_snapshot!(text(&evenings()), @r"
        72 takes on 3 days, from 2026-11-12 to 2026-11-25.

        What to practise next
        1. Bb (x13331), build: 6 of the last 20 takes clean; string
        2 most often did not ring.
        2. F (133211), place: 16 of the last 20 takes clean; string
        2 most often died early.

        day         takes  clean                  sure  a change
        2026-11-12     24   54 % █████░░░░░   35 to 72
        2026-11-23     24   79 % ████████░░   60 to 91
        2026-11-25     24   54 % █████░░░░░   35 to 72  0.7 ± 0.0 s

        chord              takes  clean       sure   week  worst
        F (133211)            48   77 %   63 to 87   78 %  2 ▼ (11)
        Bb (x13331)           24   33 %   18 to 53   33 %  2 ■ (16)

        shape              takes  clean       sure   week  worst
        E shape               48   77 %   63 to 87   78 %  2 ▼ (11)
        A shape               24   33 %   18 to 53   33 %  2 ■ (16)

        How often each string was as it should be, in %, by the
        fret at which the shape stood
        fret         1
        string 6   100
        string 5   100
        string 4   100
        string 3   100
        string 2    62
        string 1   100
        all         62

        string            6      5      4      3      2      1
        ● clean          48     72     72     72     45     72
        ○ silent         24
        ■ muted                                      16
        ▼ choked                                     11

        from, to                     changes  clean  a change
        F, Bb                             12   33 %  0.7 ± 0.0 s
        Bb, F                             11   82 %  0.7 ± 0.0 s

        Clean: the share of takes without a fault. Sure: how sure
        that share is, lowest to highest in % (95 % confidence;
        under 10 takes it says little). Week: the last 7 days. A
        change: from the end of the old chord to the new one, clean;
        half take less time, two in three lie within ±.
        ");
    }

    #[test]
    fn no_line_is_wider_than_a_narrow_terminal_and_none_ends_in_blanks() {
        for line in text(&evenings()).lines() {
            assert!(line.chars().count() <= WIDTH, "{line}");
            assert_eq!(line.trim_end(), line);
        }
    }
}
