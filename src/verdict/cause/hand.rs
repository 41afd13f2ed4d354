//! Hold of the hand on a voicing: which string is under a barre, a fingertip, or nothing.

use crate::fretboard::{Fingering, Frets, STRINGS, Tuning, library};
use crate::words;

/// Part of the hand that holds a string.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeldBy {
    /// The index finger's barre alone.
    Barre,
    /// Another finger that lies across several strings.
    Across,
    /// A fingertip.
    Tip,
    /// Nothing: it sounds open.
    Open,
    /// String that must not sound.
    Damped,
}

/// A voicing with the fingers that hold it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hand {
    /// Frets of strings 6 to 1.
    pub frets: Frets,
    /// The finger that holds each string.
    pub fingers: Fingering,
    /// The string (6 to 1) that these fingers let go quiet without fault.
    pub may_go_quiet: Option<u8>,
    /// The string that another usual fingering of the same frets lets go quiet.
    pub quiet_otherwise: Option<u8>,
    /// True where these are the player's fingers, and not just the usual ones.
    pub known: bool,
    /// Strings (index 0 = string 6) that may do what they like: an exercise leaves them out.
    pub free: [bool; STRINGS],
    /// True where the hand is moved on purpose from take to take, so that the takes before say nothing of it.
    pub moves: bool,
}

impl Hand {
    /// The usual fingers for these frets: the library's, else the index finger for the lowest fret
    /// and the others up the neck.
    pub fn usual(frets: &Frets, tuning: &Tuning) -> Hand {
        let forms = library::fingerings_of(frets, tuning);
        let fingers = match forms.first() {
            Some(voicing) => voicing.fingering,
            None => guessed(frets),
        };
        Hand {
            frets: *frets,
            fingers,
            may_go_quiet: forms.first().and_then(|v| v.may_go_quiet),
            quiet_otherwise: forms.iter().find_map(|v| v.may_go_quiet),
            known: false,
            free: [false; STRINGS],
            moves: false,
        }
    }

    /// Names the fingers as the player named them.
    ///
    /// # Errors
    /// Where they do not go with the frets.
    pub fn with_fingers(
        frets: &Frets,
        fingers: Fingering,
        tuning: &Tuning,
    ) -> Result<Hand, FingersError> {
        for (i, finger) in fingers.0.iter().enumerate() {
            let string = crate::fretboard::string_number(i);
            match (frets.0[i], finger) {
                (None | Some(0), Some(_)) => return Err(FingersError::NothingHeld { string }),
                (Some(1..), None) => return Err(FingersError::Missing { string }),
                _ => {}
            }
        }
        for finger in 1..=4 {
            let mut held = (0..STRINGS).filter(|&i| fingers.0[i] == Some(finger));
            let first = held.next().and_then(|i| frets.0[i]);
            if held.any(|i| frets.0[i] != first) {
                return Err(FingersError::TwoFrets { finger });
            }
        }
        let forms = library::fingerings_of(frets, tuning);
        let same = forms.iter().find(|v| v.fingering == fingers);
        Ok(Hand {
            frets: *frets,
            fingers,
            may_go_quiet: same.and_then(|v| v.may_go_quiet),
            quiet_otherwise: None,
            known: true,
            free: [false; STRINGS],
            moves: false,
        })
    }

    /// Gives what holds the string at `index` (0 = string 6).
    pub fn held(&self, index: usize) -> HeldBy {
        match (self.frets.0[index], self.fingers.0[index]) {
            (None, _) => HeldBy::Damped,
            (Some(0), _) | (_, None) => HeldBy::Open,
            (Some(_), Some(finger)) if self.strings_of(finger).count() < 2 => HeldBy::Tip,
            (Some(_), Some(1)) => HeldBy::Barre,
            _ => HeldBy::Across,
        }
    }

    /// The strings that a finger holds.
    pub fn strings_of(&self, finger: u8) -> impl Iterator<Item = usize> + '_ {
        (0..STRINGS).filter(move |&i| self.fingers.0[i] == Some(finger))
    }

    /// The fret of the index finger, where it lies across several strings.
    pub fn barre_fret(&self) -> Option<u8> {
        let first = self.strings_of(1).next()?;
        (self.strings_of(1).count() > 1)
            .then_some(self.frets.0[first])
            .flatten()
    }

    /// Tells whether a string lies under a barre between the barre's first and last string.
    pub fn inside_barre(&self, index: usize) -> bool {
        self.held(index) == HeldBy::Barre
            && self.strings_of(1).any(|i| i < index)
            && self.strings_of(1).any(|i| i > index)
    }

    /// The strings beside this one that fingertips hold: the thicker one first, since a finger that
    /// flattens comes down on the thinner side (common practice).
    pub fn tips_beside(&self, index: usize) -> impl Iterator<Item = usize> + '_ {
        [index.checked_sub(1), Some(index + 1)]
            .into_iter()
            .flatten()
            .filter(|&i| i < STRINGS && self.held(i) == HeldBy::Tip)
    }
}

