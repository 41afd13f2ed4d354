//! Tasks in words: a few to be read from a metre away, and a sentence on how it is done.

use super::{Deed, PlannedStrum};
use crate::fretboard::{STRINGS, string_number};
use crate::verdict::cause::HeldBy;
use crate::words;

/// Task of a step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Task {
    /// "touch string 3".
    pub large: String,
    /// Way in which the hand does that.
    pub in_full: String,
}

/// Gives what a step asks for.
pub fn asked(step: &PlannedStrum) -> Task {
    use words::trial as said;
    let Some(index) = step.string else {
        return Task {
            large: said::PLAY_CLEAN.to_owned(),
            in_full: said::PLAY_CLEAN_IN_FULL.to_owned(),
        };
    };
    let string = string_number(index);
    let finger = finger(step, index).unwrap_or(said::FINGER_BESIDE);
    let (large, in_full) = match step.deed {
        Deed::Touched => (
            said::touch(string),
            said::touch_in_full(beside(step, index), string),
        ),
        Deed::Lifted => (said::lift(finger), said::lift_in_full(string)),
        Deed::Slack => (said::SLACKEN.to_owned(), said::slacken_in_full(string)),
        Deed::Rings => (said::ring(string), said::ring_in_full(string)),
        Deed::High => {
            let fret = step.voicing.frets.0[index].unwrap_or(0) + 1;
            (said::high(string, fret), said::high_in_full(finger, fret))
        }
        Deed::Buzzes => (said::buzz(string), said::buzz_in_full(finger)),
        Deed::Missed => {
            let first = step.voicing.frets.sounding().next();
            let in_full = match first.is_some_and(|(first, _)| first == index) {
                true => said::pass_by_first(string),
                false => said::pass_by_last(string),
            };
            (said::pass_by(string), in_full)
        }
        // No plan asks for the others.
        other => (other.phrase().to_owned(), String::new()),
    };
    Task { large, in_full }
}

/// "F (133211)".
pub fn chord(step: &PlannedStrum) -> String {
    let frets = step.voicing.frets;
    match &step.voicing.chord {
        Some(chord) => format!("{chord} ({frets})"),
        None => frets.to_string(),
    }
}

/// "ring finger", of the one that holds a string.
fn finger(step: &PlannedStrum, index: usize) -> Option<&'static str> {
    let finger = step.voicing.hand.fingers.0[index]?;
    words::trial::FINGERS
        .get(usize::from(finger).checked_sub(1)?)
        .copied()
}

/// The finger next to a string that can lean against it, in words.
fn beside(step: &PlannedStrum, index: usize) -> &'static str {
    let frets = step.voicing.frets;
    let near = [
        index.checked_sub(1),
        Some(index + 1).filter(|s| *s < STRINGS),
    ];
    (near.into_iter().flatten())
        .filter(|next| step.voicing.hand.held(*next) == HeldBy::Tip)
        .find(|next| frets.0[*next] > frets.0[index])
        .and_then(|next| finger(step, next))
        .unwrap_or(words::trial::FINGER_BESIDE)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::Tuning;
    use crate::trial::plan::FAULTS;
    use crate::verdict::ExpectedVoicing;

    fn step(frets: &str, deed: Deed, string: u8) -> PlannedStrum {
        PlannedStrum {
            voicing: ExpectedVoicing::usual(frets.parse().unwrap(), None, &Tuning::default()),
            deed,
            string: (deed != Deed::Clean).then(|| usize::from(6 - string)),
        }
    }

    #[test]
    fn each_deed_is_asked_in_words_that_name_string_and_finger() {
        for (deed, string, large, in_full) in [
            (
                Deed::Clean,
                0,
                "play it clean",
                "Every string as it should be.",
            ),
            (
                Deed::Touched,
                3,
                "touch string 3",
                "Let the little finger lean against string 3 until that string is dead.",
            ),
            (
                Deed::Lifted,
                4,
                "lift the little finger",
                "Lift it off the fret, and leave it lying lightly on string 4.",
            ),
            (
                Deed::Slack,
                2,
                "slacken the barre",
                "Press less with the barre until string 2 does not ring. The other fingers stay.",
            ),
            (
                Deed::High,
                5,
                "string 5 on fret 4",
                "Set the ring finger on fret 4. The other fingers stay.",
            ),
            (
                Deed::Missed,
                1,
                "leave out string 1",
                "Hold the chord, and stop the strum before string 1.",
            ),
            (
                Deed::Missed,
                6,
                "leave out string 6",
                "Hold the chord, and begin the strum after string 6.",
            ),
        ] {
            let asked = asked(&step("133211", deed, string));
            assert_eq!((&*asked.large, &*asked.in_full), (large, in_full));
        }
        for deed in FAULTS {
            assert!(!asked(&step("133211", deed, 3)).in_full.is_empty());
        }
    }
}
