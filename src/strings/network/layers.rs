//! The layers that the network is made of. Matrices are stored row by row; a row is what one partial or
//! one note has become.

use super::file::{NetworkError, Numbers};

/// `rows` times `inner` by `inner` times `columns`, each by its start and its steps from row to row and
/// from column to column; the product is added to `into`.
struct Matrix<'a> {
    values: &'a [f32],
    row: usize,
    column: usize,
}

fn add_product(
    (rows, inner, columns): (usize, usize, usize),
    a: Matrix,
    b: Matrix,
    scale: f32,
    into: (&mut [f32], usize),
) {
    if rows == 0 || columns == 0 {
        return;
    }
    let last = |m: &Matrix, r: usize, c: usize| (r - 1) * m.row + (c - 1) * m.column;
    assert!(last(&a, rows, inner) < a.values.len() && last(&b, inner, columns) < b.values.len());
    assert!((rows - 1) * into.1 + columns <= into.0.len());
    // SAFETY: the asserts hold every element that is read or written within its slice.
    unsafe {
        matrixmultiply::sgemm(
            rows,
            inner,
            columns,
            scale,
            a.values.as_ptr(),
            a.row as isize,
            a.column as isize,
            b.values.as_ptr(),
            b.row as isize,
            b.column as isize,
            1.0,
            into.0.as_mut_ptr(),
            into.1 as isize,
            1,
        );
    }
}

/// Every output a weighted sum of the inputs.
#[derive(Debug, Clone)]
pub struct Linear {
    inputs: usize,
    outputs: usize,
    /// Output by output.
    weights: Vec<f32>,
    biases: Vec<f32>,
}

impl Linear {
    pub fn read(from: &mut Numbers, inputs: usize, outputs: usize) -> Result<Linear, NetworkError> {
        Ok(Linear {
            inputs,
            outputs,
            weights: from.take(inputs * outputs)?,
            biases: from.take(outputs)?,
        })
    }

    /// Replaces `into` by what becomes of the rows of `from`.
    pub fn run(&self, from: &[f32], into: &mut Vec<f32>) {
        into.clear();
        let rows = from.len() / self.inputs;
        for _ in 0..rows {
            into.extend_from_slice(&self.biases);
        }
        self.add(from, into);
    }

    /// Adds it to `onto`.
    pub fn run_onto(&self, from: &[f32], onto: &mut [f32]) {
        for row in onto.chunks_exact_mut(self.outputs) {
            row.iter_mut().zip(&self.biases).for_each(|(x, b)| *x += b);
        }
        self.add(from, onto);
    }

    fn add(&self, from: &[f32], onto: &mut [f32]) {
        let rows = from.len() / self.inputs;
        let a = Matrix {
            values: from,
            row: self.inputs,
            column: 1,
        };
        let b = Matrix {
            values: &self.weights,
            row: 1,
            column: self.inputs,
        };
        add_product(
            (rows, self.inputs, self.outputs),
            a,
            b,
            1.0,
            (onto, self.outputs),
        );
    }
}

/// Brings every row to mean 0 and variance 1, then scales and shifts each place.
#[derive(Debug, Clone)]
pub struct Norm {
    scales: Vec<f32>,
    shifts: Vec<f32>,
}

/// Added to the variance, as the network was trained.
const NORM_LEAST: f32 = 1e-5;

impl Norm {
    pub fn read(from: &mut Numbers, width: usize) -> Result<Norm, NetworkError> {
        Ok(Norm {
            scales: from.take(width)?,
            shifts: from.take(width)?,
        })
    }

    fn run(&self, from: &[f32], into: &mut Vec<f32>) {
        into.clear();
        let width = self.scales.len();
        for row in from.chunks_exact(width) {
            let mean = row.iter().sum::<f32>() / width as f32;
            let variance = row.iter().map(|x| (x - mean).powi(2)).sum::<f32>() / width as f32;
            let factor = (variance + NORM_LEAST).sqrt().recip();
            into.extend(
                row.iter()
                    .zip(self.scales.iter().zip(&self.shifts))
                    .map(|(x, (scale, shift))| (x - mean) * factor * scale + shift),
            );
        }
    }
}

