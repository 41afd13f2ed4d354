//! Choked or dead: how a string picked alone dies away.
//!
//! What rang before it goes on as it did, so linear prediction says what would be there without the
//! stroke. Of what is left the string's own partials are followed: a choked string falls for some tenths
//! of a second, of a dead one only what the room gives back is left after one.

use super::series::Series;
use super::stroke::Stroke;
use super::tone::Tone;
use crate::spectrum::prediction::Predictor;

/// Sound learned from before a stroke, and where it ends before it, in seconds.
const LEARN_S: f64 = 0.28;
const GUARD_S: f64 = 0.012;
/// Coefficients: twice as many as five strings have partials in reach; at most a third of the samples.
const ORDER: usize = 240;
/// Partials read, by number and up to this, in Hz.
const PARTIALS: usize = 12;
const HIGHEST_HZ: f64 = 3_500.0;
/// Window in which a partial is read, in seconds, and the window's middles after the stroke: the strongest of
/// the first ones is what the partial began with, the others tell its course.
const WINDOW_S: f64 = 0.03;
const BEGINS_S: [f64; 5] = [0.0, 0.01, 0.02, 0.03, 0.045];
const THEN_S: [f64; 6] = [0.01, 0.03, 0.06, 0.1, 0.15, 0.22];
/// A partial counts by its first power to this power, and no level counts as lower than this, in dB.
const WEIGHT_POWER: f32 = 0.25;
const LOWEST_DB: f32 = -45.0;
/// Log odds of choked (T60 0.2 to 0.4 s) against dead (0.04 to 0.14 s, or a damped strike): a logistic
/// regression on 2,164 dying strings of composed passes as found by the program (seeds 601 and 602), by 1, the
/// levels at [`THEN_S`] in dB, how loud the string began against those that ring, in dB, and the square root
/// of the expected note's fit. With one guitar left out it tells 0.944 of them right. Before, levels of what
/// was stronger than before the stroke at the partials of the best fitting note told 0.904: of what has died so
/// soon the best fitting note is often another one.
const CHOKED: [f32; 9] = [7.71, 0.27, 0.45, 0.36, 0.03, -0.07, -0.05, 0.15, 4.11];
/// How loud a dying string usually begins against those that ring, where none does: the mean of the same.
const USUAL_BELOW_DB: f32 = -12.2;

/// The note that a dying string should sound, as other means know it.
#[derive(Debug, Clone, Copy)]
pub struct Expected {
    pub series: Series,
    /// 0 to 1: how much of what is new this note explains.
    pub fit: f32,
    /// How loud it began against strings of the pass that ring, in dB, where any does.
    pub above_usual_db: Option<f32>,
}

/// Takes away what rang before, and reads what is left: buffers for one stroke after another.
#[derive(Debug, Default)]
pub struct Dying {
    predictor: Predictor,
    sound: Vec<f64>,
    left: Vec<f32>,
}

impl Dying {
    /// Log odds for choked against dead, of a string struck in `sound` (at `rate_hz`).
    pub fn choked(&mut self, sound: &[f32], rate_hz: f64, stroke: &Stroke, note: Expected) -> f32 {
        let (before, at, to) = (stroke.before, stroke.from, stroke.to);
        let samples = |s: f64| (s * rate_hz) as usize;
        let begin = at.saturating_sub(samples(GUARD_S));
        let longest = samples(THEN_S[THEN_S.len() - 1] + WINDOW_S);
        let end = (at + longest).min(to).min(sound.len());
        let from = begin
            .saturating_sub(samples(LEARN_S))
            .max(before.min(begin));
        self.take_away(&sound[from..end], begin - from);
        let levels_db = self.levels_db(at - begin, rate_hz, note);
        let above = note.above_usual_db.unwrap_or(USUAL_BELOW_DB);
        let values = std::iter::once(1.0)
            .chain(levels_db)
            .chain([above, note.fit.max(0.0).sqrt()]);
        values
            .zip(CHOKED)
            .map(|(value, weight)| value * weight)
            .sum()
    }

    /// Leaves what comes after the first `known` samples without what goes on from them.
    fn take_away(&mut self, sound: &[f32], known: usize) {
        self.sound.clear();
        self.sound
            .extend(sound[..known].iter().map(|&s| f64::from(s)));
        self.predictor.learn(&self.sound, ORDER.min(known / 3));
        self.predictor.go_on(&mut self.sound, sound.len() - known);
        self.left.clear();
        let new = sound.iter().zip(&self.sound).skip(known);
        self.left.extend(new.map(|(s, old)| s - *old as f32));
    }

