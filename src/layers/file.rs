//! The files that trained networks are read from: a head, then numbers. Files with numbers of 32 bits are as they are
//! trained; those with 16, half as large, begin with a mark and the length of the head that follows.

use std::borrow::Cow;

use half::f16;

/// Beginning of a file with numbers of 16 bits (IEEE 754 binary16).
const HALVES: &[u8] = b"RT16";

use crate::words;

/// Reason why bytes are no network.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", words::networks::file_is_damaged(.0))]
pub struct NetworkError(pub &'static str);

/// A network's file with numbers of 32 bits, whichever `bytes` has.
///
/// # Errors
/// When a file with numbers of 16 bits is not whole.
pub fn in_full(bytes: &[u8]) -> Result<Cow<'_, [u8]>, NetworkError> {
    let Some(rest) = bytes.strip_prefix(HALVES) else {
        return Ok(Cow::Borrowed(bytes));
    };
    let (&length, rest) = rest
        .split_first()
        .ok_or(NetworkError(words::networks::TOO_SHORT))?;
    let (head, numbers) = rest
        .split_at_checked(length.into())
        .ok_or(NetworkError(words::networks::TOO_SHORT))?;
    let (halves, odd) = numbers.as_chunks();
    if !odd.is_empty() {
        return Err(NetworkError(words::networks::CUT_OFF));
    }
    let full = halves.iter().map(|&half| f16::from_le_bytes(half).to_f32());
    let mut file = head.to_vec();
    file.extend(full.flat_map(f32::to_le_bytes));
    Ok(Cow::Owned(file))
}

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
    fn numbers_of_16_bits_are_read_as_those_of_32() {
        let numbers = [1.0f32, -0.375, 65504.0, 5.960_464_5e-8, 0.0];
        let full = [b"HEAD".to_vec(), numbers.map(f32::to_le_bytes).concat()].concat();
        let halves = numbers.map(|n| f16::from_f32(n).to_le_bytes()).concat();
        let halved = [HALVES, &[4], b"HEAD", &halves].concat();
        assert_eq!(*in_full(&halved).unwrap(), *full);
        assert_eq!(*in_full(&full).unwrap(), *full);
        for length in HALVES.len()..halved.len() {
            let cut = in_full(&halved[..length]);
            let is_whole = length >= 9 && (length - 9) % 2 == 0;
            assert_eq!(cut.is_ok(), is_whole, "{length}");
        }
    }

    #[test]
    fn more_numbers_than_there_are_is_an_error_however_many() {
        let bytes = [0; 8];
        for count in [3, usize::MAX, usize::MAX / 4 + 2] {
            assert!(Numbers(&bytes).take(count).is_err(), "{count}");
        }
        assert_eq!(Numbers(&bytes).take(2).unwrap(), [0.0, 0.0]);
    }
}
