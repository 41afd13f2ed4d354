//! Rows that listen to each other.

use super::curves::{gelu, to_shares};
use super::file::{NetworkError, Weights};
use super::linear::{Linear, Norm};
use super::product::{Matrix, add_product};
use super::relations::{Relations, RowPair};
use crate::words;

/// Buffers for the rows that come and go in a layer.
#[derive(Debug, Clone, Default)]
pub struct LayerScratch {
    normed: Vec<f32>,
    wide: Vec<f32>,
    heard: Vec<f32>,
    scores: Vec<f32>,
}

/// Weight that rows have for each other from the start.
#[derive(Clone, Copy)]
pub enum Heeded<'a> {
    /// None more than another.
    Alike,
    /// Attention by how rows stand to each other: every row to every row, in round number `layer`.
    Related {
        /// Weight of distances and kinships in every round.
        relations: &'a Relations,
        /// Number of the round, from 0.
        layer: usize,
        /// Relation of every row to every row: rows times rows of them, row by row.
        pairs: &'a [RowPair],
    },
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
    fn read(
        from: &mut Weights,
        name: &str,
        width: usize,
        heads: usize,
    ) -> Result<Layer, NetworkError> {
        let named = |part: &str| format!("{name}.{part}");
        Ok(Layer {
            heads,
            width,
            before: [
                Norm::read(from, &named("before.0"), width)?,
                Norm::read(from, &named("before.1"), width)?,
            ],
            ask: Linear::read(from, &named("ask"), width, 3 * width)?,
            take_in: Linear::read(from, &named("take_in"), width, width)?,
            think: [
                Linear::read(from, &named("think.0"), width, 2 * width)?,
                Linear::read(from, &named("think.1"), 2 * width, width)?,
            ],
        })
    }

    /// Reads so many layers, `name.0` and so on.
    ///
    /// # Errors
    /// When a tensor is missing or has another shape, or the rows cannot be parted among the heads.
    pub fn read_each(
        from: &mut Weights,
        name: &str,
        count: usize,
        width: usize,
        heads: usize,
    ) -> Result<Vec<Layer>, NetworkError> {
        if !width.is_multiple_of(heads) {
            return Err(NetworkError(words::networks::heads_do_not_fit(
                width, heads,
            )));
        }
        (0..count)
            .map(|number| Layer::read(from, &format!("{name}.{number}"), width, heads))
            .collect()
    }

    /// Runs one round over `rows`, which lie one after the other, and adds what they take in to them.
    pub fn run(&self, rows: &mut [f32], heeded: Heeded, scratch: &mut LayerScratch) {
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
        gelu(&mut scratch.wide);
        self.think[1].run_onto(&scratch.wide, rows);
    }

    fn listen(&self, head: usize, count: usize, heeded: Heeded, scratch: &mut LayerScratch) {
        let width = self.width;
        if count == 0 {
            return;
        }
        let each = width / self.heads;
        let asked = &scratch.wide;
        let part = |which: usize| &asked[which * width + head * each..];
        let scores = &mut scratch.scores;
        scores.clear();
        match heeded {
            Heeded::Alike => scores.resize(count * count, 0.0),
            Heeded::Related {
                relations,
                layer,
                pairs,
            } => relations.put(layer, head, pairs, scores),
        }
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
        add_product((count, each, count), query, key, scale, (scores, count));
        scores.chunks_exact_mut(count).for_each(to_shares);
        let shares = Matrix {
            values: scores,
            row: count,
            column: 1,
        };
        let value = Matrix {
            values: part(2),
            row: 3 * width,
            column: 1,
        };
        let heard = &mut scratch.heard[head * each..];
        add_product((count, count, each), shares, value, 1.0, (heard, width));
    }
}

/// Puts rows together into one, each head weighing them in its own way.
#[derive(Debug, Clone)]
pub struct AttentionPool {
    heads: usize,
    width: usize,
    gather: Linear,
    mix: Linear,
}

impl AttentionPool {
    /// Reads the weights for rows of `width` numbers and so many `heads`, `name.gather` and `name.mix`.
    ///
    /// # Errors
    /// When a tensor is missing or has another shape.
    pub fn read(
        from: &mut Weights,
        name: &str,
        width: usize,
        heads: usize,
    ) -> Result<AttentionPool, NetworkError> {
        Ok(AttentionPool {
            heads,
            width,
            gather: Linear::read(from, &format!("{name}.gather"), width, heads)?,
            mix: Linear::read(from, &format!("{name}.mix"), heads * width, width)?,
        })
    }

