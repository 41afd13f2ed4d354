//! The takes before the one that is judged.

use std::ops::Deref;

use super::JudgedTake;

/// So many takes before one are looked at: a practice of a minute or two.
pub(super) const LAST_TAKES: usize = 8;

/// The last takes, the oldest first: as many as a judgement looks back to.
#[derive(Debug, Clone, Default)]
pub struct History {
    takes: Vec<JudgedTake>,
}

impl History {
    /// Adds a take, and forgets the oldest where there are enough.
    pub fn remember(&mut self, take: JudgedTake) {
        if self.takes.len() == LAST_TAKES {
            self.takes.remove(0);
        }
        self.takes.push(take);
    }
}

impl Deref for History {
    type Target = [JudgedTake];

    fn deref(&self) -> &[JudgedTake] {
        &self.takes
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verdict::examples::bb;

    #[test]
    fn the_last_takes_are_kept_in_order() {
        let mut history = History::default();
        for start_s in 0..20 {
            history.remember(JudgedTake {
                start_s: f64::from(start_s),
                ..bb()
            });
        }
        let kept: Vec<f64> = history.iter().map(|t| t.start_s).collect();
        assert_eq!(kept, [12.0, 13.0, 14.0, 15.0, 16.0, 17.0, 18.0, 19.0]);
    }
}
