//! Attacks heard out.

use super::grouping::{BROKEN_S, LONGEST_ATTACK_S, SWEEP_LATE_S};
use super::rings::{
    AGAIN_GAIN_DB, CHORD_LINES, EXPLAINED, LEAST_LINES, MOST_HUM, MOST_LOSS_DB, NO_SWEEP,
    RICH_CLARITY, is_struck_again, is_swept, is_unclear, rings, strings,
};
use super::{Finder, LEVEL_S};
use crate::decibels;
use crate::take::attack::{Attack, Brought, GAP_S, SURE};
use crate::take::expected::{ChordFit, Explained};
use crate::take::onset::Onset;
use crate::take::ringing::{self, RingingMeasures};
use crate::take::sweep::Sweep;
use crate::take::{dead, meant, stop};

/// The first stroke of an attack falls at least this long after the last of the one before.
const AFTER_HEARD_S: f64 = 0.03;
/// A line's beginning is known to this much: on composed takes 10 ms lost soft first strokes, and
/// 35 ms let the scrape of a hand in.
const ENTRY_ERROR_S: f64 = 0.02;
/// Two onsets this near to each other are one.
const APART_S: f64 = 0.004;
/// Less is left between these times after a moment than there was as long before it, in seconds and dB: it is a stop.
const STOP_S: (f64, f64) = (0.01, 0.04);
const STOP_DB: f64 = -10.0;
/// What does not ring by itself is an expected note where one fits so well: of 52 strings that rang and were taken for thuds
/// two thirds lie above, of 486 thuds and other sounds 1 in 100.
const HINTED: f64 = 0.45;
/// Lines are known to so many Hz, by short windows and by long ones.
const KNOWN_TO_HZ: f64 = 2.0;
const KNOWN_TO_HZ_LONG: f64 = 1.0;
/// Sound after a sweep is heard for so long at least: a window and the attack before it, in seconds.
const HEARD_OUT_S: f64 = 0.125;
/// An attack that begins within so long of the recording may be the recording's own beginning.
const BEGINNING_S: f64 = 0.05;
/// Its level is read from so long after its last onset on, and stays within so much where it is hum or noise (see
/// [`is_unclear`]).
const STEADY_FROM_S: f64 = 0.02;
const STEADY_DB: f64 = 1.2;
/// The next string of a slow strum raises the level by less than this in dB, a strum after something else by more: of the six
/// pairs in 200 slow strums that a file begins in five rise less (0.3 to 4.1 dB), a strum after noise 23 dB or more. The level is
/// read so long after the attack, and so far from both, in seconds.
const SLOW_RISE_DB: f64 = 6.0;
const RISEN_S: f64 = 0.05;
const EDGE_S: f64 = 0.01;
/// What is struck only decays: where a chord grows until the next attack begins, by more than this in dB per 60 ms, soft strings of
/// a slow strum are still being struck. Of the chords of scripts/found.rs (the half to develop on) that another attack follows
/// within [`BROKEN_S`] three are slow strums that grow by 1.2 to 1.9 dB, the others by 0.02 at most.
const GROWS_DB: f64 = 0.6;
/// The next attack may begin so long before its first onset is heard.
const NEXT_BEGINS_S: f64 = 0.02;

/// The first attack, all of whose sound is there.
struct WholeAttack {
    first: u64,
    last: u64,
    faint: bool,
    /// The next attack that is not faint, by its place.
    loud: Option<usize>,
    /// Where the next attack begins, or the recording ends.
    next: u64,
}

/// What was heard of it.
struct HeardAttack {
    /// Lines of the spectrum that are new.
    lines: usize,
    /// Until where it was heard.
    next: u64,
    sweep: Option<Sweep>,
    brought: Brought,
    /// Whether it may be the noise or the hum of a room.
    is_unclear: bool,
    /// See [`RingingMeasures::loss_db`].
    loss_db: f64,
}

impl HeardAttack {
    /// Tells whether it is a chord of which strings are still being struck as its sound ends.
    fn is_growing(&self) -> bool {
        self.brought.is_chord() && self.loss_db < -GROWS_DB
    }
}

