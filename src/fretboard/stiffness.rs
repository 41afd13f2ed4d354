//! Usual stiffness of strings.

use super::STRINGS;

/// Stiffness coefficient B of the open strings 6 to 1. Strings 5 to 1 measured on a steel-string
/// acoustic guitar (two takes of GuitarSet: Xi, Bittner, Pauwels, Ye, Bello, ISMIR 2018); string 6
/// from memory.
pub const OPEN_B: [f64; STRINGS] = [1.0e-4, 1.0e-4, 5.07e-5, 2.96e-5, 6.8e-5, 2.3e-5];

/// Usual B of the string at `index` (0 = string 6) when `fret` frets above the nut are cut off:
/// B_open · 2^(fret/6), since B grows with 1/L² (Fletcher, JASA 36 (1964) 203-209).
pub fn usual_b(index: usize, fret: u8) -> f64 {
    OPEN_B[index] * 2f64.powf(f64::from(fret) / 6.0)
}
