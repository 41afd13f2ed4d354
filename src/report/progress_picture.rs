//! Progress as a picture: the share of clean takes day by day, and the neck.

use super::plot::Drawing;
use super::plot::drawing::{Anchor, Area, Colour, HAIR, text_width};
use crate::fretboard::{STRINGS, string_number};
use crate::practice::Share;
use crate::practice::progress::{Day, FretProgress, ProgressReport};
use crate::words;

/// Days that are told apart in the width of the picture.
const MOST_DAYS: usize = 60;
/// Text is this share of the width high.
const EM_PER_WIDTH: f32 = 1.0 / 64.0;

/// Draws the report, so many pixels wide.
pub fn draw(report: &ProgressReport, width: u32) -> Drawing {
    let width = width as f32;
    let em = width * EM_PER_WIDTH;
    let neck_height = if report.neck.is_empty() {
        0.0
    } else {
        17.5 * em
    };
    let mut drawing = Drawing::new(width, 24.0 * em + neck_height);
    let panel = |y: f32, height: f32| Area {
        x: 5.0 * em,
        y,
        width: width - 8.0 * em,
        height,
    };
    title(&mut drawing, em, 2.0 * em, words::progress::PICTURE_OF_DAYS);
    days(&mut drawing, em, panel(4.0 * em, 15.0 * em), &report.days);
    if !report.neck.is_empty() {
        title(
            &mut drawing,
            em,
            23.5 * em,
            words::progress::PICTURE_OF_FRETS,
        );
        neck(&mut drawing, em, panel(26.0 * em, 13.5 * em), &report.neck);
    }
    drawing
}

fn title(drawing: &mut Drawing, em: f32, y: f32, text: &str) {
    drawing.text((2.0 * em, y), Anchor::Left, em, Colour::Ink, text);
}

fn days(drawing: &mut Drawing, em: f32, area: Area, days: &[Day]) {
    let y_of = |share: f64| area.bottom() - share as f32 * area.height;
    for percent in [0, 25, 50, 75, 100] {
        let y = y_of(f64::from(percent) / 100.0);
        let grid = vec![(area.x, y), (area.right(), y)];
        drawing.line(grid, HAIR * em, Colour::Pale);
        let label = format!("{percent} %");
        drawing.text(
            (area.x - 0.6 * em, y),
            Anchor::Right,
            em,
            Colour::Grey,
            label,
        );
    }
    let shown = &days[days.len().saturating_sub(MOST_DAYS)..];
    let Some((first, last)) = shown.first().zip(shown.last()) else {
        return;
    };
    // Days stand as far apart as they were.
    let since = |day: &Day| f64::from(day.date.since(first.date).map_or(0, |span| span.get_days()));
    let span = since(last).max(1.0);
    let inner = area.inset(3.5 * em, 0.0, 3.5 * em, 0.0);
    let x_of = |day: &Day| match shown.len() {
        1 => area.x + area.width / 2.0,
        _ => inner.x + (since(day) / span) as f32 * inner.width,
    };
    let mut course = Vec::new();
    let mut counted = Labels::default();
    for day in shown {
        let Some(share) = day.clean.share() else {
            continue;
        };
        let (low, high) = day.clean.interval();
        let x = x_of(day);
        let reach = vec![(x, y_of(low)), (x, y_of(high))];
        drawing.line(reach, 2.0 * HAIR * em, Colour::Grey);
        course.push((x, y_of(share)));
        let count = (x, y_of(high) - 0.7 * em);
        counted.put(drawing, 0.8 * em, count, day.clean.of.to_string());
    }
    if course.len() > 1 {
        drawing.line(course.clone(), 2.0 * HAIR * em, Colour::Blue);
    }
    for at in course {
        drawing.dot(at, 0.3 * em, Colour::Blue, true);
    }
    let mut dates = Labels::default();
    for day in shown {
        let at = (x_of(day), area.bottom() + 1.2 * em);
        dates.put(drawing, em, at, day.date.to_string());
    }
}

/// Labels from left to right; those that do not fit are left out.
#[derive(Default)]
struct Labels {
    free_from: f32,
}

impl Labels {
    fn put(&mut self, drawing: &mut Drawing, em: f32, (x, y): (f32, f32), text: String) {
        let half = text_width(&text, em) / 2.0;
        if x - half >= self.free_from {
            self.free_from = x + half + 0.6 * em;
            drawing.text((x, y), Anchor::Middle, em, Colour::Grey, text);
        }
    }
}

