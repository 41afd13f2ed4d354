//! The board on a terminal, to be read from a metre away: what is right stays small, what is wrong and
//! what to do about it are large.

use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Color, Modifier, Style};
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Wrap};

use super::board::{Board, HISTORY};
use super::font;
use crate::fretboard::STRINGS;
use crate::report::bar;
use crate::report::picture::{lines, symbol};
use crate::verdict::{JudgedTake, StringVerdict, Verdict, wording};
use crate::words::{grammar, screen};

// The colours of the printed picture, for the same reasons.
const BLUE: Color = Color::Indexed(33);
const ORANGE: Color = Color::Indexed(208);

/// Lines that the status, the task and the teacher's words may take.
const MOST_STATUS: u16 = 2;
const MOST_GOAL: u16 = 3;
const MOST_SAY: u16 = 5;
/// From this size on the task is written in pixels, where it takes no more lines of them than ...
const LARGE: (u16, u16) = (100, 34);
const MOST_LARGE_GOAL: usize = 2;
/// Ends a text that is longer than its place.
const CUT: &str = " ...";
/// Lines of a letter of half blocks with the gap below it.
const LETTER: u16 = 4;
/// Lines of advice that are kept free.
const LEAST_ADVICE: u16 = 2;
/// Columns that the strings need beside the small and the large picture.
const BESIDE: [u16; 2] = [38, 70];
const PICTURE_GAP: u16 = 2;
/// Columns for the longest word in half blocks with everything beside it.
const BIG_WIDTH: u16 = 48;
/// Lines of a string that is as it should be, and of one with a fault in half blocks.
const CALM: u16 = 1;
const BIG: u16 = 3;

/// The lines of a text at a width; where there are more than `most` the last one says so.
fn fitted(text: &str, width: u16, most: u16) -> Vec<String> {
    let paragraph = |line: &str| lines(line.split_whitespace(), width.into());
    let mut fitted: Vec<String> = text.lines().flat_map(paragraph).collect();
    if fitted.len() > most.into() {
        fitted.truncate(most.into());
        if let Some(last) = fitted.last_mut() {
            let kept = usize::from(width).saturating_sub(CUT.chars().count());
            *last = last.chars().take(kept).collect::<String>() + CUT;
        }
    }
    fitted
}

/// Lines that words take at a width.
fn lines_of(text: &str, width: u16) -> u16 {
    fitted(text, width, u16::MAX).len() as u16
}

/// Draws the board over the whole screen.
pub fn draw(frame: &mut Frame, board: &Board) {
    let area = frame.area();
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let dim = Style::new().add_modifier(Modifier::DIM);
    let wrapped = Wrap { trim: true };
    let status = match board.status.is_empty() {
        true => 0,
        false => lines_of(&board.status, area.width).clamp(1, MOST_STATUS),
    };
    let large = area.width >= LARGE.0 && area.height >= LARGE.1;
    let goal_pixels = font::lines(&board.goal, area.width, MOST_LARGE_GOAL).filter(|_| large);
    let goal = match &goal_pixels {
        Some(lines) => lines.len() as u16 + 1,
        None => lines_of(&board.goal, area.width).clamp(1, MOST_GOAL),
    };
    // The state of the take, the strings, advice, level and keys.
    let least = 1 + STRINGS as u16 + LEAST_ADVICE + 2;
    let spare = area.height.saturating_sub(status + goal + least);
    let most = match board.picture {
        // What is to be read before anything is played is read whole.
        Some(_) if board.begun => MOST_SAY.min(spare),
        _ => spare,
    };
    let say_lines = fitted(&board.say, area.width, most);
    let say = say_lines.len() as u16;
    // A line of air on both sides of the strings, where there is space.
    let gap = u16::from(spare - say >= 4);
    let [status, goal, said, _, middle, level, keys] = Layout::vertical([
        Constraint::Length(status),
        Constraint::Length(goal),
        Constraint::Length(say),
        Constraint::Length(gap),
        Constraint::Min(1),
        Constraint::Length(1),
        Constraint::Length(1),
    ])
    .areas(area);
    frame.render_widget(Paragraph::new(board.status.as_str()).wrap(wrapped), status);
    let goal_text = match &goal_pixels {
        Some(lines) => Paragraph::new(lines.join("\n")),
        None => Paragraph::new(board.goal.as_str()).wrap(wrapped),
    };
    frame.render_widget(goal_text.style(bold), goal);
    frame.render_widget(Paragraph::new(say_lines.join("\n")), said);
    let left = draw_picture(frame, middle, board);
    draw_take(frame, left, board);
    frame.render_widget(meter(board, level.width), level);
    frame.render_widget(Paragraph::new(board.keys.as_str()).style(dim), keys);
}

