//! How one partial runs over time: its fall, and whether one vibration alone explains it or two beat.

use realfft::num_complex::{Complex32, Complex64};

use crate::spectrum::Track;

/// Points between the taps of the two-line predictor: long enough to tell lines under 1 Hz apart.
const LAG: usize = 3;
/// Fewest points worth reading: 0.5 s.
const FEWEST: usize = 18;
/// Moments at which the level is read, in seconds from the track's start, and the span averaged.
const MOMENTS_S: [f32; 4] = [0.0, 0.27, 0.5, 0.85];
const SPAN_S: f32 = 0.09;

/// The course of one partial.
#[derive(Debug, Clone, Copy)]
pub struct Course {
    /// What one decaying line leaves unexplained, in dB of the whole.
    pub single_db: f32,
    /// How much less a second line leaves, in dB.
    pub gain_db: f32,
    /// The weaker line's energy against the stronger's, in dB.
    pub weaker_db: f32,
    /// The weaker line's frequency less the stronger's, in Hz.
    pub split_hz: f32,
    /// Level at each of the moments after the first, less the level at the first, in dB.
    pub fall_db: [f32; 3],
}

impl Course {
    /// Of points `step_s` seconds apart; `None` for too short a stretch.
    pub fn of(track: &Track, step_s: f32) -> Option<Course> {
        let x = track.points();
        if x.len() < FEWEST {
            return None;
        }
        let total: f64 = x.iter().map(|p| f64::from(p.norm_sqr())).sum::<f64>() + 1e-18;
        let single = single_residual(x);
        let pair = Pair::through(x);
        let span = ((SPAN_S / step_s) as usize).max(1);
        let level = |s: f32| {
            let from = (s / step_s) as usize;
            x.get(from..from + span).map_or(f32::NAN, |part| {
                crate::spectrum::db(part.iter().map(|p| p.norm_sqr()).sum::<f32>() / span as f32)
            })
        };
        let first = level(MOMENTS_S[0]);
        let ratio_db =
            |a: f64, b: f64| (10.0 * ((a + 1e-9 * total) / (b + 1e-9 * total)).log10()) as f32;
        Some(Course {
            single_db: ratio_db(single, total),
            gain_db: ratio_db(single, pair.residual),
            weaker_db: pair.weaker_db,
            split_hz: (pair.split / f64::from(step_s)) as f32,
            fall_db: [1, 2, 3].map(|i| level(MOMENTS_S[i]) - first),
        })
    }
}

fn wide(p: Complex32) -> Complex64 {
    Complex64::new(f64::from(p.re), f64::from(p.im))
}

/// What the best single decaying line through `x` leaves.
fn single_residual(x: &[Complex32]) -> f64 {
    let (mut cross, mut power) = (Complex64::default(), 1e-30);
    for pair in x.windows(2) {
        let (a, b) = (wide(pair[0]), wide(pair[1]));
        cross += b * a.conj();
        power += a.norm_sqr();
    }
    let pole = limited(cross / power);
    let (mut on, mut own, mut total) = (Complex64::default(), 1e-30, 0.0);
    let mut z = Complex64::new(1.0, 0.0);
    for &p in x {
        let p = wide(p);
        on += p * z.conj();
        own += z.norm_sqr();
        total += p.norm_sqr();
        z *= pole;
    }
    (total - on.norm_sqr() / own).max(0.0)
}

/// Poles neither grow nor vanish within a point.
fn limited(pole: Complex64) -> Complex64 {
    let size = pole.norm();
    if size > 1.0 {
        pole / size
    } else if size < 0.3 {
        Complex64::new(0.3, 0.0)
    } else {
        pole
    }
}

/// Two decaying lines through one track.
struct Pair {
    residual: f64,
    weaker_db: f32,
    /// Turns per point.
    split: f64,
}

