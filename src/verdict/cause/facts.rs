//! A take with what is needed to hold the rules against it.

use super::hand::{Hand, HeldBy};
use super::rules::{All, Each, Rule};
use crate::fretboard::STRINGS;
use crate::verdict::history::LAST_TAKES;
use crate::verdict::{JudgedTake, Reason, StringVerdict, Verdict};

/// Fewer strings than this are not most of a chord.
const MOST_STRINGS_LEAST: usize = 3;
/// What was said of this many takes in a row has not helped.
const IN_A_ROW: usize = 2;
/// A chord was fine where this share of its strings was clean. A choice.
const FINE: f32 = 0.75;

/// A take with what is needed to hold the rules against it.
pub(super) struct Facts<'a> {
    pub take: &'a JudgedTake,
    pub hand: &'a Hand,
    history: &'a [JudgedTake],
}

impl<'a> Facts<'a> {
    /// `history`: the takes before, of which the last few count.
    pub fn of(take: &'a JudgedTake, hand: &'a Hand, history: &'a [JudgedTake]) -> Self {
        Facts {
            take,
            hand,
            history: &history[history.len().saturating_sub(LAST_TAKES)..],
        }
    }

    /// The strings that a rule speaks of; none where it does not hold.
    pub fn strings_of(&self, rule: &Rule) -> Vec<usize> {
        let strings: Vec<usize> = (0..STRINGS)
            .filter(|&s| rule.each.iter().all(|&each| self.holds_for(each, s)))
            .collect();
        let all = !strings.is_empty() && rule.all.iter().all(|&all| self.holds(all, &strings));
        if all { strings } else { Vec::new() }
    }

    fn holds_for(&self, each: Each, index: usize) -> bool {
        let string = &self.take.strings[index];
        let verdict = string.verdict;
        let dead = matches!(verdict, Verdict::Muted | Verdict::Choked);
        let sounds = |fret: Option<u8>| {
            verdict == Verdict::WrongFret && fret.is_some() && string.heard_fret == fret
        };
        match each {
            Each::By(held) => held.contains(&self.hand.held(index)),
            Each::Dead => dead,
            Each::Unheard => verdict == Verdict::Muted || string.dead_or_dying(),
            Each::Buzzes => verdict == Verdict::Buzzing,
            Each::DeadOrBuzzes => dead || verdict == Verdict::Buzzing,
            Each::SoundsOpen => sounds(Some(0)) && string.expected_fret != Some(0),
            Each::SoundsBarre => sounds(self.hand.barre_fret()),
            Each::OneOff => fret_off(string).is_some_and(|off| off.abs() == 1),
            Each::Sounds => verdict == Verdict::Ringing,
            Each::Pressed => string.heard_fret.is_some_and(|fret| fret > 0),
            Each::Sharp => string.off_cents().is_some_and(|cents| cents > 0.0),
            Each::Off => string.off_cents().is_some(),
            Each::QuietAllowed => {
                verdict == Verdict::Silent && self.hand.may_go_quiet == Some(string.string)
            }
            Each::QuietOtherwise => self.hand.quiet_otherwise == Some(string.string),
            Each::Unsure => verdict == Verdict::Unsure && string.reason != Some(Reason::NotAsked),
            Each::Inside => self.hand.inside_barre(index),
            Each::BesideTip => self.leaning_on(index).is_some(),
            Each::BesideRingingTip => self.leaning_on(index).is_some_and(|tip| self.rings(tip)),
            Each::AwayFromTips => self.leaning_on(index).is_none(),
            Each::AtEdge => self.at_edge(index),
            Each::Below => self
                .take
                .frets
                .sounding()
                .next()
                .is_some_and(|(lowest, _)| index < lowest),
        }
    }

