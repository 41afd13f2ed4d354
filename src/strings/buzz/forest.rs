//! A forest of boosted trees, fitted by `scripts/train` and built into the program.
//!
//! File format, little-endian: u16 classes, u16 features, u32 trees; per tree
//! u16 splits, each split u16 feature, f32 threshold, u8 flags (1: a missing value goes left, 2: a missing
//! value counts as 0), i16 left, i16 right (a negative child `c` is leaf `-c - 1`), then its f32 leaves.

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

    /// Reads a forest's file.
    ///
    /// # Errors
    /// When the bytes are not exactly one forest.
    pub fn read(bytes: &[u8]) -> Result<Forest, ForestError> {
        let mut bytes = Bytes(bytes);
        let forest = forest(&mut bytes)?;
        if bytes.0.is_empty() {
            Ok(forest)
        } else {
            Err(ForestError("bytes are left over"))
        }
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

/// Why bytes are no forest.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "the forest's file is damaged or of another version: {0}; build it anew with scripts/train"
)]
pub struct ForestError(&'static str);

struct Bytes<'a>(&'a [u8]);

impl Bytes<'_> {
    fn take<const N: usize>(&mut self) -> Result<[u8; N], ForestError> {
        let (head, rest) = self
            .0
            .split_first_chunk::<N>()
            .ok_or(ForestError("it ends too early"))?;
        self.0 = rest;
        Ok(*head)
    }

    fn u16(&mut self) -> Result<u16, ForestError> {
        self.take().map(u16::from_le_bytes)
    }

    fn f32(&mut self) -> Result<f32, ForestError> {
        self.take().map(f32::from_le_bytes)
    }
}

fn forest(bytes: &mut Bytes) -> Result<Forest, ForestError> {
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
                return Err(ForestError("a tree leads nowhere"));
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
        return Err(ForestError("a forest has no classes"));
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

    #[test]
    fn a_damaged_forest_is_refused() {
        let good = include_bytes!("buzz.bin");
        assert!(Forest::read(good).is_ok());
        assert!(Forest::read(&good[..good.len() - 1]).is_err());
        assert!(Forest::read(&[&good[..], &[0]].concat()).is_err());
        assert!(Forest::read(&[]).is_err());
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
