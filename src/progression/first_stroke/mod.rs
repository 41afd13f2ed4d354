//! Moment of the first stroke of a strum, to a few milliseconds, though another chord rings, the hand lets
//! go of it, the string is soft or dead, and the one that stands out comes up to a fifth of a second later.
//!
//! What was sounding before is predictable: coefficients learned from it (linear prediction) leave little of it,
//! while a string that is struck anew leaves much. The [`network`] hears what is left beside the sound itself.

mod network;

pub use network::{BEFORE, CONSTANTS, HEARD, LAYOUT, Network, SOUNDS};

use std::ops::Range;

use crate::audio::{Downsampler, Mono, PIECE};
use crate::spectrum::prediction::{Predictor, Thinner};
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

/// Seconds that a strum takes at most from its first stroke to its last where strums are wanted so many
/// seconds from each other at least.
pub fn longest_strum_s(closest_s: f64) -> f64 {
    STRUM_S.min(STRUM_SHARE * closest_s)
}

/// The moments in seconds from the start of a recording at which the first strokes of its strums fell, none
/// of which takes longer than `longest_s`. `found_s`: when the finder has each begin, in order. `taken_out`: the
/// backing that was heard with them.
pub fn first_strokes(
    network: &Network,
    sound: &dyn Mono,
    rate_hz: u32,
    found_s: &[f64],
    longest_s: f64,
    taken_out: Option<&dyn Mono>,
) -> Vec<f64> {
    let point =
        |sounds: &StrumSounds, from| network.point(sounds.each_ref().map(Vec::as_slice), from);
    hear_each(sound, rate_hz, found_s, longest_s, taken_out, point)
}

/// Sounds of a strum that the network hears: each [`HEARD`] samples.
pub type StrumSounds = [Vec<f32>; SOUNDS];

/// Gives for each strum the moment in seconds that `point` gives as a sample of what is heard of it, given that and the
/// first sample that it may be.
pub fn hear_each(
    sound: &dyn Mono,
    rate_hz: u32,
    found_s: &[f64],
    longest_s: f64,
    taken_out: Option<&dyn Mono>,
    mut point: impl FnMut(&StrumSounds, usize) -> f32,
) -> Vec<f64> {
    let mut hearing = Hearing {
        sound: BroughtDown::new(sound, rate_hz),
        taken_out: taken_out.map(|backing| BroughtDown::new(backing, rate_hz)),
        predictor: Predictor::default(),
    };
    // Where the strum before has all its strings.
    let mut free = 0;
    let moments = found_s.iter().map(|found_s| {
        let found = count(*found_s);
        let from = found as isize - BEFORE as isize;
        let earliest = found.saturating_sub(count(longest_s)).max(free.min(found));
        let sounds = hearing.heard(from, free);
        let at = from as f64 + f64::from(point(&sounds, (earliest as isize - from) as usize));
        free = at.max(0.0) as usize + count(longest_s);
        at.max(0.0) / f64::from(RATE_HZ)
    });
    moments.collect()
}

/// A sound at the network's rate, of which what is read and what was just before is held: sums, since a steep filter
/// would let a string be heard before it is struck.
struct BroughtDown<'a> {
    sound: &'a dyn Mono,
    /// Where the next piece of `sound` begins.
    next: usize,
    resampler: Option<Downsampler>,
    /// At the rate of which a network's sample sums up [`SUMMED`].
    resampled: Vec<f32>,
    thinner: Thinner,
    /// Samples held, from number `first` on.
    held: Vec<f64>,
    first: usize,
}

impl<'a> BroughtDown<'a> {
    fn new(sound: &'a dyn Mono, rate_hz: u32) -> Self {
        BroughtDown {
            sound,
            next: 0,
            resampler: Downsampler::between(rate_hz, SUMMED as u32 * RATE_HZ),
            resampled: Vec::new(),
            thinner: Thinner::new(SUMMED),
            held: Vec::new(),
            first: 0,
        }
    }

