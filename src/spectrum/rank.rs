//! Medians and quantiles.

use std::cmp::Ordering;

/// Finds the middle one of some values in `order`, of an even number the upper one of the two; `None` of none.
pub fn median<T: Copy>(values: &mut [T], order: impl FnMut(&T, &T) -> Ordering) -> Option<T> {
    let middle = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, order).1)
}

/// Finds the value under which this share of all lies.
///
/// # Panics
/// Where there are no values, or the share is 1.
pub fn quantile(values: &mut [f32], share: f32) -> f32 {
    let at = (values.len() as f32 * share) as usize;
    *values.select_nth_unstable_by(at, f32::total_cmp).1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_median_is_the_upper_one_of_two_and_a_quantile_has_its_share_below() {
        assert_eq!(median(&mut [9, 1, 5], Ord::cmp), Some(5));
        assert_eq!(median(&mut [2.0, 9.0, 1.0, 5.0], f64::total_cmp), Some(5.0));
        assert_eq!(median(&mut [0u64; 0], Ord::cmp), None);
        let mut all: Vec<f32> = (0..100).rev().map(|i| i as f32).collect();
        assert_eq!(quantile(&mut all, 0.35), 35.0);
    }
}
