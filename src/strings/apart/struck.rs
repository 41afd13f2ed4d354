//! When each string of a strum was struck: one after the other, upwards or downwards.

use realfft::num_complex::Complex64;

use super::TOUCH_HZ;
use super::exponential::{Line, project};
use super::lines::Partial;
use super::system::System;
use crate::fretboard::STRINGS;

/// Partials of a string that are asked: low ones, which every string has.
const ASKED: usize = 5;
/// How fast what is struck falls at first, in 1/s.
const FALL: f64 = 30.0;
/// Stretch that is explained, in seconds before the first onset and after it.
const LEAD_S: f64 = 0.03;
const AFTER_S: f64 = 0.41;
/// Moments tried: from so long before the first onset to so long after it, in steps, in seconds.
const MOMENTS_S: (f64, f64, f64) = (0.01, 0.17, 0.0025);
/// Strums tried: when they begin against the onset, and how long they take from end to end. 10 to 150 ms
/// is what strums take.
const BEGINS_S: [f64; 3] = [-0.005, 0.0, 0.005];
const TAKES_S: [f64; 9] = [0.0, 0.01, 0.02, 0.035, 0.05, 0.07, 0.09, 0.12, 0.15];
/// Amplitudes are held small by this part of a line's own power.
const RIDGE: f64 = 2e-3;

/// Index of the sample at which each string was struck; `partials` are ascending in frequency. `None`
/// where there is hardly any sound.
pub fn moments(
    samples: &[f32],
    rate_hz: f64,
    first: usize,
    partials: &[Partial],
) -> Option<[usize; STRINGS]> {
    let start = first.saturating_sub((LEAD_S * rate_hz) as usize);
    let end = samples.len().min(first + (AFTER_S * rate_hz) as usize);
    // Differences: the treble, which tells moments better, counts for more.
    let sound: Vec<f32> = samples
        .get(start..end)?
        .windows(2)
        .map(|w| w[1] - w[0])
        .collect();
    let step = (MOMENTS_S.2 * rate_hz) as usize;
    let from = (first - start).saturating_sub((MOMENTS_S.0 * rate_hz) as usize);
    let to = (first - start) + (MOMENTS_S.1 * rate_hz) as usize;
    let count = to
        .min(sound.len().saturating_sub(2 * step))
        .saturating_sub(from)
        / step;
    if count < 2 {
        return None;
    }
    let voices: Vec<(usize, Line)> = partials
        .iter()
        .filter(|p| p.n <= ASKED)
        .flat_map(|p| [p.ringing, Line::new(p.hz, FALL, rate_hz)].map(|line| (p.string, line)))
        .collect();
    let grid = Grid::new(&sound, from, step, count, &voices);

    let mut struck: Vec<usize> = partials.iter().map(|p| p.string).collect();
    struck.sort_unstable();
    struck.dedup();
    let last = struck.len().saturating_sub(1);
    let moment = |begin: f64, takes: f64, place: usize| {
        let s = begin + takes * place as f64 / last.max(1) as f64;
        let at = ((first - start) as f64 + s * rate_hz - from as f64) / step as f64;
        (at.round().max(0.0) as usize).min(count - 1)
    };
    let mut best = (f64::MIN, [0; STRINGS]);
    for begin in BEGINS_S {
        for takes in TAKES_S {
            for upwards in [false, true] {
                if takes == 0.0 && upwards {
                    continue;
                }
                let mut tried = [0; STRINGS];
                for (place, &string) in struck.iter().enumerate() {
                    let place = if upwards { last - place } else { place };
                    tried[string] = moment(begin, takes, place);
                }
                let explained = grid.explained(&tried);
                if explained > best.0 {
                    best = (explained, tried);
                }
            }
        }
    }
    Some(best.1.map(|at| start + from + at * step))
}

/// Everything that depends on a voice and a moment, for all moments.
struct Grid<'a> {
    voices: &'a [(usize, Line)],
    hz: Vec<f64>,
    count: usize,
    /// The sound on each voice from each moment on: voice by voice.
    on: Vec<Complex64>,
    /// Each voice after one sample, after so many steps, and from each moment to the end.
    next: Vec<Complex64>,
    after: Vec<Complex64>,
    to_end: Vec<Complex64>,
}

impl<'a> Grid<'a> {
    fn new(
        sound: &[f32],
        from: usize,
        step: usize,
        count: usize,
        voices: &'a [(usize, Line)],
    ) -> Grid<'a> {
        let mut grid = Grid {
            hz: voices.iter().map(|(_, line)| line.hz).collect(),
            voices,
            count,
            on: Vec::with_capacity(voices.len() * count),
            next: voices.iter().map(|(_, line)| line.pole.exp()).collect(),
            after: Vec::with_capacity(voices.len() * count),
            to_end: Vec::with_capacity(voices.len() * count),
        };
        let mut table = Vec::new();
        let mut row = vec![Complex64::default(); count];
        for (_, line) in voices {
            let ahead = (line.pole.conj() * step as f64).exp();
            let at = |k: usize| from + k * step;
            row[count - 1] = project(&sound[at(count - 1)..], line.pole, &mut table).0;
            for k in (0..count - 1).rev() {
                let part = &sound[at(k)..at(k + 1)];
                row[k] = project(part, line.pole, &mut table).0 + ahead * row[k + 1];
            }
            grid.on.extend(&row);
            let power = |samples: usize| (line.pole * samples as f64).exp();
            grid.after.extend((0..count).map(|k| power(k * step)));
            grid.to_end
                .extend((0..count).map(|k| power(sound.len() - at(k))));
        }
        grid
    }

    /// Energy explained when each string is struck at the moment of that number.
    fn explained(&self, struck: &[usize; STRINGS]) -> f64 {
        let moment = |i: usize| struck[self.voices[i].0];
        let mut system = System::new(&self.hz, TOUCH_HZ, |i, j, apart| {
            let (a, b) = (moment(i), moment(j));
            let from = a.max(b);
            let (i_row, j_row) = (i * self.count, j * self.count);
            let end = self.to_end[i_row + from].conj() * self.to_end[j_row + from];
            let begun = self.after[i_row + from - a].conj() * self.after[j_row + from - b];
            let weight = 1.0 - apart / TOUCH_HZ + if i == j { RIDGE } else { 0.0 };
            begun * (end - 1.0) / (self.next[i].conj() * self.next[j] - 1.0) * weight
        });
        system.factor();
        let on: Vec<Complex64> = (0..self.voices.len())
            .map(|i| self.on[i * self.count + moment(i)])
            .collect();
        let mut amplitudes = on.clone();
        system.solve(&mut amplitudes);
        amplitudes
            .iter()
            .zip(&on)
            .map(|(a, r)| (a.conj() * r).re)
            .sum()
    }
}
