//! Where the partials that ring on really are, and how fast they fall.

use realfft::num_complex::Complex64;

use super::HIGHEST_HZ;
use super::exponential::{Line, hann_sums, project};
use super::system::System;
use crate::fretboard::STRINGS;
use crate::strings::fit::Fit;

/// Most partials of a string: more than are shared out, since all that rings must be taken away.
const MOST: usize = 14;
/// Stretch that is read, in seconds after the last onset: after choked and dead strings' beginning.
const FROM_S: f64 = 0.08;
const TO_S: f64 = 1.0;
/// A shorter stretch tells nothing more exactly than the fit has done.
const LEAST_S: f64 = 0.3;
/// Steps of Gauss and Newton, each over so much of the stretch, in seconds: the longer, the finer, and
/// the nearer one must be already.
const STEPS_S: [f64; 4] = [0.3, 0.3, 0.92, 0.92];
/// Lines whose Hann windows' main lobes are apart do not touch: this many widths 1/T.
const TOUCH: f64 = 6.0;
/// Amplitudes and their slopes are held small by these parts of a line's own power.
const RIDGES: [f64; 2] = [1e-3, 3e-2];
/// A usual fall to begin with, the least and the greatest of a string that rings, and the farthest in
/// one step, in 1/s: T60 of 2.8, 23 and 0.5 s.
const USUAL_FALL: f64 = 2.5;
const FALLS: (f64, f64) = (0.3, 14.0);
const FALL_STEP: f64 = 2.0;
/// Farthest that a line is moved in one step and in all, in Hz.
const STEP_HZ: f64 = 0.5;
const REACH_HZ: f64 = 2.5;
/// A line this far below the strongest amplitude is left where it is.
const LEAST_AMPLITUDE: f64 = 1e-3;
/// Lines nearer than this are one, in Hz: the longest stretch can hardly part them.
const ONE_HZ: f64 = 1.0;

/// A partial of an expected string.
#[derive(Debug, Clone, Copy)]
pub struct Partial {
    pub string: usize,
    /// 1 is the fundamental.
    pub n: usize,
    /// Where the fit has it.
    pub hz: f64,
    /// The line that rings on there; strings may share it.
    pub ringing: Line,
}

/// All partials of `fits` in `samples` at `rate_hz`, whose last string is struck at `last`.
pub fn ringing(
    samples: &[f32],
    rate_hz: f64,
    last: usize,
    fits: &[Option<Fit>; STRINGS],
) -> Vec<Partial> {
    let mut partials = Vec::new();
    for (string, fit) in fits.iter().enumerate() {
        let Some(fit) = fit else { continue };
        let all = (1..=fit.count.min(MOST)).map(|n| (n, f64::from(fit.hz(n))));
        partials.extend(
            all.take_while(|&(_, hz)| hz <= HIGHEST_HZ)
                .map(|(n, hz)| Partial {
                    string,
                    n,
                    hz,
                    ringing: Line::new(hz, USUAL_FALL, rate_hz),
                }),
        );
    }
    partials.sort_by(|a, b| a.hz.total_cmp(&b.hz));
    let at = |s: f64| (last + (s * rate_hz) as usize).min(samples.len());
    let sound = &samples[at(FROM_S)..at(TO_S)];
    if (sound.len() as f64) < LEAST_S * rate_hz {
        return partials;
    }
    let mut groups: Vec<Vec<f64>> = Vec::new();
    for partial in &partials {
        match groups.last_mut() {
            Some(group) if partial.hz - group[0] < ONE_HZ => group.push(partial.hz),
            _ => groups.push(vec![partial.hz]),
        }
    }
    let mean = |group: &Vec<f64>| group.iter().sum::<f64>() / group.len() as f64;
    let hz: Vec<f64> = groups.iter().map(mean).collect();
    let refined = refine(sound, rate_hz, &hz);
    let of_each = refined
        .iter()
        .zip(&groups)
        .flat_map(|(line, group)| std::iter::repeat_n(*line, group.len()));
    partials
        .iter_mut()
        .zip(of_each)
        .for_each(|(partial, line)| partial.ringing = line);
    partials
}

