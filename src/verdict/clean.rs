//! Clean takes: one rule for lessons, playing along, the diary and the report.

use super::{JudgedTake, Verdict};
use crate::fretboard::STRINGS;

/// Choice of strings by which every one counts.
pub const ALL_STRINGS: [bool; STRINGS] = [true; STRINGS];

/// More strings than this that stay unsure, and a take without a fault does not count as clean: two
/// octave doublings are common in one chord, so one may well stay open.
const MOST_UNSURE: usize = 1;

/// Tells whether a take is clean: no string that counts has a fault, and at most one stays unsure. `None`
/// where the take was not judged or too much of it stays unsure. `counts` from string 6 to string 1.
pub fn clean(take: &JudgedTake, counts: &[bool; STRINGS]) -> Option<bool> {
    let verdicts = || {
        (take.strings.iter().zip(counts))
            .filter(|(_, counts)| **counts)
            .map(|(s, _)| s.verdict)
    };
    if !take.judged() {
        return None;
    }
    if verdicts().any(Verdict::is_fault) {
        return Some(false);
    }
    let unsure = verdicts().filter(|&v| v == Verdict::Unsure).count();
    (unsure <= MOST_UNSURE).then_some(true)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verdict::examples::{bb, not_judged, with};
    use crate::verdict::{Reason, Warning};

    #[test]
    fn one_unsure_string_leaves_a_take_clean_two_leave_it_open() {
        assert_eq!(clean(&bb(), &ALL_STRINGS), Some(true));
        let one = with(bb(), 3, Verdict::Unsure, 0.5);
        assert_eq!(clean(&one, &ALL_STRINGS), Some(true));
        let two = with(one.clone(), 1, Verdict::Unsure, 0.5);
        assert_eq!(clean(&two, &ALL_STRINGS), None);
        assert_eq!(two.strings[5].reason, Some(Reason::Balanced));
        let fault = with(two, 4, Verdict::Muted, 0.9);
        assert_eq!(clean(&fault, &ALL_STRINGS), Some(false));
    }

    #[test]
    fn strings_that_do_not_count_may_do_what_they_like() {
        let mut counts = ALL_STRINGS;
        counts[0] = false;
        let take = with(bb(), 6, Verdict::Ringing, 0.9);
        assert_eq!(clean(&take, &counts), Some(true));
        assert_eq!(clean(&take, &ALL_STRINGS), Some(false));
    }

    #[test]
    fn a_take_that_was_not_judged_is_neither() {
        let take = not_judged(Warning::TooQuiet { peak_dbfs: -60.0 });
        assert_eq!(clean(&take, &ALL_STRINGS), None);
    }
}
