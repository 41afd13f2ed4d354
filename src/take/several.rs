//! Number of strings of an attack: one or several.

use super::onset::Onset;
use super::ringing::RingingMeasures;

/// Log odds for several strings against one: a logistic regression on 29,000 attacks that ring (of 4,950 takes of
/// `synth::compose`, half under training conditions, and of the scenes of tests/ear/finding_takes/measure.rs, seeds 60 to
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
/// A chord struck again while it rings brings little that is new. How much of what rang does not go on as it did (all of a chord
/// that is struck again, little of one beside which a string is picked) may tell it all the same, with the strongest rise of
/// the attack in dB: a loud string hides how those beside it go on. A logistic regression on attacks in running accompaniment,
/// composed strums and passes (the half of scripts/found.rs to develop on), those that hardly ring by themselves among them:
/// it takes 6 of 249 strums for one string, the features above alone 36. `scripts/train several` fits the same to attacks that
/// ring by themselves alone, and gives 1.67, 0.56, 6.89 and -0.71: these were not measured.
const RANG_CONSTANT: f64 = -0.25;
const RANG_FEATURES: f64 = 0.52;
const RANG_MOVED: f64 = 12.8;
const RANG_RISE: f64 = -1.14;
const MOST_RISE_DB: f64 = 12.0;
/// What the network for sweeps says tells more of it: a logistic regression on 859 attacks of the half of scripts/found.rs to
/// develop on, strokes of running accompaniment, chords struck again, and strings picked beside others that ring. It takes 15 of
/// 276 strums for one string and 15 of 583 strings for several; by how much does not go on alone 55 and 65.
const SWEPT_CONSTANT: f64 = -5.14;
const SWEPT_SWEEP: f64 = 3.45;
const SWEPT_MOVED: f64 = 9.24;
const SWEPT_RISE: f64 = -0.69;
const LEAST_SWEEP: f64 = -3.0;
/// Onsets that count.
const MOST_ONSETS: usize = 6;
const KEPT_NEUTRAL: f64 = 0.5;
/// Beyond this nothing is known any better.
const MOST: f64 = 10.0;

type Feature = fn(&RingingMeasures, &RingingMeasures, &[Onset]) -> f64;

/// Log odds for several strings against one, of an attack with these onsets, heard with short windows and with long ones.
pub(super) fn log_odds(short: &RingingMeasures, long: &RingingMeasures, onsets: &[Onset]) -> f64 {
    let features = WEIGHTS.iter().map(|(w, of)| w * of(short, long, onsets));
    let alone = (CONSTANT + SEVERAL_LIKELIER + features.sum::<f64>()).clamp(-MOST, MOST);
    if short.is_one_voice() || !short.something_rang() {
        return alone;
    }
    let rise_db = strongest_db(onsets);
    // What `scripts/train several` reads.
    log::trace!(
        "{} {alone:.3} {:.3} {rise_db:.2}",
        onsets[0].at,
        short.moved
    );
    let odds =
        RANG_CONSTANT + RANG_FEATURES * alone + RANG_MOVED * short.moved + RANG_RISE * rise_db;
    odds.clamp(alone, MOST)
}

/// The same of an attack beside strings that ring, which does not ring by itself, by the log odds of a sweep.
pub(super) fn swept(short: &RingingMeasures, onsets: &[Onset], sweep: f64) -> f64 {
    let odds = SWEPT_CONSTANT
        + SWEPT_SWEEP * sweep.max(LEAST_SWEEP)
        + SWEPT_MOVED * short.moved
        + SWEPT_RISE * strongest_db(onsets);
    odds.clamp(-MOST, MOST)
}

fn strongest_db(onsets: &[Onset]) -> f64 {
    let rises = onsets.iter().map(|o| o.rise_db);
    rises.fold(0.0, f64::max).min(MOST_RISE_DB)
}

fn kept(h: &RingingMeasures) -> f64 {
    if h.something_rang() {
        h.kept
    } else {
        KEPT_NEUTRAL
    }
}
