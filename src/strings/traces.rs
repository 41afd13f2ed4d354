//! How each string of a chord rises and falls, from short frames: the amplitudes of all expected
//! partials together, by least squares, so that partials far nearer to each other than a frame resolves
//! are still told apart where that can be done at all.

use realfft::num_complex::Complex32;

use super::fit::Fit;
use crate::fretboard::STRINGS;
use crate::spectrum::db;

/// Length of a frame and step between frames, in seconds.
const FRAME_S: f64 = 0.07;
const STEP_S: f64 = 0.0175;
/// First frame's centre before the first onset and last frame's after the last one, in seconds.
const LEAD_S: f64 = 0.035;
const AFTER_S: f64 = 0.75;
/// Partials of a string that are followed, and the highest frequency.
const FOLLOWED: usize = 10;
const HIGHEST_HZ: f32 = 2_500.0;
/// Noise that the amplitudes are guarded against, in parts of a partial's own power.
const RIDGE: f32 = 2e-3;
/// A partial speaks for its string if at least this share of it is linearly independent of the others.
const LEAST_SHARE: f32 = 0.3;

/// Moments after a string's height at which its fall is read, in seconds.
pub const LAGS_S: [f32; 7] = [0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.55];

/// The course of one string.
#[derive(Debug, Clone, Copy)]
pub struct Trace {
    /// Partials that speak for it.
    pub count: usize,
    /// Height over the highest string's, in dB.
    pub height_db: f32,
    /// When the height is reached, in seconds after the first onset.
    pub height_s: f32,
    /// Level at the height over that of the first frame, in dB.
    pub rise_db: f32,
    /// Level at [`LAGS_S`] after the height, less the height, in dB; NaN beyond the end.
    pub fall_db: [f32; LAGS_S.len()],
    /// The same of its two strongest partials alone.
    pub strongest_fall_db: [f32; LAGS_S.len()],
    /// Least fall in any 0.1 s and most, in dB.
    pub flattest_db: f32,
    pub steepest_db: f32,
}

struct Partial {
    string: usize,
    hz: f32,
}

/// Traces of all strings of `fits`, from samples at `rate_hz` in which the strum begins at `first` and
/// its last string is struck at `last`.
pub fn traces(
    samples: &[f32],
    rate_hz: f64,
    first: usize,
    last: usize,
    fits: &[Option<Fit>; STRINGS],
) -> [Option<Trace>; STRINGS] {
    let mut partials = Vec::new();
    for (string, fit) in fits.iter().enumerate() {
        let Some(fit) = fit else { continue };
        partials.extend(
            (1..=fit.count.min(FOLLOWED))
                .map(|n| fit.hz(n))
                .filter(|hz| *hz < HIGHEST_HZ)
                .map(|hz| Partial { string, hz }),
        );
    }
    let length = (FRAME_S * rate_hz) as usize;
    let step = (STEP_S * rate_hz) as usize;
    let start = (first as f64 - (LEAD_S + FRAME_S / 2.0) * rate_hz).max(0.0) as usize;
    let end = samples
        .len()
        .min(last + ((AFTER_S + FRAME_S / 2.0) * rate_hz) as usize);
    if partials.is_empty() || start + length >= end {
        return [None; STRINGS];
    }
    let frames: Vec<&[f32]> = samples[start..end].windows(length).step_by(step).collect();
    let Some(system) = System::new(&partials, length, rate_hz) else {
        return [None; STRINGS];
    };
    let powers = system.powers(&partials, &frames, rate_hz);

    // Sum of each string's telling partials, frame by frame.
    let sum = |chosen: &dyn Fn(usize) -> bool| -> Vec<f32> {
        (0..frames.len())
            .map(|k| {
                db((0..partials.len())
                    .filter(|&i| chosen(i))
                    .map(|i| powers[k * partials.len() + i])
                    .sum())
            })
            .collect()
    };
    let frame_s = step as f32 / rate_hz as f32;
    let first_s = (first - start) as f32 / rate_hz as f32 - (FRAME_S / 2.0) as f32;
    let rising = (((last - start) as f32 / rate_hz as f32 + 0.1) / frame_s) as usize;
    let mut out = [None; STRINGS];
    let mut highest = f32::MIN;
    for (string, out) in out.iter_mut().enumerate() {
        let telling = |i: usize| partials[i].string == string && system.share[i] >= LEAST_SHARE;
        let count = (0..partials.len()).filter(|&i| telling(i)).count();
        if count == 0 {
            continue;
        }
        let level = sum(&telling);
        let top = (0..level.len().min(rising + 1))
            .max_by(|&a, &b| level[a].total_cmp(&level[b]))
            .unwrap_or(0);
        let mut strongest: Vec<usize> = (0..partials.len()).filter(|&i| telling(i)).collect();
        strongest.sort_by(|&a, &b| {
            powers[top * partials.len() + b].total_cmp(&powers[top * partials.len() + a])
        });
        strongest.truncate(2);
        let strong = sum(&|i| strongest.contains(&i));
        let fall = |level: &[f32]| {
            LAGS_S.map(|lag| {
                level
                    .get(top + (lag / frame_s).round() as usize)
                    .map_or(f32::NAN, |l| l - level[top])
            })
        };
        let span = (0.1 / frame_s).round() as usize;
        let changes = level[top..].windows(span + 1).map(|w| w[span] - w[0]);
        highest = highest.max(level[top]);
        *out = Some(Trace {
            count,
            height_db: level[top],
            height_s: top as f32 * frame_s - first_s,
            rise_db: level[top] - level[0],
            fall_db: fall(&level),
            strongest_fall_db: fall(&strong),
            flattest_db: changes.clone().fold(f32::NAN, f32::max),
            steepest_db: changes.fold(f32::NAN, f32::min),
        });
    }
    for trace in out.iter_mut().flatten() {
        trace.height_db -= highest;
    }
    out
}

