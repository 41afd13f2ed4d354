//! Letters of a few big pixels, to be read from a metre away.

use crate::fretboard::ChordName;
use crate::report::picture::filled;

/// Rows of a letter.
pub const ROWS: usize = 5;

/// A letter's rows from top to bottom, `#` set. Small letters look like large ones; what is not there
/// is a gap.
fn letter(c: char) -> [&'static str; ROWS] {
    match c.to_ascii_uppercase() {
        FLAT => ["#  ", "#  ", "## ", "# #", "## "],
        MINOR => ["     ", "     ", "#### ", "# # #", "# # #"],
        'A' => ["###", "# #", "###", "# #", "# #"],
        'B' => ["## ", "# #", "## ", "# #", "## "],
        'C' => ["###", "#  ", "#  ", "#  ", "###"],
        'D' => ["## ", "# #", "# #", "# #", "## "],
        'E' => ["###", "#  ", "## ", "#  ", "###"],
        'F' => ["###", "#  ", "## ", "#  ", "#  "],
        'G' => ["####", "#   ", "# ##", "#  #", "####"],
        'H' => ["# #", "# #", "###", "# #", "# #"],
        'I' => ["#", "#", "#", "#", "#"],
        'J' => ["  #", "  #", "  #", "# #", "###"],
        'K' => ["# #", "# #", "## ", "# #", "# #"],
        'L' => ["#  ", "#  ", "#  ", "#  ", "###"],
        'M' => ["#   #", "## ##", "# # #", "#   #", "#   #"],
        'N' => ["#  #", "## #", "# ##", "#  #", "#  #"],
        'O' | '0' => ["###", "# #", "# #", "# #", "###"],
        'P' => ["###", "# #", "###", "#  ", "#  "],
        'Q' => ["### ", "# # ", "# # ", "# # ", "####"],
        'R' => ["## ", "# #", "## ", "# #", "# #"],
        'S' => ["###", "#  ", "###", "  #", "###"],
        'T' => ["###", " # ", " # ", " # ", " # "],
        'U' => ["# #", "# #", "# #", "# #", "###"],
        'V' => ["# #", "# #", "# #", "# #", " # "],
        'W' => ["#   #", "#   #", "# # #", "## ##", "#   #"],
        'X' => ["# #", "# #", " # ", "# #", "# #"],
        'Y' => ["# #", "# #", " # ", " # ", " # "],
        'Z' => ["###", "  #", " # ", "#  ", "###"],
        '1' => [" # ", "## ", " # ", " # ", "###"],
        '2' => ["###", "  #", "###", "#  ", "###"],
        '3' => ["###", "  #", " ##", "  #", "###"],
        '4' => ["# #", "# #", "###", "  #", "  #"],
        '5' => ["###", "#  ", "###", "  #", "###"],
        '6' => ["###", "#  ", "###", "# #", "###"],
        '7' => ["###", "  #", "  #", " # ", " # "],
        '8' => ["###", "# #", "###", "# #", "###"],
        '9' => ["###", "# #", "###", "  #", "###"],
        '#' => ["# # ", "####", "# # ", "####", "# # "],
        '+' => ["   ", " # ", "###", " # ", "   "],
        '-' => ["   ", "   ", "###", "   ", "   "],
        '/' => ["  #", "  #", " # ", "#  ", "#  "],
        '(' => [" #", "# ", "# ", "# ", " #"],
        ')' => ["# ", " #", " #", " #", "# "],
        '.' => [" ", " ", " ", " ", "#"],
        ',' => ["  ", "  ", "  ", " #", "# "],
        ':' => [" ", "#", " ", "#", " "],
        ';' => ["  ", " #", "  ", " #", "# "],
        '!' => ["#", "#", "#", " ", "#"],
        '?' => ["###", "  #", " ##", "   ", " # "],
        '\'' => ["#", "#", " ", " ", " "],
        _ => ["  ", "  ", "  ", "  ", "  "],
    }
}

/// Stand for a chord's flat sign and its minor sign, which are no capital letters.
const FLAT: char = '\u{266d}';
const MINOR: char = '\u{1d62a}';

/// A word with the signs of a chord in place of its small letters, where it is a chord's name.
fn signed(word: &str) -> String {
    let bare = word.trim_matches(|c: char| !c.is_ascii_alphanumeric() && c != '#');
    if bare.parse::<ChordName>().is_err() {
        return word.to_owned();
    }
    let mut letters = word.chars();
    let mut signed = String::new();
    // Any of these after the root is its flat sign.
    let mut before = None;
    for c in letters.by_ref() {
        let root = before.is_some_and(|b: char| b.is_ascii_uppercase());
        signed.push(match c {
            'b' if root => FLAT,
            'm' => MINOR,
            other => other,
        });
        before = Some(c);
    }
    signed
}

