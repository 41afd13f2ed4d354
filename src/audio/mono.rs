//! Long sounds, read by range: whoever reads holds a few seconds, not all of it.

use std::ops::Range;

/// Samples of a piece: a second and a half at 44.1 kHz.
pub const PIECE: usize = 1 << 16;

/// A mono sound of known length whose samples are read by range. They may be in memory, in a file, or computed
/// when they are asked for.
pub trait Mono {
    /// Samples in all.
    fn len(&self) -> usize;

    /// Fills `into` with the samples from `from` on; silence stands for what lies behind the end.
    fn read(&self, from: usize, into: &mut [f32]);

    /// True where there are no samples.
    fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The samples of a range, as far as there are any.
    fn part(&self, range: Range<usize>) -> Vec<f32> {
        let range = range.start.min(self.len())..range.end.min(self.len());
        let mut samples = vec![0.0; range.len()];
        self.read(range.start, &mut samples);
        samples
    }

    /// Gives the samples of a range to `each`, in order, in pieces of `length` samples, fewer only in the last.
    ///
    /// # Panics
    /// If `length` is 0.
    fn pieces(&self, range: Range<usize>, length: usize, each: &mut dyn FnMut(&[f32])) {
        let end = range.end.min(self.len());
        let mut piece = vec![0.0; length];
        for from in (range.start..end).step_by(length) {
            let piece = &mut piece[..length.min(end - from)];
            self.read(from, piece);
            each(piece);
        }
    }
}

impl Mono for [f32] {
    fn len(&self) -> usize {
        <[f32]>::len(self)
    }

    fn read(&self, from: usize, into: &mut [f32]) {
        let there = self.get(from..).unwrap_or_default();
        let count = there.len().min(into.len());
        into[..count].copy_from_slice(&there[..count]);
        into[count..].fill(0.0);
    }
}

impl Mono for Vec<f32> {
    fn len(&self) -> usize {
        self.as_slice().len()
    }

    fn read(&self, from: usize, into: &mut [f32]) {
        Mono::read(self.as_slice(), from, into);
    }
}

impl<M: Mono + ?Sized> Mono for &M {
    fn len(&self) -> usize {
        (**self).len()
    }

    fn read(&self, from: usize, into: &mut [f32]) {
        (**self).read(from, into);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_end_with_the_sound_and_silence_follows_it() {
        let sound = vec![1.0, 2.0, 3.0, 4.0, 5.0];
        let mut samples = [9.0; 3];
        sound.read(3, &mut samples);
        assert_eq!(samples, [4.0, 5.0, 0.0]);
        sound.read(7, &mut samples);
        assert_eq!(samples, [0.0; 3]);
        assert_eq!(sound.part(3..9), [4.0, 5.0]);
        assert!(sound.part(6..9).is_empty());
        let mut pieces = Vec::new();
        sound.pieces(1..9, 3, &mut |piece| pieces.push(piece.to_vec()));
        assert_eq!(pieces, [vec![2.0, 3.0, 4.0], vec![5.0]]);
    }
}