/// The normal equations of one frame, the same for all frames.
struct System {
    /// Lower triangle of the Cholesky factor, row by row.
    factor: Vec<f32>,
    size: usize,
    window: Vec<f32>,
    /// Share of each partial that no other can imitate: 1 where it stands alone.
    share: Vec<f32>,
}

impl System {
    fn new(partials: &[Partial], length: usize, rate_hz: f64) -> Option<System> {
        let size = partials.len();
        let window: Vec<f32> = (0..length)
            .map(|i| {
                (0.5 - 0.5 * (std::f64::consts::TAU * (i as f64 + 0.5) / length as f64).cos())
                    as f32
            })
            .collect();
        // With time counted from the frame's middle the window's transform is real.
        let transform = |apart_hz: f64| {
            let turns = apart_hz * length as f64 / rate_hz;
            let sinc = |x: f64| {
                if x.abs() < 1e-6 {
                    1.0
                } else {
                    (std::f64::consts::PI * x).sin() / (std::f64::consts::PI * x)
                }
            };
            (sinc(turns) + 0.5 * sinc(turns - 1.0) + 0.5 * sinc(turns + 1.0)) as f32
        };
        let mut factor = vec![0.0f32; size * size];
        for i in 0..size {
            for j in 0..=i {
                let mut sum = transform(f64::from(partials[i].hz - partials[j].hz));
                if i == j {
                    sum += RIDGE;
                }
                for k in 0..j {
                    sum -= factor[i * size + k] * factor[j * size + k];
                }
                factor[i * size + j] = if i == j {
                    if sum <= 0.0 {
                        return None;
                    }
                    sum.sqrt()
                } else {
                    sum / factor[j * size + j]
                };
            }
        }
        let mut system = System {
            factor,
            size,
            window,
            share: Vec::new(),
        };
        let mut column = vec![0.0; size];
        system.share = (0..size)
            .map(|i| {
                column.fill(0.0);
                column[i] = 1.0;
                system.solve(&mut column);
                1.0 / column[i]
            })
            .collect();
        Some(system)
    }

