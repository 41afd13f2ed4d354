//! Weighted sums, and rows brought to one scale. Matrices are stored row by row.

use super::curves::{gelu, mean_and_variance};
use super::file::{NetworkError, Weights};
use super::product::{Matrix, add_product};

/// Inputs whose weights are put in their places together: as many as one read from memory brings.
const TOGETHER: usize = 16;

/// Every output a weighted sum of the inputs.
#[derive(Debug, Clone)]
pub struct Linear {
    inputs: usize,
    outputs: usize,
    /// Input by input: as the product takes them in most quickly.
    weights: Vec<f32>,
    biases: Vec<f32>,
}

impl Linear {
    /// Reads the tensors `name.weight`, outputs by inputs, and `name.bias`.
    ///
    /// # Errors
    /// When one is missing or has another shape.
    pub fn read(
        from: &mut Weights,
        name: &str,
        inputs: usize,
        outputs: usize,
    ) -> Result<Linear, NetworkError> {
        Linear::of(from, name, &[outputs, inputs], |input| input)
    }

    /// Reads the same of a convolution over `taps` samples of each of `sounds`: `name.weight` is outputs by sounds by
    /// taps. A row of its inputs has all samples of a sound side by side.
    ///
    /// # Errors
    /// When a tensor is missing or has another shape.
    pub fn read_filters(
        from: &mut Weights,
        name: &str,
        (sounds, taps): (usize, usize),
        outputs: usize,
    ) -> Result<Linear, NetworkError> {
        Linear::of(from, name, &[outputs, sounds, taps], |input| input)
    }

    /// Reads the same of a convolution over `taps` frames of `width` numbers: `name.weight` is outputs by width by taps.
    /// A row of its inputs has all numbers of a frame side by side.
    ///
    /// # Errors
    /// When a tensor is missing or has another shape.
    pub fn read_frames(
        from: &mut Weights,
        name: &str,
        (width, taps): (usize, usize),
        outputs: usize,
    ) -> Result<Linear, NetworkError> {
        Linear::of(from, name, &[outputs, width, taps], |input| {
            input % width * taps + input / width
        })
    }

    /// `place` tells where in an output's weights the file has those of an input.
    fn of(
        from: &mut Weights,
        name: &str,
        shape: &[usize],
        place: impl Fn(usize) -> usize,
    ) -> Result<Linear, NetworkError> {
        let file = from.take(&format!("{name}.weight"), shape)?;
        let outputs = shape[0];
        let inputs = shape[1..].iter().product();
        // The file has them output by output: a few inputs at a time, so that what lies side by side there is read at once.
        let mut weights = vec![0.0; inputs * outputs];
        for (some, rows) in weights.chunks_mut(TOGETHER * outputs).enumerate() {
            for (output, file) in file.chunks_exact(inputs).enumerate() {
                for (k, row) in rows.chunks_exact_mut(outputs).enumerate() {
                    row[output] = file[place(TOGETHER * some + k)];
                }
            }
        }
        Ok(Linear {
            inputs,
            outputs,
            weights,
            biases: from.take(&format!("{name}.bias"), &[outputs])?,
        })
    }

    /// Replaces `into` by what becomes of the rows of `from`.
    pub fn run(&self, from: &[f32], into: &mut Vec<f32>) {
        into.clear();
        self.append(from, into);
    }

