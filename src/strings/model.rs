//! The trained model: two forests of boosted trees, fitted by `scripts/train` and built into the program.
//!
//! File format, little-endian: `RTM1`, then for each forest u16 classes, u16 features, u32 trees; per tree
//! u16 splits, each split u16 feature, f32 threshold, u8 flags (1: a missing value goes left, 2: a missing
//! value counts as 0), i16 left, i16 right (a negative child `c` is leaf `-c - 1`), then its f32 leaves.

use std::sync::LazyLock;

/// A forest whose trees take turns over the classes.
#[derive(Debug, Clone)]
pub struct Forest {
    classes: usize,
    features: usize,
    trees: Vec<Tree>,
}

#[derive(Debug, Clone)]
struct Tree {
    splits: Vec<Split>,
    leaves: Vec<f32>,
}

#[derive(Debug, Clone, Copy)]
struct Split {
    feature: u16,
    threshold: f32,
    flags: u8,
    left: i16,
    right: i16,
}

impl Tree {
    fn value(&self, row: &[f32]) -> f32 {
        let mut at: i16 = if self.splits.is_empty() { -1 } else { 0 };
        while at >= 0 {
            let split = &self.splits[at as usize];
            let mut value = row[split.feature as usize];
            if value.is_nan() && split.flags & 2 != 0 {
                value = 0.0;
            }
            let left = if value.is_nan() {
                split.flags & 1 != 0
            } else {
                value <= split.threshold
            };
            at = if left { split.left } else { split.right };
        }
        self.leaves[(-at - 1) as usize]
    }
}

impl Forest {
    /// Number of features a row must have.
    pub fn features(&self) -> usize {
        self.features
    }

    /// Raw scores of one row, one per class.
    ///
    /// # Panics
    /// When `row` is shorter than [`Self::features`].
    pub fn scores<const CLASSES: usize>(&self, row: &[f32]) -> [f32; CLASSES] {
        let mut scores = [0f32; CLASSES];
        for (i, tree) in self.trees.iter().enumerate() {
            scores[i % self.classes] += tree.value(row);
        }
        scores
    }
}

/// Probabilities from raw scores.
pub fn softmax<const CLASSES: usize>(scores: [f32; CLASSES]) -> [f32; CLASSES] {
    let top = scores.iter().copied().fold(f32::MIN, f32::max);
    let odds = scores.map(|s| (s - top).exp());
    let sum: f32 = odds.iter().sum();
    odds.map(|o| o / sum)
}

/// Both forests.
#[derive(Debug, Clone)]
pub struct Model {
    /// One class: the log odds that a note sounds on a string and rings on.
    pub note: Forest,
    /// Four classes, [`super::joint::Outcome`], from the note's evidence and what the other notes scored.
    pub string: Forest,
    pub network: Option<super::network::Network>,
}

/// Why bytes are no model.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the model file is damaged or of another version: {0}; build it anew with scripts/train")]
pub struct ModelError(&'static str);

/// The model built into the program.
const BUILT_IN: &[u8] = include_bytes!("model.bin");

impl Model {
    /// The model built into the program.
    pub fn built_in() -> Model {
        Model::read(BUILT_IN).expect("the built-in model is checked by a test")
    }

    /// Tells the built-in model from earlier and later ones: eight hexadecimal digits, of the FNV-1a
    /// sum over its bytes (Fowler, Noll, Vo; constants from memory).
    pub fn built_in_id() -> String {
        static SUM: LazyLock<u32> = LazyLock::new(|| {
            BUILT_IN.iter().fold(0x811c_9dc5, |sum, &byte| {
                (sum ^ u32::from(byte)).wrapping_mul(0x0100_0193)
            })
        });
        format!("{:08x}", *SUM)
    }

    /// Reads a model file.
    ///
    /// # Errors
    /// When the bytes are not exactly one model.
    pub fn read(bytes: &[u8]) -> Result<Model, ModelError> {
        if bytes.starts_with(b"RTN1") {
            let at = u32::from_le_bytes(bytes[bytes.len() - 4..].try_into().unwrap()) as usize;
            let mut model = if bytes[..at.min(bytes.len())].len() < bytes.len() { Model::read(&bytes[at..bytes.len() - 4])? } else { Model::built_in() };
            let bytes = &bytes[..at.min(bytes.len())];
            model.network = Some(super::network::Network::read(bytes).unwrap());
            return Ok(model);
        }
        let mut bytes = Bytes(bytes);
        if bytes.take::<4>()? != *b"RTM1" {
            return Err(ModelError("it does not begin with RTM1"));
        }
        let model = Model {
            note: forest(&mut bytes)?,
            string: forest(&mut bytes)?,
            network: None,
        };
        if bytes.0.is_empty() {
            Ok(model)
        } else {
            Err(ModelError("bytes are left over"))
        }
    }

    /// Reads one forest alone, as training writes it between its stages.
    ///
    /// # Errors
    /// When the bytes are not exactly one forest.
    pub fn read_forest(bytes: &[u8]) -> Result<Forest, ModelError> {
        forest(&mut Bytes(bytes))
    }
}

struct Bytes<'a>(&'a [u8]);

