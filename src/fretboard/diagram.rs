//! A chord picture in text, as a player sees the neck upright: the nut on top, string 6 on the left
//! (on the right for the left-handed).

use std::fmt;

use super::{Fingering, Frets, NoteName, STRINGS, Voicing, string_number};
use crate::words;

/// Frets shown at least, so that pictures stand well side by side.
const SHOWN: u8 = 4;
/// Columns from one string to the next.
const STEP: usize = 4;
/// Columns left of the first string, for the fret's number.
const MARGIN: usize = 4;

/// A chord picture. Its [`Display`](fmt::Display) is lines of up to [`Diagram::WIDTH`] columns: string
/// numbers, x and o over the nut, the frets with their numbers and a colon, so that no number is taken for a finger, and
/// the notes where they are given.
///
/// Fingers stand where they hold a string, `━` where a barre lies; a dot where no fingering is known.
#[derive(Debug, Clone, Copy)]
pub struct Diagram<'a> {
    frets: &'a Frets,
    fingering: Option<&'a Fingering>,
    notes: Option<[Option<NoteName>; STRINGS]>,
    left_handed: bool,
}

impl<'a> Diagram<'a> {
    /// Meaning of a picture's signs, in two short lines.
    pub const LEGEND: &'static str = words::guitar::LEGEND;

    /// Columns that the longest line may take, the second letter of a note on the right included.
    pub const WIDTH: usize = MARGIN + STEP * (STRINGS - 1) + 2;

    /// The picture of frets alone.
    pub fn of(frets: &'a Frets) -> Self {
        Diagram {
            frets,
            fingering: None,
            notes: None,
            left_handed: false,
        }
    }

    /// The picture of a voicing, with its fingers.
    pub fn of_voicing(voicing: &'a Voicing) -> Self {
        Diagram {
            fingering: Some(&voicing.fingering),
            ..Diagram::of(&voicing.frets)
        }
    }

    /// Adds fingers.
    pub fn fingers(self, fingering: &'a Fingering) -> Self {
        Diagram {
            fingering: Some(fingering),
            ..self
        }
    }

    /// The finger that holds a string (0 = string 6), where that is known.
    pub fn finger(&self, string: usize) -> Option<u8> {
        self.fingering?.0[string]
    }

    /// Adds the notes of the strings (6 to 1) below.
    pub fn notes(self, notes: [Option<NoteName>; STRINGS]) -> Self {
        Diagram {
            notes: Some(notes),
            ..self
        }
    }

    /// Turns it round for a left-handed player: string 6 on the right.
    pub fn left_handed(self, left_handed: bool) -> Self {
        Diagram {
            left_handed,
            ..self
        }
    }

    /// The first and last fret shown; from the nut where the hand is near it.
    pub fn window(&self) -> (u8, u8) {
        let highest = self.frets.highest();
        let first = match self.frets.lowest_held() {
            Some(lowest) if highest > SHOWN => lowest,
            _ => 1,
        };
        (first, highest.max(first.saturating_add(SHOWN - 1)))
    }

    /// Puts one mark per string into its column.
    fn line(&self, marks: [String; STRINGS]) -> String {
        let mut line = " ".repeat(MARGIN);
        for column in 0..STRINGS {
            let mark = &marks[self.string_in(column)];
            line.push_str(&format!("{mark:<STEP$}"));
        }
        line
    }

    /// Index of the string drawn in a column.
    fn string_in(&self, column: usize) -> usize {
        if self.left_handed {
            STRINGS - 1 - column
        } else {
            column
        }
    }

    /// A wire across the neck: the nut, a fret, or the last one shown; `beside` stands before it.
    fn wire(&self, beside: &str, [left, middle, right, along]: [char; 4]) -> String {
        let mut line = format!("{beside:MARGIN$}");
        for column in 0..STRINGS {
            line.push(match column {
                0 => left,
                5 => right,
                _ => middle,
            });
            let gap = if column + 1 < STRINGS { along } else { ' ' };
            line.extend(std::iter::repeat_n(gap, STEP - 1));
        }
        line
    }

    /// The strings between two wires, with what holds them there.
    fn space(&self, fret: u8) -> String {
        let mut line = format!("{fret:>width$}: ", width = MARGIN - 2);
        for column in 0..STRINGS {
            let string = self.string_in(column);
            line.push(self.mark(string, fret));
            if column + 1 < STRINGS {
                let next = self.string_in(column + 1);
                let barred = self.barred(string, fret) && self.barred(next, fret);
                let gap = if barred { '━' } else { ' ' };
                line.extend(std::iter::repeat_n(gap, STEP - 1));
            }
        }
        line
    }

