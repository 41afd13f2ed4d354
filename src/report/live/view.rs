//! The board on a terminal: six big strings that read from a metre away, smaller ones where there is
//! less room.

use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Color, Modifier, Style};
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Wrap};

use super::board::{Board, HISTORY};
use super::font;
use crate::fretboard::STRINGS;
use crate::report::picture::{lines, symbol};
use crate::verdict::{StringVerdict, Take, Verdict, wording};

// The colours of the printed picture, for the same reasons.
const BLUE: Color = Color::Indexed(33);
const ORANGE: Color = Color::Indexed(208);

/// How large the strings are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Size {
    /// One line a string.
    Line,
    /// Letters of half-block pixels, three lines a string.
    Big,
    /// Letters of double-width pixels, five lines a string and a gap.
    Huge,
}

impl Size {
    /// The largest that leaves room for the rest.
    fn fitting(area: Rect) -> Self {
        let fits =
            |size: Size| area.width >= size.width() && area.height >= size.all_lines() + REST;
        [Size::Huge, Size::Big]
            .into_iter()
            .find(|&size| fits(size))
            .unwrap_or(Size::Line)
    }

    /// Lines of one string.
    fn lines(self) -> u16 {
        match self {
            Size::Line => 1,
            Size::Big => 3,
            Size::Huge => 6,
        }
    }

    /// Lines of all strings; the last one needs no gap.
    fn all_lines(self) -> u16 {
        let strings = self.lines() * STRINGS as u16;
        strings - u16::from(self == Size::Huge)
    }

    /// Columns for the longest word with everything beside it.
    fn width(self) -> u16 {
        match self {
            Size::Line => 0,
            Size::Big => 74,
            Size::Huge => 118,
        }
    }
}

/// Lines that are no strings: what to play, two of advice, level, keys; at the least.
const REST: u16 = 5;
/// Lines that the words over the strings may take.
const MOST_GOAL: u16 = 3;
const MOST_UNDER_GOAL: u16 = 2;
/// Columns of a string in one line, the history included, and from there to a picture.
const LINE_WIDTH: u16 = 38;
const PICTURE_GAP: u16 = 2;

/// Lines that words take at a width.
fn lines_of(text: &str, width: u16) -> u16 {
    lines(text.split_whitespace(), width.into()).len() as u16
}

/// Draws the board over the whole screen.
pub fn draw(frame: &mut Frame, board: &Board) {
    let area = frame.area();
    let goal_text = format!("{}{}", board.goal, state(board));
    let goal_lines = lines_of(&goal_text, area.width).clamp(1, MOST_GOAL);
    let rest = REST + goal_lines - 1;
    let picture = board.picture.iter().map(|line| line.chars().count());
    let picture = Rect {
        width: picture.max().map_or(0, |width| width as u16 + PICTURE_GAP),
        height: board.picture.len() as u16,
        ..area
    };
    // A picture that does not fit beside the strings is left out: the goal names the frets.
    let beside = picture.width > 0
        && area.width >= LINE_WIDTH + picture.width
        && area.height >= picture.height + rest;
    let picture = if beside { picture } else { Rect::ZERO };
    let size = Size::fitting(Rect {
        width: area.width - picture.width,
        height: area.height.saturating_sub(goal_lines - 1),
        ..area
    });
    let strings = size.all_lines().max(picture.height);
    let spare = area.height.saturating_sub(strings + rest);
    let under_goal = lines_of(&board.under_goal, area.width).min(spare.min(MOST_UNDER_GOAL));
    let spare = spare - under_goal;
    let advice = 2 + spare.min(2);
    let gap = u16::from(spare >= 3);
    let [goal, below, _, middle, _, advised, level, keys, _] = Layout::vertical([
        Constraint::Length(goal_lines),
        Constraint::Length(under_goal),
        Constraint::Length(gap),
        Constraint::Length(strings),
        Constraint::Length(u16::from(spare >= 4)),
        Constraint::Length(advice),
        Constraint::Length(1),
        Constraint::Length(1),
        Constraint::Min(0),
    ])
    .areas(area);
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let goal_line = Line::from(vec![
        Span::styled(board.goal.clone(), bold),
        Span::raw(state(board)),
    ]);
    let wrapped = Wrap { trim: true };
    frame.render_widget(Paragraph::new(goal_line).wrap(wrapped), goal);
    let under = Paragraph::new(board.under_goal.as_str()).wrap(wrapped);
    frame.render_widget(under, below);
    let sides = [Constraint::Min(0), Constraint::Length(picture.width)];
    let [left, right] = Layout::horizontal(sides).areas(middle);
    draw_strings(frame, left, board, size);
    if beside {
        let lines = board.picture.iter().map(|line| Line::raw(line.as_str()));
        frame.render_widget(Paragraph::new(lines.collect::<Vec<_>>()), right);
    }
    let text = match board.tuning_warning() {
        Some(warning) => format!("{} {warning}", board.advice()),
        None => board.advice(),
    };
    let style = match board.trouble {
        Some(_) => bold.fg(ORANGE),
        None => bold,
    };
    let text = Paragraph::new(text).style(style).wrap(wrapped);
    frame.render_widget(text, advised);
    frame.render_widget(meter(board, level.width), level);
    let dim = Style::new().add_modifier(Modifier::DIM);
    frame.render_widget(Paragraph::new(board.keys.as_str()).style(dim), keys);
}

