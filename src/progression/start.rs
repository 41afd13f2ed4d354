//! Start of the playing in a recording: from the backing, where it is heard, or from how the strums
//! fit the beats.
//!
//! The backing's own sound tells the start where both halves of it say the same. Where it is faint, and the strums
//! say something else more surely, the start is where strums fit beats and chords best.

use std::ops::{Range, RangeInclusive};

use fourier::ComplexToReal;
use fourier::num_complex::Complex32;
use serde::Serialize;

use crate::audio::Mono;

/// Way in which the start was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum StartSource {
    /// The count-in, and the backing after it, are heard in the recording.
    CountIn,
    /// Start found from the strums alone.
    BestFit,
    /// The clocks of loudspeaker and microphone, or the user, said it.
    Told,
}

/// Place where the count-in starts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Start {
    /// Moment in seconds from the start of the recording; negative where the recording began later.
    pub at_s: f64,
    /// Source of the start.
    pub found: StartSource,
    /// Certainty, 0 to 1.
    pub sure: f64,
}

impl Start {
    /// Tells whether both are the same moment.
    pub(super) fn is_near(&self, other: &Start) -> bool {
        (self.at_s - other.at_s).abs() < SAME_S
    }
}

/// So much of the backing is held against so much of the recording, in seconds.
const BACKING_S: f64 = 24.0;
const RECORDING_S: f64 = 60.0;
/// Below this much a beat's sound lies under everything else, in Hz.
const LOWEST_HZ: f32 = 60.0;
/// In the half that is heard worse the correlation is this many times its own spread: strums on the
/// beats of a backing that was not there reached 10 at most (24 composed performances), with it at -20 dB
/// 12 to 165.
const NO_ACCIDENT: f32 = 10.5;
/// ... and as sure as can be at this many.
const SURE_AT: f32 = 20.0;

/// Finds the backing (mono, from the start of its count-in) in a recording of the same rate, where the
/// start lies in `range` (seconds). Strums on the beats of a backing that is not there may look like it,
/// so both halves of it must be heard; and its bars are alike, so that the place counts where they are
/// heard best together. `None` where it is not heard.
pub fn from_backing(
    recording: &dyn Mono,
    backing: &dyn Mono,
    rate_hz: u32,
    range: RangeInclusive<f64>,
) -> Option<Start> {
    let rate = f64::from(rate_hz);
    let part = |length: usize, seconds: f64| length.min((seconds * rate) as usize);
    let sound = part(recording.len(), RECORDING_S);
    // Where playing was broken off, there is no more of the backing either than from its start on.
    let earliest = part(sound, range.start().max(0.0));
    let wanted = part(backing.len(), BACKING_S).min(sound - earliest);
    let first = wanted / 2;
    if sound == 0 || first == 0 {
        return None;
    }
    let size = (sound + wanted - first).next_power_of_two();
    let crossed = crossed(
        size,
        rate,
        recording,
        0..sound,
        backing,
        [0..first, first..wanted],
    );
    let backward = fourier::inverse(size);
    let [early, late] = crossed.map(|crossed| Agreement::of(crossed, &*backward));
    let both = |lag: i64| (early.times(lag), late.times(lag + first as i64));
    let from = (range.start() * rate).max(-(first as f64)) as i64;
    let to = (range.end() * rate).min(sound as f64 - 1.0) as i64;
    let (lag, (one, other)) = (from..=to)
        .map(|lag| (lag, both(lag)))
        .max_by(|(_, a), (_, b)| (a.0 + a.1).total_cmp(&(b.0 + b.1)))?;
    let times = one.min(other);
    let sure = ((times - NO_ACCIDENT) / (SURE_AT - NO_ACCIDENT)).min(1.0);
    (times >= NO_ACCIDENT).then(|| Start {
        at_s: lag as f64 / rate,
        found: StartSource::CountIn,
        sure: f64::from(0.5 + 0.5 * sure),
    })
}