    /// What a string shows at a fret: its finger, a barre that lies there, or itself.
    fn mark(&self, string: usize, fret: u8) -> char {
        if self.frets.0[string] == Some(fret) {
            let finger = self.fingering.and_then(|f| f.0[string]);
            return finger.map_or('●', |finger| char::from(b'0' + finger));
        }
        if self.barred(string, fret) {
            '━'
        } else {
            '│'
        }
    }

    /// Tells whether a finger lies across this string (0 = string 6) at this fret.
    pub fn barred(&self, string: usize, fret: u8) -> bool {
        let Some(fingering) = self.fingering else {
            return false;
        };
        (1..=4).any(|finger| {
            let held =
                |i: &usize| fingering.0[*i] == Some(finger) && self.frets.0[*i] == Some(fret);
            let first = (0..STRINGS).find(held);
            let last = (0..STRINGS).rfind(held);
            first < last && first <= Some(string) && Some(string) <= last
        })
    }
}

impl fmt::Display for Diagram<'_> {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (first, last) = self.window();
        let over = |fret: Option<u8>| match fret {
            None => "x",
            Some(0) => "o",
            Some(_) => "",
        };
        let mut lines = vec![
            self.line(std::array::from_fn(|i| string_number(i).to_string())),
            self.line(self.frets.0.map(|fret| over(fret).to_owned())),
            self.wire(
                words::picture::FRET,
                if first == 1 {
                    ['╒', '╤', '╕', '═']
                } else {
                    ['├', '┼', '┤', '─']
                },
            ),
        ];
        for fret in first..=last {
            lines.push(self.space(fret));
            lines.push(self.wire("", ['├', '┼', '┤', '─']));
        }
        if let Some(notes) = self.notes {
            let named = |note: Option<NoteName>| note.map_or(String::new(), |n| n.to_string());
            lines.push(self.line(notes.map(named)));
        }
        let lines: Vec<&str> = lines.iter().map(|line| line.trim_end()).collect();
        out.write_str(&lines.join("\n"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::{Tuning, library};

    fn voicing(name: &str) -> Voicing {
        library::voicing_for(&name.parse().unwrap(), None, None, &Tuning::default()).unwrap()
    }

    #[test]
    fn a_barre_chord_near_the_nut_shows_fingers_barre_and_notes() {
        let bb = voicing("Bb");
        let picture = Diagram::of_voicing(&bb).notes(bb.notes(&Tuning::default()));
        let expected = "
    6   5   4   3   2   1
    x
fret╒═══╤═══╤═══╤═══╤═══╕
 1: │   1━━━━━━━━━━━━━━━1
    ├───┼───┼───┼───┼───┤
 2: │   │   │   │   │   │
    ├───┼───┼───┼───┼───┤
 3: │   │   2   3   4   │
    ├───┼───┼───┼───┼───┤
 4: │   │   │   │   │   │
    ├───┼───┼───┼───┼───┤
        Bb  F   Bb  D   F";
        assert_eq!(format!("\n{picture}"), expected);
    }

    #[test]
    fn a_left_handed_picture_is_the_mirror_image() {
        let g = voicing("G/B");
        let expected = "
    1   2   3   4   5   6
            o   o       x
fret╒═══╤═══╤═══╤═══╤═══╕
 1: │   │   │   │   │   │
    ├───┼───┼───┼───┼───┤
 2: │   │   │   │   1   │
    ├───┼───┼───┼───┼───┤
 3: 4   3   │   │   │   │
    ├───┼───┼───┼───┼───┤
 4: │   │   │   │   │   │
    ├───┼───┼───┼───┼───┤";
        assert_eq!(
            format!("\n{}", Diagram::of_voicing(&g).left_handed(true)),
            expected
        );
    }

    #[test]
    fn frets_without_fingers_are_dots_and_high_ones_are_numbered() {
        let frets: Frets = "x 10 12 12 12 10".parse().unwrap();
        let expected = "
    6   5   4   3   2   1
    x
fret├───┼───┼───┼───┼───┤
10: │   ●   │   │   │   ●
    ├───┼───┼───┼───┼───┤
11: │   │   │   │   │   │
    ├───┼───┼───┼───┼───┤
12: │   │   ●   ●   ●   │
    ├───┼───┼───┼───┼───┤
13: │   │   │   │   │   │
    ├───┼───┼───┼───┼───┤";
        assert_eq!(format!("\n{}", Diagram::of(&frets)), expected);
    }
}
