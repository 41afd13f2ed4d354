//! Letters of a few big pixels, to be read from a metre away.

/// Rows of a letter.
pub const ROWS: usize = 5;

/// A letter's rows from top to bottom, `#` set. Words are told in these letters alone; what is not
/// there is a gap.
fn letter(c: char) -> [&'static str; ROWS] {
    match c.to_ascii_uppercase() {
        'A' => ["###", "# #", "###", "# #", "# #"],
        'B' => ["## ", "# #", "## ", "# #", "## "],
        'C' => ["###", "#  ", "#  ", "#  ", "###"],
        'D' => ["## ", "# #", "# #", "# #", "## "],
        'E' => ["###", "#  ", "## ", "#  ", "###"],
        'F' => ["###", "#  ", "## ", "#  ", "#  "],
        'G' => ["####", "#   ", "# ##", "#  #", "####"],
        'H' => ["# #", "# #", "###", "# #", "# #"],
        'I' => ["#", "#", "#", "#", "#"],
        'K' => ["# #", "# #", "## ", "# #", "# #"],
        'L' => ["#  ", "#  ", "#  ", "#  ", "###"],
        'M' => ["#   #", "## ##", "# # #", "#   #", "#   #"],
        'N' => ["#  #", "## #", "# ##", "#  #", "#  #"],
        'O' | '0' => ["###", "# #", "# #", "# #", "###"],
        'R' => ["## ", "# #", "## ", "# #", "# #"],
        'S' => ["###", "#  ", "###", "  #", "###"],
        'T' => ["###", " # ", " # ", " # ", " # "],
        'U' => ["# #", "# #", "# #", "# #", "###"],
        'W' => ["#   #", "#   #", "# # #", "## ##", "#   #"],
        'Z' => ["###", "  #", " # ", "#  ", "###"],
        '1' => [" # ", "## ", " # ", " # ", "###"],
        '2' => ["###", "  #", "###", "#  ", "###"],
        '3' => ["###", "  #", " ##", "  #", "###"],
        '4' => ["# #", "# #", "###", "  #", "  #"],
        '5' => ["###", "#  ", "###", "  #", "###"],
        '6' => ["###", "#  ", "###", "# #", "###"],
        _ => ["  ", "  ", "  ", "  ", "  "],
    }
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

/// The pixels in lines of characters: a line for each row, two columns each.
pub fn large(rows: &[Vec<bool>; ROWS]) -> Vec<String> {
    rows.iter()
        .map(|row| {
            row.iter()
                .map(|&set| if set { "██" } else { "  " })
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
    fn rows_of_a_text_are_equally_long_and_halves_join() {
        let rows = text("6 muted");
        assert!(rows.iter().all(|r| r.len() == rows[0].len()));
        assert_eq!(small(&text("T")), ["▀█▀", " █ ", " ▀ "]);
        assert_eq!(large(&text("I")), ["██"; 5]);
    }
}
