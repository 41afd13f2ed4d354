//! From single attacks to takes: which attacks stand alone, and which form one slow pass.

use super::{Manner, Open, Strum};

/// What an attack brought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Brought {
    /// Something that rings: log odds for several strings against one, and the pitch where it is
    /// plainly one string's.
    Strings { several: f64, hz: Option<f64> },
    /// Nothing that rings: a muted string, a tap, a word.
    Thud,
}

/// Log odds beyond which the neighbours have no say: 19 to 1.
pub(super) const SURE: f64 = 3.0;
/// In the middle of a pass it takes more to hear a chord: composed passes reach 3.7.
const SURE_IN_PASS: f64 = 5.0;
/// The first note of a pass, with nothing beside it yet, may look this much like a chord.
const SURE_BEFORE_PASS: f64 = 6.0;

/// One attack: its onsets, at most [`super::finder::GAP_S`] from one to the next.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Attack {
    pub onsets: Vec<u64>,
    pub brought: Brought,
}

impl Attack {
    fn first(&self) -> u64 {
        self.onsets[0]
    }

    fn rings(&self) -> bool {
        self.brought != Brought::Thud
    }

    fn several(&self) -> f64 {
        match self.brought {
            Brought::Strings { several, .. } => several,
            Brought::Thud => f64::NEG_INFINITY,
        }
    }

    fn hz(&self) -> Option<f64> {
        match self.brought {
            Brought::Strings { hz, .. } => hz,
            Brought::Thud => None,
        }
    }
}

/// A take whose limits are known, but for the sound dying away earlier.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cut {
    pub onsets: Vec<u64>,
    pub manner: Manner,
    pub end: u64,
    pub cut_by_next: bool,
}

/// A take is over this long after its last onset.
const LONGEST_TAIL_S: f64 = 4.0;
/// Strings picked further apart than this are no longer one pass.
const LONGEST_PASS_GAP_S: f64 = 1.6;
/// A pass has as many onsets as a guitar has strings, at most.
const STRINGS: usize = 6;
/// A pass has at least this many onsets, and this many of them ring.
const LEAST_ONSETS: usize = 3;
const LEAST_NOTES: usize = 2;
/// A muted string in front of a pass, or behind it, keeps the pass's time within this factor.
const UNEVEN: f64 = 1.6;
/// Neighbouring strings of a chord are at least this many cents apart.
const LEAST_STEP_CENTS: f64 = 60.0;

/// Sorts attacks into takes as they come.
#[derive(Debug, Clone)]
pub(super) struct Sequence {
    rate_hz: f64,
    /// The strummed take that is sounding.
    open: Option<Attack>,
    /// Attacks that may turn out to be one picked pass.
    pass: Vec<Attack>,
}

impl Sequence {
    pub fn new(rate_hz: u32) -> Self {
        Sequence {
            rate_hz: f64::from(rate_hz),
            open: None,
            pass: Vec::with_capacity(STRINGS),
        }
    }

    fn samples(&self, seconds: f64) -> u64 {
        (seconds * self.rate_hz) as u64
    }

    /// The earliest onset that may still be part of a take to come.
    pub fn oldest(&self) -> Option<u64> {
        let open = self.open.iter().map(Attack::first);
        open.chain(self.pass.iter().map(Attack::first)).min()
    }

    /// The take that is sounding; no attack before `unheard` will come.
    pub fn sounding(&self, unheard: u64) -> Option<Open> {
        if self.is_pass() {
            let last = self.pass[self.pass.len() - 1].first();
            return Some(Open {
                first: self.pass[0].first(),
                last,
                manner: Manner::Picked,
                complete: unheard > last + self.samples(LONGEST_PASS_GAP_S),
            });
        }
        let open = self.open.as_ref()?;
        let mut ringing = self.pass.iter().filter(|a| a.rings());
        let (first, next) = match (ringing.next(), ringing.next()) {
            // Among strums, what may be a strum is one, as long as nothing follows it.
            (Some(a), None) if a.several() > -SURE => (a.first(), None),
            (next, _) => (open.first(), next.map(Attack::first)),
        };
        Some(Open {
            first,
            last: first,
            manner: Manner::Strummed,
            complete: next.unwrap_or(unheard) >= first + self.samples(Strum::JUDGED_S),
        })
    }

