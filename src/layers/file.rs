//! The files that trained networks are read from.

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
    /// When the file ends too early.
    pub fn take(&mut self, count: usize) -> Result<Vec<f32>, NetworkError> {
        let (head, rest) = self
            .0
            .split_at_checked(4 * count)
            .ok_or(NetworkError("it ends too early"))?;
        self.0 = rest;
        Ok(head
            .chunks_exact(4)
            .map(|b| f32::from_le_bytes(b.try_into().expect("four")))
            .collect())
    }

    /// Whether all has been read.
    ///
    /// # Errors
    /// When bytes are left over.
    pub fn end(&self) -> Result<(), NetworkError> {
        match self.0 {
            [] => Ok(()),
            _ => Err(NetworkError("bytes are left over")),
        }
    }
}
