//! Time that a strum sounds alone: until something is struck that is no take of its own, or a hand damps the strings.
//!
//! Running accompaniment has light strokes between the strums, and fingers that leave the strings. Both have a treble of
//! their own. The low strings tell them from buzz: a buzzing string's own note falls as evenly as any.

use crate::decibels;

/// The low part of a strum, in Hz.
const LOW_HZ: (f64, f64) = (80.0, 1_000.0);
/// Levels are followed over windows of four steps of this, in seconds.
const STEP_S: f64 = 0.01;
const WINDOW: usize = 4;
/// The strings have settled by then, in seconds after the last one.
const FROM_S: f64 = 0.12;
/// Something is struck where the low part rises by so much from a window to the next, in dB; it is damped where the low
/// part falls by so much within two windows. Of the 70 running strums of a real guitar that were said to buzz 44 have such
/// a moment, of the 433 others 95 (`fixtures/strums/phone-strums`).
const STRUCK_DB: f64 = 2.0;
const DAMPED_DB: f64 = 8.0;
/// Fingers that damp the strings touch them for up to so long before the level falls, in seconds: 0.06 to 0.1 on real strums.
pub const TOUCHED_S: f64 = 0.1;

/// Gives the sample from which on a strum is not alone any more, or the end of `samples`. `last` is where its last string is
/// struck.
pub fn until(samples: &[f32], last: usize, rate_hz: f64) -> usize {
    let step = (STEP_S * rate_hz) as usize;
    let from = last + (FROM_S * rate_hz) as usize;
    if step == 0 || from >= samples.len() {
        return samples.len();
    }
    let levels_db = levels_db(&samples[last..], step, rate_hz);
    let first = (from - last) / step;
    for i in first..levels_db.len().saturating_sub(WINDOW) {
        let now_db = levels_db[i];
        if levels_db[i + WINDOW] - now_db >= STRUCK_DB {
            return last + (i + WINDOW + 1) * step;
        }
        if (levels_db.get(i + 2 * WINDOW)).is_some_and(|later_db| now_db - later_db >= DAMPED_DB) {
            let damped = last + (i + WINDOW) * step;
            return damped - ((TOUCHED_S * rate_hz) as usize).min(damped - last);
        }
    }
    samples.len()
}

/// Levels of the low part over windows that begin a step apart.
fn levels_db(samples: &[f32], step: usize, rate_hz: f64) -> Vec<f64> {
    let pole = |hz: f64| (-std::f64::consts::TAU * hz / rate_hz).exp();
    let (slow, fast) = (pole(LOW_HZ.0), pole(LOW_HZ.1));
    // Two steps up and two down: 12 dB an octave beyond either edge.
    let (mut under, mut over) = ([0f64; 2], [0f64; 2]);
    let powers: Vec<f64> = samples
        .chunks_exact(step)
        .map(|part| {
            part.iter()
                .map(|s| {
                    let mut low = f64::from(*s);
                    for state in &mut over {
                        *state = (1.0 - fast) * low + fast * *state;
                        low = *state;
                    }
                    for state in &mut under {
                        *state = (1.0 - slow) * low + slow * *state;
                        low -= *state;
                    }
                    low * low
                })
                .sum()
        })
        .collect();
    powers
        .windows(WINDOW)
        .map(|window| decibels::level(window.iter().sum::<f64>()))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 44_100.0;

    /// A falling chord that is struck again, or damped, at `at_s`, by this much in dB and from there falls so fast.
    fn chord(at_s: f64, rise_db: f64, falls_db_s: f64) -> Vec<f32> {
        (0..66_150)
            .map(|i| {
                let t = f64::from(i) / RATE_HZ;
                let later = (t - at_s).max(0.0);
                let rise = if t < at_s { 0.0 } else { rise_db };
                let level_db = rise - 20.0 * t - falls_db_s * later;
                let turn = std::f64::consts::TAU * t;
                let sound = (110.0 * turn).sin() + (165.3 * turn).sin() + (221.0 * turn).sin();
                (0.2 * decibels::to_amplitude(level_db) * sound) as f32
            })
            .collect()
    }

    #[test]
    fn a_stroke_or_a_hand_ends_what_sounds_alone_and_a_swell_of_the_treble_does_not() {
        let alone = chord(2.0, 0.0, 0.0);
        assert_eq!(until(&alone, 0, RATE_HZ), alone.len());
        let near = |samples: &[f32], at_s: f64| {
            let heard_s = until(samples, 0, RATE_HZ) as f64 / RATE_HZ;
            (heard_s - at_s).abs() < 0.05
        };
        assert!(near(&chord(0.6, 6.0, 0.0), 0.6));
        assert!(near(&chord(0.6, 0.0, 300.0), 0.6 - TOUCHED_S));
        let mut swells = alone.clone();
        for (i, s) in swells.iter_mut().enumerate().skip(26_000).take(8_000) {
            let t = i as f64 / RATE_HZ;
            *s += 0.05 * (std::f64::consts::TAU * 5_000.0 * t).sin() as f32;
        }
        assert_eq!(until(&swells, 0, RATE_HZ), swells.len());
        assert_eq!(until(&[], 0, RATE_HZ), 0);
        assert_eq!(until(&[0.0; 100], 5_000, RATE_HZ), 100);
    }
}
