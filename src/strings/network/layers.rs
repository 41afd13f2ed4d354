//! The layers that the network is made of. Matrices are stored row by row; a row is what one partial or
//! one note has become.

use super::file::{Numbers, NetworkError};

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
        let a = Matrix { values: from, row: self.inputs, column: 1 };
        let b = Matrix { values: &self.weights, row: 1, column: self.inputs };
        add_product((rows, self.inputs, self.outputs), a, b, 1.0, (onto, self.outputs));
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
        Ok(Norm { scales: from.take(width)?, shifts: from.take(width)? })
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
    let poly = t * (0.254_829_6 + t * (-0.284_496_74 + t * (1.421_413_7 + t * (-1.453_152 + t * 1.061_405_4))));
    let erf = 1.0 - poly * (-z * z).exp();
    *x *= 0.5 * (1.0 + erf.copysign(*x));
}

/// Room for the rows that come and go in a layer.
#[derive(Debug, Clone, Default)]
pub struct Scratch {
    normed: Vec<f32>,
    wide: Vec<f32>,
    heard: Vec<f32>,
    scores: Vec<f32>,
}

/// What rows listen to: the first `common` rows, and, from there on, those of their own group too.
pub struct Hearers<'a> {
    pub common: usize,
    /// Rows of every group after the common ones.
    pub groups: &'a [std::ops::Range<usize>],
    /// Head by head, row by row: what is added to the score of each common row.
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

    pub fn run(&self, rows: &mut [f32], hearers: &Hearers, scratch: &mut Scratch) {
        let width = self.width;
        let count = rows.len() / width;
        self.before[0].run(rows, &mut scratch.normed);
        self.ask.run(&scratch.normed, &mut scratch.wide);
        scratch.heard.clear();
        scratch.heard.resize(rows.len(), 0.0);
        for head in 0..self.heads {
            self.listen(head, count, hearers, scratch);
        }
        self.take_in.run_onto(&scratch.heard, rows);
        self.before[1].run(rows, &mut scratch.normed);
        self.think[0].run(&scratch.normed, &mut scratch.wide);
        scratch.wide.iter_mut().for_each(gelu);
        self.think[1].run_onto(&scratch.wide, rows);
    }

    fn listen(&self, head: usize, count: usize, hearers: &Hearers, scratch: &mut Scratch) {
        let (width, common) = (self.width, hearers.common);
        let each = width / self.heads;
        let scale = (each as f32).sqrt().recip();
        let asked = &scratch.wide;
        let part = |which: usize, row: usize| &asked[row * 3 * width + which * width + head * each..];
        let scores = &mut scratch.scores;
        scores.clear();
        scores.extend_from_slice(&hearers.biases[head * count * common..(head + 1) * count * common]);
        let query = Matrix { values: part(0, 0), row: 3 * width, column: 1 };
        let key = Matrix { values: part(1, 0), row: 1, column: 3 * width };
        add_product((count, each, common), query, key, scale, (scores, common));
        // Rows of a group listen to it too; all shares of a row add up to 1.
        for row in scores[..hearers.groups.first().map_or(count, |g| g.start) * common].chunks_exact_mut(common) {
            let sum = exponentials(row, row.iter().copied().fold(f32::MIN, f32::max));
            row.iter_mut().for_each(|s| *s /= sum);
        }
        let heard = &mut scratch.heard;
        let mut own = Vec::new();
        for group in hearers.groups {
            for row in group.clone() {
                let query = &part(0, row)[..each];
                own.clear();
                own.extend(group.clone().map(|other| {
                    let key = &part(1, other)[..each];
                    scale * query.iter().zip(key).map(|(q, k)| q * k).sum::<f32>()
                }));
                let others = &mut scores[row * common..(row + 1) * common];
                let top = others.iter().chain(&own).copied().fold(f32::MIN, f32::max);
                let sum = exponentials(others, top) + exponentials(&mut own, top);
                others.iter_mut().for_each(|s| *s /= sum);
                let into = &mut heard[row * width + head * each..][..each];
                for (other, share) in group.clone().zip(&own) {
                    let value = &part(2, other)[..each];
                    into.iter_mut().zip(value).for_each(|(x, v)| *x += share / sum * v);
                }
            }
        }
        let shares = Matrix { values: scores, row: common, column: 1 };
        let value = Matrix { values: part(2, 0), row: 3 * width, column: 1 };
        add_product((count, common, each), shares, value, 1.0, (&mut heard[head * each..], width));
    }
}

/// Replaces numbers by their exponentials, the highest becoming 1, and returns the sum.
fn exponentials(row: &mut [f32], top: f32) -> f32 {
    row.iter_mut().for_each(|s| *s = (*s - top).exp());
    row.iter().sum()
}