fn state(board: &Board) -> &'static str {
    match board.take() {
        None => "   strum",
        Some((_, false)) => "   first picture",
        Some((take, true)) if !take.judged() => "   not judged",
        Some(_) => "",
    }
}

fn draw_strings(frame: &mut Frame, area: Rect, board: &Board, size: Size) {
    let mut heights = [Constraint::Length(size.lines()); STRINGS];
    heights[STRINGS - 1] = Constraint::Min(0);
    let rows = Layout::vertical(heights).split(area);
    for (index, row) in rows.iter().enumerate() {
        // Beside the low strings' thickness their order is what is seen first: 6 on top, as the
        // player looks down on them.
        let lines = match (size, board.take()) {
            (Size::Line, take) => line_row(board, index, take),
            (_, take) => big_row(board, index, take, size, row.width),
        };
        frame.render_widget(Paragraph::new(lines), *row);
    }
}

/// A string in one line: number, note, symbol, words, history.
fn line_row(board: &Board, index: usize, take: Option<(&Take, bool)>) -> Vec<Line<'static>> {
    let number = STRINGS - index;
    let mut spans = vec![Span::raw(format!("{number} "))];
    let words = match take {
        Some((take, settled)) => {
            let string = &take.strings[index];
            let style = style(string.verdict, settled);
            let words = words(string);
            spans.push(Span::styled(
                format!("{} {words:<22}", symbol(string.verdict)),
                style,
            ));
            true
        }
        None => false,
    };
    if !words {
        spans.push(Span::raw(" ".repeat(24)));
    }
    spans.push(Span::raw(" "));
    spans.extend(history(board, index));
    vec![Line::from(spans)]
}

/// What is written beside the symbol: the word, and the fret that sounds.
fn words(string: &StringVerdict) -> String {
    let word = string.verdict.word();
    match beside(string) {
        Some(more) if string.dead_or_dying() => format!("{word} {more}"),
        Some(more) => format!("{word}: {more}"),
        None => word.to_owned(),
    }
}

/// A few words more than the verdict's own, where they matter.
fn beside(string: &StringVerdict) -> Option<String> {
    let place = |fret: u8| match fret {
        0 => "open".to_owned(),
        fret => fret.to_string(),
    };
    match (string.verdict, string.heard_fret, string.expected_fret) {
        _ if string.dead_or_dying() => match string.verdict {
            Verdict::Muted => Some("or choked".to_owned()),
            _ => Some("or muted".to_owned()),
        },
        (Verdict::WrongFret, Some(heard), Some(expected)) => {
            Some(format!("{}, not {}", place(heard), place(expected)))
        }
        (Verdict::Ringing, Some(heard), _) if heard > 0 => Some(format!("at {heard}")),
        _ => None,
    }
}

