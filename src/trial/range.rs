//! Range in which the true share of a trial's takes lies.
//!
//! Wilson's interval holds for cases drawn by themselves. Those of a trial are not: a plan asks for each kind of deed about
//! as often each time, so that takes vary less; and strings of one take go wrong together, so that strings vary more. The
//! design effect says by how much (L. Kish, Survey Sampling, 1965; from memory): the variance of the number right, takes
//! of one kind compared with each other, over that of as many cases drawn by themselves.

use std::collections::BTreeMap;

use super::Deed;
use crate::practice::Share;

/// Number told right of one take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Told {
    /// The kind of what was done.
    pub kind: Deed,
    /// Cases that are right: strings, or the take itself.
    pub right: u32,
    /// Cases that are counted.
    pub of: u32,
}

/// Few errors say little about how they come: so much variance is added with the design effect that is usual. A choice.
const ADDED: f64 = 1.0;
/// Correlation of the cases of one take that is taken for usual: a take that is not judged is wrong on six strings at once, and
/// seldom enough to be missing in most trials. By Kish's formula six strings a take have a design effect of 2 then. Of 1, 2
/// and 3 it came nearest to 95 of 100 on three simulated guitars (`fixtures/measured/trial.md`).
const ALIKE: f64 = 0.2;
/// Design effects beyond these come from too few takes. A choice.
const EFFECTS: (f64, f64) = (0.4, 4.0);

/// Gives the share that is right, and where the true one lies with 95 % confidence, 0 to 1.
pub fn range(takes: &[Told]) -> (Share, (f64, f64)) {
    let mut all = Share::default();
    let mut kinds: BTreeMap<Deed, Vec<Told>> = BTreeMap::new();
    for take in takes {
        all.add_all(Share {
            part: take.right,
            of: take.of,
        });
        kinds.entry(take.kind).or_default().push(*take);
    }
    let Some(share) = all.share() else {
        return (all, all.interval());
    };
    let alone = f64::from(all.of) * share * (1.0 - share);
    let together: f64 = kinds.values().map(|takes| variance(takes, share)).sum();
    let cases = f64::from(all.of) / takes.len() as f64;
    let usual = 1.0 + (cases - 1.0) * ALIKE;
    let effect = (together + ADDED * usual) / (alone + ADDED);
    let effect = effect.clamp(EFFECTS.0, EFFECTS.1);
    (all, all.interval_by(effect))
}

/// Variance of the number right of the takes of one kind. A take that is alone of its kind is held against `share`.
fn variance(takes: &[Told], share: f64) -> f64 {
    let count = takes.len() as f64;
    let right: u32 = takes.iter().map(|take| take.right).sum();
    let of: u32 = takes.iter().map(|take| take.of).sum();
    let (own, factor) = match takes.len() {
        1 => (share, 1.0),
        _ => (
            f64::from(right) / f64::from(of.max(1)),
            count / (count - 1.0),
        ),
    };
    let off = |take: &Told| f64::from(take.right) - own * f64::from(take.of);
    factor * takes.iter().map(|take| off(take).powi(2)).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(kind: Deed, right: u32, of: u32) -> Told {
        Told { kind, right, of }
    }

    fn width(takes: &[Told]) -> f64 {
        let (_, (low, high)) = range(takes);
        high - low
    }

    #[test]
    fn kinds_that_always_go_wrong_narrow_the_range_and_takes_that_go_wrong_as_a_whole_widen_it() {
        let drawn = Share { part: 24, of: 30 }.interval();
        // Always the same kind is missed.
        let kinds: Vec<Told> = (0..30)
            .map(|i| match i % 5 {
                0 => told(Deed::Buzzes, 0, 1),
                _ => told(Deed::Clean, 1, 1),
            })
            .collect();
        assert_eq!(range(&kinds).0, Share { part: 24, of: 30 });
        assert!(width(&kinds) < 0.8 * (drawn.1 - drawn.0));
        // Six strings wrong of one take, and one of each of six.
        let mut clustered = vec![told(Deed::Clean, 6, 6); 29];
        clustered.push(told(Deed::Clean, 0, 6));
        let mut spread = vec![told(Deed::Clean, 6, 6); 24];
        spread.extend(vec![told(Deed::Clean, 5, 6); 6]);
        assert_eq!(range(&clustered).0, range(&spread).0);
        assert!(width(&clustered) > 1.5 * width(&spread));
    }

    #[test]
    fn of_nothing_the_share_may_be_anything() {
        assert_eq!(range(&[]), (Share::default(), (0.0, 1.0)));
    }
}