impl Finder {
    /// Hears out the attacks whose sound is all there.
    pub(super) fn hear(&mut self, settled: u64, end: u64) {
        while let Some(whole) = self.first_whole(settled, end) {
            if self.leave_noise_out() {
                continue;
            }
            let heard = self.hear_whole(&whole);
            if whole.faint && !heard.brought.is_one_string() {
                self.attacks.pop_front();
                continue;
            }
            if let Some(loud) = whole.loud.filter(|_| self.is_broken(&whole, &heard)) {
                let start = self.attacks.drain(..loud).next().unwrap_or_default();
                self.attacks[0].splice(0..0, start);
                continue;
            }
            let Some(onsets) = self.attacks.pop_front() else {
                return;
            };
            if heard.brought.rings() || !self.is_stop(whole.first) {
                self.settle(&whole, &heard, &onsets);
            }
        }
    }

    /// The first attack that waits, where all its sound is there. After a chord no faint one is waited for.
    fn first_whole(&mut self, settled: u64, end: u64) -> Option<WholeAttack> {
        let is_faint = |attack: &Vec<Onset>| attack[0].faint;
        while self.chord && self.attacks.front().is_some_and(is_faint) {
            self.attacks.pop_front();
        }
        let attack = self.attacks.front()?;
        let faint = is_faint(attack);
        let (first, last) = (attack[0].at, attack[attack.len() - 1].at);
        let needed = self.ringing.reach().max(self.samples(GAP_S));
        if last.saturating_add(needed) >= settled {
            return None;
        }
        let loud = (1..self.attacks.len()).find(|&i| !is_faint(&self.attacks[i]));
        let after = if faint { Some(1) } else { loud };
        let next = after.and_then(|i| self.attacks.get(i));
        Some(WholeAttack {
            first,
            last,
            faint,
            loud,
            next: next.map_or(end, |next| next[0].at),
        })
    }

    /// Hears the first attack.
    fn hear_whole(&mut self, whole: &WholeAttack) -> HeardAttack {
        let &WholeAttack {
            first, last, faint, ..
        } = whole;
        let mut next = whole.next;
        let onsets = self.attacks[0].len();
        let from = first.saturating_sub(self.samples(ringing::BEFORE_S));
        self.around
            .fill(&self.history, from, last + self.samples(ringing::LATEST_S));
        let mut hearing = self.ringing.hear(&self.around, first, last, next);
        let rings = rings(&hearing, onsets);
        let mut brief_chord = false;
        if !faint && !rings {
            (hearing, next, brief_chord) = self.hear_short(first, last, next, onsets);
        }
        hearing.moved = self.ringing.moved(&self.around, first, last);
        let sweep = self.sweep_of(first, last);
        let odds = sweep.map_or(NO_SWEEP, |s| s.odds);
        let attack = &self.attacks[0];
        let heard_out = next >= last + self.samples(HEARD_OUT_S);
        let swept = !faint && heard_out && is_swept(&hearing, attack, odds);
        let again = !faint && is_struck_again(&hearing, attack);
        let alone = again || ((rings || brief_chord) && !self.is_touch(&hearing));
        let brought = if alone || swept || self.is_expected_note(&hearing) {
            let long = self.ringing_long.hear(&self.around, first, last, next);
            let sweep = (swept && !alone).then_some(odds);
            strings(
                &hearing,
                &long,
                attack,
                self.expected_note(),
                sweep,
                brief_chord,
            )
        } else {
            self.hint(&hearing)
        };
        HeardAttack {
            lines: hearing.lines,
            next,
            sweep,
            brought,
            is_unclear: is_unclear(&hearing),
            loss_db: hearing.loss_db,
        }
    }

    /// May the soft middle of a slow strum have gone unheard between this attack and the next? Where a recording begins, all is
    /// new at once, and little that comes soon after stands out.
    fn is_broken(&self, whole: &WholeAttack, heard: &HeardAttack) -> bool {
        let near = |next: u64| {
            next <= whole.last + self.samples(BROKEN_S)
                && next.saturating_sub(whole.first) <= self.samples(LONGEST_ATTACK_S)
        };
        let begins = self.is_beginning(whole.last) && heard.is_unclear;
        let goes_on = (begins || heard.is_growing())
            && near(whole.next)
            && self.rise_db(whole) < SLOW_RISE_DB;
        let soft = !heard.brought.rings() && heard.lines >= CHORD_LINES && near(heard.next);
        goes_on || soft
    }

