//! Decibels of powers and amplitudes, and back, in numbers of either length.
//!
//! Where a network or a threshold was fitted with a floor of its own, that floor is a constant beside it.

use fourier::num_traits::{Float, cast};

/// Power added to every one by [`level`], -120 dB: digital silence stays finite, and it lies below the noise of 16 bits.
pub const SILENCE: f64 = 1e-12;

/// Gives the decibels of a power: minus infinity for none.
#[inline]
pub fn of_power<F: Float + From<u8>>(power: F) -> F {
    <F as From<u8>>::from(10) * power.log10()
}

/// Gives the decibels of an amplitude: minus infinity for none.
#[inline]
pub fn of_amplitude<F: Float + From<u8>>(amplitude: F) -> F {
    <F as From<u8>>::from(20) * amplitude.log10()
}

/// Gives the decibels of a power, with a floor of -120 dB.
#[inline]
pub fn level<F: Float + From<u8>>(power: F) -> F {
    of_power(power + cast(SILENCE).expect("a float"))
}

/// Gives the power that has so many decibels.
#[inline]
pub fn to_power<F: Float + From<u8>>(db: F) -> F {
    let ten = <F as From<u8>>::from(10);
    ten.powf(db / ten)
}

/// Gives the amplitude that has so many decibels.
#[inline]
pub fn to_amplitude<F: Float + From<u8>>(db: F) -> F {
    let ten = <F as From<u8>>::from(10);
    ten.powf(db / <F as From<u8>>::from(20))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_either_length_come_out_as_plain_arithmetic_has_them() {
        for i in 1..2_000 {
            let long = f64::from(i) * 0.37;
            let short = long as f32;
            assert_eq!(of_power(long), 10.0 * long.log10());
            assert_eq!(of_amplitude(short), 20.0 * short.log10());
            assert_eq!(level(1e-9 * short), 10.0 * (1e-9 * short + 1e-12).log10());
            assert_eq!(to_power(-short), 10f32.powf(-short / 10.0));
            assert_eq!(to_amplitude(-long), 10f64.powf(-long / 20.0));
        }
        assert_eq!((level(0.0), level(0f32)), (-120.0, -120.0));
    }
}
