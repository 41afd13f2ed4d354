//! The picture of what to play, in the two sizes that fit on screens.

use super::font;
use crate::fretboard::library::voicing_of;
use crate::fretboard::{Diagram, Fingering, Frets, NoteName, STRINGS, Tuning, string_number};

/// Columns from one string to the next in the large form.
const STEP: usize = 6;
/// Columns left of the first string there, for the fret's number.
const MARGIN: usize = 5;
/// Lines between two frets there: as high as a letter of half blocks.
const SPACE: usize = 3;

/// A chord picture: lines of text, small and large.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChordPicture {
    /// Lines as [`Diagram`] draws them.
    pub small: Vec<String>,
    /// Lines with fingers in letters that read from a metre.
    pub large: Vec<String>,
}

impl ChordPicture {
    /// The picture of frets, with these fingers or else those that the library has for them; `left`: as a
    /// left-handed player sees the neck.
    pub fn of(frets: &Frets, fingers: Option<&Fingering>, left: bool, tuning: &Tuning) -> Self {
        let known = voicing_of(frets, tuning);
        let fingers = fingers.or(known.as_ref().map(|voicing| &voicing.fingering));
        let diagram = match fingers {
            Some(fingers) => Diagram::of(frets).fingers(fingers),
            None => Diagram::of(frets),
        };
        let notes = std::array::from_fn(|i| {
            let pitch = frets.0[i].map(|fret| tuning.midi(i, fret))?;
            Some(match &known {
                Some(voicing) => voicing.chord.spell(pitch % 12),
                None => NoteName::usual(pitch % 12),
            })
        });
        let small = diagram.notes(notes).left_handed(left).to_string();
        ChordPicture {
            small: small.lines().map(str::to_owned).collect(),
            large: large(frets, &diagram, &notes, left),
        }
    }
}

fn large(
    frets: &Frets,
    diagram: &Diagram,
    notes: &[Option<NoteName>; STRINGS],
    left: bool,
) -> Vec<String> {
    let string_in = |column: usize| match left {
        true => STRINGS - 1 - column,
        false => column,
    };
    let words = |word: &dyn Fn(usize) -> String| {
        let mut line = " ".repeat(MARGIN);
        for column in 0..STRINGS {
            line.push_str(&format!("{:<STEP$}", word(string_in(column))));
        }
        line.trim_end().to_owned()
    };
    let wire = |[first, middle, last, along]: [&str; 4]| {
        let gap = along.repeat(STEP - 1);
        let inner = [gap.as_str(), middle].concat().repeat(STRINGS - 2);
        format!("{}{first}{inner}{gap}{last}", " ".repeat(MARGIN))
    };
    let over = |i: usize| match frets.0[i] {
        None => "x".to_owned(),
        Some(0) => "o".to_owned(),
        Some(_) => String::new(),
    };
    let (first, last) = diagram.window();
    let mut lines = vec![
        words(&|i| string_number(i).to_string()),
        words(&over),
        match first {
            1 => wire(["╒", "╤", "╕", "═"]),
            _ => wire(["├", "┼", "┤", "─"]),
        },
    ];
    for fret in first..=last {
        let mut space = vec![vec![' '; MARGIN + STEP * STRINGS]; SPACE];
        let middle = SPACE / 2;
        for (column, c) in format!("{fret:>2}").chars().enumerate() {
            space[middle][column] = c;
        }
        for column in 0..STRINGS {
            let (x, string) = (MARGIN + STEP * column, string_in(column));
            for row in &mut space {
                row[x] = '│';
            }
            let barred = diagram.barred(string, fret);
            let next = (column + 1 < STRINGS).then(|| string_in(column + 1));
            if barred && next.is_some_and(|next| diagram.barred(next, fret)) {
                space[middle][x..=x + STEP].fill('━');
            }
        }
        // Over the barre, not under it.
        for column in 0..STRINGS {
            let (x, string) = (MARGIN + STEP * column, string_in(column));
            if frets.0[string] != Some(fret) {
                continue;
            }
            let pixels = match diagram.finger(string) {
                Some(finger) => font::text(&finger.to_string()),
                None => font::symbol("●"),
            };
            let mark = font::small(&pixels);
            let from = x - mark[0].chars().count() / 2;
            for (row, mark) in space.iter_mut().zip(&mark) {
                for (i, c) in mark.chars().enumerate() {
                    row[from + i] = c;
                }
            }
        }
        let rows = space.iter().map(|row| row.iter().collect::<String>());
        lines.extend(rows.map(|row| row.trim_end().to_owned()));
        lines.push(wire(["├", "┼", "┤", "─"]));
    }
    lines.push(words(&|i| {
        notes[i].map_or(String::new(), |n| n.to_string())
    }));
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture(frets: &str, fingers: Option<&str>, left: bool) -> ChordPicture {
        let fingers = fingers.map(|f| f.parse().unwrap());
        ChordPicture::of(
            &frets.parse().unwrap(),
            fingers.as_ref(),
            left,
            &Tuning::default(),
        )
    }

    #[test]
    fn the_large_form_shows_every_finger_where_it_stands() {
        let f = picture("133211", None, false).large.join("\n");
        insta::assert_snapshot!(f, @r"
            6     5     4     3     2     1

            ╒═════╤═════╤═════╤═════╤═════╕
           ▄█     │     │     │    ▄█    ▄█
        1   █ ━━━━━━━━━━━━━━━━━━━━━ █ ━━━ █
           ▀▀▀    │     │     │    ▀▀▀   ▀▀▀
            ├─────┼─────┼─────┼─────┼─────┤
            │     │     │    ▀▀█    │     │
        2   │     │     │    █▀▀    │     │
            │     │     │    ▀▀▀    │     │
            ├─────┼─────┼─────┼─────┼─────┤
            │    ▀▀█   █ █    │     │     │
        3   │     ▀█   ▀▀█    │     │     │
            │    ▀▀▀     ▀    │     │     │
            ├─────┼─────┼─────┼─────┼─────┤
            │     │     │     │     │     │
        4   │     │     │     │     │     │
            │     │     │     │     │     │
            ├─────┼─────┼─────┼─────┼─────┤
            F     C     F     A     C     F
        ");
    }

    #[test]
    fn left_handed_both_forms_are_mirrored_and_given_fingers_are_shown() {
        let barre = picture("111111", Some("111111"), true);
        for form in [&barre.small, &barre.large] {
            let numbers: Vec<&str> = form[0].split_whitespace().collect();
            assert_eq!(numbers, ["1", "2", "3", "4", "5", "6"]);
        }
        assert!(barre.small.join("").contains("1━━━1━━━1"), "{barre:?}");
        assert!(picture("111111", None, false).small.join("").contains('●'));
    }

    #[test]
    fn every_frets_have_a_picture_of_both_forms() {
        for frets in ["000000", "xx3xxx", "x 10 12 12 12 10", "35xx0x"] {
            let picture = picture(frets, None, false);
            assert!(picture.large.len() > picture.small.len(), "{frets}");
        }
    }
}
