//! A stroke that nobody heard, found where a note's partials rise together: a soft pluck under strings
//! that ring is easily missed where nobody knows what to expect.

use super::series::Series;
use super::stroke::Stroke;
use super::tone::{FRAME_S, HOP_S, Tone};
use crate::decibels;
use crate::fretboard::{Frets, STRINGS, Tuning, other_frets};
use crate::spectrum::explained::LOW_PARTIALS;
use crate::spectrum::median;

/// A missed stroke lies at least this far from those heard, in seconds.
const FAR_S: f64 = 0.15;
/// It lifts the note's low partials by this much on average, each counted up to a cap, in dB; below
/// this share of its greatest power a partial is faint.
const MISSED_RISE_DB: f32 = 6.0;
/// Less will do where a stroke is due: this share of the usual gap around one such gap from another. A
/// fret that is not expected takes more.
const DUE_RISE_DB: f32 = 3.5;
const DUE_WITHIN: f64 = 0.3;
const OTHER_FRET_DB: f32 = 2.0;
const RISE_CAP_DB: f32 = 18.0;
const FAINT: f32 = 3e-3;

/// Findings on a pass.
pub struct HeardPass<'a> {
    /// The sound, its rate in Hz, and the strokes heard in it.
    pub sound: &'a [f32],
    pub rate_hz: f64,
    pub strokes: &'a [Stroke],
    pub tuning: &'a Tuning,
    pub common_cents: f64,
}

impl HeardPass<'_> {
    /// The plainest stroke, a sample index, on a string that is not among those `struck`.
    pub fn missed(&self, frets: &Frets, struck: &[Option<usize>; STRINGS]) -> Option<usize> {
        let notes = (0..STRINGS).filter(|&s| struck[s].is_none()).flat_map(|s| {
            let others = other_frets(frets, s).into_iter();
            let others = others.map(|f| (f, OTHER_FRET_DB));
            let notes = frets.0[s].map(|f| (f, 0.0)).into_iter().chain(others);
            notes.map(move |(fret, more_db)| (s, fret, more_db))
        });
        notes
            .filter_map(|(s, fret, more_db)| {
                let series = Series::of(self.tuning, s, fret, self.common_cents);
                self.rise(series, more_db)
            })
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(at, _)| at)
    }

    /// Where a note's partials rise together though no stroke was heard, and by how much in dB more
    /// than it takes; it takes `more_db` more than usual.
    fn rise(&self, series: Series, more_db: f32) -> Option<(usize, f32)> {
        let length = (FRAME_S * self.rate_hz) as usize;
        let hop = (HOP_S * self.rate_hz) as usize;
        let begin = self.strokes.first()?.before;
        let starts: Vec<usize> = (begin..self.sound.len().saturating_sub(length))
            .step_by(hop)
            .collect();
        // From the frames that end before a stroke to those that lie after it.
        let (apart, after) = (length.div_ceil(hop) + 1, 4);
        let mut rises = vec![0f32; starts.len()];
        for n in 1..=LOW_PARTIALS {
            let tone = Tone::new(series.hz(n), self.rate_hz, length);
            let powers: Vec<f32> = starts
                .iter()
                .map(|&at| tone.power(&self.sound[at..]))
                .collect();
            let faint = powers.iter().copied().fold(0.0, f32::max) * FAINT + 1e-12;
            for at in apart + 2..starts.len().saturating_sub(after) {
                let was = powers[at - apart - 2..=at - apart].iter().sum::<f32>() / 3.0;
                let now = powers[at..at + after].iter().sum::<f32>() / after as f32;
                let rise_db = decibels::of_power((now + faint) / (was + faint));
                rises[at] += rise_db.clamp(-RISE_CAP_DB, RISE_CAP_DB) / LOW_PARTIALS as f32;
            }
        }
        let far = (FAR_S * self.rate_hz) as usize;
        let alone = |at: usize| self.strokes.iter().all(|s| s.from.abs_diff(at) > far);
        let usual = self.usual_gap();
        (0..starts.len())
            .filter(|&i| alone(starts[i]))
            .map(|i| {
                let due = usual.is_some_and(|usual| self.is_due(starts[i], usual));
                let enough = if due { DUE_RISE_DB } else { MISSED_RISE_DB };
                (starts[i], rises[i] - enough - more_db)
            })
            .filter(|&(_, over_db)| over_db >= 0.0)
            .max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// The middle one of the gaps between strokes, where there are several; one with strokes missing counts by its parts.
    fn usual_gap(&self) -> Option<usize> {
        let mut gaps: Vec<usize> = (self.strokes.windows(2))
            .map(|pair| pair[1].from - pair[0].from)
            .collect();
        let shortest = gaps.iter().copied().min().unwrap_or(0).max(1);
        for gap in &mut gaps {
            *gap /= (*gap + shortest / 2) / shortest;
        }
        median(&mut gaps, Ord::cmp).filter(|_| gaps.len() > 1)
    }

    /// Would a stroke here keep the time of the pass, whose usual gap this is?
    fn is_due(&self, at: usize, usual: usize) -> bool {
        let mut gaps = self.strokes.iter().map(|s| s.from.abs_diff(at));
        let within = DUE_WITHIN * usual as f64;
        let nearest = gaps.clone().map(|gap| gap.abs_diff(usual)).min();
        nearest.is_some_and(|off| (off as f64) < within)
            && gaps.all(|gap| gap as f64 > usual as f64 - within)
    }
}
