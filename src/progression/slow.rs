//! The first string of a slow strum, where the one that stands out comes up to a fifth of a second later.
//!
//! Block by block, each with coefficients learned just before it, the first moment is sought after which
//! so much more is left by prediction than before it that chance or a hand letting go is no reason: a string
//! that is struck, a dead one too, brings treble, and a hand takes it away. There the onset is put as
//! [`super::onset`] puts it. That one looks back less far but needs less of a rise, so the earlier of both
//! stands.

use std::ops::Range;

use super::onset::{
    AFTER_S, GROUND_S, LEARNED_S, NEAR_S, ORDER, RATE_HZ, comes_in, first_string, lets_go, loudest,
    ratio, smoothed, smoothed_over,
};
use crate::spectrum::prediction::{Predictor, thinned, thinned_by};
use crate::take::Strum;

/// No more coefficients are learned than one for so many samples of what they are learned from.
const LEARNED_FOR_EACH: usize = 4;
/// Where the strum before is near, they are learned from what came after its last string only, but from
/// not less than this, in seconds.
const LEAST_LEARNED_S: f64 = 0.06;
/// The hand takes no longer than this over the strings, in seconds: six at 40 ms each ...
const STRUM_S: f64 = 0.2;
/// ... and no more than this share of the time from strum to strum.
const STRUM_SHARE: f64 = 0.5;
/// What is sought in one block of so many seconds is foretold by what was there just before it.
const BLOCK_S: f64 = 0.006;
/// What is left on a ground before a moment is compared with what is left within so many seconds after
/// it: a period of low E.
const HOLDS_S: f64 = 0.012;
/// That both have their own power must be so much likelier than that they share one, in nats.
const LIKELIER: f64 = 16.0;
/// A string is no softer than this below the strum's loudest, in dB: where the finder gave an onset within
/// so many seconds, and elsewhere.
const BELOW_PEAK_THERE_DB: f64 = 32.0;
const THERE_S: f64 = 0.015;
const BELOW_PEAK_DB: f64 = 26.0;
/// A string brings so much more treble than there was on the ground before it, in dB, read in pieces of so
/// many seconds, that it is one though it is as soft as this against the strum's loudest, in dB, and though
/// the chord before falls silent as it comes: of 437 moments at which a hand let go (144 composed sessions)
/// none brought more than 2.6, dead first strings that were missed 6 to 12.
const BRIGHTER_DB: f64 = 4.0;
const BRIGHT_PIECE_S: f64 = 0.003;
const BELOW_PEAK_BRIGHT_DB: f64 = 36.0;
/// The onset lies where what is left first rises above the ground so long before the likeliest moment or
/// so long after it, in seconds: a string that bursts in is as likely anywhere just before the burst.
const SEEN_BEFORE_S: f64 = 0.006;
const SEEN_AFTER_S: f64 = 0.01;

/// Seconds that a strum takes at most from its first string to its last where strums are wanted so many
/// seconds from each other at least.
pub fn longest_strum_s(closest_s: f64) -> f64 {
    STRUM_S.min(STRUM_SHARE * closest_s)
}

/// The moments in seconds from the start of the recording at which the first strings of its strums were
/// struck, none of which takes longer than `longest_s`. `taken_out`: the backing that was heard with them;
/// what is left of it is no string.
pub fn first_strings(
    samples: &[f32],
    rate_hz: u32,
    strums: &[Strum],
    longest_s: f64,
    taken_out: Option<&[f32]>,
) -> Vec<f64> {
    let every = thinned_by(f64::from(rate_hz), RATE_HZ);
    let mut seeker = Seeker {
        sound: thinned(samples, every),
        taken_out: taken_out.map(|backing| thinned(backing, every)),
        rate: f64::from(rate_hz) / every as f64,
        predictor: Predictor::default(),
        left: Vec::new(),
    };
    let mut free = 0;
    let mut found = Vec::with_capacity(strums.len());
    for strum in strums {
        let coarse = seeker.count(strum.start_s());
        let reach = seeker.count(longest_s);
        let at = seeker.first(coarse, reach, free);
        free = at.unwrap_or(coarse) + reach;
        let at_s = at.map_or(f64::INFINITY, |at| at as f64 / seeker.rate);
        found.push(at_s.min(first_string(strum)));
    }
    found
}

/// Seeks what prediction does not foretell; times are samples of `sound`.
struct Seeker {
    sound: Vec<f64>,
    taken_out: Option<Vec<f64>>,
    rate: f64,
    predictor: Predictor,
    /// Squares of what prediction leaves.
    left: Vec<f64>,
}

impl Seeker {
    fn count(&self, seconds: f64) -> usize {
        (seconds * self.rate) as usize
    }

