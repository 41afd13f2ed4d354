//! Decaying exponentials: sums over them in closed form, and what of a sound lies on one.

use realfft::num_complex::{Complex32, Complex64};

use crate::strings::traces::dot;

/// A decaying line.
#[derive(Debug, Clone, Copy)]
pub struct Line {
    pub hz: f64,
    /// Natural logarithm of what a sample is multiplied by to give the next.
    pub pole: Complex64,
}

impl Line {
    /// Of `hz`, falling at `fall` per second, in samples at `rate_hz`.
    pub fn new(hz: f64, fall: f64, rate_hz: f64) -> Line {
        let turn = std::f64::consts::TAU * hz;
        Line {
            hz,
            pole: Complex64::new(-fall, turn) / rate_hz,
        }
    }
}

/// Sums of e^(q t), t e^(q t) and t² e^(q t) for t from 0 to `count` - 1; `q` must not be 0.
pub fn sums(q: Complex64, count: f64) -> [Complex64; 3] {
    let (step, end) = (q.exp(), (q * count).exp());
    let less = step - 1.0;
    let zeroth = (end - 1.0) / less;
    // Each from the one before by differentiating sum * (e^q - 1).
    let first = (end * count - step * zeroth) / less;
    let second = (end * (count * count) - step * first * 2.0 - step * zeroth) / less;
    [zeroth, first, second]
}

/// The same under a Hann window of `count` points.
pub fn hann_sums(q: Complex64, count: f64) -> [Complex64; 3] {
    let turn = Complex64::new(0.0, std::f64::consts::TAU / count);
    let (mid, up, down) = (sums(q, count), sums(q + turn, count), sums(q - turn, count));
    std::array::from_fn(|k| mid[k] * 0.5 - (up[k] + down[k]) * 0.25)
}

/// Sum over both lines' common stretch of the first's conjugate times the second: each has a pole and
/// begins with 1 at its onset, and both end at `end`.
pub fn overlap(a: (Complex64, usize), b: (Complex64, usize), end: usize) -> Complex64 {
    let from = a.1.max(b.1);
    if from >= end {
        return Complex64::default();
    }
    let (p, q) = (a.0.conj(), b.0);
    let ahead = p * (from - a.1) as f64 + q * (from - b.1) as f64;
    ahead.exp() * sums(p + q, (end - from) as f64)[0]
}

/// Samples that are taken together: as many as keep the table of one exponential small.
const BLOCK: usize = 64;

/// Twice the sums of `sound` times the conjugate of a line with that pole, and of t times that: twice,
/// since a real line of amplitude a is two complex ones of half of it.
pub fn project(sound: &[f32], pole: Complex64, table: &mut Vec<f32>) -> (Complex64, Complex64) {
    table.resize(4 * BLOCK, 0.0);
    let (re, rest) = table.split_at_mut(BLOCK);
    let (im, rest) = rest.split_at_mut(BLOCK);
    let (re_t, im_t) = rest.split_at_mut(BLOCK);
    let step = pole.conj().exp();
    let mut z = Complex64::new(1.0, 0.0);
    for t in 0..BLOCK {
        let narrow = Complex32::new(z.re as f32, z.im as f32);
        (re[t], im[t]) = (narrow.re, narrow.im);
        (re_t[t], im_t[t]) = (narrow.re * t as f32, narrow.im * t as f32);
        z *= step;
    }
    let mut ahead = Complex64::new(1.0, 0.0);
    let (mut sum, mut timed) = (Complex64::default(), Complex64::default());
    for (block, part) in sound.chunks(BLOCK).enumerate() {
        let on = |re: &[f32], im: &[f32]| {
            Complex64::new(
                f64::from(dot(part, &re[..part.len()])),
                f64::from(dot(part, &im[..part.len()])),
            )
        };
        let (here, here_t) = (on(re, im), on(re_t, im_t));
        sum += here * ahead;
        timed += (here_t + here * (block * BLOCK) as f64) * ahead;
        ahead *= z;
    }
    (sum * 2.0, timed * 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: Complex64, b: Complex64) {
        assert!(
            (a - b).norm() < 1e-4 * (1.0 + b.norm()),
            "{a} instead of {b}"
        );
    }

    #[test]
    fn closed_forms_equal_the_sums_they_stand_for() {
        for (fall, turn, count) in [(2e-4, 1e-3, 900), (7e-3, 0.2, 333), (1e-4, 0.0, 2_000)] {
            let q = Complex64::new(-fall, turn);
            let window = |t: f64| 0.5 - 0.5 * (std::f64::consts::TAU * t / count as f64).cos();
            let (mut plain, mut hann) = ([Complex64::default(); 3], [Complex64::default(); 3]);
            for t in 0..count {
                let t = f64::from(t);
                for k in 0..3 {
                    let term = (q * t).exp() * t.powi(k as i32);
                    plain[k] += term;
                    hann[k] += term * window(t);
                }
            }
            for k in 0..3 {
                near(sums(q, f64::from(count))[k], plain[k]);
                near(hann_sums(q, f64::from(count))[k], hann[k]);
            }
        }
    }

    #[test]
    fn what_lies_on_a_line_is_summed_block_by_block() {
        let sound: Vec<f32> = (0..1_000).map(|t| (0.31 * t as f32).sin()).collect();
        let pole = Complex64::new(-1e-3, 0.3);
        let (mut sum, mut timed) = (Complex64::default(), Complex64::default());
        for (t, s) in sound.iter().enumerate() {
            let term = (pole.conj() * t as f64).exp() * f64::from(*s) * 2.0;
            sum += term;
            timed += term * t as f64;
        }
        let (a, b) = project(&sound, pole, &mut Vec::new());
        near(a, sum);
        near(b, timed);
    }

    #[test]
    fn lines_that_begin_at_different_times_overlap_from_the_later_on() {
        let (p, q) = (Complex64::new(-1e-3, 0.3), Complex64::new(-2e-3, 0.28));
        let direct: Complex64 = (40..200)
            .map(|t| (p * f64::from(t - 10)).exp().conj() * (q * f64::from(t - 40)).exp())
            .sum();
        near(overlap((p, 10), (q, 40), 200), direct);
        assert_eq!(overlap((p, 10), (q, 40), 30), Complex64::default());
    }
}