/// Draws the picture on the right, the largest that leaves space for the strings, and gives what is left.
/// Without space there is none: the task names the frets.
fn draw_picture(frame: &mut Frame, area: Rect, board: &Board) -> Rect {
    let Some(picture) = &board.picture else {
        return area;
    };
    let [beside_small, beside_large] = BESIDE;
    let forms = [
        (&picture.large, beside_large),
        (&picture.small, beside_small),
    ];
    for (lines, beside) in forms {
        let width = lines.iter().map(|line| line.chars().count()).max();
        let width = width.unwrap_or(0) as u16 + PICTURE_GAP;
        if area.width >= width + beside && area.height >= lines.len() as u16 {
            let sides = [Constraint::Min(0), Constraint::Length(width)];
            let [left, right] = Layout::horizontal(sides).areas(area);
            let lines: Vec<Line> = lines.iter().map(|line| Line::raw(line.as_str())).collect();
            let beside = Layout::horizontal([Constraint::Length(1), Constraint::Min(0)]);
            let [_, right] = beside.areas(right);
            frame.render_widget(Paragraph::new(lines), right);
            return left;
        }
    }
    area
}

/// Draws what was heard and what to try.
fn draw_take(frame: &mut Frame, area: Rect, board: &Board) {
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let take = board.take();
    let faults = match take {
        Some((take, _)) if take.judged() => (take.strings.iter())
            .filter(|s| s.verdict.is_fault())
            .count() as u16,
        _ => 0,
    };
    let calm = match board.begun {
        true => STRINGS as u16 * CALM,
        false => 0,
    };
    let advice = board.advice();
    let advice_lines = lines_of(&advice, area.width).max(LEAST_ADVICE);
    let grown = calm + faults * (BIG - CALM);
    let big = area.width >= BIG_WIDTH && area.height > grown + advice_lines;
    let strings = if big { grown } else { calm };
    let free = area.height.saturating_sub(1 + strings);
    let air = u16::from(free > advice_lines);
    let [state, shown, _, advised] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Length(strings),
        Constraint::Length(air),
        Constraint::Min(0),
    ])
    .areas(area);
    if board.begun {
        frame.render_widget(Paragraph::new(state_of(board)), state);
        draw_strings(frame, shown, board, big);
    }
    let style = match board.trouble {
        Some(_) => bold.fg(ORANGE),
        None => bold,
    };
    let (width, height) = frame.area().as_size().into();
    let large = width >= LARGE.0 && height >= LARGE.1;
    // All of it in large letters; where that is too long its beginning, and all of it below.
    let letters = |text: &str, lines: u16| {
        let most = (lines.saturating_add(1) / LETTER).into();
        font::lines(text, advised.width, most).filter(|_| large)
    };
    let in_short = || {
        let free = advised.height.saturating_sub(advice_lines + 1);
        letters(&board.advice_in_short()?, free)
    };
    let (big, below) = match letters(&advice, advised.height) {
        Some(lines) => (lines, false),
        None => (in_short().unwrap_or_default(), true),
    };
    let gap = u16::from(!big.is_empty() && below);
    let [top, _, rest] = Layout::vertical([
        Constraint::Length(big.len() as u16),
        Constraint::Length(gap),
        Constraint::Min(0),
    ])
    .areas(advised);
    frame.render_widget(Paragraph::new(big.join("\n")).style(style), top);
    if below {
        let text = Paragraph::new(advice).wrap(Wrap { trim: true });
        frame.render_widget(text.style(style), rest);
    }
}

