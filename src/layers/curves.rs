//! The curves that numbers are bent by, and sums over them: without calls and without waiting for the number before, so
//! that several are computed at once, more where the processor's vectors are wider.

use multiversion::{multiversion, target::match_target};

/// Numbers that are summed side by side.
const LANES: usize = 16;

/// Gaussian error linear unit: each x times the normal distribution's share below x (Hendrycks and Gimpel, 2016).
#[multiversion(targets("x86_64+avx2+fma"))]
pub fn gelu(values: &mut [f32]) {
    let fused = match_target! { "x86_64+fma" => true, _ => false };
    for x in values {
        // Abramowitz and Stegun, formula 7.1.26: the error function to 1.5e-7.
        let z = x.abs() * std::f32::consts::FRAC_1_SQRT_2;
        let t = 1.0 / (1.0 + 0.327_591_1 * z);
        let poly = [-1.453_152, 1.421_413_7, -0.284_496_74, 0.254_829_6]
            .iter()
            .fold(1.061_405_4, |sum, c| times_plus(fused, sum, t, *c));
        let erf = 1.0 - t * poly * exp(fused, -z * z);
        *x *= 0.5 * (1.0 + erf.copysign(*x));
    }
}

/// Scores to shares that add up to 1 (softmax).
#[multiversion(targets("x86_64+avx2+fma"))]
pub fn to_shares(scores: &mut [f32]) {
    let fused = match_target! { "x86_64+fma" => true, _ => false };
    let top = over_lanes(scores, f32::MIN, |top, s| if s > top { s } else { top });
    let top = top.into_iter().fold(f32::MIN, f32::max);
    scores.iter_mut().for_each(|s| *s = exp(fused, *s - top));
    let sums = over_lanes(scores, 0.0, |sum, s| sum + s);
    let part = 1.0 / sums.iter().sum::<f32>();
    scores.iter_mut().for_each(|s| *s *= part);
}

/// Mean of a row and mean square of what it is off.
#[multiversion(targets("x86_64+avx2"))]
pub fn mean_and_variance(row: &[f32]) -> (f32, f32) {
    let count = row.len() as f32;
    let sums = over_lanes(row, 0.0, |sum, x| sum + x);
    let mean = sums.iter().sum::<f32>() / count;
    let squares = over_lanes(row, 0.0, |sum, x| sum + (x - mean) * (x - mean));
    (mean, squares.iter().sum::<f32>() / count)
}

/// Every sixteenth number taken together with those before it.
#[inline(always)]
fn over_lanes(values: &[f32], start: f32, take: impl Fn(f32, f32) -> f32) -> [f32; LANES] {
    let mut lanes = [start; LANES];
    let chunks = values.chunks_exact(LANES);
    let rest = chunks.remainder();
    for chunk in chunks {
        for (lane, &value) in lanes.iter_mut().zip(chunk) {
            *lane = take(*lane, value);
        }
    }
    for (lane, &value) in lanes.iter_mut().zip(rest) {
        *lane = take(*lane, value);
    }
    lanes
}

/// `a` times `b` plus `c`, `fused` into one step where the processor has that.
#[inline(always)]
fn times_plus(fused: bool, a: f32, b: f32, c: f32) -> f32 {
    if fused { a.mul_add(b, c) } else { a * b + c }
}

/// e to the power of `x`, which is 0 or less, to 2e-7 of it.
#[inline(always)]
fn exp(fused: bool, x: f32) -> f32 {
    // Added and taken off again, this leaves a whole number; its last bits are that number.
    const ROUND: f32 = 12_582_912.0;
    // ln 2 in two parts, and the series of e^x on half of it either way (Cephes, expf; from memory).
    const LN_2: (f32, f32) = (0.693_359_4, -2.121_944_4e-4);
    let x = x.max(-87.0);
    let rounded = times_plus(fused, x, std::f32::consts::LOG2_E, ROUND);
    let whole = rounded - ROUND;
    let rest = times_plus(fused, whole, -LN_2.1, times_plus(fused, whole, -LN_2.0, x));
    let series = [
        1.398_199_9e-3,
        8.333_452e-3,
        4.166_579_6e-2,
        1.666_666_5e-1,
        0.5,
    ]
    .iter()
    .fold(1.987_569_1e-4, |sum, c| times_plus(fused, sum, rest, *c));
    let power = rounded
        .to_bits()
        .wrapping_sub(ROUND.to_bits())
        .wrapping_add(127);
    let near_1 = times_plus(fused, series * rest, rest, rest + 1.0);
    near_1 * f32::from_bits(power << 23)
}

