//! Onsets and sweeps that belong together.

use super::Finder;
use super::rings::SWEPT;
use crate::take::attack::GAP_S;
use crate::take::onset::Onset;
use crate::take::sweep::Sweep;

/// A faint onset lies at least this far from others: sooner, a string that resonates swells.
const FAINT_GAP_S: f64 = 0.3;
/// Onsets of one attack span at most this: six strings at the slowest strum, 60 ms a string.
pub(super) const LONGEST_ATTACK_S: f64 = 0.36;
/// Two parts of a slow strum lie at most this far apart.
pub(super) const BROKEN_S: f64 = 0.21;
/// A sweep is that of an attack whose first onset lies at most so long after it, and whose last one so long before it, in seconds.
const SWEEP_EARLY_S: f64 = 0.05;
pub(super) const SWEEP_LATE_S: f64 = 0.12;
/// Sweeps are kept so long for attacks that are not yet heard out, in seconds.
const SWEEP_KEPT_S: f64 = 2.0;

impl Finder {
    /// Takes in a sweep: one that no attack begins is an attack of its own.
    pub(super) fn add_sweep(&mut self, sweep: Sweep) {
        let (early, late) = (self.samples(SWEEP_EARLY_S), self.samples(SWEEP_LATE_S));
        let kept = self.samples(SWEEP_KEPT_S);
        self.swept.retain(|s| s.at + kept >= sweep.at);
        self.swept.push_back(sweep);
        if sweep.odds < SWEPT || sweep.at < self.heard + self.samples(GAP_S) {
            return;
        }
        let belongs = |attack: &Vec<Onset>| {
            !attack[0].faint
                && sweep.at + early >= attack[0].at
                && sweep.at <= attack[attack.len() - 1].at + late
        };
        if self.attacks.iter().any(belongs) {
            return;
        }
        let onset = self.detector.onset_near(sweep.at, &self.history);
        let near = self.samples(GAP_S);
        let alone = (self.attacks.iter().flatten())
            .all(|o| o.faint || o.at.abs_diff(onset.at) > self.samples(BROKEN_S));
        if !alone || onset.at <= self.heard + near {
            return;
        }
        self.attacks
            .retain(|a| !a[0].faint || a[0].at.abs_diff(onset.at) > near);
        let place = self.attacks.partition_point(|a| a[0].at < onset.at);
        self.attacks.insert(place, vec![onset]);
    }

    /// The likeliest sweep of the attack with its onsets between two positions.
    pub(super) fn sweep_of(&self, first: u64, last: u64) -> Option<Sweep> {
        let (early, late) = (self.samples(SWEEP_EARLY_S), self.samples(SWEEP_LATE_S));
        let of = |s: &&Sweep| s.at + early >= first && s.at <= last + late;
        let sweeps = self.swept.iter().filter(of);
        sweeps.copied().max_by(|a, b| a.odds.total_cmp(&b.odds))
    }

    pub(super) fn add_onset(&mut self, onset: Onset) {
        let (gap, longest) = (self.samples(GAP_S), self.samples(LONGEST_ATTACK_S));
        let alone = self.samples(FAINT_GAP_S);
        let near = |attack: &Vec<Onset>| onset.at <= attack[attack.len() - 1].at + alone;
        if onset.faint && self.attacks.back().is_some_and(near) {
            return;
        }
        // What seemed faint was the beginning of this one.
        let was_faint = |attack: &Vec<Onset>| attack[0].faint && near(attack);
        if self.attacks.back().is_some_and(was_faint) {
            self.attacks.pop_back();
        }
        match self.attacks.back_mut() {
            Some(attack)
                if onset.at <= attack[attack.len() - 1].at + gap
                    && onset.at <= attack[0].at + longest =>
            {
                attack.push(onset);
            }
            _ => self.attacks.push_back(vec![onset]),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::STRINGS;

    #[test]
    fn six_strings_60_ms_apart_are_one_attack_and_what_goes_on_after_them_is_another() {
        let mut finder = Finder::new(8_000);
        let apart = finder.samples(0.06);
        for string in 0..8 {
            finder.add_onset(Onset {
                at: 8_000 + string * apart,
                rise_db: 12.0,
                faint: false,
            });
        }
        let sizes: Vec<usize> = finder.attacks.iter().map(Vec::len).collect();
        assert!(
            (STRINGS..8).contains(&sizes[0]) && sizes.len() == 2,
            "{sizes:?}"
        );
    }
}
