//! Number of strings that an attack struck, by the steps of its high-passed sound.

use super::history::RecentSamples;

/// The sound is read in stretches of this length, in seconds: shorter than the time from one string to the next.
const STRETCH_S: f64 = 0.002;
/// Strokes are sought from this long before the first onset to this long after it, in seconds.
const BEFORE_S: f64 = 0.03;
const AFTER_S: f64 = 0.16;
/// A stroke steps up the sound by this factor in power over the mean of as many stretches before ...
const STEP: f64 = 1.8;
const STRETCHES: usize = 4;
/// ... and reaches this share of the loudest stretch (16 dB below it).
const LOUD: f64 = 0.025;
/// Two strokes lie at least so many stretches apart.
const APART: usize = 2;

/// What was there before is read over so long, in seconds.
const QUIET_S: f64 = 0.06;
/// An attack lasts from the first to the second of these shares of its sound.
const LASTS: (f64, f64) = (0.1, 0.9);

/// The strokes of an attack.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct AttackStrokes {
    /// Number of those heard.
    pub count: usize,
    /// Time from the first to the last, in seconds.
    pub span_s: f64,
    /// The time in which the middle eight tenths of the high-passed sound come, in seconds.
    pub lasts_s: f64,
    /// The loudest sample's magnitude, full scale 1.
    pub peak: f32,
}

impl AttackStrokes {
    /// Finds those of the attack whose first onset is at `first`.
    pub fn of(history: &RecentSamples, rate_hz: u32, first: u64) -> Self {
        let samples = |seconds: f64| (seconds * f64::from(rate_hz)) as u64;
        let stretch = samples(STRETCH_S).max(1);
        let from = first.saturating_sub(samples(BEFORE_S));
        let count = ((first + samples(AFTER_S)).saturating_sub(from) / stretch) as usize;
        let energy = |i: usize| {
            let at = from + i as u64 * stretch;
            history.edge_energy(at, at + stretch)
        };
        let loudest = (0..count).map(energy).fold(0.0, f64::max);
        let mut before = [0.0; STRETCHES];
        let mut found: Option<(usize, usize, usize)> = None;
        for i in 0..count {
            let now = energy(i);
            let usual = before.iter().sum::<f64>() / STRETCHES as f64;
            if now > STEP * usual && now > LOUD * loudest {
                found = match found {
                    None => Some((1, i, i)),
                    Some((n, begun, last)) if i >= last + APART => Some((n + 1, begun, i)),
                    Some((n, begun, _)) => Some((n, begun, i)),
                };
            }
            before.rotate_left(1);
            before[STRETCHES - 1] = now;
        }
        let quiet = from.saturating_sub(samples(QUIET_S));
        let usual = match from > quiet {
            true => history.edge_energy(quiet, from) * stretch as f64 / (from - quiet) as f64,
            false => 0.0,
        };
        let mut sum = 0.0;
        let sums: Vec<f64> = (0..count)
            .map(|i| {
                sum += (energy(i) - usual).max(0.0);
                sum
            })
            .collect();
        let until = |share: f64| sums.partition_point(|s| *s < share * sum);
        let lasts_s = (until(LASTS.1) - until(LASTS.0)) as f64 * STRETCH_S;
        let sound = history.slice(first, first + samples(AFTER_S));
        let peak = sound.iter().fold(0f32, |p, s| p.max(s.abs()));
        found.map_or(AttackStrokes::default(), |(count, begun, last)| {
            AttackStrokes {
                count,
                span_s: (last - begun) as f64 * STRETCH_S,
                lasts_s,
                peak,
            }
        })
    }
}
