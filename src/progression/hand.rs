//! Moves of the fretting hand from one voicing to the next, and what they cost it.

use serde::{Deserialize, Serialize};

use crate::fretboard::pitch::fret_position;
use crate::fretboard::{STRINGS, Voicing};
use crate::words;

/// Weight of each part of the hand's work; the route with the least sum is chosen. All are choices:
/// no measurement of the work of a fretting hand was found. A lesson may set its own.
///
/// The scale is one fret of travel. A change of shape weighs less than the fret that it saves, so
/// that I-IV-V goes from the shape rooted on string 6 to the one on string 5 at the same fret, as
/// players do (common practice).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub struct HandWeights {
    /// One fret that the hand moves along the neck.
    pub travel: f64,
    /// Another shape, or another root string.
    pub shape_change: f64,
    /// One finger that must leave its string and find another place.
    pub finger_lifted: f64,
    /// Reach beyond that of the E shape at fret 1, in widths of the first fret.
    pub stretch: f64,
    /// A chord with a barre, against one without.
    pub barre: f64,
    /// One fret up the neck: between equals the lower one is taken.
    pub height: f64,
}

impl Default for HandWeights {
    fn default() -> Self {
        HandWeights {
            travel: 1.0,
            shape_change: 0.5,
            finger_lifted: 0.25,
            stretch: 1.0,
            barre: 0.5,
            height: 0.02,
        }
    }
}

impl HandWeights {
    /// The least and the most that one of them may be.
    pub const RANGE: std::ops::RangeInclusive<f64> = 0.0..=1000.0;

    /// Sets the weight of this name.
    ///
    /// # Errors
    /// A name that none has, or a number out of [`Self::RANGE`], as a sentence.
    pub fn set(&mut self, name: &str, value: f64) -> Result<(), String> {
        if !Self::RANGE.contains(&value) {
            return Err(words::route::weight_in_range(
                Self::RANGE.start(),
                Self::RANGE.end(),
                value,
            ));
        }
        let mut named = self.named();
        let names = named.each_ref().map(|(name, _)| *name).join(", ");
        let found = named.iter_mut().find(|(known, _)| *known == name);
        let (_, weight) = found.ok_or_else(|| words::route::no_such_part(name, &names))?;
        **weight = value;
        Ok(())
    }

    /// Names and values, in the order of the fields.
    pub fn named(&mut self) -> [(&'static str, &mut f64); 6] {
        [
            ("travel", &mut self.travel),
            ("shape-change", &mut self.shape_change),
            ("finger-lifted", &mut self.finger_lifted),
            ("stretch", &mut self.stretch),
            ("barre", &mut self.barre),
            ("height", &mut self.height),
        ]
    }

    /// Gives what holding a voicing costs.
    pub fn holding(&self, voicing: &Voicing) -> f64 {
        self.stretch * stretch(voicing)
            + self.barre * f64::from(u8::from(voicing.barre().is_some()))
            + self.height * f64::from(position(voicing))
    }

    /// Gives what going from one voicing to the next costs.
    pub fn moving(&self, step: &Move) -> f64 {
        self.travel * f64::from(step.travel_frets.unsigned_abs())
            + self.shape_change * f64::from(u8::from(step.shape_changes))
            + self.finger_lifted * step.lifted.len() as f64
    }
}

/// The fret at which the index finger stands or would stand: that of the barre; 1 for open chords.
pub fn position(voicing: &Voicing) -> u8 {
    voicing.at.max(1)
}

/// Reach from the lowest to the highest held fret beyond that of the E shape at fret 1, in widths of
/// the first fret. Frets narrow up the neck, so the same shape asks less there.
fn stretch(voicing: &Voicing) -> f64 {
    let Some(lowest) = voicing.frets.lowest_held() else {
        return 0.0;
    };
    let reach = fret_position(voicing.frets.highest()) - fret_position(lowest);
    let usual = fret_position(3) - fret_position(1);
    (reach - usual).max(0.0) / fret_position(1)
}

/// Work of the hand from one voicing to the next.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Move {
    /// Frets that the hand moves, up the neck positive.
    pub travel_frets: i8,
    /// Another shape, or the root on another string.
    pub shape_changes: bool,
    /// Fingers (1 index to 4 little) that keep a string and fret that they hold.
    pub staying: Vec<u8>,
    /// Fingers that move with the hand along the strings that they hold.
    pub sliding: Vec<u8>,
    /// Fingers of the new voicing that must leave their place, or come down, for it.
    pub lifted: Vec<u8>,
}

impl Move {
    /// The move between two voicings.
    pub fn between(from: &Voicing, to: &Voicing) -> Move {
        let travel_frets = position(to) as i8 - position(from) as i8;
        let (mut staying, mut sliding, mut lifted) = (Vec::new(), Vec::new(), Vec::new());
        for finger in 1..=4 {
            let Some((to_fret, to_strings)) = held(to, finger) else {
                continue;
            };
            let place = match held(from, finger) {
                Some((fret, strings)) if fret == to_fret && strings & to_strings != 0 => {
                    &mut staying
                }
                Some((fret, strings))
                    if strings == to_strings && to_fret as i8 - fret as i8 == travel_frets =>
                {
                    &mut sliding
                }
                _ => &mut lifted,
            };
            place.push(finger);
        }
        Move {
            travel_frets,
            shape_changes: from.frets != to.frets
                && (from.shape, from.root_string) != (to.shape, to.root_string),
            staying,
            sliding,
            lifted,
        }
    }
}

