//! The terminal, taken over whole while this lives.

use std::io;
use std::time::Duration;

use ratatui::crossterm::event::{self, Event, KeyCode, KeyEventKind, KeyModifiers};
use ratatui::{DefaultTerminal, Frame};

/// A key that a session knows, or another letter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    /// The end of the session.
    Quit,
    /// Another letter, as typed.
    Letter(char),
    /// The window has another size: draw again.
    Resized,
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
        self.terminal.draw(draw).map(|_| ())
    }

    /// Draws everything anew next time, whatever other programs have written over it.
    ///
    /// # Errors
    /// Where the terminal is gone.
    pub fn clear(&mut self) -> io::Result<()> {
        self.terminal.clear()
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
                        _ => continue,
                    }));
                }
                Event::Resize(..) => return Ok(Some(Key::Resized)),
                _ => {}
            }
        }
        Ok(None)
    }
}

impl Drop for Stage {
    fn drop(&mut self) {
        ratatui::restore();
    }
}