    /// Whether a dead string lies at the edge of those that should sound, with none between that is not dead, and most others
    /// are not dead.
    fn at_edge(&self, index: usize) -> bool {
        let expected: Vec<usize> = self.take.frets.sounding().map(|(s, _)| s).collect();
        let dead = |s: &usize| self.holds_for(Each::Dead, *s);
        let run =
            |strings: &mut dyn Iterator<Item = usize>| strings.take_while(dead).any(|s| s == index);
        let few = 2 * expected.iter().filter(|s| dead(s)).count() < expected.len();
        few && (run(&mut expected.iter().copied()) || run(&mut expected.iter().rev().copied()))
    }

    fn rings(&self, index: usize) -> bool {
        self.take.strings[index].verdict == Verdict::Clean
    }

    /// The string beside this one whose fingertip may lean on it: of two rather one that its finger
    /// holds well.
    pub fn leaning_on(&self, index: usize) -> Option<usize> {
        let mut tips = self.hand.tips_beside(index);
        let first = tips.next()?;
        Some(match tips.next() {
            Some(second) if self.rings(second) && !self.rings(first) => second,
            _ => first,
        })
    }

    fn holds(&self, all: All, strings: &[usize]) -> bool {
        let said = |s: &usize| &self.take.strings[*s];
        match all {
            All::AtLeast(count) => strings.len() >= count,
            All::AloneUnderBarre => {
                let failing = |&s: &usize| self.holds_for(Each::DeadOrBuzzes, s);
                self.hand.strings_of(1).filter(failing).count() == 1
            }
            All::TipsRing => {
                let tips: Vec<usize> = (0..STRINGS)
                    .filter(|&s| matches!(self.hand.held(s), HeldBy::Tip | HeldBy::Across))
                    .collect();
                tips.iter().filter(|&&s| self.rings(s)).count() * 2 > tips.len()
            }
            All::MostStrings => {
                let sounding = self.take.frets.sounding().count();
                strings.len() >= MOST_STRINGS_LEAST && 3 * strings.len() >= 2 * sounding
            }
            All::AlmostNothing => self.take.almost_nothing_rings(),
            All::BarreHeld => self.hand.barre_fret().is_some(),
            All::SameWay => {
                let way = |s: &usize| {
                    let frets = fret_off(said(s)).map(|off| off > 0);
                    frets.or(said(s).off_cents().map(|cents| cents > 0.0))
                };
                strings.iter().all(|s| way(s) == way(&strings[0]))
            }
            All::FineElsewhere => self.fine_elsewhere(),
            All::GuitarOff => self.take.guitar_is_off(),
            All::Strummed => self.take.manner == crate::take::Manner::Strummed,
        }
    }

    /// Whether the last takes at other frets rang for the most part.
    fn fine_elsewhere(&self) -> bool {
        let here = self.take.frets.lowest_held();
        let (mut clean, mut all) = (0, 0);
        for take in self.history {
            if take.judged() && take.frets.lowest_held() != here {
                all += take.frets.sounding().count();
                let rang = |s: &&StringVerdict| s.verdict == Verdict::Clean;
                clean += take.strings.iter().filter(rang).count();
            }
        }
        all > 0 && clean as f32 >= FINE * all as f32
    }

    /// The last takes of the same frets, as many as count as a row; `None` where there are fewer.
    pub fn last_alike(&self) -> Option<Vec<&JudgedTake>> {
        let alike = |t: &&JudgedTake| t.judged() && t.frets == self.take.frets;
        let last: Vec<&JudgedTake> = self
            .history
            .iter()
            .rev()
            .filter(alike)
            .take(IN_A_ROW)
            .collect();
        (last.len() == IN_A_ROW).then_some(last)
    }
}

/// Frets between what a string sounds and what it should, where it sounds another one.
pub(super) fn fret_off(string: &StringVerdict) -> Option<i16> {
    let (expected, heard) = (string.expected_fret?, string.heard_fret?);
    (string.verdict == Verdict::WrongFret).then(|| i16::from(heard) - i16::from(expected))
}
