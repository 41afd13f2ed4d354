//! When the first string of a strum was struck, to a few milliseconds.
//!
//! What was sounding before is predictable: a filter fitted to it (linear prediction) leaves little of
//! it, while a string that is struck anew leaves much. In what is left, the onset is the point that
//! parts the stretch best into a weak and a strong half (Akaike's criterion, as Maeda 1985 picks the
//! arrival of an earthquake's waves: from memory). Then the search goes on before that point, since the
//! string that stands out need not be the first.

use crate::take::Strum;

/// Sound before the coarse onset from which the prediction is learned, in seconds, and how long before
/// the onset it ends.
const LEARNED_S: f64 = 0.15;
const LEARNED_END_S: f64 = 0.03;
/// Coefficients of the prediction.
const ORDER: usize = 32;
/// White noise added to what is learned, as a share of its power (-60 dB): keeps the filter tame.
const WHITENING: f64 = 1e-6;
/// A soft first string is sought so long before the coarse onset, in seconds, and so long after.
const BEFORE_S: f64 = 0.06;
const AFTER_S: f64 = 0.03;
/// What was there before is the loudest within so many seconds before a point: a period of low E and more.
const GROUND_S: f64 = 0.016;
/// A string has come in where what is left rises above the ground by this, in dB ...
const ABOVE_GROUND_DB: f64 = 3.5;
/// ... and is no softer than this below the strum's loudest, in dB.
const BELOW_PEAK_DB: f64 = 30.0;
/// Over this long power is averaged, in seconds.
const SMOOTH_S: f64 = 0.001;
/// The point itself is sought so near to where the rise was seen, in seconds.
const NEAR_S: f64 = 0.003;

/// The moment in seconds from the start of the recording at which a strum's first string was struck.
/// Falls back on the strum's own onset where there is too little sound before it.
pub fn first_string(strum: &Strum) -> f64 {
    let rate = f64::from(strum.rate_hz);
    let coarse = strum.onsets[0];
    let found = first_onset(&strum.samples, coarse, rate).unwrap_or(coarse);
    let at = found.min(coarse);
    (strum.first + at as u64) as f64 / rate
}

/// The sample near `coarse` at which the first string sounds.
fn first_onset(samples: &[f32], coarse: usize, rate: f64) -> Option<usize> {
    let count = |seconds: f64| (seconds * rate) as usize;
    let learned_to = coarse.checked_sub(count(LEARNED_END_S))?;
    let learned_from = coarse.saturating_sub(count(LEARNED_S));
    let filter = predictor(samples.get(learned_from..learned_to)?)?;
    let from = coarse.checked_sub(count(BEFORE_S + GROUND_S))?.max(ORDER);
    let to = (coarse + count(AFTER_S)).min(samples.len());
    let left: Vec<f64> = (from..to)
        .map(|i| {
            let predicted: f64 = (filter.iter().enumerate())
                .map(|(k, a)| a * f64::from(samples[i - 1 - k]))
                .sum();
            (f64::from(samples[i]) - predicted).powi(2)
        })
        .collect();
    let width = count(SMOOTH_S).max(1);
    let smooth: Vec<f64> = left.windows(width).map(|w| w.iter().sum()).collect();
    let ground = count(GROUND_S);
    let loudest = |part: &[f64]| part.iter().fold(0.0, |p: f64, s| p.max(*s));
    let ratio = |db: f64| 10f64.powf(db / 10.0);
    let least = loudest(&smooth) * ratio(-BELOW_PEAK_DB);
    let step = (width / 4).max(1);
    let rises = |at: usize| {
        let before = loudest(&smooth[at - ground..at - width]);
        smooth[at] > least.max(before * ratio(ABOVE_GROUND_DB))
    };
    let seen = (ground.max(width + 1)..smooth.len())
        .step_by(step)
        .find(|at| rises(*at))?;
    let near = count(NEAR_S);
    let (begin, end) = (seen - ground, (seen + near).min(left.len()));
    let at = begin + split(&left[begin..end], width / 4)?;
    Some(from + at)
}

/// Coefficients that predict a sample from those before it: autocorrelation and Levinson-Durbin.
fn predictor(samples: &[f32]) -> Option<[f64; ORDER]> {
    if samples.len() < 4 * ORDER {
        return None;
    }
    let n = samples.len() as f64;
    let windowed: Vec<f64> = (samples.iter().enumerate())
        .map(|(i, s)| {
            let phase = std::f64::consts::TAU * (i as f64 + 0.5) / n;
            f64::from(*s) * (0.5 - 0.5 * phase.cos())
        })
        .collect();
    let mut r = [0.0; ORDER + 1];
    for (lag, r) in r.iter_mut().enumerate() {
        *r = windowed[lag..]
            .iter()
            .zip(&windowed)
            .map(|(a, b)| a * b)
            .sum();
    }
    r[0] = r[0] * (1.0 + WHITENING) + 1e-12;
    let mut a = [0.0; ORDER];
    let mut error = r[0];
    for m in 0..ORDER {
        let found: f64 = (0..m).map(|k| a[k] * r[m - k]).sum();
        let reflection = (r[m + 1] - found) / error;
        let before = a;
        a[m] = reflection;
        for k in 0..m {
            a[k] = before[k] - reflection * before[m - 1 - k];
        }
        error *= 1.0 - reflection * reflection;
    }
    Some(a)
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