    /// Reads on to `to`, or to the end of the sound, and forgets what lies before `from`.
    fn hold(&mut self, from: usize, to: usize) {
        while self.end() < to && self.next < self.sound.len() {
            let piece = self.sound.part(self.next..self.next + PIECE);
            self.next += piece.len();
            self.resampled.clear();
            match &mut self.resampler {
                Some(resampler) => resampler.push(&piece, &mut self.resampled),
                None => self.resampled.extend_from_slice(&piece),
            }
            if let Some(resampler) = &mut self.resampler
                && self.next == self.sound.len()
            {
                resampler.finish(&mut self.resampled);
            }
            self.thinner.push(&self.resampled, &mut self.held);
            let gone = from.saturating_sub(self.first).min(self.held.len());
            self.held.drain(..gone);
            self.first += gone;
        }
    }

    /// One past the last sample held.
    fn end(&self) -> usize {
        self.first + self.held.len()
    }

    fn get(&self, at: usize) -> Option<f64> {
        self.held.get(at.checked_sub(self.first)?).copied()
    }
}

/// A recording as the network hears it.
struct Hearing<'a> {
    sound: BroughtDown<'a>,
    taken_out: Option<BroughtDown<'a>>,
    predictor: Predictor,
}

fn count(seconds: f64) -> usize {
    (seconds * f64::from(RATE_HZ)) as usize
}

impl Hearing<'_> {
    /// What is heard from a sample on; what lies outside the recording is silent. The strum before has all its
    /// strings before `free`. Of what lies much before `from` no more can be heard afterwards.
    fn heard(&mut self, from: isize, free: usize) -> StrumSounds {
        let places = from..from + HEARD as isize;
        let learned = count(APART_S) + count(LEARNED_S);
        let held =
            from.saturating_sub_unsigned(learned).max(0) as usize..places.end.max(0) as usize;
        for sound in self.taken_out.iter_mut().chain([&mut self.sound]) {
            sound.hold(held.start, held.end);
        }
        let part = |sound: &BroughtDown| -> Vec<f32> {
            let inside = |i: isize| usize::try_from(i).ok().and_then(|i| sound.get(i));
            let heard = |i| inside(i).map_or(0.0, |s| s as f32);
            places.clone().map(heard).collect()
        };
        let silence = || vec![0.0; HEARD];
        let sound = part(&self.sound);
        let backing = self.taken_out.as_ref().map_or_else(silence, part);
        let mut left = silence();
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
        let end = self.sound.end().min(begin + left.len());
        if end <= begin {
            return;
        }
        let first = self.sound.first;
        let sound = &self.sound.held;
        let learned = &sound[learned.start - first..learned.end - first];
        let order = ORDER.min(learned.len() / LEARNED_FOR_EACH);
        self.predictor.learn(learned, order);
        for (i, into) in (begin - first..end - first).zip(left) {
            *into = self.predictor.error(sound, i).sqrt() as f32;
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

    /// The network finds a first string at 1.2 s, of a strum that the finder would have begin at so many seconds.
    fn is_found(samples: &[f32], at_s: f64) {
        let network = Network::built_in();
        let found = first_strokes(&network, &samples, RATE_HZ, &[at_s], 0.2, None);
        assert!((found[0] - 1.2).abs() < 0.003, "{found:?}");
    }

    #[test]
    fn a_first_stroke_is_found_behind_an_onset_that_the_finder_put_too_early() {
        let new = [(110.0, 1.2, 1.0), (146.8, 1.21, 1.0)];
        let samples = sound(&[&RINGING[..], &new[..]].concat(), f64::INFINITY);
        is_found(&samples, 1.14);
    }

    #[test]
    fn a_hand_that_lets_go_is_no_strum() {
        let new = [(110.0, 1.2, 1.0), (146.8, 1.22, 1.0)];
        let samples = sound(&[&RINGING[..], &new[..]].concat(), 1.05);
        is_found(&samples, 1.2);
    }

    #[test]
    fn a_dead_first_stroke_is_found_though_the_hand_lets_go_as_it_is_struck() {
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
        is_found(&samples, 1.25);
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
