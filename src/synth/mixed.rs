//! Takes whose strings come from different recorded guitars: heard among strings of others, none is known by
//! the company it keeps.

use rand::Rng;
use rand::rngs::SmallRng;

use crate::fretboard::STRINGS;

/// Most guitars that a take is mixed from.
const MOST: usize = 3;

/// Tells which of `guitars` guitars each string of a mixed take comes from.
pub fn draw(guitars: usize, rng: &mut SmallRng) -> [usize; STRINGS] {
    let drawn: [usize; MOST] = std::array::from_fn(|_| rng.random_range(0..guitars));
    std::array::from_fn(|_| drawn[rng.random_range(0..MOST)])
}

/// The number that tables know a mixed take by: minus the sum of 2^guitar.
pub fn number(of: &[usize; STRINGS]) -> f32 {
    -(of.iter().fold(0u32, |sum, guitar| sum | 1 << guitar) as f32)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    #[test]
    fn a_mixed_take_is_of_three_guitars_at_most_and_its_number_names_them() {
        let mut rng = SmallRng::seed_from_u64(1);
        for _ in 0..50 {
            let of = draw(6, &mut rng);
            let bits = -number(&of) as u32;
            assert!((1..=3).contains(&bits.count_ones()), "{of:?}");
            assert!(of.iter().all(|guitar| bits >> guitar & 1 == 1));
        }
        assert_eq!(number(&[0, 0, 2, 2, 5, 0]), -37.0);
    }
}