/// What the strings below are of.
fn state_of(board: &Board) -> String {
    match board.take() {
        _ if !board.note.is_empty() => board.note.clone(),
        None => screen::STRUM.to_owned(),
        Some((_, false)) => screen::FIRST_GUESS.to_owned(),
        Some((take, true)) if !take.judged() => screen::NOT_JUDGED.to_owned(),
        Some(_) => String::new(),
    }
}

/// Beside the low strings' thickness their order is what is seen first: 6 on top, as the player looks
/// down on them.
fn draw_strings(frame: &mut Frame, area: Rect, board: &Board, big: bool) {
    let take = board.take();
    let is_big = |index: usize| {
        let fault = |(take, _): (&JudgedTake, bool)| take.strings[index].verdict.is_fault();
        big && take.is_some_and(fault)
    };
    let heights: Vec<Constraint> = (0..STRINGS)
        .map(|i| Constraint::Length(if is_big(i) { BIG } else { CALM }))
        .collect();
    let rows = Layout::vertical(heights).split(area);
    for (index, row) in rows.iter().enumerate() {
        let lines = match take {
            Some((take, settled)) if is_big(index) => {
                big_row(board, index, &take.strings[index], settled, row.width)
            }
            _ => line_row(board, index, take),
        };
        frame.render_widget(Paragraph::new(lines), *row);
    }
}

/// A string in one line: number, symbol, words, history.
fn line_row(board: &Board, index: usize, take: Option<(&JudgedTake, bool)>) -> Vec<Line<'static>> {
    let mut spans = vec![Span::raw(format!("{} ", STRINGS - index))];
    match take {
        Some((take, settled)) => {
            let string = &take.strings[index];
            let words = words(string);
            spans.push(Span::styled(
                format!("{} {words:<22}", symbol(string.verdict)),
                style(string.verdict, settled),
            ));
        }
        None => spans.push(Span::raw(" ".repeat(24))),
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
    match (string.verdict, string.heard_fret, string.expected_fret) {
        _ if string.dead_or_dying() => match string.verdict {
            Verdict::Muted => Some(screen::OR_CHOKED.to_owned()),
            _ => Some(screen::OR_MUTED.to_owned()),
        },
        (Verdict::WrongFret, Some(heard), Some(expected)) => Some(screen::heard_not(
            grammar::place(heard),
            grammar::place(expected),
        )),
        (Verdict::Ringing, Some(heard), _) if heard > 0 => Some(screen::at(heard)),
        _ => None,
    }
}

/// A string with a fault, in three lines.
fn big_row(
    board: &Board,
    index: usize,
    string: &StringVerdict,
    settled: bool,
    width: u16,
) -> Vec<Line<'static>> {
    let render = |text: &str| font::small(&font::text(text));
    let number = render(&(STRINGS - index).to_string());
    let sign = font::small(&font::symbol(symbol(string.verdict)));
    // Which fret sounds says more than that it is the wrong one.
    let (word, more) = match (string.verdict, string.heard_fret, string.expected_fret) {
        (Verdict::WrongFret, Some(heard), Some(expected)) => {
            let expected = screen::not(grammar::place(expected));
            (screen::fret(heard), Some(expected))
        }
        _ => {
            let more = beside(string).or_else(|| doubt(string, settled));
            (string.verdict.word().to_owned(), more)
        }
    };
    let word = render(&word);
    let look = style(string.verdict, settled);
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
            let used: usize = spans.iter().map(Span::width).sum();
            let free = usize::from(width).saturating_sub(used + HISTORY);
            if line == middle && free > 0 {
                spans.push(Span::raw(" ".repeat(free)));
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

/// Blue for what is as it should be, bold orange for a fault; a first guess is dim.
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

/// Tells how much of the level's bar a peak in dBFS fills, 0 to 1.
pub fn level_share(peak_dbfs: Option<f32>) -> f32 {
    peak_dbfs.map_or(0.0, |db| 1.0 - (db / METER_FLOOR_DBFS).clamp(0.0, 1.0))
}

/// The level as a bar and a word.
fn meter(board: &Board, width: u16) -> Paragraph<'static> {
    let cells = usize::from(width.saturating_sub(24)).min(40);
    let bar = bar(level_share(board.level_dbfs), cells);
    Paragraph::new(screen::level(bar, board.level_word()))
}
