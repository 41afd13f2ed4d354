//! Likely causes, counted.

use std::cmp::Reverse;

use super::CauseSummary;
use crate::fretboard::STRINGS;
use crate::verdict::JudgedTake;

/// Likely causes as they are named, one by one.
#[derive(Debug, Default)]
pub(super) struct Causes(Vec<CauseSummary>);

impl Causes {
    pub(super) fn add(&mut self, take: &JudgedTake) {
        for advice in &take.advice {
            let at = self.0.iter().position(|f| f.cause == advice.cause);
            let at = at.unwrap_or_else(|| {
                self.0.push(CauseSummary {
                    cause: advice.cause,
                    takes: 0,
                    strings: [0; STRINGS],
                    what: String::new(),
                    try_first: String::new(),
                });
                self.0.len() - 1
            });
            let cause = &mut self.0[at];
            cause.takes += 1;
            for &string in &advice.strings {
                if let Some(count) = STRINGS
                    .checked_sub(usize::from(string))
                    .and_then(|index| cause.strings.get_mut(index))
                {
                    *count += 1;
                }
            }
            cause.what.clone_from(&advice.what);
            cause.try_first.clone_from(&advice.try_first);
        }
    }

    pub(super) fn finish(mut self) -> Vec<CauseSummary> {
        self.0.sort_by_key(|f| Reverse(f.takes));
        self.0
    }
}
