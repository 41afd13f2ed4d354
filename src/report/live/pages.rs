//! Text longer than the screen, to be read page by page.

use crate::words;
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout};
use ratatui::style::{Modifier, Style};
use ratatui::text::Line;
use ratatui::widgets::Paragraph;

/// Lines of a text and where the screen stands in them.
#[derive(Debug, Clone)]
pub struct Pages {
    lines: Vec<String>,
    first: usize,
}

impl Pages {
    /// The first page of a text.
    pub fn new(text: &str) -> Pages {
        Pages {
            lines: text.lines().map(str::to_owned).collect(),
            first: 0,
        }
    }

    /// Lines of a page on a screen so high: the last line is for the keys.
    fn page(height: u16) -> usize {
        usize::from(height.saturating_sub(1)).max(1)
    }

    /// The next page, if there is one.
    pub fn forward(&mut self, height: u16) {
        let page = Self::page(height);
        if self.first + page < self.lines.len() {
            self.first += page;
        }
    }

    /// The page before.
    pub fn back(&mut self, height: u16) {
        self.first = self.first.saturating_sub(Self::page(height));
    }

    /// Draws the page.
    pub fn draw(&self, frame: &mut Frame) {
        let area = frame.area();
        let page = Self::page(area.height);
        let [text, keys] =
            Layout::vertical([Constraint::Min(1), Constraint::Length(1)]).areas(area);
        let shown = self.lines.iter().skip(self.first).take(page);
        let shown: Vec<Line> = shown.map(|line| Line::raw(line.as_str())).collect();
        frame.render_widget(Paragraph::new(shown), text);
        let last = (self.first + page).min(self.lines.len());
        let more = match self.lines.len() > page {
            true => words::screen::lines_shown(self.first + 1, last, self.lines.len()),
            false => String::new(),
        };
        let dim = Style::new().add_modifier(Modifier::DIM);
        frame.render_widget(
            Line::styled(format!("{more}{}", words::screen::ENDS), dim),
            keys,
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ratatui::Terminal;
    use ratatui::backend::TestBackend;

    #[test]
    fn every_line_is_on_some_page_and_none_scrolls_away() {
        let text: Vec<String> = (0..25).map(|i| format!("line {i}.")).collect();
        let mut pages = Pages::new(&text.join("\n"));
        let mut seen = String::new();
        for _ in 0..4 {
            let mut terminal = Terminal::new(TestBackend::new(60, 10)).unwrap();
            terminal.draw(|frame| pages.draw(frame)).unwrap();
            seen += &terminal.backend().to_string();
            pages.forward(10);
        }
        assert!(text.iter().all(|line| seen.contains(line)), "{seen}");
        pages.back(10);
        pages.back(10);
        pages.back(10);
        assert_eq!(pages.first, 0);
    }
}