fn big_row(
    board: &Board,
    index: usize,
    take: Option<(&Take, bool)>,
    size: Size,
    width: u16,
) -> Vec<Line<'static>> {
    let render = match size {
        Size::Huge => font::large,
        _ => font::small,
    };
    let number = render(&font::text(&(STRINGS - index).to_string()));
    let empty = vec![String::new(); number.len()];
    let (sign, word, look, more) = match take {
        Some((take, settled)) => {
            let string = &take.strings[index];
            let word = match string.verdict {
                // Every string of a take that is not judged would say the same.
                Verdict::Unsure if !take.judged() => String::new(),
                verdict => verdict.word().to_owned(),
            };
            (
                render(&font::symbol(symbol(string.verdict))),
                render(&font::text(&word)),
                style(string.verdict, settled),
                beside(string).or_else(|| doubt(string, settled)),
            )
        }
        None => (empty.clone(), empty, Style::new(), None),
    };
    let history_width = HISTORY as u16;
    let middle = number.len() / 2;
    (0..number.len())
        .map(|line| {
            let mut spans = vec![
                Span::raw(format!("{}  ", number[line])),
                Span::styled(format!("{}  ", sign[line]), look),
                Span::styled(word[line].clone(), look),
            ];
            // The longest words reach up to the history; what is beside them stands a line lower.
            if let Some(more) = more.as_ref().filter(|_| line == middle + 1) {
                spans.push(Span::styled(format!("  {more}"), look));
            }
            if line == middle {
                let used: usize = spans.iter().map(Span::width).sum();
                let room = usize::from(width.saturating_sub(history_width));
                spans.push(Span::raw(" ".repeat(room.saturating_sub(used))));
                spans.extend(history(board, index));
            }
            Line::from(spans)
        })
        .collect()
}

fn doubt(string: &StringVerdict, settled: bool) -> Option<String> {
    let doubtful = settled && string.verdict != Verdict::Unsure;
    let doubt = wording::doubt_of(string).filter(|_| doubtful)?;
    Some(format!("({doubt})"))
}

/// One symbol for each of the last takes, the newest on the right.
fn history(board: &Board, index: usize) -> Vec<Span<'static>> {
    let verdicts: Vec<Verdict> = board.history(index).collect();
    let mut spans = vec![Span::raw("·".repeat(HISTORY - verdicts.len()))];
    spans.extend(
        verdicts
            .into_iter()
            .map(|v| Span::styled(symbol(v), style(v, true))),
    );
    spans
}

/// Blue for what is as it should be, bold orange for a fault; a first picture is dim.
fn style(verdict: Verdict, settled: bool) -> Style {
    let style = match verdict {
        Verdict::Unsure => Style::new(),
        v if v.is_fault() => Style::new().fg(ORANGE).add_modifier(Modifier::BOLD),
        _ => Style::new().fg(BLUE),
    };
    match settled {
        true => style,
        false => style.add_modifier(Modifier::DIM),
    }
}

/// Quietest level that the meter shows, in dBFS.
const METER_FLOOR_DBFS: f32 = -60.0;

/// The level as a bar and a word.
fn meter(board: &Board, width: u16) -> Paragraph<'static> {
    let cells = usize::from(width.saturating_sub(24)).min(40);
    let share = board
        .level_dbfs
        .map_or(0.0, |db| 1.0 - (db / METER_FLOOR_DBFS).clamp(0.0, 1.0));
    let full = (share * cells as f32).round() as usize;
    let bar = "█".repeat(full) + &"░".repeat(cells - full);
    Paragraph::new(format!("level {bar} {}", board.level_word()))
}
