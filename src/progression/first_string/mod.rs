//! When the first string of a strum was struck, to a few milliseconds, though another chord rings, the hand lets
//! go of it, the string is soft or dead, and the one that stands out comes up to a fifth of a second later.
//!
//! What was sounding before is predictable: coefficients learned from it (linear prediction) leave little of it,
//! while a string that is struck anew leaves much. The [`network`] hears what is left beside the sound itself.

mod network;

pub use network::{BEFORE, HEARD, Network, SOUNDS};

use std::ops::Range;

use crate::audio::at_rate;
use crate::spectrum::prediction::{Predictor, thinned};
use crate::take::Strum;
use network::RATE_HZ;

/// Samples of the recording that one of the network's sums up.
const SUMMED: usize = 4;
/// Coefficients of the prediction: two for each of eight partials of six strings; but no more than one for so
/// many samples of what they are learned from.
const ORDER: usize = 96;
const LEARNED_FOR_EACH: usize = 4;
/// Sound that they are learned from, in seconds. Where the strum before is near, what came after its last
/// string only, but not less than this.
const LEARNED_S: f64 = 0.2;
const LEAST_LEARNED_S: f64 = 0.06;
/// What is foretold in one block of so many seconds ...
const BLOCK_S: f64 = 0.006;
/// ... is learned from sound that ends so long before it, in seconds: two periods of low E and a little more.
const APART_S: f64 = 0.027;
/// The hand takes no longer than this over the strings, in seconds: six at 40 ms each ...
const STRUM_S: f64 = 0.2;
/// ... and no more than this share of the time from strum to strum.
const STRUM_SHARE: f64 = 0.5;

/// Seconds that a strum takes at most from its first string to its last where strums are wanted so many
/// seconds from each other at least.
pub fn longest_strum_s(closest_s: f64) -> f64 {
    STRUM_S.min(STRUM_SHARE * closest_s)
}

/// The moments in seconds from the start of the recording at which the first strings of its strums were
/// struck, none of which takes longer than `longest_s`. `taken_out`: the backing that was heard with them.
pub fn first_strings(
    network: &Network,
    samples: &[f32],
    rate_hz: u32,
    strums: &[Strum],
    longest_s: f64,
    taken_out: Option<&[f32]>,
) -> Vec<f64> {
    let point = |sounds: &Sounds, from| network.point(sounds.each_ref().map(Vec::as_slice), from);
    hear_each(samples, rate_hz, strums, longest_s, taken_out, point)
}

/// What the network hears of a strum: each [`HEARD`] samples.
pub type Sounds = [Vec<f32>; SOUNDS];

/// For each strum the moment in seconds that `point` gives as a sample of what is heard of it, given that and the
/// first sample that it may be.
pub fn hear_each(
    samples: &[f32],
    rate_hz: u32,
    strums: &[Strum],
    longest_s: f64,
    taken_out: Option<&[f32]>,
    mut point: impl FnMut(&Sounds, usize) -> f32,
) -> Vec<f64> {
    let mut hearing = Hearing {
        sound: brought_down(samples, rate_hz),
        taken_out: taken_out.map(|backing| brought_down(backing, rate_hz)),
        predictor: Predictor::default(),
    };
    // Where the strum before has all its strings.
    let mut free = 0;
    let moments = strums.iter().map(|strum| {
        let found = count(strum.start_s());
        let from = found as isize - BEFORE as isize;
        let earliest = found.saturating_sub(count(longest_s)).max(free.min(found));
        let sounds = hearing.heard(from, free);
        let at = from as f64 + f64::from(point(&sounds, (earliest as isize - from) as usize));
        free = at.max(0.0) as usize + count(longest_s);
        at.max(0.0) / f64::from(RATE_HZ)
    });
    moments.collect()
}

/// Samples at the network's rate: sums, since a steep filter would let a string be heard before it is struck.
fn brought_down(samples: &[f32], rate_hz: u32) -> Vec<f64> {
    thinned(&at_rate(samples, rate_hz, SUMMED as u32 * RATE_HZ), SUMMED)
}

/// A recording as the network hears it.
struct Hearing {
    sound: Vec<f64>,
    taken_out: Option<Vec<f64>>,
    predictor: Predictor,
}

fn count(seconds: f64) -> usize {
    (seconds * f64::from(RATE_HZ)) as usize
}

