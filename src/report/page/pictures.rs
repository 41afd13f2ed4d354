//! The small pictures of a page: how often each string did what it should, and how that changed.

use super::summary::{ChordSummary, Period};
use crate::report::plot::drawing::{Anchor, Area, Colour, Drawing, HAIR, cut_middle, text_width};
use crate::words;

const EM: f32 = 13.0;
const WIDTH: f32 = 420.0;
const ROW: f32 = 1.8 * EM;

/// Six bars, string 6 on top: filled as far as the string did what it should, empty for the rest.
pub fn strings(chord: &ChordSummary) -> Drawing {
    let mut drawing = Drawing::new(WIDTH, 6.0 * ROW + EM);
    let bars = Area {
        x: 6.0 * EM,
        y: 0.5 * EM,
        width: WIDTH - 13.5 * EM,
        height: 6.0 * ROW,
    };
    for (row, string) in chord.strings.iter().enumerate() {
        let bar = Area {
            y: bars.y + ROW * row as f32 + 0.3 * EM,
            height: ROW - 0.6 * EM,
            ..bars
        };
        let name = words::grammar::string(string.string);
        drawing.text(
            (EM * 0.2, bar.middle()),
            Anchor::Left,
            EM,
            Colour::Ink,
            name,
        );
        drawing.fill(bar, Colour::Ground);
        let share = string.as_it_should as f32 / string.told.max(1) as f32;
        let filled = Area {
            width: bar.width * share,
            ..bar
        };
        drawing.fill(filled, Colour::Blue);
        frame(&mut drawing, &bar);
        let said = match string.told {
            0 => words::page::NOT_TOLD.to_owned(),
            told => words::page::part_of(string.as_it_should, told),
        };
        let at = (bar.right() + 0.6 * EM, bar.middle());
        drawing.text(at, Anchor::Left, EM, Colour::Ink, said);
    }
    drawing
}

/// A bar for each part of the time, as high as the share of its takes that were clean.
pub fn over_time(parts: &[Period]) -> Drawing {
    let mut drawing = Drawing::new(WIDTH, ROW * parts.len() as f32 + EM);
    let names = parts.iter().map(|p| text_width(&p.label, EM));
    let left = names.fold(0.0, f32::max).min(WIDTH * 0.45) + EM;
    for (row, part) in parts.iter().enumerate() {
        let bar = Area {
            x: left,
            y: 0.5 * EM + ROW * row as f32 + 0.3 * EM,
            width: WIDTH - left - 7.5 * EM,
            height: ROW - 0.6 * EM,
        };
        let label = cut_middle(&part.label, EM, left - EM);
        drawing.text(
            (EM * 0.2, bar.middle()),
            Anchor::Left,
            EM,
            Colour::Ink,
            label,
        );
        drawing.fill(bar, Colour::Ground);
        let filled = Area {
            width: bar.width * part.clean as f32 / part.judged.max(1) as f32,
            ..bar
        };
        drawing.fill(filled, Colour::Blue);
        frame(&mut drawing, &bar);
        let at = (bar.right() + 0.6 * EM, bar.middle());
        let said = words::page::part_of(part.clean, part.judged);
        drawing.text(at, Anchor::Left, EM, Colour::Ink, said);
    }
    drawing
}

fn frame(drawing: &mut Drawing, bar: &Area) {
    let corners = vec![
        (bar.x, bar.y),
        (bar.right(), bar.y),
        (bar.right(), bar.bottom()),
        (bar.x, bar.bottom()),
        (bar.x, bar.y),
    ];
    drawing.line(corners, HAIR * EM, Colour::Grey);
}
