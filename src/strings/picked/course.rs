//! Does a note ring on: its new partials after a stroke.

use super::series::Series;
use super::stroke::{LINES_HZ, Stroke};
use super::tone::{FRAME_S, HOP_S, Tone};

const LONGEST_S: f64 = 0.6;
const PARTIALS: usize = 10;
/// A partial is followed where it is this many times as strong as what was there.
const NEW_PARTIAL: f32 = 3.0;
/// When the course is read, in seconds after the stroke.
const TIMES_S: [f64; 3] = [0.13, 0.16, 0.20];
/// Between 0.13 and 0.2 s what rings has lost less than this, what is choked more: of 8,400 ringing
/// notes 1 in 100 had lost 12 dB, of 430 with a T60 of 0.2 to 0.4 s 1 in 100 less than 16.
const RINGING_LOSS_DB: f32 = -14.2;
/// Log odds per dB of that loss. A choice: certain at 4 dB.
const PER_DB: f32 = 1.0;

/// How a note died away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Course {
    /// Level at [`TIMES_S`] under its peak; NaN beyond the next stroke.
    levels_db: [f32; TIMES_S.len()],
    pub peak_db: f32,
}

impl Course {
    /// Energy of a note's new partials over time after a stroke, in dB under its peak.
    pub fn read(sound: &[f32], rate_hz: f64, stroke: &Stroke, series: Series) -> Course {
        let length = (FRAME_S * rate_hz) as usize;
        let hop = (HOP_S * rate_hz) as usize;
        let mut course: Vec<f32> = Vec::new();
        let frames = |from: usize, to: usize| (from..to.saturating_sub(length)).step_by(hop);
        for n in 1..=PARTIALS {
            let hz = series.hz(n);
            if hz > 0.45 * rate_hz || hz > f64::from(LINES_HZ.1) {
                break;
            }
            let tone = Tone::new(hz, rate_hz, length);
            let before: Vec<f32> = frames(
                stroke.before.max(stroke.from.saturating_sub(4 * length)),
                stroke.from.saturating_sub((0.008 * rate_hz) as usize),
            )
            .map(|at| tone.power(&sound[at..]))
            .collect();
            let was = before.iter().sum::<f32>() / before.len().max(1) as f32;
            let powers: Vec<f32> = frames(stroke.from, stroke.to.min(sound.len()))
                .take((LONGEST_S / HOP_S) as usize)
                .map(|at| tone.power(&sound[at..]))
                .collect();
            let top = powers.iter().take(8).copied().fold(0.0, f32::max);
            if top < NEW_PARTIAL * was {
                continue;
            }
            course.resize(course.len().max(powers.len()), 0.0);
            for (sum, power) in course.iter_mut().zip(&powers) {
                *sum += (power - was).max(0.0);
            }
        }
        let peak = course.iter().take(8).copied().fold(1e-12, f32::max);
        let db = |p: f32| 10.0 * (p / peak + 1e-7).log10();
        Course {
            levels_db: TIMES_S.map(|t| {
                let at = (t / HOP_S).round() as usize;
                course.get(at).map_or(f32::NAN, |p| db(*p))
            }),
            peak_db: 10.0 * peak.log10(),
        }
    }

    /// Log odds for ringing on against dying; NaN where the next stroke comes too soon to tell.
    pub fn lasts(&self) -> f32 {
        let late = self.levels_db.iter().filter(|l| !l.is_nan());
        let count = late.clone().count() as f32;
        PER_DB * (late.sum::<f32>() / count - RINGING_LOSS_DB)
    }
}
