//! Corrections by the player of takes that were heard otherwise. The diary keeps both, and what counts is what
//! the player said.

use serde::{Deserialize, Serialize};

use super::Entry;
use crate::verdict::{StringVerdict, Verdict};
use crate::words;

/// Word of the player.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Correction {
    /// Strings (6 to 1) that did what they should.
    Right(Vec<u8>),
    /// Another chord was played: the take counts for nothing.
    AnotherChord,
    /// The take is to count for nothing.
    Forget,
}

impl Correction {
    /// Gives what stands when this is said after what was said `before`: strings add up.
    pub fn after(self, before: Option<&Correction>) -> Correction {
        match (self, before) {
            (Correction::Right(now), Some(Correction::Right(then))) => {
                let mut strings: Vec<u8> = then.iter().chain(&now).copied().collect();
                strings.sort_by_key(|string| std::cmp::Reverse(*string));
                strings.dedup();
                Correction::Right(strings)
            }
            (now, _) => now,
        }
    }

    /// Tells whether the take still counts.
    pub fn counts(&self) -> bool {
        matches!(self, Correction::Right(_))
    }

    /// Tells whether it is something that can be said: strings that there are.
    pub(super) fn is_possible(&self) -> bool {
        match self {
            Correction::Right(strings) => {
                !strings.is_empty()
                    && strings.len() <= 6
                    && strings.iter().all(|s| (1..=6).contains(s))
            }
            Correction::AnotherChord | Correction::Forget => true,
        }
    }

    /// "strings 2 and 1 did ring", as a player would say it.
    pub fn words(&self) -> String {
        match self {
            Correction::Right(strings) => match strings.as_slice() {
                [one] => words::diary::string_was_right(one),
                several => {
                    let numbers: Vec<String> = several.iter().map(u8::to_string).collect();
                    words::diary::strings_were_right(numbers.join(", "))
                }
            },
            Correction::AnotherChord => words::diary::ANOTHER_CHORD.to_owned(),
            Correction::Forget => words::diary::DOES_NOT_COUNT.to_owned(),
        }
    }

    /// The verdicts (string 6 to 1) as they stand then.
    pub fn stand(&self, strings: &mut [StringVerdict; 6]) {
        let Correction::Right(right) = self else {
            return;
        };
        for string in strings.iter_mut().filter(|s| right.contains(&s.string)) {
            string.verdict = right_of(string.expected_fret.is_some());
            string.heard_fret = None;
            string.reason = None;
        }
    }
}

/// Gives the verdict of a string that does what it should.
pub(super) fn right_of(expected: bool) -> Verdict {
    match expected {
        true => Verdict::Clean,
        false => Verdict::Silent,
    }
}

/// Tells whether a take counts as clean once strings were put right: as it was, unless nothing is wrong any more.
pub(super) fn clean_then(before: Option<bool>, faults_left: bool) -> Option<bool> {
    match faults_left {
        true => before,
        false => Some(true),
    }
}

impl Entry {
    /// The take as it stands, with what the player said of it; `None` where it counts for nothing.
    pub fn standing(mut self) -> Option<Entry> {
        let Some(said) = &self.said else {
            return Some(self);
        };
        if !said.counts() {
            return None;
        }
        said.stand(&mut self.strings);
        let faults_left = self.strings.iter().any(|s| s.verdict.is_fault());
        self.clean = clean_then(self.clean, faults_left);
        if !faults_left {
            self.causes.clear();
        }
        Some(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::Tuning;
    use crate::verdict::examples::{bb, with};
    use jiff::Timestamp;

    fn entry(said: Option<Correction>) -> Entry {
        let take = with(with(bb(), 3, Verdict::Muted, 0.9), 6, Verdict::Ringing, 0.9);
        Entry {
            said,
            ..Entry::of(&take, Timestamp::UNIX_EPOCH, &Tuning::default())
        }
    }

    #[test]
    fn what_the_player_said_stands_and_what_was_heard_is_kept() {
        let one = entry(Some(Correction::Right(vec![3])));
        assert_eq!(one.strings[3].verdict, Verdict::Muted);
        let stands = one.standing().unwrap();
        assert_eq!(stands.strings[3].verdict, Verdict::Clean);
        assert_eq!(stands.clean, Some(false));
        let both = Correction::Right(vec![6]).after(Some(&Correction::Right(vec![3])));
        assert_eq!(both, Correction::Right(vec![6, 3]));
        let stands = entry(Some(both)).standing().unwrap();
        assert_eq!(stands.strings[0].verdict, Verdict::Silent);
        assert_eq!(stands.clean, Some(true));
        for said in [Correction::AnotherChord, Correction::Forget] {
            assert_eq!(entry(Some(said)).standing(), None);
        }
        assert_eq!(entry(None).standing(), Some(entry(None)));
    }

    #[test]
    fn only_strings_that_there_are_can_be_put_right() {
        assert!(Correction::Right(vec![6, 1]).is_possible() && Correction::Forget.is_possible());
        for wrong in [vec![], vec![0], vec![7], vec![1; 7]] {
            assert!(!Correction::Right(wrong).is_possible());
        }
    }
}
