//! When the first string of a strum was struck, to a few milliseconds.
//!
//! What was sounding before is predictable: coefficients learned from it (linear prediction) leave
//! little of it, while a string that is struck anew leaves much. The first place where what is left
//! rises above what was there just before is looked at closely: the onset is the point that parts it
//! best into a weak and a strong half (Akaike's criterion, as Maeda 1985 picks the arrival of an
//! earthquake's waves: from memory).

use std::ops::Range;

use crate::spectrum::prediction::{Predictor, thinned, thinned_by};
use crate::take::Strum;

/// It is worked at about this rate, in Hz: higher, and the coefficients reach less far.
pub(super) const RATE_HZ: f64 = 11_025.0;
/// Coefficients of the prediction: two for each of eight partials of six strings.
pub(super) const ORDER: usize = 96;
/// Sound that the prediction is learned from, in seconds, and the least of it, in samples a coefficient.
pub(super) const LEARNED_S: f64 = 0.2;
const LEAST_LEARNED: usize = 3;
/// A soft first string is sought so long before the coarse onset, in seconds, and so long after: in its own
/// search for a soft string the finder may go back by 60 ms too many.
const BEFORE_S: f64 = 0.06;
pub(super) const AFTER_S: f64 = 0.08;
/// What was there before is the loudest within so many seconds before a point: two periods of low E.
pub(super) const GROUND_S: f64 = 0.024;
/// A string has come in where what is left rises above the ground by this, in dB ...
const ABOVE_GROUND_DB: f64 = 6.0;
/// ... and is no softer than this below the strum's loudest, in dB.
const BELOW_PEAK_DB: f64 = 30.0;
/// A hand that lets go of the strings is not foretold either, but before the strum comes, or within so
/// many seconds, what sounds falls by more than this, in dB, over pieces of so many seconds.
const LETS_GO_S: f64 = 0.08;
const LETS_GO_DB: f64 = 18.0;
const PIECE_S: f64 = 0.012;
/// Over this long power is averaged, in seconds.
const SMOOTH_S: f64 = 0.001;
/// The point itself is sought so near to where the rise was seen, in seconds.
pub(super) const NEAR_S: f64 = 0.003;
/// Least samples on either side of that point.
const LEAST_SIDE: usize = 2;

/// The moment in seconds from the start of the recording at which a strum's first string was struck.
/// Falls back on the strum's own onset where there is too little sound before it.
pub fn first_string(strum: &Strum) -> f64 {
    let rate = f64::from(strum.rate_hz);
    let coarse = strum.onsets[0];
    let at = first_onset(&strum.samples, coarse, rate).unwrap_or(coarse);
    (strum.first + at as u64) as f64 / rate
}

/// The sample near `coarse` at which the first string sounds.
fn first_onset(samples: &[f32], coarse: usize, rate: f64) -> Option<usize> {
    let every = thinned_by(rate, RATE_HZ);
    let count = |seconds: f64| (seconds * rate / every as f64) as usize;
    let around = samples.len().min(coarse + (AFTER_S * rate) as usize);
    let sound = thinned(&samples[..around], every);
    let ground = count(GROUND_S);
    let learned_to = (coarse / every).checked_sub(count(BEFORE_S) + ground)?;
    let learned = &sound[learned_to.saturating_sub(count(LEARNED_S))..learned_to];
    if learned.len() < LEAST_LEARNED * ORDER {
        return None;
    }
    let mut predictor = Predictor::default();
    predictor.learn(learned, ORDER);
    let left: Vec<f64> = (learned_to..sound.len())
        .map(|i| predictor.error(&sound, i))
        .collect();
    let rate = rate / every as f64;
    let smooth = smoothed(&left, rate);
    let least = loudest(&smooth) * ratio(-BELOW_PEAK_DB);
    let places = ground.max(smoothed_over(rate) + 1)..smooth.len();
    let at = comes_in(&left, &smooth, places, rate, |at| {
        smooth[at] > least && !lets_go(&sound, learned_to + at, coarse / every, rate)
    })?;
    Some((learned_to + at) * every)
}

/// The point in `left`, what prediction leaves of a sound at this rate, at which a string comes in: near the
/// first of `places` where it has risen above the ground before and `is_string` holds. `smooth` is the same, [`smoothed`].
pub(super) fn comes_in(
    left: &[f64],
    smooth: &[f64],
    places: Range<usize>,
    rate: f64,
    is_string: impl Fn(usize) -> bool,
) -> Option<usize> {
    let count = |seconds: f64| (seconds * rate) as usize;
    let (width, ground) = (smoothed_over(rate), count(GROUND_S));
    let seen = places.step_by((width / 4).max(1)).find(|&at| {
        let before = loudest(&smooth[at.saturating_sub(ground)..at - width]);
        smooth[at] > before * ratio(ABOVE_GROUND_DB) && is_string(at)
    })?;
    let begin = seen.saturating_sub(ground);
    let end = (seen + count(NEAR_S)).min(left.len());
    let at = split(&left[begin..end], (width / 4).max(LEAST_SIDE))?;
    Some(begin + at)
}

/// Powers summed over a little while from each on.
pub(super) fn smoothed(powers: &[f64], rate: f64) -> Vec<f64> {
    let sums = powers.windows(smoothed_over(rate)).map(|w| w.iter().sum());
    sums.collect()
}

/// Samples over which they are.
pub(super) fn smoothed_over(rate: f64) -> usize {
    ((SMOOTH_S * rate) as usize).max(1)
}

/// Whether what sounds at the sample `at` falls silent before a strum's onset, at `coarse`: a hand lets go.
pub(super) fn lets_go(sound: &[f64], at: usize, coarse: usize, rate: f64) -> bool {
    let count = |seconds: f64| (seconds * rate) as usize;
    let piece = count(PIECE_S);
    let end = at + coarse.saturating_sub(at).clamp(piece, count(LETS_GO_S));
    let power = |range: Range<usize>| {
        let part = &sound[range];
        part.iter().map(|s| s * s).sum::<f64>() / part.len().max(1) as f64
    };
    let before = power(at.saturating_sub(count(GROUND_S))..at);
    (at + piece / 2..end)
        .step_by((piece / 4).max(1))
        .filter(|from| from + piece <= sound.len())
        .any(|from| power(from..from + piece) < before * ratio(-LETS_GO_DB))
}

pub(super) fn loudest(powers: &[f64]) -> f64 {
    powers.iter().fold(0.0, |p: f64, s| p.max(*s))
}

/// Ratio of powers so many dB apart.
pub(super) fn ratio(db: f64) -> f64 {
    10f64.powf(db / 10.0)
}

/// The index that parts powers best into two stretches of different mean power, the later one stronger:
/// least k ln(mean before) + (n - k) ln(mean after).
fn split(powers: &[f64], shortest: usize) -> Option<usize> {
    let total: f64 = powers.iter().sum();
    let n = powers.len();
    let floor = total / n.max(1) as f64 * 1e-9 + 1e-20;
    let mut before = 0.0;
    let mut best: Option<(f64, usize)> = None;
    for (i, power) in powers.iter().enumerate() {
        if i >= shortest && n - i >= shortest {
            let (k, rest) = (i as f64, (n - i) as f64);
            let (weak, strong) = (before / k + floor, (total - before) / rest + floor);
            let criterion = k * weak.ln() + rest * strong.ln();
            if strong > weak && best.is_none_or(|(least, _)| criterion < least) {
                best = Some((criterion, i));
            }
        }
        before += power;
    }
    best.map(|(_, at)| at)
}