/// The lines of a text in pixels that are at most so many columns wide, each a text of its own.
pub fn wrapped(text: &str, columns: usize) -> Vec<String> {
    let words = text.split_whitespace().map(signed);
    filled(words, |line| width(line) <= columns)
}

/// A text in half blocks, at most so many columns wide and so many letters high, an empty line between these;
/// `None` where it does not fit.
pub fn lines(text: &str, columns: u16, most_lines: usize) -> Option<Vec<String>> {
    let wrapped = wrapped(text, columns.into());
    let narrow = wrapped.iter().all(|line| width(line) <= columns.into());
    (narrow && wrapped.len() <= most_lines).then(|| {
        let blocks = wrapped.iter().map(|line| small(&self::text(line)));
        blocks.collect::<Vec<_>>().join(&String::new())
    })
}

/// Columns of pixels that a text takes.
pub fn width(text: &str) -> usize {
    self::text(text)[0].len()
}

/// The verdicts' symbols in the same pixels.
fn sign(symbol: &str) -> [&'static str; ROWS] {
    match symbol {
        "●" => [" ### ", "#####", "#####", "#####", " ### "],
        "○" => [" ### ", "#   #", "#   #", "#   #", " ### "],
        "■" => ["#####", "#####", "#####", "#####", "#####"],
        "▼" => ["#####", "#####", " ### ", " ### ", "  #  "],
        "▲" => ["  #  ", " ### ", " ### ", "#####", "#####"],
        "≈" => [" #  #", "# ## ", "     ", " #  #", "# ## "],
        "≠" => ["   # ", "#####", "  #  ", "#####", " #   "],
        "?" => [" ### ", "#   #", "  ## ", "     ", "  #  "],
        _ => ["     ", "     ", "     ", "     ", "     "],
    }
}

/// Pixels of a text, row by row, one column between letters.
pub fn text(text: &str) -> [Vec<bool>; ROWS] {
    let mut rows: [Vec<bool>; ROWS] = Default::default();
    for c in text.chars() {
        put(&mut rows, letter(c));
    }
    rows
}

/// Pixels of a symbol.
pub fn symbol(symbol: &str) -> [Vec<bool>; ROWS] {
    let mut rows: [Vec<bool>; ROWS] = Default::default();
    put(&mut rows, sign(symbol));
    rows
}

fn put(rows: &mut [Vec<bool>; ROWS], letter: [&str; ROWS]) {
    for (row, line) in rows.iter_mut().zip(letter) {
        if !row.is_empty() {
            row.push(false);
        }
        row.extend(line.chars().map(|c| c == '#'));
    }
}

/// The pixels in lines of characters: two rows of pixels a line, one column each.
pub fn small(rows: &[Vec<bool>; ROWS]) -> Vec<String> {
    (0..ROWS.div_ceil(2))
        .map(|line| {
            (0..rows[0].len())
                .map(|x| {
                    let set = |y: usize| rows.get(y).is_some_and(|row| row[x]);
                    match (set(2 * line), set(2 * line + 1)) {
                        (true, true) => '█',
                        (true, false) => '▀',
                        (false, true) => '▄',
                        (false, false) => ' ',
                    }
                })
                .collect()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::picture::symbol as symbol_of;
    use crate::verdict::Verdict;

    #[test]
    fn every_word_and_symbol_can_be_written_and_no_two_symbols_look_alike() {
        let mut seen = Vec::new();
        for verdict in Verdict::ALL {
            for c in verdict.word().chars().filter(|c| *c != ' ') {
                assert!(text(&c.to_string()).concat().contains(&true), "{c}");
            }
            let pixels = symbol(symbol_of(verdict));
            assert!(pixels.concat().contains(&true), "{verdict:?}");
            assert!(!seen.contains(&pixels), "{verdict:?}");
            seen.push(pixels);
        }
    }

    #[test]
    fn chords_keep_their_flat_and_minor_signs_and_words_do_not_get_any() {
        assert_eq!(signed("Bbm7"), "B\u{266d}\u{1d62a}7");
        assert_eq!(signed("(Ab)"), "(A\u{266d})");
        assert_eq!(signed("About"), "About");
        assert_ne!(text(&signed("Bb")), text("BB"));
    }

    #[test]
    fn lines_of_pixels_keep_within_their_columns_and_lose_no_word() {
        let words = "Come down on the tip, close behind the fret.";
        let lines = wrapped(words, 60);
        assert!(lines.len() > 2, "{lines:?}");
        assert!(lines.iter().all(|line| width(line) <= 60), "{lines:?}");
        assert_eq!(lines.join(" "), words);
    }

    #[test]
    fn rows_of_a_text_are_equally_long_and_halves_join() {
        let rows = text("6 muted");
        assert!(rows.iter().all(|r| r.len() == rows[0].len()));
        assert_eq!(small(&text("T")), ["▀█▀", " █ ", " ▀ "]);
    }
}
