//! What the six strings say about each other: the scores of a string's other frets and of the other
//! strings, beside its own evidence.

use crate::fretboard::STRINGS;

/// What became of an expected note: the classes of the model's second forest, in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    Rings,
    Choked,
    Gone,
    OtherFret,
}

/// Number of outcomes.
pub const OUTCOMES: usize = 4;
/// Features that are added to a note's own evidence.
pub const FEATURES: usize = 22;

/// A note and the log odds that it sounds and rings on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scored {
    pub fret: u8,
    pub midi: u8,
    pub log_odds: f32,
}

/// Scores of all notes that matter for a voicing.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Scores {
    pub expected: [Option<Scored>; STRINGS],
    pub others: [Vec<Scored>; STRINGS],
}

/// Intervals in semitones at which another string is likely to hide or to be hidden.
const INTERVALS: [i32; 11] = [0, -12, 12, -24, 24, -19, 19, -7, -5, 7, 5];

impl Scores {
    /// The other fret of `string` that scores best.
    pub fn best_other(&self, string: usize) -> Option<Scored> {
        self.others[string]
            .iter()
            .copied()
            .max_by(|a, b| a.log_odds.total_cmp(&b.log_odds))
    }

    /// Appends [`FEATURES`] numbers about `string`, whose note is expected, to `row`.
    pub fn append(&self, string: usize, row: &mut Vec<f32>) {
        let Some(own) = self.expected[string] else {
            return;
        };
        let mut values = [f32::NAN; FEATURES];
        values[0] = own.log_odds;
        let mut others = self.others[string].clone();
        others.sort_by(|a, b| b.log_odds.total_cmp(&a.log_odds));
        if let Some(best) = others.first() {
            values[1] = best.log_odds;
            values[2] = f32::from(best.fret) - f32::from(own.fret);
        }
        if let Some(second) = others.get(1) {
            values[3] = second.log_odds;
        }
        for other in &others {
            let slot = match i16::from(other.fret) - i16::from(own.fret) {
                1 => 4,
                -1 => 5,
                _ if other.fret == 0 => 6,
                _ => 7,
            };
            values[slot] = other.log_odds;
        }
        let strings: Vec<Scored> = (0..STRINGS)
            .filter(|&s| s != string)
            .filter_map(|s| self.expected[s])
            .collect();
        if !strings.is_empty() {
            values[8] = strings.iter().map(|s| s.log_odds).sum::<f32>() / strings.len() as f32;
            values[9] = strings.iter().map(|s| s.log_odds).fold(f32::MAX, f32::min);
            values[10] = strings.len() as f32;
        }
        for other in strings {
            let interval = i32::from(other.midi) - i32::from(own.midi);
            if let Some(at) = INTERVALS.iter().position(|&i| i == interval) {
                values[11 + at] = other.log_odds;
            }
        }
        row.extend(values);
    }
}
