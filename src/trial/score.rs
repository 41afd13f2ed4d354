//! Counts of verdicts against deeds.

use std::collections::BTreeMap;

use super::Deed;
use crate::fretboard::STRINGS;
use crate::practice::Share;
use crate::verdict::JudgedTake;

/// Counts of how strings with one deed were told, string 6 to string 1.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct DeedCounts {
    /// Strings whose verdict tells the deed ([`Deed::told_in`]).
    pub told: [Share; STRINGS],
    /// Strings that were called faulty, rightly named or not: found for a fault, a false alarm for
    /// [`Deed::Clean`].
    pub called_faulty: [Share; STRINGS],
}

impl DeedCounts {
    /// All strings together: told, called faulty.
    pub fn together(&self) -> (Share, Share) {
        (sum(&self.told), sum(&self.called_faulty))
    }
}

/// Verdicts counted against deeds. What was not found or not judged counts as wrong.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Score {
    /// Strings whose verdict tells what was done to them.
    pub strings: Share,
    /// Takes of which that is so for every string that is counted.
    pub takes: Share,
    /// Takes in which no strum was found.
    pub not_found: u32,
    /// Takes that were found and not judged.
    pub refused: u32,
    /// Counts by deed; those that were never done are not there.
    pub deeds: BTreeMap<Deed, DeedCounts>,
}

impl Score {
    /// Counts one take in: what was done to its strings (6 to 1), and what was said; `None` where no strum was
    /// found. A take of which nothing is known is not counted.
    pub fn add(&mut self, deeds: &[Deed; STRINGS], said: Option<&JudgedTake>) {
        let judged = said.filter(|take| take.judged());
        let mut all_right = true;
        let mut counted = false;
        for (string, &deed) in deeds.iter().enumerate() {
            if deed == Deed::Unknown {
                continue;
            }
            let said = judged.map(|take| &take.strings[string]);
            let told = said.is_some_and(|said| deed.told_in(said));
            let called_faulty = said.is_some_and(|said| said.verdict.is_fault());
            let counts = self.deeds.entry(deed).or_default();
            counts.told[string].add(told);
            counts.called_faulty[string].add(called_faulty);
            self.strings.add(told);
            all_right &= told;
            counted = true;
        }
        if !counted {
            return;
        }
        self.takes.add(all_right);
        self.not_found += u32::from(said.is_none());
        self.refused += u32::from(said.is_some() && judged.is_none());
    }

    /// Counts all in that `other` has counted.
    pub fn add_all(&mut self, other: &Score) {
        self.strings.add_all(other.strings);
        self.takes.add_all(other.takes);
        self.not_found += other.not_found;
        self.refused += other.refused;
        for (&deed, theirs) in &other.deeds {
            let mine = self.deeds.entry(deed).or_default();
            for string in 0..STRINGS {
                mine.told[string].add_all(theirs.told[string]);
                mine.called_faulty[string].add_all(theirs.called_faulty[string]);
            }
        }
    }

    /// Faults that were called faulty, by string (6 to 1).
    pub fn found(&self) -> [Share; STRINGS] {
        let mut found = [Share::default(); STRINGS];
        let faults = self.deeds.iter().filter(|(deed, _)| deed.is_fault());
        for (_, counts) in faults {
            for (sum, share) in found.iter_mut().zip(counts.called_faulty) {
                sum.add_all(share);
            }
        }
        found
    }

    /// Strings as written that were called faulty, by string (6 to 1).
    pub fn false_alarms(&self) -> [Share; STRINGS] {
        let clean = self.deeds.get(&Deed::Clean);
        clean.map_or_else(Default::default, |counts| counts.called_faulty)
    }
}