/// Gaussian error linear unit: x times the normal distribution's share below x (Hendrycks and Gimpel, 2016).
pub fn gelu(x: &mut f32) {
    // Abramowitz and Stegun, formula 7.1.26: the error function to 1.5e-7.
    let z = x.abs() * std::f32::consts::FRAC_1_SQRT_2;
    let t = 1.0 / (1.0 + 0.327_591_1 * z);
    let poly = t
        * (0.254_829_6
            + t * (-0.284_496_74 + t * (1.421_413_7 + t * (-1.453_152 + t * 1.061_405_4))));
    let erf = 1.0 - poly * exp(-z * z);
    *x *= 0.5 * (1.0 + erf.copysign(*x));
}

/// Room for the rows that come and go in a layer.
#[derive(Debug, Clone, Default)]
pub struct LayerScratch {
    normed: Vec<f32>,
    wide: Vec<f32>,
    heard: Vec<f32>,
    scores: Vec<f32>,
}

/// What rows listen to: the first `count` rows, as much as fits what they hold.
pub struct Heeded<'a> {
    pub count: usize,
    /// Head by head, row by row: what is added to the score of each heeded row.
    pub biases: &'a [f32],
}

/// A round of listening and thinking: rows take in what others have become (scaled dot-product
/// attention of several heads, Vaswani and others, 2017), then each is thought over by itself.
#[derive(Debug, Clone)]
pub struct Layer {
    heads: usize,
    width: usize,
    before: [Norm; 2],
    ask: Linear,
    take_in: Linear,
    think: [Linear; 2],
}

impl Layer {
    pub fn read(from: &mut Numbers, width: usize, heads: usize) -> Result<Layer, NetworkError> {
        let before = [Norm::read(from, width)?, Norm::read(from, width)?];
        Ok(Layer {
            heads,
            width,
            before,
            ask: Linear::read(from, width, 3 * width)?,
            take_in: Linear::read(from, width, width)?,
            think: [
                Linear::read(from, width, 2 * width)?,
                Linear::read(from, 2 * width, width)?,
            ],
        })
    }

    pub fn run(&self, rows: &mut [f32], heeded: &Heeded, scratch: &mut LayerScratch) {
        let count = rows.len() / self.width;
        self.before[0].run(rows, &mut scratch.normed);
        self.ask.run(&scratch.normed, &mut scratch.wide);
        scratch.heard.clear();
        scratch.heard.resize(rows.len(), 0.0);
        for head in 0..self.heads {
            self.listen(head, count, heeded, scratch);
        }
        self.take_in.run_onto(&scratch.heard, rows);
        self.before[1].run(rows, &mut scratch.normed);
        self.think[0].run(&scratch.normed, &mut scratch.wide);
        scratch.wide.iter_mut().for_each(gelu);
        self.think[1].run_onto(&scratch.wide, rows);
    }

    fn listen(&self, head: usize, count: usize, heeded: &Heeded, scratch: &mut LayerScratch) {
        let (width, keys) = (self.width, heeded.count);
        if keys == 0 {
            return;
        }
        let each = width / self.heads;
        let asked = &scratch.wide;
        let part = |which: usize| &asked[which * width + head * each..];
        let scores = &mut scratch.scores;
        scores.clear();
        scores.extend_from_slice(&heeded.biases[head * count * keys..(head + 1) * count * keys]);
        let query = Matrix {
            values: part(0),
            row: 3 * width,
            column: 1,
        };
        let key = Matrix {
            values: part(1),
            row: 1,
            column: 3 * width,
        };
        let scale = (each as f32).sqrt().recip();
        add_product((count, each, keys), query, key, scale, (scores, keys));
        scores.chunks_exact_mut(keys).for_each(to_shares);
        let shares = Matrix {
            values: scores,
            row: keys,
            column: 1,
        };
        let value = Matrix {
            values: part(2),
            row: 3 * width,
            column: 1,
        };
        let heard = &mut scratch.heard[head * each..];
        add_product((count, keys, each), shares, value, 1.0, (heard, width));
    }
}