fn neck(drawing: &mut Drawing, em: f32, area: Area, frets: &[(u8, FretProgress)]) {
    // A row for the frets, for each string, for all, and for how many takes there were; a column for each fret.
    let row = area.height / (STRINGS + 3) as f32;
    let column = (area.width / frets.len() as f32).min(6.0 * em);
    let y_of = |i: usize| area.y + (i as f32 + 0.5) * row;
    drawing.text(
        (area.x - 0.6 * em, y_of(0)),
        Anchor::Right,
        em,
        Colour::Grey,
        words::picture::FRET,
    );
    for string in 0..STRINGS {
        let at = (area.x - 0.6 * em, y_of(string + 1));
        drawing.text(
            at,
            Anchor::Right,
            em,
            Colour::Grey,
            string_number(string).to_string(),
        );
    }
    let at = (area.x - 0.6 * em, y_of(STRINGS + 1));
    drawing.text(at, Anchor::Right, em, Colour::Grey, words::picture::ALL);
    let at = (area.x - 0.6 * em, y_of(STRINGS + 2));
    drawing.text(at, Anchor::Right, em, Colour::Grey, words::picture::TAKES);
    for (i, (fret, counts)) in frets.iter().enumerate() {
        let x = area.x + i as f32 * column;
        let middle = x + column / 2.0;
        drawing.text(
            (middle, y_of(0)),
            Anchor::Middle,
            em,
            Colour::Ink,
            fret.to_string(),
        );
        drawing.text(
            (middle, y_of(STRINGS + 2)),
            Anchor::Middle,
            em,
            Colour::Grey,
            counts.all.of.to_string(),
        );
        let shares = counts.strings.iter().copied().chain([counts.all]);
        for (string, share) in shares.enumerate() {
            let cell = Area {
                x: x + 0.2 * em,
                y: y_of(string + 1) - row / 2.0 + 0.1 * em,
                width: column - 0.4 * em,
                height: row - 0.2 * em,
            };
            self::cell(drawing, em, cell, share);
        }
    }
}

/// A cell: how far it is filled and its number say the same.
fn cell(drawing: &mut Drawing, em: f32, area: Area, share: Share) {
    drawing.fill(area, Colour::Ground);
    let Some(part) = share.share() else { return };
    let bar = Area {
        y: area.bottom() - 0.25 * em,
        height: 0.25 * em,
        width: area.width * part as f32,
        ..area
    };
    drawing.fill(bar, Colour::Blue);
    let at = (area.x + area.width / 2.0, area.middle() - 0.15 * em);
    drawing.text(
        at,
        Anchor::Middle,
        0.85 * em,
        Colour::Ink,
        format!("{:.0}", part * 100.0),
    );
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::practice::progress::ProgressGatherer;
    use crate::report::plot::drawing::Mark;

    #[test]
    fn an_empty_report_is_drawn_without_marks_of_takes() {
        let gatherer = ProgressGatherer::new(jiff::Timestamp::UNIX_EPOCH, jiff::tz::TimeZone::UTC);
        let drawing = draw(&gatherer.report(), 800);
        let dots = drawing
            .marks
            .iter()
            .filter(|m| matches!(m, Mark::Dot { .. }));
        assert_eq!(dots.count(), 0);
        assert!(drawing.svg().contains("<svg"));
    }

    fn day(n: i8, part: u32) -> Day {
        Day {
            date: jiff::civil::date(2026, 11, n),
            clean: Share { part, of: 10 },
            gaps_s: Vec::new(),
            offs_ms: Vec::new(),
        }
    }

    fn dots(days: Vec<Day>) -> Vec<(f32, f32)> {
        let report = ProgressReport {
            days,
            ..ProgressReport::default()
        };
        let drawing = draw(&report, 800);
        let dots = drawing.marks.iter().filter_map(|mark| match mark {
            Mark::Dot { at, .. } => Some(*at),
            _ => None,
        });
        dots.collect()
    }

    #[test]
    fn each_day_is_a_dot_at_its_share() {
        let dots = dots(vec![day(1, 0), day(2, 5), day(3, 10)]);
        let heights: Vec<f32> = dots.iter().map(|at| at.1).collect();
        assert_eq!(heights.len(), 3);
        assert!((heights[1] - (heights[0] + heights[2]) / 2.0).abs() < 1e-3);
        assert!(heights[0] > heights[2]);
    }

    #[test]
    fn days_stand_as_far_apart_as_they_were() {
        let dots = dots(vec![day(1, 5), day(2, 5), day(12, 5)]);
        let (near, far) = (dots[1].0 - dots[0].0, dots[2].0 - dots[1].0);
        assert!((far - 10.0 * near).abs() < 0.1, "{near} {far}");
    }

    #[test]
    fn every_day_says_how_many_takes_it_had() {
        let report = ProgressReport {
            days: vec![day(1, 0), day(20, 5)],
            ..ProgressReport::default()
        };
        let drawing = draw(&report, 800);
        let counts = drawing
            .marks
            .iter()
            .filter(|mark| matches!(mark, Mark::Text { text, .. } if text == "10"));
        assert_eq!(counts.count(), 2);
    }
}
