//! The screen of a trial: what is to be played, large, and what became of the last strum.

use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Color, Modifier, Style};
use ratatui::text::Line;
use ratatui::widgets::{Paragraph, Wrap};

use super::board::level_word;
use super::chord_picture::ChordPicture;
use super::font;
use super::view::level_share;
use crate::report::bar;
use crate::words::screen;

/// As where a fault is told: what is to be looked at.
const ORANGE: Color = Color::Indexed(208);
/// Columns that the letters keep beside a picture, and between the two.
const BESIDE: u16 = 44;
const GAP: u16 = 2;
/// Lines of letters for the chord and for the deed at the most.
const MOST_CHORD: usize = 1;
const MOST_ASK: usize = 3;
/// Lines that a sentence has at least.
const SENTENCE: u16 = 2;

/// Content of the screen.
#[derive(Debug, Clone, Default)]
pub struct AskedScreen {
    /// Line at the top: how far the trial is.
    pub status: String,
    /// Chord to play.
    pub chord: String,
    /// Task in a few words.
    pub ask: String,
    /// Task in full.
    pub in_full: String,
    /// State of the last strum, and what is waited for.
    pub state: String,
    /// True where the state is to be looked at: something was thrown away, or the sound has a fault.
    pub alarms: bool,
    /// The picture of the chord.
    pub picture: Option<ChordPicture>,
    /// Keys, at the bottom.
    pub keys: String,
    /// Peak at the microphone in dBFS; `None` where there is none.
    pub level_dbfs: Option<f32>,
}

/// Draws the screen.
pub fn draw(frame: &mut Frame, asked: &AskedScreen) {
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let dim = Style::new().add_modifier(Modifier::DIM);
    let wrapped = Wrap { trim: true };
    let [status, middle, level, keys] = Layout::vertical([
        Constraint::Length(2),
        Constraint::Min(1),
        Constraint::Length(1),
        Constraint::Length(1),
    ])
    .areas(frame.area());
    frame.render_widget(Paragraph::new(asked.status.as_str()), status);
    let middle = draw_picture(frame, middle, asked);
    let width = middle.width;
    // What does not fit in large letters is written in usual ones.
    let letters = |text: &str, most: usize, height: u16| {
        let lines = font::lines(text, width, most).filter(|lines| lines.len() < height.into());
        lines.unwrap_or_else(|| vec![text.to_owned()])
    };
    let height = middle.height.saturating_sub(2 * (SENTENCE + 1));
    let chord = letters(&asked.chord, MOST_CHORD, height);
    let height = height.saturating_sub(chord.len() as u16 + 1);
    let ask = letters(&asked.ask, MOST_ASK, height);
    let [chord_at, ask_at, in_full, state] = Layout::vertical([
        Constraint::Length(chord.len() as u16 + 1),
        Constraint::Length(ask.len() as u16 + 1),
        Constraint::Length(SENTENCE + 1),
        Constraint::Min(0),
    ])
    .areas(middle);
    frame.render_widget(Paragraph::new(chord.join("\n")), chord_at);
    frame.render_widget(Paragraph::new(ask.join("\n")).style(bold), ask_at);
    let sentence = Paragraph::new(asked.in_full.as_str()).wrap(wrapped);
    frame.render_widget(sentence, in_full);
    let style = match asked.alarms {
        true => bold.fg(ORANGE),
        false => bold,
    };
    let said = Paragraph::new(asked.state.as_str()).wrap(wrapped);
    frame.render_widget(said.style(style), state);
    let cells = usize::from(level.width.saturating_sub(24)).min(40);
    let meter = bar(level_share(asked.level_dbfs), cells);
    let meter = screen::level(meter, level_word(asked.level_dbfs));
    frame.render_widget(Paragraph::new(meter), level);
    frame.render_widget(Line::styled(asked.keys.as_str(), dim), keys);
}

/// Draws the picture on the right, the largest that fits, and gives what is left.
fn draw_picture(frame: &mut Frame, area: Rect, asked: &AskedScreen) -> Rect {
    let Some(picture) = &asked.picture else {
        return area;
    };
    for lines in [&picture.large, &picture.small] {
        let width = lines.iter().map(|line| line.chars().count()).max();
        let width = width.unwrap_or(0) as u16 + GAP;
        if area.width >= width + BESIDE && area.height >= lines.len() as u16 {
            let sides = [
                Constraint::Min(0),
                Constraint::Length(GAP),
                Constraint::Length(width),
            ];
            let [left, _, right] = Layout::horizontal(sides).areas(area);
            let lines: Vec<Line> = lines.iter().map(|line| Line::raw(line.as_str())).collect();
            frame.render_widget(Paragraph::new(lines), right);
            return left;
        }
    }
    area
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::Tuning;
    use ratatui::Terminal;
    use ratatui::backend::TestBackend;

    fn screen(asked: &AskedScreen, width: u16, height: u16) -> String {
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        terminal.draw(|frame| draw(frame, asked)).unwrap();
        terminal.backend().to_string()
    }

    fn asked() -> AskedScreen {
        let frets = "133211".parse().unwrap();
        AskedScreen {
            status: "strum 7 of 30".to_owned(),
            chord: "F".to_owned(),
            ask: "lift the little finger".to_owned(),
            in_full: "Lift it off the fret, and leave it lying lightly on string 4.".to_owned(),
            state: "Kept. Strum once, and let it ring.".to_owned(),
            alarms: false,
            picture: Some(ChordPicture::of(&frets, None, false, &Tuning::default())),
            keys: "x throw away   q quit".to_owned(),
            level_dbfs: Some(-20.0),
        }
    }

    #[test]
    fn what_to_do_is_large_and_everything_is_there_at_both_usual_sizes() {
        let plain = |text: &str| font::small(&font::text(text))[0].trim().to_owned();
        for (width, height) in [(80, 24), (120, 40)] {
            let seen = screen(&asked(), width, height);
            for words in [
                "strum 7 of 30",
                "leave it lying lightly",
                "Kept. Strum once",
                "level ███",
                "x throw away",
                "2",
                &plain("finger"),
            ] {
                assert!(seen.contains(words), "{words}\n{seen}");
            }
            assert!(!seen.contains("lift the little"), "{seen}");
        }
    }

    #[test]
    fn a_small_window_says_it_in_usual_letters_and_none_breaks_it() {
        let small = screen(&asked(), 60, 14);
        assert!(small.contains("lift the little finger"), "{small}");
        assert!(small.contains("Kept."), "{small}");
        for (width, height) in [(1, 1), (10, 3), (20, 60), (200, 7)] {
            screen(&asked(), width, height);
        }
    }
}
