//! Strum as a whole: its common tuning, and how much of it a voicing explains.

use crate::fretboard::{Frets, Tuning, usual_b};
use crate::spectrum::partials::{cents, offsets_cents, partial_hz};
use crate::spectrum::{LineSpectrum, db};
use crate::strings::fit::Fit;
use crate::strings::spectra::Spectra;

/// Farthest common offset of the guitar that is followed, in cents.
pub const REACH_TUNING_CENTS: f64 = 60.0;

/// Partials that the common tuning is read from: low ones, which stiffness hardly moves.
const TUNING_PARTIALS: usize = 6;

/// The common offset that puts most sound on the expected notes' low partials, and how much that is.
pub fn common_tuning(spectrum: &LineSpectrum, tuning: &Tuning, frets: &Frets) -> (f64, f32) {
    const STEP_CENTS: f64 = 2.0;
    let notes: Vec<Fit> = frets
        .sounding()
        .map(|(s, f)| {
            Fit::nominal(
                tuning.hz(s, f),
                usual_b(s, f + tuning.capo),
                f64::from(spectrum.top_hz()),
            )
        })
        .collect();
    let score = |cents: f64| -> f32 {
        let ratio = (cents / 1200.0).exp2() as f32;
        let mut sum = 0.0;
        for note in &notes {
            for n in 1..=TUNING_PARTIALS.min(note.count) {
                let hz = note.hz(n) * ratio;
                sum += spectrum.standing_db(hz).clamp(0.0, 30.0);
            }
        }
        sum
    };
    let (cents, most) = best_offset(STEP_CENTS, 0.02, score);
    (cents, most / (notes.len() * TUNING_PARTIALS).max(1) as f32)
}

/// Finds the common offset of a guitar, in cents, at which `score` less so much for each cent off is highest, and how high.
pub fn best_offset(step_cents: f64, per_cent: f32, score: impl Fn(f64) -> f32) -> (f64, f32) {
    offsets_cents(REACH_TUNING_CENTS, step_cents)
        .map(|cents| (cents, score(cents) - per_cent * cents.abs() as f32))
        .fold((0.0, f32::MIN), |a, b| if b.1 > a.1 { b } else { a })
}

/// Range in which lines are counted, in Hz: fundamentals and the partials next to them.
const LINES_HZ: (f32, f32) = (75.0, 1500.0);

/// A line stands at least this far above its surroundings, in dB, and at most [`LINE_RANGE_DB`] below
/// the strongest.
const LINE_DB: f32 = 15.0;
const LINE_RANGE_DB: f32 = 35.0;
/// A line belongs to a partial at most this far off, in cents.
const LINE_CENTS: f64 = 25.0;

/// How far around a line its surroundings reach, in Hz, by which it is told from noise.
const SURROUNDINGS_HZ: f32 = 400.0;

/// Tells how far the strongest line of an attack stands out, in dB.
pub fn strongest_db(attack: &LineSpectrum) -> f32 {
    attack.prominence_db(LINES_HZ, SURROUNDINGS_HZ)
}

/// What is left of a strum is read from and to so long after its last string is struck, in seconds.
const LEFT_S: (f64, f64) = (0.2, 0.4);
/// The attack lasts so long after the last string is struck, in seconds.
const ATTACK_S: f64 = 0.1;

/// Less of that says nothing, in seconds.
const LEAST_LEFT_S: f64 = 0.02;

/// Tells how much softer a strum is a few tenths of a second after its attack, in dB; 0 where it does not last so long.
pub fn fallen_db(spectra: &Spectra) -> f32 {
    let (first, last) = spectra.onsets;
    let at = |seconds: f64| {
        let at = last + (seconds * spectra.rate_hz()) as usize;
        at.min(spectra.low.len())
    };
    let power = |part: &[f32]| part.iter().map(|s| s * s).sum::<f32>() / part.len().max(1) as f32;
    if at(LEFT_S.0 + LEAST_LEFT_S) == spectra.low.len() {
        return 0.0;
    }
    let attack = power(&spectra.low[first..at(ATTACK_S)]);
    let left = power(&spectra.low[at(LEFT_S.0)..at(LEFT_S.1)]);
    db(attack) - db(left)
}

/// The share of lines that the expected notes, as fitted, explain.
pub fn explained(spectrum: &LineSpectrum, expected: &[Fit]) -> f32 {
    let lines = spectrum.lines(LINES_HZ, LINE_DB, LINE_RANGE_DB);
    let (mut all, mut known) = (0f32, 0f32);
    for (hz, weight) in lines {
        all += weight;
        let near = |f1_hz: f64, b: f64| {
            let n = (f64::from(hz) / f1_hz).round().max(1.0) as usize;
            cents(partial_hz(f1_hz, b, n), f64::from(hz)).abs() <= LINE_CENTS
        };
        if expected.iter().any(|fit| near(fit.f0_hz, fit.b)) {
            known += weight;
        }
    }
    if all > 0.0 { known / all } else { 0.0 }
}

/// Tells how well a voicing's notes match the lines of a strum, roughly and fast: mean standing of their low
/// partials in dB, and what share of the lines they explain. For a shortlist only.
pub fn rough_fit(spectra: &Spectra, tuning: &Tuning, frets: &Frets) -> f32 {
    let long = &spectra.long;
    let (mut standing, mut count) = (0f32, 0f32);
    let notes: Vec<f64> = frets.sounding().map(|(s, f)| tuning.hz(s, f)).collect();
    for &hz in &notes {
        for n in 1..=3 {
            let at = (hz * f64::from(n)) as f32;
            standing += long.standing_near_db(at, at * 0.012).clamp(0.0, 30.0);
            count += 1.0;
        }
    }
    let (mut all, mut known) = (1e-6f32, 0f32);
    for (hz, weight) in long.lines(LINES_HZ, LINE_DB, LINE_RANGE_DB) {
        all += weight;
        if notes.iter().any(|&f1| {
            cents((f64::from(hz) / f1).round().max(1.0) * f1, f64::from(hz)).abs() <= 40.0
        }) {
            known += weight;
        }
    }
    standing / count.max(1.0) / 30.0 + known / all
}