    /// By how much the next attack is louder than what sounds between it and this one, in dB.
    fn rise_db(&self, whole: &WholeAttack) -> f64 {
        let edge = self.samples(EDGE_S);
        let from = whole.last + edge;
        let before = (self.history).power(from, whole.next.saturating_sub(edge).max(from));
        let after = (self.history).power(whole.next, whole.next + self.samples(RISEN_S));
        decibels::of_power(after / before)
    }

    /// May it be the beginning of the recording itself?
    pub(super) fn is_beginning(&self, onset: u64) -> bool {
        onset < self.samples(BEGINNING_S)
    }

    /// Hands an attack with these onsets on to what tells strums from passes.
    fn settle(&mut self, whole: &WholeAttack, heard: &HeardAttack, onsets: &[Onset]) {
        let brought = match heard.brought {
            Brought::Thud if !whole.faint && self.is_dead_strum(onsets, heard.sweep) => {
                Brought::Dead
            }
            Brought::Hint { hz } if self.sequence.is_one_meant() => Brought::Strings {
                several: -SURE,
                hz: Some(hz),
                lines: heard.lines,
                expected: true,
            },
            other => other,
        };
        // The recording itself begins: noise out of nothing is no attack.
        let beginning = self.is_beginning(whole.first);
        let noise = beginning && heard.is_unclear && self.is_steady(whole.last, whole.next);
        if !noise && (brought.may_be_strum() || !beginning) {
            let attack = Attack {
                onsets: self.strings_only(onsets, brought),
                brought,
                middle: heard.sweep.map(|s| s.at),
            };
            self.sequence.attack(attack, &mut self.cuts);
        }
        self.heard = whole.last;
        let late = whole.last + self.samples(SWEEP_LATE_S);
        self.swept.retain(|s| s.at > late);
        self.chord = brought.is_chord();
    }

    /// Is what rings plainly a note of the chord that is meant, however many onsets there were?
    fn is_expected_note(&self, h: &RingingMeasures) -> bool {
        h.lines >= LEAST_LINES
            && h.clarity() >= RICH_CLARITY
            && h.hum < MOST_HUM
            && h.loss_db < MOST_LOSS_DB
            && h.gain_db > AGAIN_GAIN_DB
            && self.expected_note().is_some_and(|e| e.fit >= EXPLAINED)
    }

    /// Does the sound stop rather than begin? A recording cut off at once looks like an attack, in the frames that reach beyond its
    /// end: what begins so near to it is the end itself.
    fn is_stop(&self, at: u64) -> bool {
        let (near, far) = (self.samples(STOP_S.0), self.samples(STOP_S.1));
        let before = self
            .history
            .power(at.saturating_sub(far), at.saturating_sub(near));
        let after = self.history.power(at + near, at + far);
        at + far > self.history.end() || after < before * decibels::to_power(STOP_DB)
    }

    /// Does what sounds after an attack with this last onset keep its level until the next one begins? Hum and noise do.
    fn is_steady(&self, last: u64, next: u64) -> bool {
        let latest = (last + self.samples(ringing::LATEST_S)).min(self.history.end());
        let end = latest.min(next.saturating_sub(self.samples(NEXT_BEGINS_S)));
        let (from, stretch) = (last + self.samples(STEADY_FROM_S), self.samples(LEVEL_S));
        let early = self.history.power(from, from + stretch);
        let late = self.history.power(end.saturating_sub(stretch), end);
        from + 2 * stretch <= end && decibels::of_power(early / late).abs() < STEADY_DB
    }

    /// The end of what is heard of an attack with this last onset: `next`, or where a hand stops the strings before.
    fn stopped(&self, last: u64, next: u64) -> u64 {
        let end = next.min(last + self.samples(ringing::LATEST_S));
        let sound = self.history.slice(last, end);
        let stop = stop::stopped(sound, 0, f64::from(self.rate_hz));
        stop.map_or(next, |stop| last + stop as u64)
    }

