//! The files that trained networks are read from.

use crate::words;

/// Why bytes are no network.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "the network's file is damaged or of another version: {0}; build it anew with scripts/train"
)]
pub struct NetworkError(pub &'static str);

/// Numbers that are read one after the other.
pub struct Numbers<'a>(pub &'a [u8]);

impl Numbers<'_> {
    /// Takes the next `count` numbers, little-endian `f32`.
    ///
    /// # Errors
    /// When fewer are left.
    pub fn take(&mut self, count: usize) -> Result<Vec<f32>, NetworkError> {
        let bytes = count.checked_mul(4);
        let (head, rest) = bytes
            .and_then(|bytes| self.0.split_at_checked(bytes))
            .ok_or(NetworkError(words::networks::ENDS_TOO_EARLY))?;
        self.0 = rest;
        Ok(head
            .chunks_exact(4)
            .map(|b| f32::from_le_bytes(b.try_into().expect("four")))
            .collect())
    }

    /// Tells whether all has been read.
    ///
    /// # Errors
    /// When bytes are left over.
    pub fn end(&self) -> Result<(), NetworkError> {
        match self.0 {
            [] => Ok(()),
            _ => Err(NetworkError(words::networks::BYTES_LEFT_OVER)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_numbers_than_there_are_is_an_error_however_many() {
        let bytes = [0; 8];
        for count in [3, usize::MAX, usize::MAX / 4 + 2] {
            assert!(Numbers(&bytes).take(count).is_err(), "{count}");
        }
        assert_eq!(Numbers(&bytes).take(2).unwrap(), [0.0, 0.0]);
    }
}
