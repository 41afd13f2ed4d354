//! What the six open strings are tuned to.

use super::STRINGS;

/// MIDI notes of the open strings 6 to 1 in standard tuning, E2 A2 D3 G3 B3 E4.
pub const STANDARD: [u8; STRINGS] = [40, 45, 50, 55, 59, 64];

/// Open strings, capo and reference pitch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tuning {
    /// MIDI notes of the open strings 6 to 1, without capo.
    pub open: [u8; STRINGS],
    /// Fret of the capo, 0 for none; frets of a voicing are counted from it.
    pub capo: u8,
    /// Frequency of A4 in Hz.
    pub a4_hz: f64,
}

impl Default for Tuning {
    fn default() -> Self {
        Tuning {
            open: STANDARD,
            capo: 0,
            a4_hz: 440.0,
        }
    }
}

impl Tuning {
    /// MIDI note of the string at `index` (0 = string 6) held at `fret` above the capo.
    pub fn midi(&self, index: usize, fret: u8) -> u8 {
        self.open[index] + self.capo + fret
    }

    /// Frequency in Hz of the string at `index` (0 = string 6) held at `fret` above the capo:
    /// f = A4 · 2^((m − 69)/12).
    pub fn hz(&self, index: usize, fret: u8) -> f64 {
        self.a4_hz * 2f64.powf((f64::from(self.midi(index, fret)) - 69.0) / 12.0)
    }
}

/// Why a text is no tuning.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TuningError {}
