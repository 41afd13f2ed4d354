//! Strums over dead strings, among sounds that ring no longer than a thud.

use super::attack::GAP_S;
use super::history::RecentSamples;
use super::onset::Onset;
use super::strokes::AttackStrokes;
use crate::decibels;

/// A chord of so many strings is meant at least.
const STRINGS: usize = 3;
/// No more strokes than this are heard of six strings, or of one: a low string that dies early steps up with each of its periods,
/// and so does a voice. Of 732 strums over dead strings two have more, of 17 words that were taken for such strums 14.
const MOST_STROKES: usize = 8;
/// At the level of a strum: the loudest sample's magnitude, full scale 1.
const PEAK: f32 = 0.1;
const STRETCH_S: f64 = 0.02;
const STRETCHES: u32 = 8;
/// A chord has fallen by so much after [`STRETCHES`], in dB: speech has not.
const SOON_DB: f64 = -12.0;
/// Hardly anything is left so long after the last onset, in seconds: so many dB less ...
const LEFT_S: f64 = 0.3;
const LEFT_DB: f64 = -28.0;
/// ... or no more than this times what was there before, in power. The noise of [`STRETCH_S`] varies: of 197 composed dead strums two
/// have 2.2 and 2.4 times as much left, and of touches and knocks no more pass than at 2.
const FLOOR: f64 = 2.5;
/// What was there before it has no more than this share of its power.
const BEFORE: f64 = 0.25;
/// Log odds for a strum against a knock, a touch, a word or a string picked: a logistic regression on 235 strums over dead strings
/// and 115 other thuds as loud that die as soon (scripts/found.rs, the half to develop on; `scripts/train dead` fits the same to
/// all thuds).
const CONSTANT: f64 = -0.71;
const SWEEP: f64 = 2.03;
const COUNT: f64 = 1.57;
const SPAN: f64 = 7.5;
const LOUDNESS: f64 = 5.5;
const LASTS: f64 = 0.67;
/// From these log odds up it is told: below 0, since a dead strum that nobody hears looks like a program that does not hear. Of
/// 197 composed ones 181 reach it and 169 reach 0; of 200 touches made of the same strikes 27 and 17, of 200 knocks none.
const LEAST_ODDS: f64 = -1.0;
/// The sweep's log odds, where it is told, lie between these; as many strokes count at most.
const SWEEPS: (f64, f64) = (-2.5, 2.0);
const MOST_COUNT: usize = 4;
/// Nothing is softer, and nothing shorter (in seconds).
const SOFTEST: f64 = 1e-3;
const SHORTEST_S: f64 = 0.005;

/// Is an attack with these onsets, and the log odds of a sweep where there is one, a strum over dead strings? Only where a chord of
/// so many `strings` is meant, or one string: then it is that, dead.
pub(super) fn is_strum(
    history: &RecentSamples,
    rate_hz: u32,
    onsets: &[Onset],
    sweep: Option<f64>,
    strings: Option<usize>,
) -> bool {
    let samples = |seconds: f64| (seconds * f64::from(rate_hz)) as u64;
    let stretch = samples(STRETCH_S);
    let (first, last) = (onsets[0].at, onsets[onsets.len() - 1].at);
    let one = strings == Some(1);
    let end = last + samples(LEFT_S) + stretch;
    if !(one || strings >= Some(STRINGS)) || end > history.end() || last > first + samples(GAP_S) {
        return false;
    }
    let power = |from: u64| history.power(from, from + stretch);
    let after = |i: u32| power(first + samples(f64::from(i) * STRETCH_S));
    let loudest = (0..STRETCHES).map(after).fold(0.0, f64::max);
    let less = |db: f64| loudest * decibels::to_power(db);
    let before = power(first.saturating_sub(2 * stretch));
    let left = power(last + samples(LEFT_S));
    let strokes = AttackStrokes::of(history, rate_hz, first);
    let struck =
        one || (after(STRETCHES) < less(SOON_DB) && log_odds(first, &strokes, sweep) > LEAST_ODDS);
    struck
        && (1..=MOST_STROKES).contains(&strokes.count)
        && strokes.peak >= PEAK
        && before < BEFORE * loudest
        && left < less(LEFT_DB).max(FLOOR * before)
}

/// Of an attack that begins at `first`, for the log.
fn log_odds(first: u64, strokes: &AttackStrokes, sweep: Option<f64>) -> f64 {
    let (least, most) = SWEEPS;
    let features = [
        sweep.map_or(least, |odds| odds.clamp(least, most)),
        strokes.count.min(MOST_COUNT) as f64,
        strokes.span_s,
        (f64::from(strokes.peak) + SOFTEST).log10(),
        (strokes.lasts_s + SHORTEST_S).ln(),
    ];
    // What `scripts/train dead` reads.
    let [sweep, count, span_s, loudness, lasts] = features;
    log::trace!("{first} {sweep:.3} {count} {span_s:.3} {loudness:.3} {lasts:.3}");
    let weighed = features.iter().zip([SWEEP, COUNT, SPAN, LOUDNESS, LASTS]);
    CONSTANT + weighed.map(|(f, w)| f * w).sum::<f64>()
}