/// Several shares as one.
pub fn sum(shares: &[Share]) -> Share {
    let mut all = Share::default();
    shares.iter().for_each(|&share| all.add_all(share));
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verdict::examples::{bb, not_judged, with};
    use crate::verdict::{Verdict, Warning};
    use proptest::prelude::*;

    const CLEAN: [Deed; STRINGS] = [Deed::Clean; STRINGS];

    fn share(part: u32, of: u32) -> Share {
        Share { part, of }
    }

    #[test]
    fn strings_takes_finds_and_false_alarms_are_counted() {
        let mut score = Score::default();
        // String 3 was touched and is said to die early; string 5 is a false alarm.
        let mut deeds = CLEAN;
        deeds[3] = Deed::Touched;
        let said = with(
            with(bb(), 3, Verdict::Choked, 0.9),
            5,
            Verdict::Buzzing,
            0.9,
        );
        score.add(&deeds, Some(&said));
        assert_eq!(score.strings, share(5, 6));
        assert_eq!(score.takes, share(0, 1));
        assert_eq!(score.found()[3], share(1, 1));
        assert_eq!(sum(&score.found()), share(1, 1));
        assert_eq!(sum(&score.false_alarms()), share(1, 5));
        assert_eq!(score.false_alarms()[1], share(1, 1));
        // Found, but as another fault.
        deeds[3] = Deed::High;
        score.add(&deeds, Some(&with(bb(), 3, Verdict::Muted, 0.9)));
        let high = score.deeds[&Deed::High];
        assert_eq!(high.together(), (share(0, 1), share(1, 1)));
        score.add(&CLEAN, Some(&bb()));
        assert_eq!(score.takes, share(1, 3));
    }

    #[test]
    fn what_was_not_found_or_not_judged_is_wrong_and_no_false_alarm() {
        let mut score = Score::default();
        score.add(&CLEAN, None);
        let refused = not_judged(Warning::WrongChord { heard: None });
        score.add(&CLEAN, Some(&refused));
        assert_eq!((score.not_found, score.refused), (1, 1));
        assert_eq!((score.strings, score.takes), (share(0, 12), share(0, 2)));
        assert_eq!(sum(&score.false_alarms()), share(0, 12));
    }

    #[test]
    fn what_nobody_knows_is_not_counted() {
        let mut score = Score::default();
        score.add(&[Deed::Unknown; STRINGS], None);
        assert_eq!(score, Score::default());
        let mut deeds = CLEAN;
        deeds[0] = Deed::Unknown;
        score.add(&deeds, Some(&with(bb(), 6, Verdict::Ringing, 0.9)));
        assert_eq!((score.strings, score.takes), (share(5, 5), share(1, 1)));
    }

    proptest! {
        #[test]
        fn scores_add_up(
            takes in prop::collection::vec(
                (prop::array::uniform6(0..Deed::ALL.len()), prop::option::of(prop::array::uniform6(0..Verdict::ALL.len()))),
                0..12,
            ),
            cut in 0usize..12,
        ) {
            let mut whole = Score::default();
            let mut parts = [Score::default(), Score::default()];
            for (index, (deeds, said)) in takes.iter().enumerate() {
                let deeds = deeds.map(|deed| Deed::ALL[deed]);
                let said = said.map(|verdicts| {
                    let mut take = bb();
                    for (string, verdict) in take.strings.iter_mut().zip(verdicts) {
                        string.verdict = Verdict::ALL[verdict];
                    }
                    take
                });
                whole.add(&deeds, said.as_ref());
                parts[usize::from(index >= cut)].add(&deeds, said.as_ref());
            }
            let [mut sum_of_parts, second] = parts;
            sum_of_parts.add_all(&second);
            prop_assert_eq!(&sum_of_parts, &whole);
            let told: Vec<Share> = whole.deeds.values().map(|c| c.together().0).collect();
            prop_assert_eq!(sum(&told), whole.strings);
            prop_assert!(whole.takes.of as usize <= takes.len());
            prop_assert_eq!(
                sum(&whole.found()).of + sum(&whole.false_alarms()).of,
                whole.strings.of
            );
        }
    }
}