    /// Takes the next attack in time.
    pub fn attack(&mut self, attack: Attack, cuts: &mut Vec<Cut>) {
        let at = attack.first();
        let gap = self.samples(LONGEST_PASS_GAP_S);
        if self.pass.last().is_some_and(|last| at > last.first() + gap) {
            self.settle(at, attack.rings(), cuts);
        }
        let chord = if self.notes() >= LEAST_NOTES {
            SURE_IN_PASS
        } else {
            0.0
        };
        if attack.several() > chord {
            self.settle(at, true, cuts);
            self.close(at, true, cuts);
            self.open = Some(attack);
        } else if attack.rings() {
            let full = self.pass.len() >= STRINGS && self.notes() > 0;
            if full || self.breaks_order(&attack) {
                let last = self.pass.last().cloned();
                let settled = self.settle(at, true, cuts);
                // Two notes that led one way may be the last of one line and the first of another.
                if !settled
                    && let Some(last) = last
                    && self.open.as_ref() != Some(&last)
                {
                    self.pass.push(last);
                }
            }
            self.pass.push(attack);
        } else {
            if self.notes() == 0 && self.pass.len() >= STRINGS - LEAST_NOTES {
                self.pass.remove(0);
            }
            if self.pass.len() < STRINGS {
                self.pass.push(attack);
            }
        }
    }

    /// Closes what can no longer change, now that no attack can come before `now`.
    pub fn advance(&mut self, now: u64, cuts: &mut Vec<Cut>) {
        let waited = self.samples(LONGEST_PASS_GAP_S);
        if self
            .pass
            .last()
            .is_some_and(|last| now > last.first() + waited)
        {
            // The strings ring on: the pass lasts until its tail is over.
            let tail = self.pass.last().map_or(0, Attack::first) + self.samples(LONGEST_TAIL_S);
            if !self.is_pass() || now > tail {
                self.settle(now, false, cuts);
            }
        }
        if self.pass.is_empty() {
            let tail = self.samples(LONGEST_TAIL_S);
            if self
                .open
                .as_ref()
                .is_some_and(|o| now > o.onsets[o.onsets.len() - 1] + tail)
            {
                self.close(now, false, cuts);
            }
        }
    }

    /// The recording ends.
    pub fn finish(&mut self, end: u64, cuts: &mut Vec<Cut>) {
        self.settle(end, false, cuts);
        self.close(end, false, cuts);
    }

    fn notes(&self) -> usize {
        self.pass.iter().filter(|a| a.rings()).count()
    }

    fn pitches(&self) -> impl Iterator<Item = f64> {
        self.pass.iter().filter_map(Attack::hz)
    }

    /// Would this note turn back on the line that the pass has followed?
    fn breaks_order(&self, attack: &Attack) -> bool {
        let Some(hz) = attack.hz() else { return false };
        let pitches: Vec<f64> = self.pitches().collect();
        let (Some(&first), Some(&last)) = (pitches.first(), pitches.last()) else {
            return false;
        };
        if cents(last, hz).abs() < LEAST_STEP_CENTS {
            return true;
        }
        pitches.len() > 1 && (last > first) != (hz > last)
    }

    fn is_pass(&self) -> bool {
        self.pass.len() >= LEAST_ONSETS
            && self.notes() >= LEAST_NOTES
            && (self.notes() > 2 || self.pass.len() > 3)
    }

    /// Decides what the waiting attacks were. True if they were a pass.
    fn settle(&mut self, end: u64, cut_by_next: bool, cuts: &mut Vec<Cut>) -> bool {
        self.trim();
        let passed = self.is_pass();
        if passed {
            self.take_first_note();
            self.close(self.pass[0].first(), true, cuts);
            let onsets: Vec<u64> = self.pass.iter().map(Attack::first).collect();
            let tail = onsets[onsets.len() - 1] + self.samples(LONGEST_TAIL_S);
            cuts.push(Cut {
                onsets,
                manner: Manner::Picked,
                end: end.min(tail),
                cut_by_next: cut_by_next && end <= tail,
            });
            self.pass.clear();
        } else {
            for attack in std::mem::take(&mut self.pass) {
                if !attack.rings() {
                    continue;
                }
                // A melody note is no take, but it is not the last strum's doing either. Among
                // strums, what may have been a strum was one.
                let among_strums = self.open.is_some();
                self.close(attack.first(), true, cuts);
                if among_strums && attack.several() > -SURE {
                    self.open = Some(attack);
                }
            }
        }
        passed
    }

    /// The first string of a pass has nothing beside it that rings on, and may have been taken for
    /// a chord.
    fn take_first_note(&mut self) {
        let (first, second) = (self.pass[0].first(), self.pass[1].first());
        let is_note = self.open.as_ref().is_some_and(|open| {
            let gap = first - open.first();
            self.pass.len() < STRINGS
                && open.onsets.len() == 1
                && open.several() < SURE_BEFORE_PASS
                && self.even(gap, second - first)
        });
        if is_note && let Some(open) = self.open.take() {
            self.pass.insert(0, open);
        }
    }

    fn even(&self, gap: u64, usual: u64) -> bool {
        let (gap, usual) = (gap as f64, usual as f64);
        gap < usual * UNEVEN && gap > usual / UNEVEN
    }