impl Move {
    /// Gives what the hand does, as a phrase: `2 frets up in the same shape`.
    pub fn describe(&self, from: &Voicing, to: &Voicing) -> String {
        if from.frets == to.frets {
            return words::route::STAY.to_owned();
        }
        let way = match self.travel_frets {
            0 if from.at == 0 && to.at == 0 => words::route::AT_THE_NUT.to_owned(),
            0 => words::route::AT_THE_SAME_FRET.to_owned(),
            n => words::route::frets_up_or_down(frets(n.unsigned_abs()), n > 0),
        };
        let shape = match (from.root_string, to.root_string) {
            _ if !self.shape_changes && self.lifted.is_empty() => {
                words::route::IN_THE_SAME_SHAPE.to_owned()
            }
            _ if !self.shape_changes => match to.shape {
                Some(shape) => words::route::in_the_shape(shape),
                None => String::new(),
            },
            (6, 5) => words::route::OVER_TO_STRING_5.to_owned(),
            (5, 6) => words::route::BACK_TO_STRING_6.to_owned(),
            (a, b) if a != b => words::route::from_string_to_string(a, b),
            _ => words::route::INTO_ANOTHER_SHAPE.to_owned(),
        };
        let fingers = match (self.staying.as_slice(), self.lifted.as_slice()) {
            (_, []) => String::new(),
            ([], _) if self.sliding.is_empty() => words::route::LIFT_ALL_FINGERS.to_owned(),
            ([], lifted) => words::route::lift_fingers(names(lifted)),
            ([one], _) => words::route::finger_stays(names(&[*one])),
            (staying, _) => words::route::fingers_stay(names(staying)),
        };
        format!("{way}{shape}{fingers}")
    }
}

/// `1 fret`, `2 frets`.
pub fn frets(count: impl Into<u32>) -> String {
    words::route::frets(count.into())
}

/// Fingers by name: `index and ring finger`.
fn names(fingers: &[u8]) -> String {
    let names: Vec<&str> = (fingers.iter())
        .map(|&finger| words::grammar::finger(finger))
        .collect();
    match names.as_slice() {
        [] => String::new(),
        [one] => words::route::one_finger(one),
        [most @ .., last] => words::route::fingers_and(most.join(", "), last),
    }
}

/// The fret that a finger holds, and its strings, one bit each.
fn held(voicing: &Voicing, finger: u8) -> Option<(u8, u8)> {
    let strings = (0..STRINGS).filter(|&i| voicing.fingering.0[i] == Some(finger));
    let set = strings.clone().fold(0, |set, i| set | 1 << i);
    let fret = strings.clone().find_map(|i| voicing.frets.0[i])?;
    Some((fret, set))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::{Frets, Tuning, library::voicing_of};

    fn voicing(frets: &str) -> Voicing {
        let frets: Frets = frets.parse().unwrap();
        voicing_of(&frets, &Tuning::default()).unwrap()
    }

    fn step(from: &str, to: &str) -> Move {
        Move::between(&voicing(from), &voicing(to))
    }

    #[test]
    fn a_shape_moved_along_the_neck_slides_as_a_whole() {
        let step = step("133211", "355433");
        assert_eq!(step.travel_frets, 2);
        assert!(!step.shape_changes);
        assert_eq!((step.sliding, step.lifted), (vec![1, 2, 3, 4], vec![]));
    }

    #[test]
    fn the_barre_stays_when_the_root_moves_to_the_next_string() {
        let step = step("577655", "x57775");
        assert_eq!(step.travel_frets, 0);
        assert!(step.shape_changes);
        assert_eq!(step.staying, [1]);
        assert_eq!(step.lifted, [2, 3, 4]);
    }

    #[test]
    fn common_fingers_of_open_chords_stay() {
        // C to Am: index on string 2 and middle on string 4 stay, the ring finger goes to string 3.
        let step = step("x32010", "x02210");
        assert_eq!(step.staying, [1, 2]);
        assert_eq!(step.lifted, [3]);
        assert_eq!(step.travel_frets, 0);
    }

    #[test]
    fn a_move_is_told_as_a_teacher_would() {
        let told = |from: &str, to: &str| {
            let (from, to) = (voicing(from), voicing(to));
            Move::between(&from, &to).describe(&from, &to)
        };
        assert_eq!(
            told("577655", "x57775"),
            "at the same fret, over to the root on string 5; index finger stays"
        );
        assert_eq!(told("133211", "355433"), "2 frets up in the same shape");
        assert_eq!(
            told("x35553", "x24432"),
            "1 fret down in the A shape; lift middle, ring and little finger"
        );
        assert_eq!(told("x13331", "x13331"), "stay as you are");
        assert_eq!(
            told("x32010", "x02210"),
            "at the nut, into another shape; index and middle finger stay"
        );
    }

    #[test]
    fn the_same_voicing_again_is_no_work() {
        let weights = HandWeights::default();
        assert_eq!(weights.moving(&step("x13331", "x13331")), 0.0);
    }

    #[test]
    fn a_wide_shape_asks_for_more_near_the_nut() {
        let near = stretch(&voicing("135211"));
        let far = stretch(&voicing("8 10 12 9 8 8"));
        assert!(near > far && far > 0.0, "{near} {far}");
        assert_eq!(stretch(&voicing("133211")), 0.0);
        assert_eq!(stretch(&voicing("577655")), 0.0);
    }
}