    /// The sample at which the first string sounds, at most `reach` before `coarse`. The strum before
    /// has all its strings before `free`.
    fn first(&mut self, coarse: usize, reach: usize, free: usize) -> Option<usize> {
        let end = self.sound.len().min(coarse + self.count(AFTER_S));
        let from = coarse.saturating_sub(reach).max(free.min(coarse));
        self.foretell(from, end, free)?;
        let strongest = loudest(&smoothed(&self.left, self.rate));
        (from..end).step_by(self.count(BLOCK_S)).find_map(|at| {
            let block = at..end.min(at + self.count(BLOCK_S));
            self.within(block, coarse, free, strongest)
        })
    }

    /// Foretells `from..to` and the ground before by what was there before that; gives where the
    /// ground begins.
    fn foretell(&mut self, from: usize, to: usize, free: usize) -> Option<usize> {
        let begin = from.checked_sub(self.count(GROUND_S + NEAR_S))?;
        let shortest = begin.checked_sub(self.count(LEAST_LEARNED_S))?;
        let longest = begin.saturating_sub(self.count(LEARNED_S));
        let learned = &self.sound[longest.max(free).min(shortest)..begin];
        let order = ORDER.min(learned.len() / LEARNED_FOR_EACH);
        self.predictor.learn(learned, order);
        let (predictor, sound) = (&self.predictor, &self.sound);
        self.left.clear();
        self.left
            .extend((begin..to.min(sound.len())).map(|i| predictor.error(sound, i)));
        Some(begin)
    }

    /// The sample at which a string comes in whose likeliest moment lies in a block.
    fn within(
        &mut self,
        block: Range<usize>,
        coarse: usize,
        free: usize,
        strongest: f64,
    ) -> Option<usize> {
        let after = self.count(HOLDS_S).max(self.count(SEEN_AFTER_S)) + self.count(NEAR_S);
        let begin = self.foretell(block.start, block.end + after, free)?;
        let (ground, holds) = (self.count(GROUND_S), self.count(HOLDS_S));
        let near = self.count(NEAR_S);
        let sums: Vec<f64> = std::iter::once(0.0)
            .chain(self.left.iter().scan(0.0, |sum, power| {
                *sum += power;
                Some(*sum)
            }))
            .collect();
        let last = self.left.len().saturating_sub(holds);
        let likelier: Vec<f64> = (ground..last)
            .map(|at| likelier(&sums, at - ground..at + holds, at))
            .collect();
        let smooth = smoothed(&self.left, self.rate);
        // What is left of a backing is no louder than what was taken out.
        let backing = self.taken_out.as_ref().map_or(vec![], |backing| {
            let places = begin..begin + self.left.len();
            let left: Vec<f64> = places.map(|i| self.predictor.error(backing, i)).collect();
            smoothed(&left, self.rate)
        });
        let there = self.count(THERE_S);
        let below = |at: usize, bright: bool| match at.abs_diff(coarse) <= there {
            _ if bright => BELOW_PEAK_BRIGHT_DB,
            true => BELOW_PEAK_THERE_DB,
            false => BELOW_PEAK_DB,
        };
        let first = block.start - begin - ground;
        let is_moment = |i: usize| {
            let around = &likelier[i.saturating_sub(near)..likelier.len().min(i + near + 1)];
            likelier[i] > LIKELIER && around.iter().all(|other| *other <= likelier[i])
        };
        let is_string = |at: usize| {
            let after = at.min(smooth.len())..smooth.len().min(at + holds);
            let backing = backing.get(after.clone()).map_or(0.0, loudest);
            let bright = self.brightens(begin + at);
            let least = backing.max(strongest * ratio(-below(begin + at, bright)));
            loudest(&smooth[after]) > least
                && (bright || !lets_go(&self.sound, begin + at, coarse, self.rate))
        };
        let place = (first..(first + block.len()).min(likelier.len()))
            .find(|&i| is_moment(i) && is_string(ground + i))?;
        let at = ground + place;
        let from = at.saturating_sub(self.count(SEEN_BEFORE_S));
        let places =
            from.max(smoothed_over(self.rate) + 1)..smooth.len().min(at + self.count(SEEN_AFTER_S));
        let seen = comes_in(&self.left, &smooth, places, self.rate, |_| true);
        Some(begin + seen.unwrap_or(at))
    }

    /// Whether there is more treble from the sample `at` on than on the ground before it.
    fn brightens(&self, at: usize) -> bool {
        let piece = self.count(BRIGHT_PIECE_S);
        let strongest = |range: Range<usize>| {
            let part = &self.sound[range.start - 2..range.end.min(self.sound.len())];
            // The second difference: treble counts by 12 dB an octave.
            let treble: Vec<f64> = (part.windows(3))
                .map(|s| (s[2] - 2.0 * s[1] + s[0]).powi(2))
                .collect();
            let pieces = treble.windows(piece).map(|p| p.iter().sum::<f64>());
            pieces.fold(0.0, f64::max)
        };
        let before = strongest(at - self.count(GROUND_S)..at);
        strongest(at..at + self.count(HOLDS_S)) > before * ratio(BRIGHTER_DB)
    }
}