/// Cross spectra of `size` samples: of a part of a recording with each of some parts of a backing, all frequencies
/// counting alike. Nothing else of their size is left behind.
fn crossed<const PARTS: usize>(
    size: usize,
    rate: f64,
    recording: &dyn Mono,
    heard: Range<usize>,
    backing: &dyn Mono,
    wanted: [Range<usize>; PARTS],
) -> [Vec<Complex32>; PARTS] {
    let forward = fourier::forward(size);
    let spectrum = |sound: &dyn Mono, part: Range<usize>| {
        let mut samples = forward.make_input_vec();
        sound.read(part.start, &mut samples[..part.len()]);
        let mut spectrum = forward.make_output_vec();
        // The lengths are the plan's own, so this cannot fail.
        let _ = forward.process(&mut samples, &mut spectrum);
        spectrum
    };
    let heard = spectrum(recording, heard);
    wanted.map(|part| {
        let mut crossed = spectrum(backing, part);
        let last = crossed.len() - 1;
        let ends = crossed[0].norm_sqr() + crossed[last].norm_sqr();
        let between: f32 = crossed[1..last].iter().map(|c| c.norm_sqr()).sum();
        // A bin that the backing leaves empty says nothing, however loud the recording is there.
        let usual = (ends + 2.0 * between) / size as f32;
        for (index, (b, a)) in crossed.iter_mut().zip(&heard).enumerate() {
            let hz = index as f32 * rate as f32 / size as f32;
            let weight = b.norm() / (b.norm_sqr() + 0.01 * usual).sqrt();
            let cross = *a * b.conj();
            let size_of = cross.norm();
            *b = if hz < LOWEST_HZ || size_of <= 1e-20 {
                Complex32::default()
            } else {
                cross / size_of * weight
            };
        }
        // Both ends of a real signal's spectrum are real.
        crossed[0].im = 0.0;
        crossed[last].im = 0.0;
        crossed
    })
}

/// How well a recording agrees with what is sought in it at each lag.
struct Agreement {
    /// Lags below 0 stand at the end.
    at: Vec<f32>,
    spread: f32,
}

impl Agreement {
    /// By their cross spectrum.
    fn of(mut crossed: Vec<Complex32>, backward: &dyn ComplexToReal<f32>) -> Self {
        let mut at = backward.make_output_vec();
        let _ = backward.process(&mut crossed, &mut at);
        let power = at.iter().map(|s| s * s).sum::<f32>() / at.len() as f32;
        Agreement {
            at,
            spread: power.sqrt().max(1e-20),
        }
    }

    /// How well they agree at a lag in samples, in times the spread over all lags.
    fn times(&self, lag: i64) -> f32 {
        let size = self.at.len() as i64;
        self.at[lag.rem_euclid(size) as usize] / self.spread
    }
}

/// A strum this far from a beat speaks as much for a start as against it, in seconds.
const NEAR_S: f64 = 0.10;
/// What a beat without a strum, and a strum without a beat, speak against a start.
const LEFT_OUT: f64 = 0.25;
/// What the chord heard speaks for or against, for each strum.
const CHORD: f64 = 2.0;
/// Starts that are looked at closely.
const SHORTLIST: usize = 24;
/// Two starts this near are one, in seconds.
const SAME_S: f64 = 0.12;
/// How surely one start is told from another by so much more speaking for it (a choice).
const SURENESS: f64 = 1.0;

/// Finds the start that fits strums (seconds) to beats (seconds from the start of the count-in) best.
/// Only starts in `range` (seconds) are tried. `fit(strum, beat)` says from 0 to 1 how well the beat's
/// chord fits what is heard; it is asked for few. `None` without strums, beats, or a start in the range.
pub fn best_fit(
    strums_s: &[f64],
    beats_s: &[f64],
    range: RangeInclusive<f64>,
    fit: &mut dyn FnMut(usize, usize) -> f64,
) -> Option<Start> {
    // The first strums decide: any of them may be any of the first beats.
    let firsts = strums_s.len().min(4);
    let mut starts: Vec<(f64, f64)> = Vec::new();
    for strum in &strums_s[..firsts] {
        for beat in beats_s.iter().take(beats_s.len().min(64)) {
            let rough = strum - beat;
            let start = settled(strums_s, beats_s, rough);
            if range.contains(&start) {
                starts.push((in_time(strums_s, beats_s, start), start));
            }
        }
    }
    starts.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut kept: Vec<(f64, f64)> = Vec::new();
    for (score, start) in starts {
        if kept.len() < SHORTLIST && kept.iter().all(|(_, s)| (s - start).abs() > SAME_S) {
            kept.push((score, start));
        }
    }
    let looked_at = strums_s.len().min(8);
    for (score, start) in &mut kept {
        for (strum, at) in strums_s[..looked_at].iter().enumerate() {
            let beat = nearest(beats_s, at - *start);
            if (beats_s[beat] - (at - *start)).abs() < 3.0 * NEAR_S {
                *score += CHORD * (fit(strum, beat) - 0.5);
            }
        }
    }
    kept.sort_by(|a, b| b.0.total_cmp(&a.0));
    let (best, at_s) = *kept.first()?;
    let odds: f64 = kept
        .iter()
        .map(|(score, _)| ((score - best) / SURENESS).exp())
        .sum();
    Some(Start {
        at_s,
        found: StartSource::BestFit,
        sure: 1.0 / odds,
    })
}