/// Inverse hyperbolic sine, to 1e-6 of it or of 1, whichever is more.
#[inline(always)]
pub fn asinh(x: f32) -> f32 {
    let size = x.abs();
    ln(size + (size * size + 1.0).sqrt()).copysign(x)
}

/// Natural logarithm of `x`, which is 1 or more.
#[inline(always)]
fn ln(x: f32) -> f32 {
    // x as a power of 2 times a number within half an octave of 1, and the series of ln(1 + y)
    // there (Cephes, logf; from memory).
    const HALF_OCTAVE: u32 = 0x3f35_04f3;
    let power = (x.to_bits() - HALF_OCTAVE) >> 23;
    let y = f32::from_bits(x.to_bits() - (power << 23)) - 1.0;
    let series = [
        -1.151_461e-1,
        1.167_699_9e-1,
        -1.242_014_1e-1,
        1.424_932_3e-1,
        -1.666_805_7e-1,
        2.000_071_5e-1,
        -2.499_999_4e-1,
        3.333_333e-1,
    ]
    .iter()
    .fold(7.037_683_6e-2, |sum, c| sum * y + c);
    y + y * y * (series * y - 0.5) + power as f32 * std::f32::consts::LN_2
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_add_up_to_1_and_keep_their_order() {
        let mut scores = [1.0, 90.0, 89.0, -1e4];
        to_shares(&mut scores);
        assert!((scores.iter().sum::<f32>() - 1.0).abs() < 1e-6);
        assert!((scores[1] / scores[2] - std::f32::consts::E).abs() < 1e-4);
        assert!(scores[3] < 1e-37);
    }

    #[test]
    fn shares_of_many_scores_are_those_of_the_plain_sum() {
        let scores: Vec<f32> = (0..37).map(|i| (i * i % 11) as f32 * 0.3).collect();
        let mut shares = scores.clone();
        to_shares(&mut shares);
        let sum: f64 = scores.iter().map(|s| f64::from(*s).exp()).sum();
        for (share, score) in shares.iter().zip(scores) {
            let expected = f64::from(score).exp() / sum;
            assert!((f64::from(*share) - expected).abs() < 1e-7, "{share}");
        }
    }

    #[test]
    fn mean_and_variance_are_those_of_the_whole_row() {
        let row: Vec<f32> = (0..21).map(|i| i as f32).collect();
        let (mean, variance) = mean_and_variance(&row);
        // Of 0 to n - 1: (n - 1) / 2 and (n^2 - 1) / 12.
        assert!((mean - 10.0).abs() < 1e-5 && (variance - 440.0 / 12.0).abs() < 1e-4);
    }

    #[test]
    fn powers_of_e_are_those_of_the_standard_library() {
        for i in 0..=88_000 {
            let x = i as f32 * -0.001;
            for fused in [true, false] {
                let off = exp(fused, x) / x.max(-87.0).exp() - 1.0;
                assert!(off.abs() < 2.5e-7, "{off} for {x}");
            }
        }
    }

    #[test]
    fn gelu_is_as_tabulated() {
        // x times the standard normal distribution (Abramowitz and Stegun, table 26.1).
        for (x, expected) in [
            (0.0, 0.0),
            (1.0, 0.841_345),
            (-1.0, -0.158_655),
            (2.0, 1.954_5),
            (-3.0, -0.004_050),
        ] {
            let mut y: [f32; 1] = [x];
            gelu(&mut y);
            assert!((y[0] - expected).abs() < 2e-6, "{} for {x}", y[0]);
        }
    }

    #[test]
    fn inverse_hyperbolic_sines_are_those_of_the_standard_library() {
        for i in -40_000..=40_000 {
            let x = i as f32 * 0.3;
            let expected = f64::from(x).asinh();
            let off = f64::from(asinh(x)) - expected;
            assert!(off.abs() < 1e-6 * expected.abs().max(1.0), "{off} for {x}");
        }
    }
}
