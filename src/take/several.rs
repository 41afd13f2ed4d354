//! Whether an attack was one string or several.

use super::onset::Onset;
use super::ringing::Hearing;

/// Log odds for several strings against one: a logistic regression on 29,000 attacks that ring (of 4,950 takes of
/// `synth::compose`, half under training conditions, and of the scenes of tests/finding_takes/measure.rs, seeds 60 to
/// 71). With guitars left out it takes 0.03 of single strings for several, and 0.04 (composed) to 0.06 (scenes) of several
/// for one. Where 0.01 of single ones are taken for several, 0.09 of composed strums are taken for one; by short windows
/// alone, as it was, 0.22. Nineteen features more bring 0.07, a network of 1,300 weights on all of them 0.03; neither
/// gets noticeably more of picked passes right.
const WEIGHTS: [(f64, Feature); 8] = [
    (5.6, |h, _, _| ((h.lines + 1) as f64).ln()),
    (-3.6, |h, _, _| h.one_series),
    (-5.9, |h, _, _| kept(h)),
    (-7.2, |h, _, _| h.clarity()),
    (-6.2, |_, long, _| long.one_series),
    (-4.1, |_, long, _| kept(long)),
    (4.3, |_, _, onsets| onsets.len().min(MOST_ONSETS) as f64),
    (-0.11, |_, _, onsets| onsets[0].rise_db),
];
const CONSTANT: f64 = 1.05;
/// Two strings that ring among dead ones look like one: of 288 such strums (seeds 90 to 95) 249 are found without this,
/// 262, 270 and 277 with 0.5, 1 and this (all 27 features), and of picked passes (seed 9300) no fewer strings are right.
const SEVERAL_LIKELIER: f64 = 1.5;
/// Onsets that count.
const MOST_ONSETS: usize = 6;
/// What was kept says nothing where what was there before lies this far below.
const KEPT_MATTERS_DB: f64 = 20.0;
const KEPT_NEUTRAL: f64 = 0.5;
/// Beyond this nothing is known any better.
const MOST: f64 = 10.0;

type Feature = fn(&Hearing, &Hearing, &[Onset]) -> f64;

/// Log odds for several strings against one, of an attack with these onsets, heard with short windows and with long ones.
pub(super) fn log_odds(short: &Hearing, long: &Hearing, onsets: &[Onset]) -> f64 {
    let features = WEIGHTS.iter().map(|(w, of)| w * of(short, long, onsets));
    (CONSTANT + SEVERAL_LIKELIER + features.sum::<f64>()).clamp(-MOST, MOST)
}

fn kept(h: &Hearing) -> f64 {
    if h.lift_db > KEPT_MATTERS_DB {
        KEPT_NEUTRAL
    } else {
        h.kept
    }
}
