//! How far a count may lie from what was measured and still be chance.

/// A count lies further off in one of so many draws: three standard deviations, about.
const ONCE_IN: f64 = 1000.0;

/// The most of `all` that are wrong, in all but one of [`ONCE_IN`] draws, where each is right with this probability
/// (binomial distribution).
pub fn misses(all: usize, right: f64) -> usize {
    let mut probability = right.powi(all as i32);
    let mut so_far = probability;
    let mut wrong = 0;
    while so_far < 1.0 - 1.0 / ONCE_IN && wrong < all {
        probability *= (all - wrong) as f64 / (wrong + 1) as f64 * (1.0 - right) / right;
        so_far += probability;
        wrong += 1;
    }
    wrong
}
