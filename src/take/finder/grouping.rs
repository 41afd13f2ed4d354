//! Onsets and sweeps that belong together.

use super::Finder;
use super::rings::SWEPT;
use crate::decibels;
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
/// What rings as a recording begins was struck before it where a sweep follows whose first stroke is heard so long after the
/// beginning (from, to; from then on it can be judged) ...
const BEGUN_S: (f64, f64) = (0.08, 0.22);
/// ... where it is all there at once: its first sound is so many dB less than what sounds in all up to the second of these times ...
const BEGUN_DB: f64 = -5.0;
const BEGUN_LEVEL_S: (f64, f64) = (0.005, 0.06);
/// ... and where it grows by no more dB from its first half to its second: soft strings of a slow strum make it grow. Chosen on
/// files that begin in running accompaniment 0.12 to 0.22 s before a stroke of runs 1 and 2 of phone-strums (390 of 508 reach all
/// bounds) and on 1,808 files that begin in a strum or just before (scripts/found.rs, the half to develop on): none does. Without
/// [`BEGUN_DB`] three do, and three of 600 slow strums of other seeds.
const BEGUN_GROWS_DB: f64 = 1.0;
/// What a recording begins in is noise of the room where what is struck next is so many dB louder, read for so long. A choice:
/// of the six pairs of strokes in 200 slow strums that a file begins in the second is 4.1 dB louder at most but for one; a strum
/// after noise is so by 23 dB or more.
const OVER_NOISE_DB: f64 = 13.0;
const OVER_NOISE_S: f64 = 0.05;
/// An onset is heard so much earlier or later at most, in seconds.
const ONSET_ERROR_S: f64 = 0.01;
/// Sweeps are kept so long for attacks that are not yet heard out, in seconds.
const SWEEP_KEPT_S: f64 = 2.0;

impl Finder {
    /// Takes in a sweep: one that no attack begins is an attack of its own.
    pub(super) fn add_sweep(&mut self, sweep: Sweep) {
        let (early, late) = (self.samples(SWEEP_EARLY_S), self.samples(SWEEP_LATE_S));
        let kept = self.samples(SWEEP_KEPT_S);
        self.swept.retain(|s| s.at + kept >= sweep.at);
        self.swept.push_back(sweep);
        self.leave_beginning_out(&sweep);
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

    /// Leaves what rings as the recording begins out of the attacks where a hand sweeps over the strings soon after: it was struck
    /// before the recording, and is over before it could be judged.
    fn leave_beginning_out(&mut self, sweep: &Sweep) {
        let beginning = self.attacks.front().map_or(u64::MAX, |a| a[0].at);
        if sweep.odds < SWEPT || !self.is_beginning(beginning) {
            return;
        }
        let onset = self.detector.onset_near(sweep.at, &self.history);
        let (soonest, latest) = (self.samples(BEGUN_S.0), self.samples(BEGUN_S.1));
        if !(soonest..latest).contains(&onset.at) || !self.rang_before(onset.at) {
            return;
        }
        let late = self.samples(SWEEP_LATE_S);
        let begun = soonest - self.samples(ONSET_ERROR_S);
        let belongs = |o: &Onset| !o.faint && o.at >= begun && o.at + late >= sweep.at;
        let mut onsets = self.attacks.pop_front().unwrap_or_default();
        onsets.retain(belongs);
        let next = self.attacks.iter().flatten().any(belongs);
        if onsets.is_empty() && !next {
            onsets.push(onset);
        }
        if !onsets.is_empty() {
            self.attacks.push_front(onsets);
        }
    }

    /// Leaves the noise that a recording begins in out of its first attack, where something far louder is struck after it; tells
    /// whether it did. Out of nothing even faint noise begins like an attack.
    pub(super) fn leave_noise_out(&mut self) -> bool {
        let (near, long) = (self.samples(ONSET_ERROR_S), self.samples(OVER_NOISE_S));
        let over_noise = |o: &Onset| {
            let before = self.history.power(near, o.at.saturating_sub(near));
            let after = self.history.power(o.at, o.at + long);
            o.at > 3 * near && decibels::of_power(after / before) > OVER_NOISE_DB
        };
        let first = self.attacks.front().filter(|a| self.is_beginning(a[0].at));
        let struck = first.and_then(|attack| attack.iter().position(over_noise));
        let noise = struck.unwrap_or(0);
        if noise > 0 {
            self.attacks[0].drain(..noise);
        }
        noise > 0
    }

    /// Was what sounds from the beginning of the recording to an onset struck before? A strum begins, and grows while strings of
    /// it are struck.
    fn rang_before(&self, onset: u64) -> bool {
        let power = |from: u64, to: u64| self.history.power(from, to);
        let (first, all) = (self.samples(BEGUN_LEVEL_S.0), self.samples(BEGUN_LEVEL_S.1));
        let begun = decibels::of_power(power(0, first) / power(0, all)) >= BEGUN_DB;
        let end = onset.saturating_sub(self.samples(ONSET_ERROR_S));
        let grown = decibels::of_power(power(end / 2, end) / power(0, end / 2)) > BEGUN_GROWS_DB;
        begun && !grown
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

    /// Onsets in seconds after a sweep at 0.16 s, in a recording that is struck just before it and begins in a sound, or so soon before
    /// one; that sound grows by so many dB a second.
    fn onsets_after_a_sweep(lead_s: f64, grows_db_s: f64) -> Vec<f64> {
        const RATE_HZ: f64 = 8_000.0;
        let mut finder = Finder::new(8_000);
        let sound = (0..4_000).map(|i| {
            let t = f64::from(i) / RATE_HZ;
            let level_db = match t {
                _ if t < lead_s => -60.0,
                _ if t < 0.155 => grows_db_s * t - 30.0,
                _ => -10.0,
            };
            let turn = std::f64::consts::TAU * 330.0 * t;
            (decibels::to_amplitude(level_db) * turn.sin()) as f32
        });
        finder.history.push(&sound.collect::<Vec<_>>());
        finder.add_onset(Onset {
            at: 0,
            rise_db: 24.0,
            faint: false,
        });
        finder.add_sweep(Sweep {
            at: 1_280,
            odds: 1.5,
        });
        let onsets = finder.attacks.iter().flatten();
        onsets.map(|o| o.at as f64 / RATE_HZ).collect()
    }

    #[test]
    fn what_rang_before_a_recording_is_left_out_where_a_sweep_follows_and_a_strum_that_begins_is_not()
     {
        let found = onsets_after_a_sweep(0.0, -10.0);
        let is_struck = |at: f64| (at - 0.155).abs() < 0.01;
        assert!(found.len() == 1 && is_struck(found[0]), "{found:?}");
        for (lead_s, grows_db_s) in [(0.0, 60.0), (0.012, -10.0)] {
            let found = onsets_after_a_sweep(lead_s, grows_db_s);
            assert_eq!(found[0], 0.0, "{lead_s} s, {grows_db_s} dB: {found:?}");
        }
    }
}