    fn solve(&self, b: &mut [f32]) {
        let n = self.size;
        for i in 0..n {
            let row = &self.factor[i * n..i * n + i];
            let sum: f32 = row.iter().zip(&b[..i]).map(|(f, x)| f * x).sum();
            b[i] = (b[i] - sum) / self.factor[i * n + i];
        }
        for i in (0..n).rev() {
            let x = b[i] / self.factor[i * n + i];
            b[i] = x;
            let row = &self.factor[i * n..i * n + i];
            b[..i].iter_mut().zip(row).for_each(|(b, f)| *b -= f * x);
        }
    }

    /// Power of every partial in every frame: frame by frame.
    fn powers(&self, partials: &[Partial], frames: &[&[f32]], rate_hz: f64) -> Vec<f32> {
        let length = self.window.len();
        let scale = 2.0 / self.window.iter().sum::<f32>();
        let mut re = vec![0.0; length];
        let mut im = vec![0.0; length];
        let mut on = vec![Complex32::default(); frames.len() * self.size];
        for (i, partial) in partials.iter().enumerate() {
            let turn = std::f64::consts::TAU * f64::from(partial.hz) / rate_hz;
            for (n, w) in self.window.iter().enumerate() {
                let (sin, cos) = (turn * (n as f64 - (length as f64 - 1.0) / 2.0)).sin_cos();
                re[n] = w * scale * cos as f32;
                im[n] = -w * scale * sin as f32;
            }
            for (k, frame) in frames.iter().enumerate() {
                on[k * self.size + i] = Complex32::new(dot(frame, &re), dot(frame, &im));
            }
        }
        let mut part = vec![0.0; self.size];
        let mut powers = vec![0.0; on.len()];
        for k in 0..frames.len() {
            let row = k * self.size..(k + 1) * self.size;
            for real in [true, false] {
                for (p, c) in part.iter_mut().zip(&on[row.clone()]) {
                    *p = if real { c.re } else { c.im };
                }
                self.solve(&mut part);
                for (power, p) in powers[row.clone()].iter_mut().zip(&part) {
                    *power += p * p;
                }
            }
        }
        powers
    }
}

/// Sum of products, in eight lanes so that the compiler can use vectors.
pub(super) fn dot(a: &[f32], b: &[f32]) -> f32 {
    let mut lanes = [0.0f32; 8];
    let (ca, cb) = (a.chunks_exact(8), b.chunks_exact(8));
    let rest: f32 = ca
        .remainder()
        .iter()
        .zip(cb.remainder())
        .map(|(x, y)| x * y)
        .sum();
    for (x, y) in ca.zip(cb) {
        for i in 0..8 {
            lanes[i] += x[i] * y[i];
        }
    }
    lanes.iter().sum::<f32>() + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_strings_twelve_hertz_apart_are_followed_apart() {
        let rate = 11_025.0;
        let note = |hz: f64| Fit {
            count: 1,
            ..Fit::nominal(hz, 1e-7, 5_000.0)
        };
        let mut fits = [None; STRINGS];
        fits[2] = Some(note(220.0));
        fits[3] = Some(note(232.0));
        // The first rings on, the second falls by 60 dB in 0.3 s.
        let samples: Vec<f32> = (0..14_000)
            .map(|i| {
                let t = (f64::from(i) / rate - 0.2).max(0.0);
                let on = if t > 0.0 { 1.0 } else { 0.0 };
                let turn = std::f64::consts::TAU * t;
                (on * ((turn * 220.0).sin() + 10f64.powf(-3.0 * t / 0.3) * (turn * 232.0).sin()))
                    as f32
            })
            .collect();
        let first = (0.2 * rate) as usize;
        let [_, _, a, b, _, _] = traces(&samples, rate, first, first, &fits);
        let (a, b) = (a.expect("told apart"), b.expect("told apart"));
        assert!(a.fall_db[3].abs() < 3.0, "{a:?}");
        assert!((b.fall_db[1] + 20.0).abs() < 5.0, "{b:?}");
        assert!(b.fall_db[5] < -25.0, "{b:?}");
    }
}