/// Lines near `hz` (ascending) that explain `sound` best.
fn refine(sound: &[f32], rate_hz: f64, hz: &[f64]) -> Vec<Line> {
    let mut lines: Vec<(f64, f64)> = hz.iter().map(|&hz| (hz, USUAL_FALL)).collect();
    let mut windowed = Vec::new();
    let mut table = Vec::new();
    // The unknowns: each line's amplitude and its slope, next to each other.
    let doubled: Vec<f64> = hz.iter().flat_map(|&hz| [hz, hz]).collect();
    for span_s in STEPS_S {
        let part = &sound[..sound.len().min((span_s * rate_hz) as usize)];
        let count = part.len() as f64;
        let turn = std::f64::consts::TAU / count;
        windowed.clear();
        windowed.extend(
            part.iter()
                .enumerate()
                .map(|(t, s)| s * (0.5 - 0.5 * (turn * t as f64).cos()) as f32),
        );
        let poles: Vec<Complex64> = lines
            .iter()
            .map(|&(hz, fall)| Line::new(hz, fall, rate_hz).pole)
            .collect();
        let scale: Vec<f64> = poles
            .iter()
            .flat_map(|p| {
                let [zeroth, _, second] = hann_sums(Complex64::from(2.0 * p.re), count);
                [zeroth, second].map(|s| s.re.max(1e-30).sqrt().recip())
            })
            .collect();
        let mut system = System::new(&doubled, TOUCH * rate_hz / count, |i, j, _| {
            if i == j {
                return Complex64::from(1.0 + RIDGES[i % 2]);
            }
            let q = poles[i / 2].conj() + poles[j / 2];
            hann_sums(q, count)[i % 2 + j % 2] * (scale[i] * scale[j])
        });
        system.factor();
        let mut solved: Vec<Complex64> = Vec::with_capacity(doubled.len());
        for (k, &pole) in poles.iter().enumerate() {
            let (sum, timed) = project(&windowed, pole, &mut table);
            solved.extend([sum * scale[2 * k], timed * scale[2 * k + 1]]);
        }
        system.solve(&mut solved);
        solved.iter_mut().zip(&scale).for_each(|(x, s)| *x *= *s);
        let loudest = solved
            .iter()
            .step_by(2)
            .map(|a| a.norm())
            .fold(0.0, f64::max);
        for (line, pair) in lines.iter_mut().zip(solved.chunks_exact(2)) {
            if pair[0].norm() <= LEAST_AMPLITUDE * loudest {
                continue;
            }
            let moved = pair[1] / pair[0] * rate_hz;
            line.0 += (moved.im / std::f64::consts::TAU).clamp(-STEP_HZ, STEP_HZ);
            line.1 = (line.1 - moved.re.clamp(-FALL_STEP, FALL_STEP)).clamp(FALLS.0, FALLS.1);
        }
    }
    lines
        .iter()
        .zip(hz)
        .map(|(&(found, fall), &hz)| {
            Line::new(found.clamp(hz - REACH_HZ, hz + REACH_HZ), fall, rate_hz)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_beside_each_other_are_put_where_they_are() {
        let rate_hz = 11_025.0;
        let true_lines = [(220.6, 1.5), (231.0, 4.0), (329.5, 2.0)];
        let sound: Vec<f32> = (0..10_000)
            .map(|t| {
                let t = f64::from(t) / rate_hz;
                let line = |&(hz, fall): &(f64, f64)| {
                    (-fall * t).exp() * (std::f64::consts::TAU * hz * t + hz).sin()
                };
                true_lines.iter().map(line).sum::<f64>() as f32
            })
            .collect();
        let found = refine(&sound, rate_hz, &[220.0, 231.6, 329.0]);
        for (line, (hz, fall)) in found.iter().zip(true_lines) {
            assert!((line.hz - hz).abs() < 0.03, "{} for {hz}", line.hz);
            assert!((-line.pole.re * rate_hz - fall).abs() < 0.3);
        }
    }
}
