//! Certainty of a share: few takes say little.

/// Part of a number of cases.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Share {
    /// Cases that are counted.
    pub part: u32,
    /// Cases in all.
    pub of: u32,
}

/// The normal deviate that 95 % of cases stay within.
const Z: f64 = 1.959_963_985;

impl Share {
    /// Counts one case in.
    pub fn add(&mut self, yes: bool) {
        self.part += u32::from(yes);
        self.of += 1;
    }

    /// Counts all of another share in.
    pub fn add_all(&mut self, other: Share) {
        self.part += other.part;
        self.of += other.of;
    }

    /// The share itself, 0 to 1; `None` of nothing.
    pub fn share(self) -> Option<f64> {
        (self.of > 0).then(|| f64::from(self.part) / f64::from(self.of))
    }

    /// Tells where the true share lies with 95 % confidence, 0 to 1: Wilson's score interval (E. B. Wilson,
    /// J. Am. Stat. Assoc. 22 (1927) 209-212; formula from memory). Of nothing: anywhere.
    pub fn interval(self) -> (f64, f64) {
        self.interval_by(1.0)
    }

    /// Gives [`interval`](Self::interval) where the number of cases varies `effect` times as much as that of as many cases
    /// drawn by themselves: as if there were so many times fewer.
    pub fn interval_by(self, effect: f64) -> (f64, f64) {
        let Some(share) = self.share() else {
            return (0.0, 1.0);
        };
        let n = f64::from(self.of) / effect;
        let middle = (share + Z * Z / (2.0 * n)) / (1.0 + Z * Z / n);
        let half =
            Z / (1.0 + Z * Z / n) * (share * (1.0 - share) / n + Z * Z / (4.0 * n * n)).sqrt();
        ((middle - half).max(0.0), (middle + half).min(1.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use proptest::prelude::*;

    #[test]
    fn intervals_are_those_of_the_literature() {
        // R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 3 (from memory).
        for (part, of, low, high) in [
            (81, 263, 0.2553, 0.3662),
            (15, 148, 0.0624, 0.1605),
            (0, 20, 0.0, 0.1611),
            (1, 29, 0.0061, 0.1718),
        ] {
            let (a, b) = Share { part, of }.interval();
            assert_abs_diff_eq!(a, low, epsilon = 5e-5);
            assert_abs_diff_eq!(b, high, epsilon = 5e-5);
        }
    }

    proptest! {
        #[test]
        fn an_interval_holds_its_share_and_narrows_with_more_takes(of in 1u32..500, part in 0u32..500) {
            let share = Share { part: part.min(of), of };
            let (low, high) = share.interval();
            let middle = share.share().unwrap();
            prop_assert!((0.0..=1.0).contains(&low) && low <= middle + 1e-12);
            prop_assert!(middle <= high + 1e-12 && high <= 1.0);
            let (a, b) = Share { part: share.part * 4, of: of * 4 }.interval();
            prop_assert!(b - a < high - low);
        }
    }
}