    /// Appends what becomes of the rows of `from`.
    pub fn append(&self, from: &[f32], into: &mut Vec<f32>) {
        let start = into.len();
        for _ in 0..from.len() / self.inputs {
            into.extend_from_slice(&self.biases);
        }
        self.add(from, &mut into[start..]);
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
            row: self.outputs,
            column: 1,
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
    /// Reads `width` scales, `name.weight`, and as many shifts, `name.bias`.
    ///
    /// # Errors
    /// When one is missing or has another shape.
    pub fn read(from: &mut Weights, name: &str, width: usize) -> Result<Norm, NetworkError> {
        Ok(Norm {
            scales: from.take(&format!("{name}.weight"), &[width])?,
            shifts: from.take(&format!("{name}.bias"), &[width])?,
        })
    }

    /// Replaces `into` by what becomes of the rows of `from`.
    pub fn run(&self, from: &[f32], into: &mut Vec<f32>) {
        into.clear();
        for row in from.chunks_exact(self.scales.len()) {
            self.append(row, mean_and_variance(row), into);
        }
    }

    /// The same with one mean and one variance for all rows.
    pub fn run_over_all(&self, from: &[f32], into: &mut Vec<f32>) {
        into.clear();
        let of_all = mean_and_variance(from);
        for row in from.chunks_exact(self.scales.len()) {
            self.append(row, of_all, into);
        }
    }

    fn append(&self, row: &[f32], (mean, variance): (f32, f32), into: &mut Vec<f32>) {
        let factor = (variance + NORM_LEAST).sqrt().recip();
        into.extend(
            row.iter()
                .zip(self.scales.iter().zip(&self.shifts))
                .map(|(x, (scale, shift))| (x - mean) * factor * scale + shift),
        );
    }
}

/// Numbers made into a row of the network in two steps.
#[derive(Debug, Clone)]
pub struct Embed([Linear; 2]);

impl Embed {
    /// Reads the two steps, `name.steps.0` and `.1`: from `inputs` numbers to twice `width`, and from there to `width`.
    ///
    /// # Errors
    /// When a tensor is missing or has another shape.
    pub fn read(
        from: &mut Weights,
        name: &str,
        inputs: usize,
        width: usize,
    ) -> Result<Embed, NetworkError> {
        Ok(Embed([
            Linear::read(from, &format!("{name}.steps.0"), inputs, 2 * width)?,
            Linear::read(from, &format!("{name}.steps.1"), 2 * width, width)?,
        ]))
    }

    /// Appends what becomes of the rows of `from`; `between` is a buffer, used again.
    pub fn append(&self, from: &[f32], between: &mut Vec<f32>, into: &mut Vec<f32>) {
        self.0[0].run(from, between);
        gelu(between);
        self.0[1].append(between, into);
    }
}

#[cfg(test)]
mod tests {
    use super::super::file::testing::file;
    use super::*;

    #[test]
    fn weights_of_filters_lie_as_the_rows_do() {
        // One output; two sounds or numbers a frame, three samples or frames.
        let head = [("layout", "a")];
        let weight: [f32; 6] = [1.0, 2.0, 3.0, 10.0, 20.0, 30.0];
        let bytes = file(
            &head,
            &[("f.weight", &[1, 2, 3], &weight), ("f.bias", &[1], &[0.0])],
        );
        let mut from = Weights::of(&bytes, "a", &[]).unwrap();
        let filters = Linear::read_filters(&mut from, "f", (2, 3), 1).unwrap();
        assert_eq!(filters.weights, weight);
        let frames = Linear::read_frames(&mut from, "f", (2, 3), 1).unwrap();
        assert_eq!(frames.weights, [1.0, 10.0, 2.0, 20.0, 3.0, 30.0]);
    }

    #[test]
    fn weights_of_several_outputs_are_stored_input_by_input() {
        let weight: [f32; 6] = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
        let bytes = file(
            &[("layout", "a")],
            &[("f.weight", &[3, 2], &weight), ("f.bias", &[3], &[0.5; 3])],
        );
        let mut from = Weights::of(&bytes, "a", &[]).unwrap();
        let layer = Linear::read(&mut from, "f", 2, 3).unwrap();
        assert_eq!(layer.weights, [1.0, 3.0, 5.0, 2.0, 4.0, 6.0]);
    }

    #[test]
    fn a_linear_layer_sums_by_its_weights() {
        let layer = Linear {
            inputs: 2,
            outputs: 3,
            weights: vec![1.0, 3.0, 5.0, 2.0, 4.0, 6.0],
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
        norm.run_over_all(&[0.0, 0.0, 0.0, 0.0, 2.0, 2.0, 2.0, 2.0], &mut out);
        let expected = [[-1.0f32; 4], [1.0; 4]];
        let near = |(a, b): (&f32, &f32)| (a - b).abs() < 1e-3;
        assert!(out.iter().zip(expected.as_flattened()).all(near), "{out:?}");
    }
}
