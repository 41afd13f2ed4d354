//! Foreign text as one line that is safe to show: names of files, what files hold.

use std::borrow::Cow;
use std::path::Path;

/// Tells whether a terminal may obey this character, or show it not at all or in another place: control
/// characters (C0, C1), marks and overrides of direction, separators of lines, what has no width, tags
/// (Unicode, general categories Cc, Cf, Zl and Zp as far as they change what is seen).
pub fn is_unsafe(letter: char) -> bool {
    letter.is_control()
        || matches!(letter,
            '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

/// Appends what stands for a character that is not shown.
pub fn put_escape(letter: char, into: &mut Vec<u8>) {
    for unit in letter.encode_utf16(&mut [0; 2]) {
        into.extend_from_slice(format!("\\u{unit:04x}").as_bytes());
    }
}

/// A foreign text as one line that is safe to show.
pub fn visible(text: &str) -> Cow<'_, str> {
    if !text.contains(is_unsafe) {
        return Cow::Borrowed(text);
    }
    let mut safe = Vec::with_capacity(text.len() + 6);
    for letter in text.chars() {
        match is_unsafe(letter) {
            true => put_escape(letter, &mut safe),
            false => safe.extend_from_slice(letter.encode_utf8(&mut [0; 4]).as_bytes()),
        }
    }
    Cow::Owned(String::from_utf8_lossy(&safe).into_owned())
}

/// The name of a file as one line that is safe to show.
pub fn shown(path: &Path) -> String {
    visible(&path.to_string_lossy()).into_owned()
}
