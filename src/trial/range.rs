//! Range in which the true share of a trial's takes lies.
//!
//! Wilson's interval holds for cases drawn by themselves. Those of a trial are not. A kind of deed mostly goes right or wrong as a
//! whole and is asked for about as often each time, so that takes vary less. Strings of one take go wrong together, so that they
//! vary more. And a take that goes wrong on all six strings is so seldom that most trials know nothing of it.
//!
//! So each kind of deed has a law of its own of how many cases of a take are wrong. Other guitars tell something of it before
//! the first strum ([`Before`]), the takes of the kind tell the rest: the posterior of a Dirichlet distribution (T. S. Ferguson,
//! Ann. Stat. 1 (1973) 209-230). What is known before counts as much as Bühlmann's credibility says (ASTIN Bulletin 4 (1967)
//! 199-207). The mean square error of the reported share, over the variance of as many cases drawn by themselves, is the design
//! effect of Wilson's interval (L. Kish, Survey Sampling, 1965). All from memory.

use std::collections::BTreeMap;

use super::Deed;
use crate::practice::Share;

/// Number told right of one take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ToldTake {
    /// The kind of what was done.
    pub kind: Deed,
    /// Cases that are right: strings, or the take itself.
    pub right: u32,
    /// Cases that are counted.
    pub of: u32,
}

/// Knowledge of the wrong cases of a take before any was heard: of one kind of deed on one guitar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Before {
    /// Takes that it counts as much as: the variance within kinds over that between kinds and guitars.
    takes: f64,
    /// Mean number of wrong cases.
    wrong: f64,
    /// Mean square of that number.
    squared: f64,
}

impl Before {
    /// Knowledge of takes as a whole. Measured on the five guitars to develop on, and on none that is reported
    /// (`fixtures/measured/trial.md`).
    pub const OF_TAKES: Before = Before {
        takes: 0.65,
        wrong: 0.138,
        squared: 0.138,
    };
    /// Knowledge of strings; measured as [`Before::OF_TAKES`].
    pub const OF_STRINGS: Before = Before {
        takes: 1.12,
        wrong: 0.144,
        squared: 0.173,
    };
}

/// Variance of how often a plan asks for a kind, at the most: the number is one of two neighbours.
const ASKED: f64 = 0.25;

/// Takes of one kind, and what is expected of one more.
#[derive(Debug, Default)]
struct Kind {
    takes: f64,
    wrong: f64,
    squared: f64,
}

impl Kind {
    fn add(&mut self, take: &ToldTake) {
        let wrong = f64::from(take.of - take.right);
        self.takes += 1.0;
        self.wrong += wrong;
        self.squared += wrong * wrong;
    }

    /// Expected number of wrong cases of a take.
    fn mean(&self, before: &Before) -> f64 {
        (before.takes * before.wrong + self.wrong) / (before.takes + self.takes)
    }

    /// Variance of that expectation.
    fn variance(&self, before: &Before) -> f64 {
        let takes = before.takes + self.takes;
        let squared = (before.takes * before.squared + self.squared) / takes;
        (squared - self.mean(before).powi(2)) / (takes + 1.0)
    }
}

/// Gives the share that is right, and where the true one lies with 95 % confidence, 0 to 1: that of this guitar in the long run,
/// over trials of this length. `before` is of takes where each take is one case, of strings else.
pub fn range(takes: &[ToldTake], before: &Before) -> (Share, (f64, f64)) {
    let mut all = Share::default();
    let mut kinds: BTreeMap<Deed, Kind> = BTreeMap::new();
    for take in takes {
        all.add_all(Share {
            part: take.right,
            of: take.of,
        });
        kinds.entry(take.kind).or_default().add(take);
    }
    let expected: f64 = (kinds.values())
        .map(|kind| kind.takes * kind.mean(before))
        .sum();
    let alone = expected * (1.0 - expected / f64::from(all.of.max(1)));
    if alone <= 0.0 {
        return (all, all.interval());
    }
    let heard: f64 = (kinds.values())
        .map(|kind| kind.takes.powi(2) * kind.variance(before))
        .sum();
    // Of clean strums every plan has as many.
    let faults = kinds.iter().filter(|(deed, _)| deed.is_fault());
    let means: Vec<f64> = faults.map(|(_, kind)| kind.mean(before)).collect();
    let middle = means.iter().sum::<f64>() / means.len().max(1) as f64;
    let asked: f64 = means.iter().map(|mean| (mean - middle).powi(2)).sum();
    let off = expected - f64::from(all.of - all.part);
    let effect = (heard + ASKED * asked + off * off) / alone;
    (all, all.interval_by(effect))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn told(kind: Deed, right: u32, of: u32) -> ToldTake {
        ToldTake { kind, right, of }
    }

    fn width(takes: &[ToldTake], before: &Before) -> f64 {
        let (_, (low, high)) = range(takes, before);
        high - low
    }

    #[test]
    fn kinds_that_always_go_wrong_narrow_the_range_and_takes_that_go_wrong_as_a_whole_widen_it() {
        let drawn = Share { part: 24, of: 30 }.interval();
        // Always the same kind is missed.
        let kinds: Vec<ToldTake> = (0..30)
            .map(|i| match i % 5 {
                0 => told(Deed::Buzzes, 0, 1),
                _ => told(Deed::Clean, 1, 1),
            })
            .collect();
        let before = Before::OF_TAKES;
        assert_eq!(range(&kinds, &before).0, Share { part: 24, of: 30 });
        assert!(width(&kinds, &before) < 0.8 * (drawn.1 - drawn.0));
        // Six strings wrong of one take, and one of each of six.
        let mut clustered = vec![told(Deed::Clean, 6, 6); 29];
        clustered.push(told(Deed::Clean, 0, 6));
        let mut spread = vec![told(Deed::Clean, 6, 6); 24];
        spread.extend(vec![told(Deed::Clean, 5, 6); 6]);
        let before = Before::OF_STRINGS;
        assert_eq!(range(&clustered, &before).0, range(&spread, &before).0);
        assert!(width(&clustered, &before) > 1.5 * width(&spread, &before));
    }

    #[test]
    fn of_nothing_the_share_may_be_anything() {
        for before in [Before::OF_TAKES, Before::OF_STRINGS] {
            assert_eq!(range(&[], &before), (Share::default(), (0.0, 1.0)));
        }
    }

    /// Takes as trials have them: of some kinds, of six strings or fewer.
    fn takes() -> impl Strategy<Value = Vec<ToldTake>> {
        let take = (0..8usize, 1u32..=6, 0u32..=6)
            .prop_map(|(kind, of, right)| told(Deed::ALL[kind], right.min(of), of));
        prop::collection::vec(take, 1..60)
    }

    proptest! {
        #[test]
        fn the_share_lies_in_its_range_and_four_times_as_many_takes_narrow_it(takes in takes()) {
            let before = Before::OF_STRINGS;
            let (share, (low, high)) = range(&takes, &before);
            let share = share.share().unwrap();
            prop_assert!(0.0 <= low && low <= share + 1e-9 && share <= high + 1e-9 && high <= 1.0);
            let more: Vec<ToldTake> = takes.iter().flat_map(|take| [*take; 4]).collect();
            prop_assert!(width(&more, &before) < width(&takes, &before));
        }
    }
}