/// Fingers for frets that no known shape has: one across the lowest fret where nothing is open, the
/// others in the order of the frets.
fn guessed(frets: &Frets) -> Fingering {
    let mut fingers = [None; STRINGS];
    let mut held: Vec<(u8, usize)> = frets
        .sounding()
        .filter(|&(_, fret)| fret > 0)
        .map(|(i, fret)| (fret, i))
        .collect();
    held.sort_unstable();
    let open = frets.sounding().any(|(_, fret)| fret == 0);
    let Some(&(lowest, _)) = held.first() else {
        return Fingering(fingers);
    };
    let at_lowest = held.iter().filter(|(fret, _)| *fret == lowest).count();
    let barre = at_lowest > 1 && !open;
    // More strings than fingers: what shares a fret shares a finger.
    let crowded = held.len() - if barre { at_lowest - 1 } else { 0 } > 4;
    let mut next = 1;
    let mut last = None;
    for (fret, i) in held {
        let shares = last == Some(fret) && (crowded || (barre && fret == lowest));
        if last.is_some() && !shares {
            next = (next + 1).min(4);
        }
        fingers[i] = Some(next);
        last = Some(fret);
    }
    Fingering(fingers)
}

/// Reason why fingers do not go with frets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum FingersError {
    /// A finger is named for a string that none holds.
    #[error("{}", words::fretboard::nothing_held(string))]
    NothingHeld {
        /// String number, 6 to 1.
        string: u8,
    },
    /// A held string has no finger.
    #[error("{}", words::fretboard::finger_missing(string))]
    Missing {
        /// String number, 6 to 1.
        string: u8,
    },
    /// One finger is named for two frets.
    #[error("{}", words::fretboard::two_frets(finger))]
    TwoFrets {
        /// The finger, 1 index to 4 little finger.
        finger: u8,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hand(frets: &str) -> Hand {
        Hand::usual(&frets.parse().unwrap(), &Tuning::default())
    }

    #[test]
    fn every_string_is_known_by_what_holds_it() {
        use HeldBy::*;
        let held = |frets: &str| std::array::from_fn::<_, 6, _>(|i| hand(frets).held(i));
        assert_eq!(held("133211"), [Barre, Tip, Tip, Tip, Barre, Barre]);
        assert_eq!(held("x24442"), [Damped, Barre, Tip, Tip, Tip, Barre]);
        assert_eq!(held("x32010"), [Damped, Tip, Tip, Open, Tip, Open]);
        assert!(hand("133211").inside_barre(4) && !hand("133211").inside_barre(5));
        assert_eq!(hand("133211").barre_fret(), Some(1));
        assert_eq!(hand("x32010").barre_fret(), None);
    }

    #[test]
    fn the_finger_beside_a_string_is_found_on_its_thicker_side_first() {
        let beside = |frets: &str, index| hand(frets).tips_beside(index).collect::<Vec<_>>();
        assert_eq!(beside("x32010", 3), [2, 4]);
        assert_eq!(beside("x32010", 5), [4]);
        assert_eq!(beside("022000", 0), [1]);
        assert!(beside("022000", 5).is_empty());
    }

    #[test]
    fn the_form_with_the_ring_finger_across_lets_string_1_go_quiet() {
        let frets: Frets = "x24442".parse().unwrap();
        let usual = hand("x24442");
        assert_eq!((usual.may_go_quiet, usual.quiet_otherwise), (None, Some(1)));
        let tuning = Tuning::default();
        let ring = Hand::with_fingers(&frets, "x13331".parse().unwrap(), &tuning).unwrap();
        assert_eq!(ring.may_go_quiet, Some(1));
        assert_eq!(
            (ring.held(1), ring.held(2)),
            (HeldBy::Barre, HeldBy::Across)
        );
        let four = Hand::with_fingers(&frets, "x12341".parse().unwrap(), &tuning).unwrap();
        assert_eq!((four.may_go_quiet, four.quiet_otherwise), (None, None));
    }

    #[test]
    fn fingers_that_do_not_go_with_the_frets_are_refused() {
        let tuning = Tuning::default();
        let frets: Frets = "x24442".parse().unwrap();
        let refused = |fingers: &str| Hand::with_fingers(&frets, fingers.parse().unwrap(), &tuning);
        let nothing = FingersError::NothingHeld { string: 6 };
        assert_eq!(refused("113331"), Err(nothing));
        assert_eq!(refused("x1333x"), Err(FingersError::Missing { string: 1 }));
        assert_eq!(refused("x11331"), Err(FingersError::TwoFrets { finger: 1 }));
    }

    #[test]
    fn frets_of_no_known_shape_get_a_plausible_hand() {
        let held = |frets: &str| std::array::from_fn::<_, 6, _>(|i| hand(frets).held(i));
        use HeldBy::*;
        assert_eq!(held("x13361"), [Damped, Barre, Tip, Tip, Tip, Barre]);
        assert_eq!(held("x04060"), [Damped, Open, Tip, Open, Tip, Open]);
        assert_eq!(held("000000"), [Open; 6]);
    }
}
