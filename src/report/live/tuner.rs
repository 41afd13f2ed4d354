//! The screen of a soundcheck: the string that is asked for, how far off it is, how loud it is.

use ratatui::Frame;
use ratatui::layout::{Constraint, Layout};
use ratatui::style::{Modifier, Style};
use ratatui::text::Line;
use ratatui::widgets::{Paragraph, Wrap};

use super::board::level_word;
use super::font;
use super::view::level_share;
use crate::report::bar;
use crate::words;
use crate::words::screen;

/// Cents from the middle of the scale to its end.
const SCALE_CENTS: f32 = 50.0;
/// Columns of the scale on each side of its middle, at the most.
const MOST_HALF: u16 = 40;

/// Content of a soundcheck's screen.
#[derive(Debug, Clone, Default)]
pub struct Tuner {
    /// Number and note of the string that is asked for: "6 E".
    pub string: String,
    /// Cents that it is off now; `None` where it does not ring.
    pub cents: Option<f32>,
    /// Off by no more than this it is in tune, in cents.
    pub in_tune_cents: f32,
    /// Task, or what was heard.
    pub words: String,
    /// The strings that are done, a line each.
    pub done: Vec<String>,
    /// Peak at the microphone in dBFS.
    pub level_dbfs: Option<f32>,
}

impl Tuner {
    /// Tells how far off the string is, in words.
    pub fn off(&self) -> String {
        match self.cents {
            None => String::new(),
            Some(cents) if cents.abs() <= self.in_tune_cents => screen::IN_TUNE.to_owned(),
            Some(cents) if cents < 0.0 => screen::flat_up(-cents),
            Some(cents) => screen::sharp_down(cents),
        }
    }

    /// A scale from flat to sharp, what counts as in tune drawn thick, a mark where the string is.
    fn scale(&self, half: u16) -> [String; 2] {
        let half = usize::from(half.max(1));
        let at = |cents: f32| {
            let share = (cents / SCALE_CENTS).clamp(-1.0, 1.0);
            (half as f32 * (1.0 + share)).round() as usize
        };
        let thick = at(-self.in_tune_cents)..=at(self.in_tune_cents);
        let line = (0..=2 * half).map(|i| match i {
            _ if i == half => '┃',
            _ if thick.contains(&i) => '━',
            _ => '─',
        });
        let mark = self.cents.map_or(String::new(), |cents| {
            let sign = match cents {
                _ if cents < -SCALE_CENTS => '◀',
                _ if cents > SCALE_CENTS => '▶',
                _ => '▲',
            };
            format!("{}{sign}", " ".repeat(at(cents)))
        });
        [line.collect(), mark]
    }
}

/// Draws the screen.
pub fn draw(frame: &mut Frame, tuner: &Tuner) {
    let area = frame.area();
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let large = area.height >= 16;
    let big = |text: &str| match large {
        true => font::small(&font::text(text)).join("\n"),
        false => text.to_owned(),
    };
    let letters = if large { 4 } else { 1 };
    let done = (tuner.done.len() as u16).min(area.height.saturating_sub(2 * letters + 7));
    let [string, off, scale, words, done, level, keys] = Layout::vertical([
        Constraint::Length(letters),
        Constraint::Length(letters),
        Constraint::Length(3),
        Constraint::Min(2),
        Constraint::Length(done),
        Constraint::Length(1),
        Constraint::Length(1),
    ])
    .areas(area);
    let asked = words::grammar::string(&tuner.string);
    frame.render_widget(Paragraph::new(big(&asked)).style(bold), string);
    frame.render_widget(Paragraph::new(big(&tuner.off())).style(bold), off);
    let half = (area.width.saturating_sub(14) / 2).min(MOST_HALF);
    let [line, mark] = tuner.scale(half);
    let lines = vec![
        Line::raw(screen::flat_to_sharp(line)),
        Line::styled(format!("      {mark}"), bold),
    ];
    frame.render_widget(Paragraph::new(lines), scale);
    let text = Paragraph::new(tuner.words.as_str()).wrap(Wrap { trim: true });
    frame.render_widget(text.style(bold), words);
    let lines = tuner.done.iter().map(|line| Line::raw(line.as_str()));
    frame.render_widget(Paragraph::new(lines.collect::<Vec<_>>()), done);
    let cells = usize::from(level.width.saturating_sub(24)).min(40);
    let meter = bar(level_share(tuner.level_dbfs), cells);
    let meter = screen::level(meter, level_word(tuner.level_dbfs));
    frame.render_widget(Paragraph::new(meter), level);
    let dim = Style::new().add_modifier(Modifier::DIM);
    frame.render_widget(Line::styled(screen::QUIT, dim), keys);
}

#[cfg(test)]
mod tests {
    use super::*;
    use ratatui::Terminal;
    use ratatui::backend::TestBackend;

    fn screen(tuner: &Tuner, width: u16, height: u16) -> String {
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        terminal.draw(|frame| draw(frame, tuner)).unwrap();
        terminal.backend().to_string()
    }

    fn tuner(cents: Option<f32>) -> Tuner {
        Tuner {
            string: "6 E".to_owned(),
            cents,
            in_tune_cents: 5.0,
            words: "Pluck open string 6 (E).".to_owned(),
            done: vec!["string 5".to_owned()],
            level_dbfs: Some(-20.0),
        }
    }

    #[test]
    fn the_mark_moves_with_the_string_and_words_say_which_way_the_peg_goes() {
        let column = |cents: f32| {
            let [line, mark] = tuner(Some(cents)).scale(20);
            assert_eq!(line.chars().count(), 41);
            mark.chars().count()
        };
        assert!(column(-80.0) < column(-12.0) && column(-12.0) < column(0.0));
        assert_eq!(column(0.0), 21);
        assert!(column(12.0) < column(80.0));
        assert_eq!(tuner(Some(-12.4)).off(), "12 flat: up");
        assert_eq!(tuner(Some(31.0)).off(), "31 sharp: down");
        assert_eq!(tuner(Some(-4.0)).off(), "in tune");
        assert_eq!(tuner(None).off(), "");
    }

    #[test]
    fn the_level_is_drawn_and_no_size_breaks_the_screen() {
        for (width, height) in [(1, 1), (10, 3), (20, 60), (80, 24), (120, 40), (200, 7)] {
            screen(&tuner(Some(7.0)), width, height);
        }
        let usual = screen(&tuner(None), 80, 24);
        for words in [
            "level ███",
            "good",
            "Pluck open string 6 (E).",
            "string 5",
            "flat  ──",
        ] {
            assert!(usual.contains(words), "{words}\n{usual}");
        }
    }
}
