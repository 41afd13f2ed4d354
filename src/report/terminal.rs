//! Foreign text made safe to show: names of files, what files hold, what a diary or a lesson says.
//!
//! A terminal obeys control characters, and marks of direction and characters without width make a text
//! look like another. Both are shown as the escape that JSON has for them, as in `\u001b`: that is plain to see
//! on a screen, and in a JSON string it means the character itself. So one writer, [`Safe`], serves everything
//! that the program prints, and nothing can slip past it. It cannot know a line's end in a name from the
//! program's own: [`visible`] makes one line of a text before it is put into a sentence.

use std::io::{self, Write};

use super::picture::COLOURS;
use crate::words::foreign::put_escape;
pub use crate::words::foreign::{is_unsafe, shown, visible};

/// Writes text on, what is unsafe to show as its escape. Ends of lines pass, and the program's own colours
/// where it uses them.
pub struct Safe<'a> {
    out: &'a mut dyn Write,
    colour: bool,
    /// The beginning of a character or of a colour, whose end is still to come.
    begun: Vec<u8>,
    safe: Vec<u8>,
}

impl<'a> Safe<'a> {
    /// Writes to `out`; `colour`: whether the program's own colours pass.
    pub fn new(out: &'a mut dyn Write, colour: bool) -> Self {
        Safe {
            out,
            colour,
            begun: Vec::new(),
            safe: Vec::new(),
        }
    }

    /// Appends the safe form of `bytes`; gives how many at the end are only begun. `last`: no more come.
    fn put(&mut self, bytes: &[u8], last: bool) -> usize {
        let mut at = 0;
        while at < bytes.len() {
            let rest = &bytes[at..];
            let plain = rest.iter().take_while(|b| is_plain(**b)).count();
            if plain > 0 {
                self.safe.extend_from_slice(&rest[..plain]);
                at += plain;
                continue;
            }
            if self.colour && rest[0] == 0x1b {
                if let Some(own) = COLOURS.iter().find(|c| rest.starts_with(c.as_bytes())) {
                    self.safe.extend_from_slice(own.as_bytes());
                    at += own.len();
                    continue;
                }
                if !last && COLOURS.iter().any(|c| c.as_bytes().starts_with(rest)) {
                    return rest.len();
                }
            }
            // No character has more than four bytes.
            match std::str::from_utf8(&rest[..rest.len().min(4)]) {
                Err(error) if error.valid_up_to() == 0 => match error.error_len() {
                    None if !last && rest.len() < 4 => return rest.len(),
                    length => {
                        self.safe.extend_from_slice("\u{fffd}".as_bytes());
                        at += length.unwrap_or(rest.len());
                    }
                },
                valid => {
                    let end = valid.map_or_else(|error| error.valid_up_to(), str::len);
                    let letter = std::str::from_utf8(&rest[..end])
                        .ok()
                        .and_then(|text| text.chars().next())
                        .unwrap_or(char::REPLACEMENT_CHARACTER);
                    match is_unsafe(letter) {
                        true => put_escape(letter, &mut self.safe),
                        false => self
                            .safe
                            .extend_from_slice(letter.encode_utf8(&mut [0; 4]).as_bytes()),
                    }
                    at += letter.len_utf8();
                }
            }
        }
        0
    }

    fn pass(&mut self, bytes: &[u8], last: bool) -> io::Result<()> {
        let mut all = std::mem::take(&mut self.begun);
        let bytes = match all.is_empty() {
            true => bytes,
            false => {
                all.extend_from_slice(bytes);
                &all
            }
        };
        self.safe.clear();
        let open = self.put(bytes, last);
        self.begun = bytes[bytes.len() - open..].to_vec();
        self.out.write_all(&self.safe)
    }
}

/// Bytes that pass whatever stands around them.
fn is_plain(byte: u8) -> bool {
    byte == b'\n' || (b' '..0x7f).contains(&byte)
}

impl Write for Safe<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.pass(bytes, false)?;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.pass(&[], true)?;
        self.out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// What comes out of pieces so long.
    fn written(text: &[u8], colour: bool, piece: usize) -> String {
        let mut out = Vec::new();
        let mut safe = Safe::new(&mut out, colour);
        for piece in text.chunks(piece) {
            safe.write_all(piece).unwrap();
        }
        safe.flush().unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn what_a_terminal_would_obey_is_shown_as_its_escape() {
        let hostile = "a\x1b[2Jb\u{202e}c\u{9b}31m\u{200b}\u{2066}\r\x07\u{e0041}é●\n";
        let expected =
            "a\\u001b[2Jb\\u202ec\\u009b31m\\u200b\\u2066\\u000d\\u0007\\udb40\\udc41é●\n";
        for piece in 1..=hostile.len() {
            assert_eq!(written(hostile.as_bytes(), false, piece), expected);
            assert_eq!(written(hostile.as_bytes(), true, piece), expected);
        }
        assert_eq!(visible(hostile), expected.replace('\n', "\\u000a"));
        assert_eq!(written(b"a\xffb\xe2\x82", false, 1), "a\u{fffd}b\u{fffd}");
    }

    #[test]
    fn the_programs_own_colours_pass_where_it_uses_them() {
        for colour in COLOURS {
            let text = format!("a{colour}b");
            for piece in 1..8 {
                assert_eq!(written(text.as_bytes(), true, piece), text);
            }
            assert!(!written(text.as_bytes(), false, 3).contains('\x1b'));
        }
        assert_eq!(written(b"\x1b[38;5", true, 2), "\\u001b[38;5");
    }

    #[test]
    fn json_means_the_same_after_it() {
        let name = "\u{202e}a\x1b\u{9b}\u{7f}\u{e0001}\"\\\n é";
        let json = serde_json::to_string(name).unwrap();
        let safe = written(json.as_bytes(), false, 5);
        assert_eq!(serde_json::from_str::<String>(&safe).unwrap(), name);
        assert!(!safe.contains(is_unsafe));
    }

    proptest! {
        #[test]
        fn nothing_unsafe_ever_passes(bytes: Vec<u8>, text in "\\PC*\\p{C}*", piece in 1usize..9) {
            for bytes in [bytes.as_slice(), text.as_bytes()] {
                let out = written(bytes, false, piece);
                prop_assert!(!out.contains(|c| c != '\n' && is_unsafe(c)), "{:?}", out);
            }
            prop_assert!(!visible(&text).contains(is_unsafe));
        }
    }
}