/// Scores to shares that add up to 1 (softmax).
pub fn to_shares(scores: &mut [f32]) {
    let top = scores.iter().copied().fold(f32::MIN, f32::max);
    scores.iter_mut().for_each(|s| *s = exp(*s - top));
    let part = 1.0 / scores.iter().sum::<f32>();
    scores.iter_mut().for_each(|s| *s *= part);
}

/// e to the power of `x`, which is 0 or less, to 2e-7 of it: without a call, so that several are computed at once.
fn exp(x: f32) -> f32 {
    // Added and taken off again, this leaves a whole number; its last bits are that number.
    const ROUND: f32 = 12_582_912.0;
    // ln 2 in two parts, and the series of e^x on half of it either way (Cephes, expf; from memory).
    const LN_2: (f32, f32) = (0.693_359_4, -2.121_944_4e-4);
    let x = x.max(-87.0);
    let rounded = x * std::f32::consts::LOG2_E + ROUND;
    let whole = rounded - ROUND;
    let rest = x - whole * LN_2.0 - whole * LN_2.1;
    let series = [
        1.398_199_9e-3,
        8.333_452e-3,
        4.166_579_6e-2,
        1.666_666_5e-1,
        0.5,
    ]
    .iter()
    .fold(1.987_569_1e-4, |sum, c| sum * rest + c);
    let power = rounded
        .to_bits()
        .wrapping_sub(ROUND.to_bits())
        .wrapping_add(127);
    (series * rest * rest + rest + 1.0) * f32::from_bits(power << 23)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_linear_layer_sums_by_its_weights() {
        let layer = Linear {
            inputs: 2,
            outputs: 3,
            weights: vec![1.0, 2.0, 3.0, 4.0, 5.0, 6.0],
            biases: vec![0.5, 0.0, -0.5],
        };
        let mut out = Vec::new();
        layer.run(&[1.0, 1.0, 0.0, -1.0], &mut out);
        assert_eq!(out, [3.5, 7.0, 10.5, -1.5, -4.0, -6.5]);
        let mut onto = vec![1.0; 3];
        layer.run_onto(&[1.0, 0.0], &mut onto);
        assert_eq!(onto, [2.5, 4.0, 5.5]);
    }

    #[test]
    fn rows_come_out_with_mean_0_and_variance_1() {
        let norm = Norm {
            scales: vec![1.0; 4],
            shifts: vec![0.0; 4],
        };
        let mut out = Vec::new();
        norm.run(&[1.0, 2.0, 3.0, 6.0], &mut out);
        assert!(out.iter().sum::<f32>().abs() < 1e-5);
        assert!((out.iter().map(|x| x * x).sum::<f32>() - 4.0).abs() < 1e-3);
    }

    #[test]
    fn shares_add_up_to_1_and_keep_their_order() {
        let mut scores = [1.0, 90.0, 89.0, -1e4];
        to_shares(&mut scores);
        assert!((scores.iter().sum::<f32>() - 1.0).abs() < 1e-6);
        assert!((scores[1] / scores[2] - std::f32::consts::E).abs() < 1e-4);
        assert!(scores[3] < 1e-37);
    }

    #[test]
    fn powers_of_e_are_those_of_the_standard_library() {
        for i in 0..=88_000 {
            let x = i as f32 * -0.001;
            let off = exp(x) / x.max(-87.0).exp() - 1.0;
            assert!(off.abs() < 2.5e-7, "{off} for {x}");
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
            (-3.0, -0.004_05),
        ] {
            let mut y: f32 = x;
            gelu(&mut y);
            assert!((y - expected).abs() < 2e-6, "{y} for {x}");
        }
    }
}