/// How much likelier it is, in nats, that powers `range` have another mean from `at` on than that they
/// have one (of Gaussian sound), given their running sums; below 0 where they are weaker from there on.
fn likelier(sums: &[f64], range: Range<usize>, at: usize) -> f64 {
    let mean = |from: usize, to: usize| (sums[to] - sums[from]) / (to - from) as f64 + 1e-20;
    let (before, after) = (mean(range.start, at), mean(at, range.end));
    let all = mean(range.start, range.end);
    let (k, rest) = ((at - range.start) as f64, (range.end - at) as f64);
    let gain = 0.5 * (k * (all / before).ln() + rest * (all / after).ln());
    if after > before { gain } else { -gain }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::progression::examples::{RATE_HZ, sound};
    use crate::take::Manner;

    /// The strum that the finder would give, its onset at so many seconds.
    fn strum(samples: &[f32], at_s: f64) -> Strum {
        let onset = (at_s * f64::from(RATE_HZ)) as usize;
        let first = onset.saturating_sub((Strum::PRE_ROLL_S * f64::from(RATE_HZ)) as usize);
        Strum {
            samples: samples[first..].to_vec(),
            rate_hz: RATE_HZ,
            first: first as u64,
            onsets: vec![onset - first],
            manner: Manner::Strummed,
            cut_by_next: false,
        }
    }

    const BEFORE: [(f64, f64, f64); 3] = [(82.4, 0.3, 1.0), (123.5, 0.3, 1.0), (164.8, 0.3, 1.0)];

    #[test]
    fn the_soft_first_string_of_a_slow_strum_is_found_though_another_chord_rings() {
        let new = [(110.0, 1.2, 0.6), (146.8, 1.24, 0.6), (196.0, 1.32, 1.5)];
        let samples = sound(&[&BEFORE[..], &new[..]].concat(), f64::INFINITY);
        let found = first_strings(&samples, RATE_HZ, &[strum(&samples, 1.32)], 0.2, None);
        assert!((found[0] - 1.2).abs() < 0.003, "{found:?}");
        // No strum takes so long where strums are wanted in quick succession.
        let found = first_strings(&samples, RATE_HZ, &[strum(&samples, 1.32)], 0.06, None);
        assert!(found[0] > 1.23, "{found:?}");
    }

    #[test]
    fn a_first_string_is_found_behind_an_onset_that_the_finder_put_too_early() {
        let new = [(110.0, 1.2, 1.0), (146.8, 1.21, 1.0)];
        let samples = sound(&[&BEFORE[..], &new[..]].concat(), f64::INFINITY);
        let found = first_strings(&samples, RATE_HZ, &[strum(&samples, 1.14)], 0.2, None);
        assert!((found[0] - 1.2).abs() < 0.003, "{found:?}");
    }

    #[test]
    fn a_hand_that_lets_go_is_no_strum() {
        let new = [(110.0, 1.2, 1.0), (146.8, 1.22, 1.0)];
        let samples = sound(&[&BEFORE[..], &new[..]].concat(), 1.05);
        let found = first_strings(&samples, RATE_HZ, &[strum(&samples, 1.2)], 0.2, None);
        assert!((found[0] - 1.2).abs() < 0.003, "{found:?}");
    }

    #[test]
    fn a_dead_first_string_is_found_though_the_hand_lets_go_as_it_is_struck() {
        let mut samples = sound(&[&BEFORE[..], &[(146.8, 1.25, 1.0)]].concat(), 1.2);
        let rate = f64::from(RATE_HZ);
        for (i, sample) in samples.iter_mut().enumerate() {
            let t = i as f64 / rate - 1.2;
            if t >= 0.0 {
                let partial = |n: f64| (std::f64::consts::TAU * n * 110.0 * t).sin();
                let thud = (-70.0 * t).exp() * (1..=30).map(|n| partial(f64::from(n))).sum::<f64>();
                *sample += 0.01 * thud as f32;
            }
        }
        let found = first_strings(&samples, RATE_HZ, &[strum(&samples, 1.25)], 0.2, None);
        assert!((found[0] - 1.2).abs() < 0.003, "{found:?}");
    }

    #[test]
    fn what_is_left_of_a_backing_is_no_string() {
        let new = [(110.0, 1.2, 0.3), (196.0, 1.3, 1.5)];
        let samples = sound(&[&BEFORE[..], &new[..]].concat(), f64::INFINITY);
        let strums = [strum(&samples, 1.3)];
        let backing = |level| sound(&[(110.0, 1.2, level)], f64::INFINITY);
        let found = |taken_out: Option<&[f32]>| {
            first_strings(&samples, RATE_HZ, &strums, 0.2, taken_out)[0]
        };
        assert!((found(None) - 1.2).abs() < 0.003);
        assert!((found(Some(&backing(0.6))) - 1.3).abs() < 0.003);
        // A softer one does not sound like that.
        assert!((found(Some(&backing(0.1))) - 1.2).abs() < 0.003);
    }

    #[test]
    fn a_strum_takes_less_time_where_strums_are_wanted_sooner() {
        assert_eq!(longest_strum_s(f64::INFINITY), 0.2);
        assert_eq!(longest_strum_s(0.2), 0.1);
    }
}