impl Pair {
    /// Linear prediction with two taps [`LAG`] points apart, then the amplitudes by least squares.
    fn through(x: &[Complex32]) -> Pair {
        let (mut r00, mut r11, mut r01) = (1e-30, 1e-30, Complex64::default());
        let (mut b0, mut b1) = (Complex64::default(), Complex64::default());
        for k in 0..x.len() - 2 * LAG {
            let (x0, x1, x2) = (wide(x[k]), wide(x[k + LAG]), wide(x[k + 2 * LAG]));
            r00 += x1.norm_sqr();
            r11 += x0.norm_sqr();
            r01 += x1.conj() * x0;
            b0 += x1.conj() * x2;
            b1 += x0.conj() * x2;
        }
        let (a, b) = solve(r00 * 1.0001, r11 * 1.0001, r01, b0, b1);
        let root = (a * a + b * 4.0).sqrt();
        let pole = |z: Complex64| {
            let (size, turn) = z.to_polar();
            limited(Complex64::from_polar(
                size.powf(1.0 / LAG as f64),
                turn / LAG as f64,
            ))
        };
        let (p, q) = (pole((a + root) * 0.5), pole((a - root) * 0.5));
        let (mut pp, mut qq, mut pq) = (1e-30, 1e-30, Complex64::default());
        let (mut on_p, mut on_q, mut total) = (Complex64::default(), Complex64::default(), 0.0);
        let (mut zp, mut zq) = (Complex64::new(1.0, 0.0), Complex64::new(1.0, 0.0));
        for &v in x {
            let v = wide(v);
            pp += zp.norm_sqr();
            qq += zq.norm_sqr();
            pq += zp.conj() * zq;
            on_p += zp.conj() * v;
            on_q += zq.conj() * v;
            total += v.norm_sqr();
            zp *= p;
            zq *= q;
        }
        let (ap, aq) = solve(pp * 1.0001, qq * 1.0001, pq, on_p, on_q);
        let explained = (ap.conj() * on_p + aq.conj() * on_q).re;
        let (ep, eq) = (ap.norm_sqr() * pp + 1e-30, aq.norm_sqr() * qq + 1e-30);
        let turn = |z: Complex64| z.arg() / std::f64::consts::TAU;
        let (weak, split) = if ep < eq {
            (ep / eq, turn(p) - turn(q))
        } else {
            (eq / ep, turn(q) - turn(p))
        };
        Pair {
            residual: (total - explained).max(0.0),
            weaker_db: (10.0 * weak.log10()) as f32,
            split,
        }
    }
}

/// Solves [[r00, r01], [r01*, r11]] (a, b) = (b0, b1).
fn solve(
    r00: f64,
    r11: f64,
    r01: Complex64,
    b0: Complex64,
    b1: Complex64,
) -> (Complex64, Complex64) {
    let determinant = (r00 * r11 - r01.norm_sqr()).max(1e-30);
    (
        (b0 * r11 - r01 * b1) / determinant,
        (b1 * r00 - r01.conj() * b0) / determinant,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spectrum::Bands;

    fn course(lines: &[(f64, f64, f64)]) -> Course {
        let rate = 11_025.0;
        let mut bands = Bands::new(rate);
        let samples: Vec<f32> = (0..15_000)
            .map(|i| {
                let t = f64::from(i) / rate;
                lines
                    .iter()
                    .map(|&(hz, level, fall)| {
                        level * (-fall * t).exp() * (std::f64::consts::TAU * hz * t).sin()
                    })
                    .sum::<f64>() as f32
            })
            .collect();
        bands.fill(&samples);
        Course::of(&bands.track(330.0), bands.step_s()).expect("long enough")
    }

    #[test]
    fn one_line_is_explained_by_one_and_its_fall_is_read() {
        let one = course(&[(330.1, 1.0, 2.0)]);
        assert!(one.single_db < -35.0, "{one:?}");
        let expected = -2.0 * 0.5 * 20.0 / std::f64::consts::LN_10;
        assert!(
            (f64::from(one.fall_db[1]) - expected).abs() < 0.6,
            "{one:?}"
        );
    }

    #[test]
    fn two_lines_a_hertz_apart_beat_and_are_told_apart() {
        let two = course(&[(330.0, 1.0, 2.0), (331.0, 0.4, 2.0)]);
        assert!(two.single_db > -20.0, "{two:?}");
        assert!(two.gain_db > 15.0, "{two:?}");
        assert!((two.split_hz - 1.0).abs() < 0.15, "{two:?}");
        assert!((two.weaker_db + 8.0).abs() < 1.5, "{two:?}");
    }
}
