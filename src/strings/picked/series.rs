//! Frequencies of a note's partials.

use crate::fretboard::{Tuning, usual_b};
use crate::spectrum::partials::{flexible_hz, partial_hz, shifted_hz};

/// The partials of a string of usual stiffness.
#[derive(Debug, Clone, Copy)]
pub struct Series {
    /// The flexible string's fundamental in Hz.
    pub f0_hz: f64,
    /// Stiffness coefficient.
    pub b: f64,
}

impl Series {
    /// Series of `string` at `fret`, `cents` off the tuning.
    pub fn of(tuning: &Tuning, string: usize, fret: u8, cents: f64) -> Self {
        let b = usual_b(string, fret + tuning.capo);
        Series {
            f0_hz: flexible_hz(shifted_hz(tuning.hz(string, fret), cents), b),
            b,
        }
    }

    /// Frequency in Hz of partial `n` (1 = fundamental).
    pub fn hz(&self, n: usize) -> f64 {
        partial_hz(self.f0_hz, self.b, n)
    }
}