/// A start moved so that the middle strum is in time.
fn settled(strums_s: &[f64], beats_s: &[f64], start: f64) -> f64 {
    let offs = strums_s.iter().map(|at| {
        let beat = nearest(beats_s, at - start);
        at - start - beats_s[beat]
    });
    let near: Vec<f64> = offs.filter(|off| off.abs() < 2.0 * NEAR_S).collect();
    start + super::timing::quantile(near, 0.5).unwrap_or(0.0)
}

/// How much speaks for a start in the strums' times.
fn in_time(strums_s: &[f64], beats_s: &[f64], start: f64) -> f64 {
    let mut taken = vec![false; beats_s.len()];
    let mut score = 0.0;
    for at in strums_s {
        let beat = nearest(beats_s, at - start);
        let off = (at - start - beats_s[beat]) / NEAR_S;
        let near = (-off * off).exp();
        score += if std::mem::replace(&mut taken[beat], true) {
            -LEFT_OUT
        } else {
            near - LEFT_OUT
        };
    }
    score - LEFT_OUT * taken.iter().filter(|taken| !**taken).count() as f64
}

/// Index of the beat nearest to a time.
fn nearest(beats_s: &[f64], at: f64) -> usize {
    let after = beats_s.partition_point(|beat| *beat < at);
    let before = after.saturating_sub(1);
    match beats_s.get(after) {
        Some(next) if next - at < at - beats_s[before] => after,
        _ => before,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::rngs::SmallRng;
    use rand::{Rng, SeedableRng};

    const ANYWHERE: RangeInclusive<f64> = f64::NEG_INFINITY..=f64::INFINITY;

    #[test]
    fn a_backing_that_began_late_and_was_soon_broken_off_is_heard() {
        const RATE_HZ: u32 = 8_000;
        let mut rng = SmallRng::seed_from_u64(7);
        let mut noise = |seconds: u32, peak: f32| -> Vec<f32> {
            let count = seconds * RATE_HZ;
            (0..count).map(|_| rng.random_range(-peak..peak)).collect()
        };
        // Four seconds before it and three of it, 14 dB below the playing.
        let (backing, mut recording) = (noise(20, 0.1), noise(7, 0.5));
        for (sample, b) in recording[4 * RATE_HZ as usize..].iter_mut().zip(&backing) {
            *sample += b;
        }
        let found = from_backing(&recording, &backing, RATE_HZ, 3.85..=4.6).unwrap();
        assert_eq!((found.at_s, found.found), (4.0, StartSource::CountIn));
        let before = from_backing(&recording, &backing, RATE_HZ, 0.0..=3.5);
        assert_eq!(before, None);
    }

    #[test]
    fn the_strums_alone_tell_the_start_where_the_pattern_is_uneven() {
        let beats = [2.0f64, 4.0, 5.0, 8.0, 10.0];
        let strums: Vec<f64> = beats
            .iter()
            .map(|b| b + 1.37 + 0.02 * (b * 7.0).sin())
            .collect();
        let found = best_fit(&strums, &beats, ANYWHERE, &mut |_, _| 0.5).unwrap();
        assert!((found.at_s - 1.37).abs() < 0.03, "{found:?}");
        assert!(found.sure > 0.6, "{found:?}");
        let other = best_fit(&strums, &beats, 2.0..=9.0, &mut |_, _| 0.5).unwrap();
        assert!((2.0..=9.0).contains(&other.at_s), "{other:?}");
    }

    #[test]
    fn the_chords_tell_it_where_the_pattern_is_even_and_the_first_was_missed() {
        let beats: Vec<f64> = (0..8).map(|i| 4.0 + 2.0 * f64::from(i)).collect();
        // Beat 0 was not played, and something was struck after the end.
        let strums: Vec<f64> = (1..9).map(|i| 5.0 + 2.0 * f64::from(i)).collect();
        let found = best_fit(&strums, &beats, ANYWHERE, &mut |strum, beat| {
            f64::from(u8::from((strum + 1) % 3 == beat % 3))
        });
        let found = found.unwrap();
        assert!((found.at_s - 1.0).abs() < 0.01, "{found:?}");
        let unknown = best_fit(&strums, &beats, ANYWHERE, &mut |_, _| 0.5).unwrap();
        assert!(unknown.sure < found.sure, "{unknown:?} {found:?}");
        assert_eq!(best_fit(&[], &beats, ANYWHERE, &mut |_, _| 0.5), None);
        assert_eq!(best_fit(&strums, &[], ANYWHERE, &mut |_, _| 0.5), None);
    }
}
