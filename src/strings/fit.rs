//! Where exactly one string's partials stand in one take: its tuning offset and its stiffness.

use crate::spectrum::LineSpectrum;
use crate::spectrum::partials::{flexible_hz, partial_hz, shifted_hz};

/// Most partials looked at.
pub const PARTIALS: usize = 28;
/// Highest partial looked at, in Hz.
const HIGHEST_HZ: f64 = 4_500.0;
/// Farthest that a string may be from the take's common tuning, in cents.
const REACH_CENTS: f64 = 25.0;
/// Farthest that a string's stiffness may be from the usual, in decades.
const REACH_DECADES: f64 = 0.45;
/// A partial counts at most this many dB over the floor, so that no single one decides the fit.
const CAP_DB: f32 = 30.0;
/// Partials nearer than this to another string's are not this string's own.
pub const OWN_HZ: f32 = 3.0;

/// A note that a string may be sounding, fitted to the take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// Flexible fundamental in Hz.
    pub f0_hz: f64,
    /// Stiffness coefficient.
    pub b: f64,
    /// Cents above the nominal pitch at which the search was centred.
    pub cents: f32,
    /// log10 of B over the usual B.
    pub decades: f32,
    /// Sum over the partials used of their level over the floor in dB, each capped.
    pub score: f32,
    /// Partials below the frequency limit.
    pub count: usize,
    /// Partials used in the score.
    pub used: usize,
}

impl Fit {
    /// The note as expected, before any fitting.
    pub fn nominal(f1_hz: f64, usual_b: f64, top_hz: f64) -> Self {
        let f0_hz = flexible_hz(f1_hz, usual_b);
        let limit = HIGHEST_HZ.min(top_hz * 0.9);
        let count = (1..=PARTIALS)
            .take_while(|&n| partial_hz(f0_hz, usual_b, n) < limit)
            .count();
        Fit {
            f0_hz,
            b: usual_b,
            cents: 0.0,
            decades: 0.0,
            score: 0.0,
            count,
            used: 0,
        }
    }

    /// Frequency of partial `n` (1 = fundamental) in Hz.
    pub fn hz(&self, n: usize) -> f32 {
        partial_hz(self.f0_hz, self.b, n) as f32
    }
}

/// Fits the note with nominal fundamental `f1_hz` to `spectrum`. Partials within [`OWN_HZ`] of a
/// frequency in `others` (ascending) do not count.
pub fn fit(spectrum: &LineSpectrum, f1_hz: f64, usual_b: f64, others: &[f32]) -> Fit {
    let nominal = Fit::nominal(f1_hz, usual_b, f64::from(spectrum.top_hz()));
    let mut used = [false; PARTIALS];
    let mut floors = [0f32; PARTIALS];
    let own_hz = OWN_HZ.max(1.2 / spectrum.seconds().max(0.1));
    let mut own = 0;
    for n in 1..=nominal.count {
        let hz = nominal.hz(n);
        floors[n - 1] = spectrum.floor_db(hz);
        used[n - 1] = distance_hz(others, hz) >= own_hz;
        own += usize::from(used[n - 1]);
    }
    // With hardly anything of its own the string is fitted on all it has.
    if own < 3 {
        used[..nominal.count].fill(true);
    }
    let score = |cents: f64, decades: f64| {
        let b = usual_b * 10f64.powf(decades);
        let f0 = flexible_hz(shifted_hz(f1_hz, cents), b);
        let mut sum = 0f32;
        for n in 1..=nominal.count {
            if used[n - 1] {
                let over = spectrum.at_db(partial_hz(f0, b, n) as f32) - floors[n - 1];
                sum += over.clamp(0.0, CAP_DB);
            }
        }
        // Among equals the usual string at the common tuning wins.
        sum - (0.02 * cents * cents / 25.0 + 2.0 * decades * decades) as f32
    };
    let mut best = (f32::MIN, 0.0, 0.0);
    let mut search = |centre: (f64, f64), steps: (i32, i32), size: (f64, f64)| {
        for i in -steps.0..=steps.0 {
            for j in -steps.1..=steps.1 {
                let cents = (centre.0 + f64::from(i) * size.0).clamp(-REACH_CENTS, REACH_CENTS);
                let decades =
                    (centre.1 + f64::from(j) * size.1).clamp(-REACH_DECADES, REACH_DECADES);
                let s = score(cents, decades);
                if s > best.0 {
                    best = (s, cents, decades);
                }
            }
        }
        (best.1, best.2)
    };
    let coarse = search(
        (0.0, 0.0),
        (11, 9),
        (REACH_CENTS / 11.0, REACH_DECADES / 9.0),
    );
    let fine = search(coarse, (3, 3), (0.7, 0.015));
    search(fine, (2, 2), (0.25, 0.005));
    let (score, cents, decades) = best;
    let b = usual_b * 10f64.powf(decades);
    Fit {
        f0_hz: flexible_hz(shifted_hz(f1_hz, cents), b),
        b,
        cents: cents as f32,
        decades: decades as f32,
        score,
        count: nominal.count,
        used: used[..nominal.count].iter().filter(|u| **u).count(),
    }
}

/// Distance in Hz from `hz` to the nearest of `sorted` (ascending).
pub fn distance_hz(sorted: &[f32], hz: f32) -> f32 {
    let at = sorted.partition_point(|&o| o < hz);
    let below = at.checked_sub(1).map_or(f32::MAX, |i| hz - sorted[i]);
    let above = sorted.get(at).map_or(f32::MAX, |&o| o - hz);
    below.min(above)
}