impl Bytes<'_> {
    fn take<const N: usize>(&mut self) -> Result<[u8; N], ModelError> {
        let (head, rest) = self
            .0
            .split_first_chunk::<N>()
            .ok_or(ModelError("it ends too early"))?;
        self.0 = rest;
        Ok(*head)
    }

    fn u16(&mut self) -> Result<u16, ModelError> {
        self.take().map(u16::from_le_bytes)
    }

    fn f32(&mut self) -> Result<f32, ModelError> {
        self.take().map(f32::from_le_bytes)
    }
}

fn forest(bytes: &mut Bytes) -> Result<Forest, ModelError> {
    let (classes, features) = (usize::from(bytes.u16()?), usize::from(bytes.u16()?));
    let count = u32::from_le_bytes(bytes.take()?);
    let mut trees = Vec::new();
    for _ in 0..count {
        let splits = bytes.u16()? as i16;
        let mut tree = Tree {
            splits: Vec::new(),
            leaves: Vec::new(),
        };
        for at in 0..splits {
            let feature = bytes.u16()?;
            let threshold = bytes.f32()?;
            let [flags] = bytes.take()?;
            let left = i16::from_le_bytes(bytes.take()?);
            let right = i16::from_le_bytes(bytes.take()?);
            // A child is a later split or a leaf, so that no walk goes round.
            let sound = |child: i16| {
                if child < 0 {
                    -(child + 1) <= splits
                } else {
                    child > at && child < splits
                }
            };
            if usize::from(feature) >= features || !sound(left) || !sound(right) {
                return Err(ModelError("a tree leads nowhere"));
            }
            tree.splits.push(Split {
                feature,
                threshold,
                flags,
                left,
                right,
            });
        }
        for _ in 0..=splits {
            tree.leaves.push(bytes.f32()?);
        }
        trees.push(tree);
    }
    if classes == 0 {
        return Err(ModelError("a forest has no classes"));
    }
    Ok(Forest {
        classes,
        features,
        trees,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strings::{evidence, joint};

    #[test]
    fn the_built_in_model_fits_the_evidence() {
        let model = Model::built_in();
        assert_eq!(model.note.features(), evidence::feature_names().len());
        assert_eq!(
            model.string.features(),
            evidence::feature_names().len() + joint::FEATURES
        );
    }

    #[test]
    fn a_damaged_model_is_refused() {
        let good = include_bytes!("model.bin");
        assert!(Model::read(&good[..good.len() - 1]).is_err());
        assert!(Model::read(b"RTM2").is_err());
        assert!(Model::read(&[]).is_err());
    }

    #[test]
    fn a_tree_sends_values_and_gaps_where_it_says() {
        let tree = Tree {
            splits: vec![Split {
                feature: 0,
                threshold: 1.0,
                flags: 1,
                left: -1,
                right: -2,
            }],
            leaves: vec![10.0, 20.0],
        };
        assert_eq!(
            [0.5, 1.0, 1.5, f32::NAN].map(|v| tree.value(&[v])),
            [10.0, 10.0, 20.0, 10.0]
        );
    }
}