    /// Mean level of the note's partials at [`THEN_S`] after the stroke under where each began, in dB.
    fn levels_db(&self, stroke: usize, rate_hz: f64, note: Expected) -> [f32; THEN_S.len()] {
        let mut frame = vec![0f32; (WINDOW_S * rate_hz) as usize];
        let mut sum = [0f32; THEN_S.len()];
        let mut total = 1e-12;
        for n in 1..=PARTIALS {
            let hz = note.series.hz(n);
            if hz > HIGHEST_HZ {
                break;
            }
            let tone = Tone::new(hz, rate_hz, frame.len());
            let mut power = |s: f64| {
                let first = stroke + (s * rate_hz) as usize;
                for (i, f) in frame.iter_mut().enumerate() {
                    // Before what is left begins, and after it, is nothing.
                    let at = (first + i).checked_sub(tone.len() / 2);
                    *f = at.and_then(|at| self.left.get(at)).copied().unwrap_or(0.0);
                }
                tone.power(&frame)
            };
            let began = BEGINS_S.map(&mut power).into_iter().fold(1e-14, f32::max);
            let weight = began.powf(WEIGHT_POWER);
            total += weight;
            for (sum, s) in sum.iter_mut().zip(THEN_S) {
                let db = 10.0 * (power(s) / began + 1e-9).log10();
                *sum += weight * db.max(LOWEST_DB);
            }
        }
        sum.map(|sum| sum / total)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 11_025.0;
    const AT: usize = 5_000;
    const SERIES: Series = Series {
        f0_hz: 220.4,
        b: 0.0,
    };

    fn stroke(before: usize, from: usize, to: usize) -> Stroke {
        Stroke {
            lines: Vec::new(),
            total: 0.0,
            from,
            to,
            before,
        }
    }

    /// A string that rings, and an octave above it another one that dies with this T60.
    fn sound(t60_s: f64) -> Vec<f32> {
        let partials = |hz: f64, t: f64| -> f64 {
            (1..=8)
                .map(|n| (std::f64::consts::TAU * hz * f64::from(n) * t).sin() / f64::from(n))
                .sum()
        };
        (0..AT + 6_000)
            .map(|i| {
                let t = i as f64 / RATE_HZ;
                let since = t - AT as f64 / RATE_HZ;
                let old = (-1.5 * t).exp() * partials(110.0, t);
                let new = if since > 0.0 {
                    (-6.9078 * since / t60_s).exp() * partials(220.4, since)
                } else {
                    0.0
                };
                (old + 0.5 * new) as f32
            })
            .collect()
    }

    fn odds(sound: &[f32], to: usize) -> f32 {
        let note = Expected {
            series: SERIES,
            fit: 0.1,
            above_usual_db: None,
        };
        Dying::default().choked(sound, RATE_HZ, &stroke(0, AT, to), note)
    }

    #[test]
    fn the_longer_a_string_takes_to_die_the_surer_it_is_choked() {
        let odds = [0.04, 0.08, 0.12, 0.2, 0.28, 0.4].map(|t60_s| odds(&sound(t60_s), usize::MAX));
        assert!(odds.is_sorted(), "{odds:?}");
        assert!(odds[2] < -3.0 && odds[5] > 1.0, "{odds:?}");
    }

    #[test]
    fn what_rang_before_is_taken_away() {
        let mut dying = Dying::default();
        let sound = sound(0.02);
        dying.take_away(&sound[AT - 3_000..AT + 2_000], 3_000);
        let power = |part: &[f32]| part.iter().map(|s| s * s).sum::<f32>();
        // By 30 ms the new string has died by 90 dB, the old one rings on: of it 10 dB less are left.
        let left = power(&dying.left[330..1_000]);
        assert!(left < 0.1 * power(&sound[AT + 330..AT + 1_000]), "{left}");
    }

    #[test]
    fn a_stroke_at_the_very_beginning_or_end_is_judged_by_what_there_is() {
        let sound = sound(0.1);
        let note = Expected {
            series: SERIES,
            fit: 0.0,
            above_usual_db: Some(-10.0),
        };
        for stroke in [
            stroke(0, 0, 400),
            stroke(4_990, 4_991, 5_000),
            stroke(0, sound.len(), sound.len()),
        ] {
            let odds = Dying::default().choked(&sound, RATE_HZ, &stroke, note);
            assert!(odds.is_finite(), "{stroke:?}");
        }
    }
}