impl Hearing {
    /// What is heard from a sample on; what lies outside the recording is silent. The strum before has all its
    /// strings before `free`.
    fn heard(&mut self, from: isize, free: usize) -> Sounds {
        let places = from..from + HEARD as isize;
        let part = |at: &dyn Fn(usize) -> Option<f32>| -> Vec<f32> {
            let inside = |i: isize| usize::try_from(i).ok().and_then(at);
            places.clone().map(|i| inside(i).unwrap_or(0.0)).collect()
        };
        let sound = part(&|i| self.sound.get(i).map(|s| *s as f32));
        let backing = part(&|i| self.taken_out.as_ref()?.get(i).map(|s| *s as f32));
        let mut left = vec![0.0; HEARD];
        for (number, into) in left.chunks_mut(count(BLOCK_S)).enumerate() {
            if let Ok(begin) = usize::try_from(from + (number * count(BLOCK_S)) as isize) {
                self.foretell(begin, free, into);
            }
        }
        [sound, backing, left]
    }

    /// Puts into `left` how far the samples from `begin` on are from what was there before; nothing where there is
    /// too little to learn from.
    fn foretell(&mut self, begin: usize, free: usize, left: &mut [f32]) {
        let Some(learned) = learned(begin, free) else {
            return;
        };
        let end = self.sound.len().min(begin + left.len());
        if end <= begin {
            return;
        }
        let learned = &self.sound[learned];
        let order = ORDER.min(learned.len() / LEARNED_FOR_EACH);
        self.predictor.learn(learned, order);
        for (i, into) in (begin..end).zip(left) {
            *into = self.predictor.error(&self.sound, i).sqrt() as f32;
        }
    }
}

/// What is learned from to foretell what begins at `begin`.
fn learned(begin: usize, free: usize) -> Option<Range<usize>> {
    let end = begin.checked_sub(count(APART_S))?;
    let shortest = end.checked_sub(count(LEAST_LEARNED_S))?;
    let longest = end.saturating_sub(count(LEARNED_S));
    Some(longest.max(free).min(shortest)..end)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::progression::examples::{RATE_HZ, sound};

    const RINGING: [(f64, f64, f64); 3] = [(82.4, 0.3, 1.0), (123.5, 0.3, 1.0), (164.8, 0.3, 1.0)];

    /// Where the network puts the first string of the strum that the finder would have begin at so many seconds.
    fn found_in(samples: &[f32], at_s: f64, longest_s: f64, taken_out: Option<&[f32]>) -> Vec<f64> {
        let network = Network::built_in();
        let onset = (at_s * f64::from(RATE_HZ)) as usize;
        let strums = [Strum::with_onset(samples, RATE_HZ, onset)];
        first_strings(&network, samples, RATE_HZ, &strums, longest_s, taken_out)
    }

    #[test]
    fn a_first_string_is_found_behind_an_onset_that_the_finder_put_too_early() {
        let new = [(110.0, 1.2, 1.0), (146.8, 1.21, 1.0)];
        let samples = sound(&[&RINGING[..], &new[..]].concat(), f64::INFINITY);
        let found = found_in(&samples, 1.14, 0.2, None);
        assert!((found[0] - 1.2).abs() < 0.003, "{found:?}");
    }

    #[test]
    fn a_hand_that_lets_go_is_no_strum() {
        let new = [(110.0, 1.2, 1.0), (146.8, 1.22, 1.0)];
        let samples = sound(&[&RINGING[..], &new[..]].concat(), 1.05);
        let found = found_in(&samples, 1.2, 0.2, None);
        assert!((found[0] - 1.2).abs() < 0.003, "{found:?}");
    }

    #[test]
    fn a_dead_first_string_is_found_though_the_hand_lets_go_as_it_is_struck() {
        let mut samples = sound(&[&RINGING[..], &[(146.8, 1.25, 1.0)]].concat(), 1.2);
        let rate = f64::from(RATE_HZ);
        for (i, sample) in samples.iter_mut().enumerate() {
            let t = i as f64 / rate - 1.2;
            if t >= 0.0 {
                let partial = |n: f64| (std::f64::consts::TAU * n * 110.0 * t).sin();
                let thud = (-70.0 * t).exp() * (1..=30).map(|n| partial(f64::from(n))).sum::<f64>();
                *sample += 0.01 * thud as f32;
            }
        }
        let found = found_in(&samples, 1.25, 0.2, None);
        assert!((found[0] - 1.2).abs() < 0.003, "{found:?}");
    }

    #[test]
    fn a_strum_takes_less_time_where_strums_are_wanted_sooner() {
        assert_eq!(longest_strum_s(f64::INFINITY), 0.2);
        assert_eq!(longest_strum_s(0.2), 0.1);
    }

    #[test]
    fn coefficients_are_learned_after_the_strum_before_but_from_a_little_in_any_case() {
        let ends = |r: Range<usize>| (r.start, r.end);
        let end = 22_050 - count(APART_S);
        let learned = |free| learned(22_050, free).map(ends);
        assert_eq!(learned(0), Some((end - count(LEARNED_S), end)));
        assert_eq!(learned(end - 1_000), Some((end - 1_000, end)));
        assert_eq!(learned(end), Some((end - count(LEAST_LEARNED_S), end)));
        assert_eq!(super::learned(500, 0), None);
    }
}