    /// Adds what the rows of `from` come to, to the one row `onto`.
    pub fn run_onto(&self, from: &[f32], onto: &mut [f32], scratch: &mut LayerScratch) {
        let LayerScratch {
            scores,
            wide: shares,
            heard: gathered,
            ..
        } = scratch;
        self.gather.run(from, scores);
        gathered.clear();
        gathered.resize(self.heads * self.width, 0.0);
        for (head, into) in gathered.chunks_exact_mut(self.width).enumerate() {
            shares.clear();
            shares.extend(scores.iter().skip(head).step_by(self.heads));
            to_shares(shares);
            for (row, share) in from.chunks_exact(self.width).zip(shares.iter()) {
                into.iter_mut().zip(row).for_each(|(g, x)| *g += share * x);
            }
        }
        self.mix.run_onto(gathered, onto);
    }
}

#[cfg(test)]
mod tests {
    use rand::rngs::SmallRng;
    use rand::{Rng, SeedableRng};

    use super::super::file::testing::{far_off, file};
    use super::super::relations::{PLACES, Ruler, relate};
    use super::*;

    const WIDTH: usize = 8;
    const HEADS: usize = 2;

    /// Names and shapes of a layer's tensors.
    fn parts(width: usize) -> Vec<(String, Vec<usize>)> {
        let linear = |name: &str, outputs: usize, inputs: usize| {
            [
                (format!("a.0.{name}.weight"), vec![outputs, inputs]),
                (format!("a.0.{name}.bias"), vec![outputs]),
            ]
        };
        let norm =
            |name: &str| ["weight", "bias"].map(|part| (format!("a.0.{name}.{part}"), vec![width]));
        [
            norm("before.0"),
            norm("before.1"),
            linear("ask", 3 * width, width),
            linear("take_in", width, width),
            linear("think.0", 2 * width, width),
            linear("think.1", width, 2 * width),
        ]
        .concat()
    }

    /// A layer whose tensors are made one by one from their names and shapes.
    fn layer(
        width: usize,
        heads: usize,
        mut made: impl FnMut(&str, &[usize]) -> Vec<f32>,
    ) -> Layer {
        let parts = parts(width);
        let numbers: Vec<Vec<f32>> = parts
            .iter()
            .map(|(name, shape)| made(name, shape))
            .collect();
        let tensors: Vec<(&str, &[usize], &[f32])> = (parts.iter().zip(&numbers))
            .map(|((name, shape), numbers)| (&name[..], &shape[..], &numbers[..]))
            .collect();
        let bytes = file(&[("layout", "a")], &tensors);
        let mut from = Weights::of(&bytes, "a", &[]).unwrap();
        let layers = Layer::read_each(&mut from, "a", 1, width, heads).unwrap();
        from.end().unwrap();
        layers.into_iter().next().unwrap()
    }

    fn drawn(rng: &mut SmallRng, count: usize) -> Vec<f32> {
        (0..count).map(|_| rng.random_range(-1.0..1.0)).collect()
    }

    fn identity(width: usize) -> Vec<f32> {
        (0..width * width)
            .map(|at| f32::from(u8::from(at % (width + 1) == 0)))
            .collect()
    }

    /// A layer that changes nothing but by what rows hear: norms keep their rows, thinking adds nothing.
    fn hears_only(ask: Vec<f32>, ask_bias: Vec<f32>, width: usize, heads: usize) -> Layer {
        layer(width, heads, |name, shape| {
            match name.trim_start_matches("a.0.") {
                "before.0.weight" | "before.1.weight" => vec![1.0; width],
                "ask.weight" => ask.clone(),
                "ask.bias" => ask_bias.clone(),
                "take_in.weight" => identity(width),
                _ => vec![0.0; shape.iter().product()],
            }
        })
    }

