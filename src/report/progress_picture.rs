//! Progress as a picture: the share of clean takes day by day, and the neck.

use super::plot::Drawing;
use super::plot::drawing::{Anchor, Area, HAIR, Tone};
use crate::fretboard::{STRINGS, string_number};
use crate::practice::Share;
use crate::practice::progress::{Day, Fret, Report};

/// Days that are told apart in the width of the picture.
const MOST_DAYS: usize = 60;
/// Text is this share of the width high.
const EM_PER_WIDTH: f32 = 1.0 / 64.0;

/// Draws the report, so many pixels wide.
pub fn draw(report: &Report, width: u32) -> Drawing {
    let width = width as f32;
    let em = width * EM_PER_WIDTH;
    let neck_height = if report.neck.is_empty() {
        0.0
    } else {
        16.0 * em
    };
    let mut drawing = Drawing::new(width, 24.0 * em + neck_height);
    let panel = |y: f32, height: f32| Area {
        x: 5.0 * em,
        y,
        width: width - 8.0 * em,
        height,
    };
    title(
        &mut drawing,
        em,
        2.0 * em,
        "Clean takes day by day, with where the true share lies (95 %)",
    );
    days(&mut drawing, em, panel(4.0 * em, 15.0 * em), &report.days);
    if !report.neck.is_empty() {
        title(
            &mut drawing,
            em,
            23.5 * em,
            "How often each string was as it should be, in %, by the fret at which the shape stood",
        );
        neck(&mut drawing, em, panel(26.0 * em, 12.0 * em), &report.neck);
    }
    drawing
}

fn title(drawing: &mut Drawing, em: f32, y: f32, text: &str) {
    drawing.text((2.0 * em, y), Anchor::Left, em, Tone::Ink, text);
}

fn days(drawing: &mut Drawing, em: f32, area: Area, days: &[Day]) {
    let y_of = |share: f64| area.bottom() - share as f32 * area.height;
    for percent in [0, 25, 50, 75, 100] {
        let y = y_of(f64::from(percent) / 100.0);
        let grid = vec![(area.x, y), (area.right(), y)];
        drawing.line(grid, HAIR * em, Tone::Pale);
        let label = format!("{percent} %");
        drawing.text((area.x - 0.6 * em, y), Anchor::Right, em, Tone::Grey, label);
    }
    let shown = &days[days.len().saturating_sub(MOST_DAYS)..];
    let step = area.width / shown.len().max(1) as f32;
    let x_of = |i: usize| area.x + (i as f32 + 0.5) * step;
    let mut course = Vec::new();
    for (i, day) in shown.iter().enumerate() {
        let Some(share) = day.clean.share() else {
            continue;
        };
        let (low, high) = day.clean.interval();
        let x = x_of(i);
        let reach = vec![(x, y_of(low)), (x, y_of(high))];
        drawing.line(reach, 2.0 * HAIR * em, Tone::Grey);
        course.push((x, y_of(share)));
    }
    if course.len() > 1 {
        drawing.line(course.clone(), 2.0 * HAIR * em, Tone::Blue);
    }
    for at in course {
        drawing.dot(at, 0.3 * em, Tone::Blue, true);
    }
    // As many dates as stand side by side.
    let every = ((7.0 * em / step).ceil() as usize).max(1);
    for (i, day) in shown.iter().enumerate().step_by(every) {
        let x = x_of(i).clamp(area.x + 2.0 * em, area.right() - 1.0 * em);
        let at = (x, area.bottom() + 1.2 * em);
        drawing.text(at, Anchor::Middle, em, Tone::Grey, day.date.to_string());
    }
}

fn neck(drawing: &mut Drawing, em: f32, area: Area, frets: &[(u8, Fret)]) {
    // A row for each string and one for all, a column for each fret.
    let row = area.height / (STRINGS + 2) as f32;
    let column = (area.width / frets.len() as f32).min(6.0 * em);
    let y_of = |i: usize| area.y + (i as f32 + 0.5) * row;
    drawing.text(
        (area.x - 0.6 * em, y_of(0)),
        Anchor::Right,
        em,
        Tone::Grey,
        "fret",
    );
    for string in 0..STRINGS {
        let at = (area.x - 0.6 * em, y_of(string + 1));
        drawing.text(
            at,
            Anchor::Right,
            em,
            Tone::Grey,
            string_number(string).to_string(),
        );
    }
    let at = (area.x - 0.6 * em, y_of(STRINGS + 1));
    drawing.text(at, Anchor::Right, em, Tone::Grey, "all");
    for (i, (fret, counts)) in frets.iter().enumerate() {
        let x = area.x + i as f32 * column;
        let middle = x + column / 2.0;
        drawing.text(
            (middle, y_of(0)),
            Anchor::Middle,
            em,
            Tone::Ink,
            fret.to_string(),
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
    drawing.fill(area, Tone::Ground);
    let Some(part) = share.share() else { return };
    let bar = Area {
        y: area.bottom() - 0.25 * em,
        height: 0.25 * em,
        width: area.width * part as f32,
        ..area
    };
    drawing.fill(bar, Tone::Blue);
    let at = (area.x + area.width / 2.0, area.middle() - 0.15 * em);
    drawing.text(
        at,
        Anchor::Middle,
        0.85 * em,
        Tone::Ink,
        format!("{:.0}", part * 100.0),
    );
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::practice::progress::Gatherer;
    use crate::report::plot::drawing::Mark;

    #[test]
    fn an_empty_report_is_drawn_without_marks_of_takes() {
        let gatherer = Gatherer::new(jiff::Timestamp::UNIX_EPOCH, jiff::tz::TimeZone::UTC);
        let drawing = draw(&gatherer.report(), 800);
        let dots = drawing
            .marks
            .iter()
            .filter(|m| matches!(m, Mark::Dot { .. }));
        assert_eq!(dots.count(), 0);
        assert!(drawing.svg().contains("<svg"));
    }

    #[test]
    fn each_day_is_a_dot_at_its_share() {
        let day = |n: i8, part: u32| Day {
            date: jiff::civil::date(2026, 11, n),
            clean: Share { part, of: 10 },
            gaps_s: Vec::new(),
            offs_ms: Vec::new(),
        };
        let report = Report {
            days: vec![day(1, 0), day(2, 5), day(3, 10)],
            ..Report::default()
        };
        let drawing = draw(&report, 800);
        let heights: Vec<f32> = (drawing.marks.iter())
            .filter_map(|mark| match mark {
                Mark::Dot { at, .. } => Some(at.1),
                _ => None,
            })
            .collect();
        assert_eq!(heights.len(), 3);
        assert!((heights[1] - (heights[0] + heights[2]) / 2.0).abs() < 1e-3);
        assert!(heights[0] > heights[2]);
    }
}
