//! Rows that listen to each other.

use super::curves::{gelu, to_shares};
use super::file::{NetworkError, Numbers};
use super::linear::{Linear, Norm};
use super::product::{Matrix, add_product};
use super::relations::{Pair, Relations};

/// Room for the rows that come and go in a layer.
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
        pairs: &'a [Pair],
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
    fn read(from: &mut Numbers, width: usize, heads: usize) -> Result<Layer, NetworkError> {
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

    /// Reads so many layers, one after the other.
    pub fn read_each(
        from: &mut Numbers,
        count: usize,
        width: usize,
        heads: usize,
    ) -> Result<Vec<Layer>, NetworkError> {
        (0..count)
            .map(|_| Layer::read(from, width, heads))
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
pub struct Pool {
    heads: usize,
    width: usize,
    gather: Linear,
    mix: Linear,
}

impl Pool {
    /// Reads the weights for rows of `width` numbers and so many `heads`.
    ///
    /// # Errors
    /// When the file ends too early.
    pub fn read(from: &mut Numbers, width: usize, heads: usize) -> Result<Pool, NetworkError> {
        Ok(Pool {
            heads,
            width,
            gather: Linear::read(from, width, heads)?,
            mix: Linear::read(from, heads * width, width)?,
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