    /// Drops thuds at both ends that do not keep the time of the pass.
    fn trim(&mut self) {
        if self.notes() < LEAST_NOTES {
            return;
        }
        let mut gaps: Vec<u64> = self
            .pass
            .windows(2)
            .map(|w| w[1].first() - w[0].first())
            .collect();
        gaps.sort_unstable();
        let usual = gaps[gaps.len() / 2];
        while !self.pass[0].rings()
            && !self.even(self.pass[1].first() - self.pass[0].first(), usual)
        {
            self.pass.remove(0);
        }
        while let [.., before, last] = &self.pass[..] {
            if last.rings() || self.even(last.first() - before.first(), usual) {
                break;
            }
            self.pass.pop();
        }
    }

    fn close(&mut self, end: u64, cut_by_next: bool, cuts: &mut Vec<Cut>) {
        if let Some(open) = self.open.take() {
            let tail = open.onsets[open.onsets.len() - 1] + self.samples(LONGEST_TAIL_S);
            cuts.push(Cut {
                onsets: open.onsets,
                manner: Manner::Strummed,
                end: end.min(tail),
                cut_by_next: cut_by_next && end <= tail,
            });
        }
    }
}

fn cents(from_hz: f64, to_hz: f64) -> f64 {
    1200.0 * (to_hz / from_hz).log2()
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: u32 = 1_000;

    fn rings(at: u64, several: f64, hz: Option<f64>) -> Attack {
        Attack {
            onsets: vec![at],
            brought: Brought::Strings { several, hz },
        }
    }

    fn thud(at: u64) -> Attack {
        Attack {
            onsets: vec![at],
            brought: Brought::Thud,
        }
    }

    fn cuts(attacks: Vec<Attack>, end: u64) -> Vec<(Vec<u64>, Manner, u64)> {
        let mut sequence = Sequence::new(RATE);
        let mut cuts = Vec::new();
        for attack in attacks {
            sequence.advance(attack.first(), &mut cuts);
            sequence.attack(attack, &mut cuts);
        }
        sequence.finish(end, &mut cuts);
        cuts.into_iter()
            .map(|c| (c.onsets, c.manner, c.end))
            .collect()
    }

    fn pass(at: u64, pitches: &[f64]) -> Vec<Attack> {
        let notes = pitches.iter().enumerate();
        notes
            .map(|(i, hz)| rings(at + 500 * i as u64, -5.0, Some(*hz)))
            .collect()
    }

    #[test]
    fn chords_are_takes_of_their_own() {
        let found = cuts(vec![rings(500, 8.0, None), rings(900, 8.0, None)], 3_000);
        let strummed = Manner::Strummed;
        assert_eq!(
            found,
            [(vec![500], strummed, 900), (vec![900], strummed, 3_000)]
        );
    }

    #[test]
    fn rising_notes_are_one_pass_and_a_muted_string_in_time_belongs_to_it() {
        let mut attacks = pass(500, &[110.0, 165.0]);
        attacks.extend([thud(1_500), thud(2_000)]);
        attacks.extend(pass(2_500, &[330.0]));
        let found = cuts(attacks, 4_000);
        assert_eq!(
            found,
            [(vec![500, 1_000, 1_500, 2_000, 2_500], Manner::Picked, 4_000)]
        );
    }

    #[test]
    fn a_melody_that_turns_back_and_forth_and_a_row_of_thuds_are_no_takes() {
        assert_eq!(
            cuts(pass(500, &[220.0, 247.0, 220.0, 262.0, 196.0]), 5_000),
            []
        );
        assert_eq!(cuts((1..9).map(|i| thud(400 * i)).collect(), 5_000), []);
    }

    #[test]
    fn a_second_pass_begins_where_the_order_turns_back() {
        let mut attacks = pass(500, &[110.0, 165.0, 220.0]);
        attacks.extend(pass(2_000, &[110.0, 165.0, 220.0]));
        let onsets: Vec<_> = cuts(attacks, 6_000).into_iter().map(|c| c.0).collect();
        assert_eq!(onsets, [vec![500, 1_000, 1_500], vec![2_000, 2_500, 3_000]]);
    }

    #[test]
    fn the_first_note_of_a_pass_is_won_back_from_a_chord() {
        let mut attacks = vec![rings(500, 2.0, None)];
        attacks.extend(pass(1_000, &[165.0, 220.0, 330.0]));
        let found = cuts(attacks, 4_000);
        assert_eq!(
            found,
            [(vec![500, 1_000, 1_500, 2_000], Manner::Picked, 4_000)]
        );
    }

    #[test]
    fn a_take_is_cut_four_seconds_after_its_last_onset() {
        assert_eq!(cuts(vec![rings(500, 8.0, None)], 20_000)[0].2, 4_500);
    }
}
