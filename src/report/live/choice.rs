//! The screen before a trial: what happens, and what the player can do.

use ratatui::Frame;
use ratatui::layout::{Constraint, Layout};
use ratatui::style::{Modifier, Style};
use ratatui::text::Line;
use ratatui::widgets::{Paragraph, Wrap};

/// Something that is in or out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Item {
    /// The key that changes it.
    pub key: char,
    /// Name of the thing.
    pub name: String,
    /// True where it is in.
    pub chosen: bool,
}

/// Content of the screen.
#[derive(Debug, Clone, Default)]
pub struct Choosing {
    /// Title in bold at the top.
    pub title: String,
    /// Facts to be known before.
    pub said: Vec<String>,
    /// Lists with their headings; short names stand side by side.
    pub lists: Vec<(String, Vec<Item>)>,
    /// Further choices, a line.
    pub further: String,
    /// Fault of the choice, if there is one.
    pub wrong: String,
    /// Keys, at the bottom.
    pub keys: String,
}

/// Columns of an item that stands beside others.
const COLUMN: usize = 14;

/// The items in lines: side by side where all are short.
fn lines(items: &[Item], width: usize) -> Vec<String> {
    let one = |item: &Item| {
        let mark = if item.chosen { 'x' } else { ' ' };
        format!(" {} [{mark}] {}", item.key, item.name)
    };
    let all: Vec<String> = items.iter().map(one).collect();
    if all.iter().any(|item| item.chars().count() >= COLUMN) {
        return all;
    }
    let columns = (width / COLUMN).max(1);
    let row = |some: &[String]| some.iter().map(|item| format!("{item:<COLUMN$}")).collect();
    all.chunks(columns).map(row).collect()
}

/// Draws the screen.
pub fn draw(frame: &mut Frame, choosing: &Choosing) {
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let dim = Style::new().add_modifier(Modifier::DIM);
    let area = frame.area();
    let width = usize::from(area.width);
    let mut text = vec![Line::styled(choosing.title.as_str(), bold)];
    text.extend(choosing.said.iter().map(|line| Line::raw(line.as_str())));
    for (heading, items) in &choosing.lists {
        text.push(Line::styled(heading.as_str(), bold));
        text.extend(lines(items, width).into_iter().map(Line::raw));
    }
    text.push(Line::raw(choosing.further.as_str()));
    text.push(Line::styled(choosing.wrong.as_str(), bold));
    let [top, keys] = Layout::vertical([Constraint::Min(1), Constraint::Length(1)]).areas(area);
    frame.render_widget(Paragraph::new(text).wrap(Wrap { trim: false }), top);
    frame.render_widget(Line::styled(choosing.keys.as_str(), dim), keys);
}

#[cfg(test)]
mod tests {
    use super::*;
    use ratatui::Terminal;
    use ratatui::backend::TestBackend;

    #[test]
    fn short_names_stand_side_by_side_and_long_ones_each_in_a_line() {
        let item = |key, name: &str, chosen| Item {
            key,
            name: name.to_owned(),
            chosen,
        };
        let choosing = Choosing {
            title: "Is it right?".to_owned(),
            lists: vec![
                (
                    "Chords".to_owned(),
                    vec![item('a', "E", true), item('b', "Am", false)],
                ),
                (
                    "Faults".to_owned(),
                    vec![item('1', "touched by the finger beside it", true)],
                ),
            ],
            keys: "n begins".to_owned(),
            ..Choosing::default()
        };
        let mut terminal = Terminal::new(TestBackend::new(40, 12)).unwrap();
        terminal.draw(|frame| draw(frame, &choosing)).unwrap();
        let seen = terminal.backend().to_string();
        assert!(seen.contains(" a [x] E       b [ ] Am"), "{seen}");
        assert!(
            seen.contains(" 1 [x] touched by the finger beside it"),
            "{seen}"
        );
        assert!(seen.contains("n begins"), "{seen}");
    }
}