    #[test]
    fn rows_that_ask_for_nothing_hear_the_mean_of_all() {
        // Queries and keys are 0, a value is the row itself, whose mean is 0 and variance 1 already.
        let ask = [vec![0.0; 8], identity(2)].concat();
        let layer = hears_only(ask, vec![0.0; 6], 2, 1);
        let mut rows = [1.0, -1.0, 1.0, -1.0, -1.0, 1.0];
        layer.run(&mut rows, Heeded::Alike, &mut LayerScratch::default());
        let third = 1.0 / 3.0;
        // Of normed rows (1, -1) twice and (-1, 1) once.
        let wanted = [
            1.0 + third,
            -1.0 - third,
            1.0 + third,
            -1.0 - third,
            -1.0 + third,
            1.0 - third,
        ];
        assert_eq!(far_off(&rows, &wanted, 1e-4), None);
    }

    #[test]
    fn shares_of_what_is_heard_add_up_to_1_for_every_row_and_head() {
        let mut rng = SmallRng::seed_from_u64(1);
        // Whatever is asked and answered, all values are 1: each row must hear 1 in every place.
        let mut ask = drawn(&mut rng, 3 * WIDTH * WIDTH);
        ask[2 * WIDTH * WIDTH..].fill(0.0);
        let mut bias = drawn(&mut rng, 3 * WIDTH);
        bias[2 * WIDTH..].fill(1.0);
        let layer = hears_only(ask, bias, WIDTH, HEADS);
        for count in [1, 2, 7, 40] {
            let before: Vec<f32> = drawn(&mut rng, count * WIDTH)
                .iter()
                .map(|x| 5.0 * x)
                .collect();
            let mut rows = before.clone();
            layer.run(&mut rows, Heeded::Alike, &mut LayerScratch::default());
            let wanted: Vec<f32> = before.iter().map(|x| x + 1.0).collect();
            assert_eq!(far_off(&rows, &wanted, 1e-5), None, "{count} rows");
        }
    }

    #[test]
    fn rows_in_another_order_become_the_same_in_that_order() {
        let mut rng = SmallRng::seed_from_u64(2);
        let layer = layer(WIDTH, HEADS, |_, shape| {
            drawn(&mut rng, shape.iter().product())
        });
        let mut rng = SmallRng::seed_from_u64(3);
        let rows = drawn(&mut rng, 5 * WIDTH);
        let order = [3, 0, 4, 1, 2];
        let in_order = |rows: &[f32]| order.map(|row| &rows[row * WIDTH..][..WIDTH]).concat();
        let (mut one, mut other) = (rows.clone(), in_order(&rows));
        layer.run(&mut one, Heeded::Alike, &mut LayerScratch::default());
        layer.run(&mut other, Heeded::Alike, &mut LayerScratch::default());
        assert_eq!(far_off(&other, &in_order(&one), 1e-5), None);
        assert!(far_off(&one, &rows, 0.1).is_some());
    }

