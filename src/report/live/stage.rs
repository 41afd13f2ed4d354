//! The terminal, taken over whole while this lives.

use std::io;
use std::time::Duration;

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{self, Event, KeyCode, KeyEventKind, KeyModifiers};
use ratatui::{DefaultTerminal, Frame};

use crate::listening::Wish;
use crate::report::terminal::is_unsafe;

/// A key that a session knows, or another letter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    /// The end of the session.
    Quit,
    /// Another letter, as typed.
    Letter(char),
    /// Step on: page down, or the arrow right or down, as foot pedals send them.
    Forward,
    /// Back: page up, or the arrow left or up.
    Back,
    /// The window has another size: draw again.
    Resized,
}

impl Key {
    /// Wish that it stands for where something is listened to; `None` where it asks for nothing.
    pub fn wish(self) -> Option<Wish> {
        match self {
            Key::Quit => Some(Wish::Quit),
            Key::Letter('n' | ' ') | Key::Forward => Some(Wish::Next),
            Key::Back => Some(Wish::Key('p')),
            Key::Letter('h') => Some(Wish::Reference),
            Key::Letter(c) => Some(Wish::Key(c)),
            Key::Resized => None,
        }
    }
}

/// A full-screen terminal; given back when this is dropped, and on a panic.
pub struct Stage {
    terminal: DefaultTerminal,
}

impl Stage {
    /// Takes the terminal over. Work with sound devices first: sound systems write on terminals.
    ///
    /// # Errors
    /// Where standard output is no terminal.
    pub fn open() -> io::Result<Self> {
        Ok(Stage {
            terminal: ratatui::try_init()?,
        })
    }

    /// Draws.
    ///
    /// # Errors
    /// Where the terminal is gone.
    pub fn draw(&mut self, draw: impl FnOnce(&mut Frame)) -> io::Result<()> {
        let safely = |frame: &mut Frame| {
            draw(frame);
            make_safe(frame.buffer_mut());
        };
        self.terminal.draw(safely).map(|_| ())
    }

    /// Draws everything anew next time, whatever other programs have written over it.
    ///
    /// # Errors
    /// Where the terminal is gone.
    pub fn clear(&mut self) -> io::Result<()> {
        self.terminal.clear()
    }

    /// Lines of the terminal; 0 where they cannot be told.
    pub fn height(&self) -> u16 {
        self.terminal.size().map_or(0, |size| size.height)
    }

    /// The next key that waits, if any.
    ///
    /// # Errors
    /// Where the terminal is gone.
    pub fn key(&mut self) -> io::Result<Option<Key>> {
        while event::poll(Duration::ZERO)? {
            match event::read()? {
                Event::Key(key) if key.kind != KeyEventKind::Release => {
                    let control = key.modifiers.contains(KeyModifiers::CONTROL);
                    return Ok(Some(match key.code {
                        KeyCode::Esc => Key::Quit,
                        KeyCode::Char('c' | 'd') if control => Key::Quit,
                        KeyCode::Char('q') => Key::Quit,
                        KeyCode::Char(c) => Key::Letter(c),
                        KeyCode::PageDown | KeyCode::Right | KeyCode::Down => Key::Forward,
                        KeyCode::PageUp | KeyCode::Left | KeyCode::Up => Key::Back,
                        _ => continue,
                    }));
                }
                Event::Resize(..) => return Ok(Some(Key::Resized)),
                _ => {}
            }
        }
        Ok(None)
    }

    /// The next key, waited for.
    ///
    /// # Errors
    /// Where the terminal is gone.
    pub fn wait(&mut self) -> io::Result<Key> {
        loop {
            if let Some(key) = self.key()? {
                return Ok(key);
            }
            event::poll(WAIT)?;
        }
    }
}

/// How long a key is waited for before it is looked for anew.
const WAIT: Duration = Duration::from_millis(200);

/// Nothing that a terminal obeys stays in a cell, whoever named the file or the chord there.
fn make_safe(screen: &mut Buffer) {
    for cell in &mut screen.content {
        if cell.symbol().contains(is_unsafe) {
            cell.set_char(char::REPLACEMENT_CHARACTER);
        }
    }
}

impl Drop for Stage {
    fn drop(&mut self) {
        ratatui::restore();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ratatui::layout::Rect;
    use ratatui::widgets::{Paragraph, Widget};

    #[test]
    fn a_cell_of_the_screen_holds_nothing_that_a_terminal_obeys() {
        let area = Rect::new(0, 0, 12, 1);
        let mut screen = Buffer::empty(area);
        Paragraph::new("F\u{200d}a\u{202e}b\x1b[2J").render(area, &mut screen);
        screen[(11, 0)].set_symbol("\u{9b}");
        make_safe(&mut screen);
        let text: String = screen.content.iter().map(|cell| cell.symbol()).collect();
        assert!(!text.contains(is_unsafe), "{text:?}");
        assert!(text.contains('a') && text.ends_with('\u{fffd}'), "{text:?}");
    }
}