    /// Hears a chord that does not ring as long or as clearly as others by what it has, until a hand stops it or for a moment: what
    /// was heard, until where, and whether it is one.
    fn hear_short(
        &mut self,
        first: u64,
        last: u64,
        next: u64,
        onsets: usize,
    ) -> (RingingMeasures, u64, bool) {
        let stop = self.stopped(last, next);
        let brief = last + self.samples(meant::BRIEF_S);
        let is_meant = self.told.strings >= Some(meant::STRINGS);
        for (until, worth) in [(next, is_meant), (stop, stop < next), (brief, is_meant)] {
            if !worth || until > next {
                continue;
            }
            let hearing = self.ringing.hear(&self.around, first, last, until);
            let plain = until == stop && rings(&hearing, onsets) && meant::is_plain(&hearing);
            if plain
                || (is_meant && meant::is_chord(&hearing, self.chord_fit(), self.told.beside_music))
            {
                return (hearing, until, true);
            }
        }
        let hearing = self.ringing.hear(&self.around, first, last, next);
        (hearing, next, false)
    }

    /// How much of what was heard last the notes of the chord that is meant explain.
    fn chord_fit(&self) -> ChordFit {
        self.told
            .expected
            .chord_fit(self.ringing.lines(), KNOWN_TO_HZ)
    }

    /// Is what was heard last plainly not the chord that is meant, but a hand laid on the strings?
    fn is_touch(&self, h: &RingingMeasures) -> bool {
        let note =
            || (self.told.expected.best(self.ringing.lines(), KNOWN_TO_HZ)).map_or(0.0, |e| e.fit);
        self.told.strings > Some(1) && meant::is_touch(h, self.chord_fit(), note())
    }

    /// Is what rings no longer than a thud a strum over dead strings?
    fn is_dead_strum(&self, onsets: &[Onset], sweep: Option<Sweep>) -> bool {
        let (sweep, strings) = (sweep.map(|s| s.odds), self.told.strings);
        dead::is_strum(&self.history, self.rate_hz, onsets, sweep, strings)
    }

    /// The expected note that explains what was heard last best, by the short windows or the long ones; `None` where none
    /// does.
    fn expected_note(&self) -> Option<Explained> {
        let short = self.told.expected.best(self.ringing.lines(), KNOWN_TO_HZ);
        let long = (self.told.expected).best(self.ringing_long.lines(), KNOWN_TO_HZ_LONG);
        short
            .into_iter()
            .chain(long)
            .max_by(|a, b| a.fit.total_cmp(&b.fit))
    }

    /// What does not ring by itself may still be an expected note.
    fn hint(&self, h: &RingingMeasures) -> Brought {
        let heard = h.lines >= LEAST_LINES && h.hum < MOST_HUM && h.loss_db < MOST_LOSS_DB;
        if !heard {
            return Brought::Thud;
        }
        match self.told.expected.best(self.ringing.lines(), KNOWN_TO_HZ) {
            Some(note) if note.fit >= HINTED => Brought::Hint { hz: note.hz },
            _ => Brought::Thud,
        }
    }

    /// The onsets from the first stroke on, without what the hand did just before.
    fn strings_only(&mut self, onsets: &[Onset], brought: Brought) -> Vec<u64> {
        let all = || onsets.iter().map(|o| o.at);
        if !brought.rings() {
            return all().collect();
        }
        let first = onsets[0].at;
        let loudest = onsets.iter().max_by(|a, b| a.rise_db.total_cmp(&b.rise_db));
        let mut main = loudest.map_or(first, |o| o.at);
        let mut bound = (self.heard + self.samples(AFTER_HEARD_S)).min(first);
        let mut begins = first;
        if let Some(came) = self
            .entry
            .first(&self.around, self.ringing.lines(), first, main)
        {
            let near = self.samples(ENTRY_ERROR_S);
            bound = bound.max(came.saturating_sub(near));
            // The loudest may be the scrape; then the strings begin where their lines do.
            main = main.max(came);
            begins = all().find(|at| *at + near >= came).unwrap_or(came);
        }
        let start = self
            .departure
            .find(&self.history, bound, first.min(main), main)
            .unwrap_or(begins)
            .min(begins.max(bound));
        let apart = self.samples(APART_S);
        std::iter::once(start)
            .chain(all().filter(|at| *at > start + apart))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chord_that_grows_is_still_being_struck_and_one_that_keeps_its_level_is_not() {
        for (loss_db, expected) in [(-1.2, true), (-0.02, false)] {
            let heard = HeardAttack {
                lines: 9,
                next: 0,
                sweep: None,
                brought: Brought::Strings {
                    several: 4.2,
                    hz: None,
                    lines: 9,
                    expected: false,
                },
                is_unclear: false,
                loss_db,
            };
            assert_eq!(heard.is_growing(), expected, "{loss_db} dB");
        }
    }
}