    #[test]
    fn a_layer_does_what_its_formula_says() {
        let mut rng = SmallRng::seed_from_u64(4);
        let mut weights = std::collections::HashMap::new();
        let layer = layer(WIDTH, HEADS, |name, shape| {
            let numbers = drawn(&mut rng, shape.iter().product());
            weights.insert(name.trim_start_matches("a.0.").to_owned(), numbers.clone());
            numbers
        });
        let (count, each) = (6, WIDTH / HEADS);
        let rows = drawn(&mut rng, count * WIDTH);
        let hz = [100.0, 101.0, 150.0, 400.0, f32::NAN, 90.0];
        let (near, kin) = (drawn(&mut rng, PLACES * HEADS), drawn(&mut rng, 2 * HEADS));
        let relations = Relations::new((1, HEADS), near, kin);
        let ruler = Ruler {
            unit_hz: 2.0,
            per_e: 1.5,
        };
        let mut pairs = Vec::new();
        relate(ruler, &hz, |i, j| u8::from(i > j), &mut pairs);

        let linear = |name: &str, row: &[f64]| -> Vec<f64> {
            let bias = &weights[&format!("{name}.bias")];
            let weight = weights[&format!("{name}.weight")].chunks_exact(row.len());
            let sum = |w: &[f32]| {
                w.iter()
                    .zip(row)
                    .map(|(w, x)| f64::from(*w) * x)
                    .sum::<f64>()
            };
            weight
                .zip(bias)
                .map(|(w, b)| sum(w) + f64::from(*b))
                .collect()
        };
        let norm = |name: &str, row: &[f64]| -> Vec<f64> {
            let mean = row.iter().sum::<f64>() / row.len() as f64;
            let variance = row.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / row.len() as f64;
            let (scale, shift) = (
                &weights[&format!("{name}.weight")],
                &weights[&format!("{name}.bias")],
            );
            let normed = row.iter().map(|x| (x - mean) / (variance + 1e-5).sqrt());
            let scaled = normed.zip(scale.iter().zip(shift));
            scaled
                .map(|(x, (s, b))| x * f64::from(*s) + f64::from(*b))
                .collect()
        };
        // x times the normal distribution below it, which the error function of tanh comes near to 1e-3.
        let gelu = |x: f64| {
            let z = (2.0 / std::f64::consts::PI).sqrt() * (x + 0.044_715 * x.powi(3));
            0.5 * x * (1.0 + z.tanh())
        };
        let start: Vec<Vec<f64>> = rows
            .chunks_exact(WIDTH)
            .map(|row| row.iter().map(|x| f64::from(*x)).collect())
            .collect();
        let asked: Vec<Vec<f64>> = start
            .iter()
            .map(|row| linear("ask", &norm("before.0", row)))
            .collect();
        let mut wanted = Vec::new();
        for (i, row) in start.iter().enumerate() {
            let mut heard = vec![0.0; WIDTH];
            for head in 0..HEADS {
                let mut related = Vec::new();
                relations.put(0, head, &pairs, &mut related);
                let part =
                    |row: usize, which: usize| &asked[row][which * WIDTH + head * each..][..each];
                let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
                let scores: Vec<f64> = (0..count)
                    .map(|j| {
                        let score = dot(part(i, 0), part(j, 1)) / (each as f64).sqrt();
                        (score + f64::from(related[i * count + j])).exp()
                    })
                    .collect();
                let all: f64 = scores.iter().sum();
                for (j, score) in scores.iter().enumerate() {
                    for (place, value) in part(j, 2).iter().enumerate() {
                        heard[head * each + place] += score / all * value;
                    }
                }
            }
            let add = |a: &[f64], b: Vec<f64>| -> Vec<f64> {
                a.iter().zip(b).map(|(a, b)| a + b).collect()
            };
            let row = add(row, linear("take_in", &heard));
            let thought = linear("think.0", &norm("before.1", &row));
            let thought: Vec<f64> = thought.into_iter().map(gelu).collect();
            let row = add(&row, linear("think.1", &thought));
            wanted.extend(row.into_iter().map(|x| x as f32));
        }
        let mut found = rows;
        let heeded = Heeded::Related {
            relations: &relations,
            layer: 0,
            pairs: &pairs,
        };
        layer.run(&mut found, heeded, &mut LayerScratch::default());
        assert_eq!(far_off(&found, &wanted, 3e-3), None);
    }

    #[test]
    fn a_pool_puts_rows_together_by_its_weights() {
        // Two heads: one weighs all rows alike, the other by e to ten times their first number.
        let gather: [f32; 4] = [0.0, 0.0, 10.0, 0.0];
        let mix: [f32; 8] = [1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0];
        let bytes = file(
            &[("layout", "a")],
            &[
                ("p.gather.weight", &[2, 2], &gather),
                ("p.gather.bias", &[2], &[0.0; 2]),
                ("p.mix.weight", &[2, 4], &mix),
                ("p.mix.bias", &[2], &[0.5, 0.0]),
            ],
        );
        let mut from = Weights::of(&bytes, "a", &[]).unwrap();
        let pool = AttentionPool::read(&mut from, "p", 2, 2).unwrap();
        let mut onto = [1.0, 1.0];
        let rows = [0.0, 3.0, 0.0, 5.0, 9.0, 7.0];
        pool.run_onto(&rows, &mut onto, &mut LayerScratch::default());
        // The mean of first numbers, 3, and the second number of the row that outweighs the others, 7.
        assert_eq!(far_off(&onto, &[1.0 + 3.0 + 0.5, 1.0 + 7.0], 1e-4), None);
    }

    #[test]
    fn heads_that_do_not_part_the_width_are_refused() {
        let bytes = file(&[("layout", "a")], &[]);
        let mut from = Weights::of(&bytes, "a", &[]).unwrap();
        let why = Layer::read_each(&mut from, "a", 1, 6, 4).unwrap_err();
        assert!(why.0.contains('6') && why.0.contains('4'), "{why}");
    }
}
