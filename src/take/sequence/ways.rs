//! Ways to read the attacks that wait: the pieces that make the highest sum of log odds.

use super::super::attack::{Attack, Brought};
use super::super::{Manner, line};
use super::{LONGEST_PASS_GAP_S, LONGEST_TAIL_S, Sequence};
use crate::fretboard::STRINGS;
use crate::spectrum::median;
use crate::spectrum::partials::cents;

/// A pass has at least this many onsets, as many as a guitar has strings at most, and this many of them ring.
const LEAST_ONSETS: usize = 3;
const LEAST_NOTES: usize = 2;
/// A muted string in front of a pass, or behind it, keeps the pass's time within this factor.
const UNEVEN: f64 = 1.6;

// What the attacks in a row were is what makes the highest sum of log odds: half an attack's own for or
// against a chord, and what follows. Chosen on scenes of tests/ear/finding_takes/measure.rs and composed
// passes (seeds 20 to 25 and 7), rounded; a search found nothing that did better on other seeds.
/// A note that belongs to no take, and one shortly after a strum: there, what may be a strum is one.
const LOOSE: f64 = 1.0;
const LOOSE_AMONG_STRUMS: f64 = 4.5;
/// Where a chord is meant and nothing else comes, what rings is rather that chord of which little rings; the more so where a
/// note of it explains what rings.
const LOOSE_ALONE: f64 = 4.0;
const LOOSE_ALONE_EXPECTED: f64 = 10.0;
/// A chord of so many strings at most looks much like one of its notes. What a note of it explains is rather the chord even where
/// more comes: of 266 files of power chords struck four times, composed like those of scripts/found.rs to develop on, 222 are found
/// whole, otherwise 195. Where a chord of more strings is meant, 200 files of two single notes had twice as many takes.
const POWER_CHORD_STRINGS: usize = 3;
/// Where one string is meant, one that rings is what is meant.
const LOOSE_ONE: f64 = 10.0;
/// A pass is rare; each of its strokes speaks for it, a dead one less, a short pass less too.
const PASS: f64 = 14.0;
/// Two strokes are one only where a chord of two strings is meant.
const PASS_OF_TWO: f64 = 8.0;
const STROKE: f64 = 4.0;
const DEAD_STROKE: f64 = 3.0;
const FEW_NOTES: f64 = 0.5;
/// ... and more where a note of the chord that is meant explains it: at 2 no one of 4,400 composed passes (seeds 9500 and 9800) is
/// missed, at 1 five.
const EXPECTED_NOTE: f64 = 2.0;
/// Strokes keep time: standard deviation of a gap's natural logarithm, and the most one gap counts (one
/// stroke unheard leaves a double one).
const GAP_DEVIATION: f64 = 0.28;
const GAP_MOST: f64 = 3.0;
/// A thud within a pass that is no stroke of it (a tap, a finger that shifts), where the others keep time.
const NO_STROKE: f64 = 3.0;
/// What is taken for a strum one usual gap before a pass was more likely its first stroke: a string on which
/// others resonate is easily taken for several. On 720 composed passes (seeds 501 and 502) it brought the clean
/// strings called dead from 0.0077 to 0.0055, at 2, 3 and 4 alike, and cost none of 2,058 strums of
/// tests/ear/finding_takes/measure.rs (seeds 31 to 33).
const STRUM_IN_TIME: f64 = 3.0;
/// So was what is taken for a strum when the pass's next stroke is due and a string is left, unless it brings more
/// new lines than one string: of 4,264 strings picked while three or more rang, one in twenty did; of 96 strums
/// of a chord that was picked just before, all but one in twenty. On 3,300 composed passes (seed 602) it brought the
/// clean strings called dead from 0.0031 to 0.0019; in tests/ear/finding_takes/measure.rs (seeds 41 to 50) it cost none
/// of 6,822 strums, and one of 120 that came in the time of a pass.
const STRUM_AFTER_IN_TIME: f64 = 6.0;

/// Attacks `from..to` of those that wait, and what they were.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Piece {
    /// `None`: no take but a note of a melody, or a thud.
    pub manner: Option<Manner>,
    pub from: usize,
    pub to: usize,
    /// One of them that is no stroke of the pass.
    left_out: Option<usize>,
}

impl Piece {
    pub fn strokes<'a>(&self, waiting: &'a [Attack]) -> impl Iterator<Item = &'a Attack> {
        let left_out = self.left_out;
        let all = waiting.iter().enumerate().take(self.to).skip(self.from);
        all.filter(move |(i, _)| Some(*i) != left_out)
            .map(|(_, attack)| attack)
    }
}

/// The best way to take the attacks up to one of them: log odds, last piece, when the last strum began.
#[derive(Debug, Clone, Copy)]
pub(super) struct Way {
    odds: f64,
    last: Piece,
    strum: Option<u64>,
}

impl Sequence {
    /// Finds what the waiting attacks are by what has come so far.
    pub(super) fn weigh(&mut self) {
        self.ways.clear();
        let none = Piece {
            manner: None,
            from: 0,
            to: 0,
            left_out: None,
        };
        self.ways.push(Way {
            odds: 0.0,
            last: none,
            strum: self.strum,
        });
        for at in 0..self.waiting.len() {
            let best = self.best_to(at);
            self.ways.push(best);
        }
        self.pieces.clear();
        let mut to = self.waiting.len();
        while to > 0 {
            let last = self.ways[to].last;
            self.pieces.push(last);
            to = last.from;
        }
        self.pieces.reverse();
    }

    /// The best way to take the attacks up to and with the one `at`.
    fn best_to(&self, at: usize) -> Way {
        let attack = &self.waiting[at];
        let before = self.ways[at];
        let piece = |manner, from| Piece {
            manner,
            from,
            to: at + 1,
            left_out: None,
        };
        let tail = self.samples(LONGEST_TAIL_S);
        let among_strums = before.strum.is_some_and(|s| attack.first() < s + tail);
        let mut best = Way {
            last: piece(None, at),
            ..before
        };
        if attack.may_be_strum() {
            let half = match self.is_one_meant() {
                true => 0.0,
                false => attack.several() / 2.0,
            };
            let in_time = if self.follows_in_time(before.last, attack) {
                STRUM_AFTER_IN_TIME
            } else {
                0.0
            };
            let strum = Way {
                odds: before.odds + half - in_time,
                last: piece(Some(Manner::Strummed), at),
                strum: Some(attack.first()),
            };
            best.odds -= half;
            best.odds -= self.loose(attack, among_strums);
            if strum.odds > best.odds {
                best = strum;
            }
        }
        if self.is_one_meant() {
            return best;
        }
        let least = self.least_onsets();
        for from in at.saturating_sub(STRINGS)..(at + 2).saturating_sub(least) {
            let inside = (from + 1..at).filter(|&i| !self.waiting[i].rings());
            for left_out in inside.map(Some).chain([None]) {
                let pass = Piece {
                    left_out,
                    ..piece(Some(Manner::Picked), from)
                };
                let Some(odds) = self.pass_odds(pass) else {
                    continue;
                };
                let odds = self.ways[from].odds + odds;
                if odds > best.odds {
                    best = Way {
                        odds,
                        last: pass,
                        strum: self.ways[from].strum,
                    };
                }
            }
        }
        best
    }

    /// What it costs that an attack belongs to no take.
    fn loose(&self, attack: &Attack, among_strums: bool) -> f64 {
        match attack.brought {
            _ if self.is_one_meant() => LOOSE_ONE,
            _ if among_strums => LOOSE_AMONG_STRUMS,
            Brought::Strings { expected: true, .. }
                if !self.over && self.is_power_chord_meant() =>
            {
                LOOSE_ALONE
            }
            _ if !self.over || self.expected.is_none() => LOOSE,
            Brought::Strings { expected: true, .. } => LOOSE_ALONE_EXPECTED,
            _ => LOOSE_ALONE,
        }
    }

    fn is_power_chord_meant(&self) -> bool {
        self.expected
            .is_some_and(|n| (2..=POWER_CHORD_STRINGS).contains(&n))
    }

    /// The strokes of a piece, and how many there are; `None` where there are more than strings.
    fn strokes(&self, piece: Piece) -> Option<([&Attack; STRINGS], usize)> {
        let mut strokes = [self.waiting.get(piece.from)?; STRINGS];
        let mut count = 0;
        for stroke in piece.strokes(&self.waiting) {
            *strokes.get_mut(count)? = stroke;
            count += 1;
        }
        Some((strokes, count))
    }

    /// May an attack be the next stroke of the pass before it, due when it comes?
    fn follows_in_time(&self, before: Piece, attack: &Attack) -> bool {
        let Some((strokes, count)) = self.strokes(before) else {
            return false;
        };
        before.manner == Some(Manner::Picked)
            && (1..STRINGS).contains(&count)
            && attack.may_be_one()
            && even(
                gap(&[strokes[count - 1], attack]),
                usual_gap(&strokes[..count]),
            )
    }

    /// Does what was taken for a strum before a pass keep the pass's time?
    fn strum_in_time(&self, from: usize, pass: &[&Attack]) -> bool {
        let before = self.ways[from];
        let strum = before
            .strum
            .filter(|_| before.last.manner == Some(Manner::Strummed));
        strum.is_some_and(|strum| even(pass[0].first() - strum, usual_gap(pass)))
    }

    /// A pass has at least so many strokes.
    fn least_onsets(&self) -> usize {
        self.expected
            .map_or(LEAST_ONSETS, |n| n.clamp(2, LEAST_ONSETS))
    }

    /// Log odds for one pass over both strings of a chord that has no more; `None` where it cannot be one: then one of them is
    /// plainly a note of it, and the other another one, or dead.
    fn pass_of_two_odds(&self, strokes: [&Attack; 2]) -> Option<f64> {
        let one = |a: &Attack| a.brought.is_one_string() && a.brought.is_expected();
        let [first, second] = strokes;
        if gap(&strokes) > self.samples(LONGEST_PASS_GAP_S) {
            return None;
        }
        let both = (first.hz().zip(second.hz()))
            .is_some_and(|(a, b)| cents(b, a).abs() >= line::LEAST_STEP_CENTS);
        let odds = |a: &Attack| match a.brought {
            Brought::Strings { several, .. } => STROKE - several / 2.0 + EXPECTED_NOTE,
            Brought::Hint { .. } => STROKE + EXPECTED_NOTE,
            Brought::Dead | Brought::Thud => DEAD_STROKE,
        };
        let dead = |a: &Attack| a.brought == Brought::Thud;
        let fits = (both && (one(first) || one(second)))
            || (one(first) && dead(second))
            || (dead(first) && one(second));
        fits.then(|| odds(first) + odds(second) - PASS_OF_TWO)
    }

    /// Log odds for one pass over the strings; `None` where it cannot be one.
    fn pass_odds(&self, pass: Piece) -> Option<f64> {
        let (strokes, count) = self.strokes(pass)?;
        let attacks = &strokes[..count];
        if let (&[first, second], Some(2)) = (attacks, self.expected) {
            return self.pass_of_two_odds([first, second]);
        }
        if count < LEAST_ONSETS || attacks.iter().any(|a| a.is_surely_chord()) {
            return None;
        }
        let sounds = |a: &&&Attack| !matches!(a.brought, Brought::Dead | Brought::Thud);
        let notes = attacks.iter().filter(sounds).count();
        let expected = attacks.iter().filter(|a| a.brought.is_expected()).count();
        let few = notes < 3 && attacks.len() < 4 && expected < notes;
        if notes < LEAST_NOTES || few {
            return None;
        }
        let gaps = || attacks.windows(2).map(gap);
        let usual = usual_gap(attacks);
        let dead_end = |attack: &Attack, gap: u64| !attack.rings() && !even(gap, usual);
        let (first, last) = (&attacks[..2], &attacks[attacks.len() - 2..]);
        if gaps().any(|gap| gap > self.samples(LONGEST_PASS_GAP_S))
            || dead_end(first[0], gap(first))
            || dead_end(last[1], gap(last))
            || (pass.left_out.is_some() && !gaps().all(|gap| even(gap, usual)))
        {
            return None;
        }
        let mut odds = -PASS;
        for attack in attacks {
            odds += match attack.brought {
                Brought::Strings { several, .. } => STROKE - several / 2.0,
                Brought::Hint { .. } => STROKE,
                Brought::Dead | Brought::Thud => DEAD_STROKE,
            };
        }
        for gap in gaps() {
            let off = (gap as f64 / usual.max(1) as f64).ln() / GAP_DEVIATION;
            odds -= (off * off / 2.0).min(GAP_MOST);
        }
        odds += EXPECTED_NOTE * expected as f64;
        if notes <= LEAST_ONSETS {
            odds -= FEW_NOTES;
        }
        if pass.left_out.is_some() {
            odds -= NO_STROKE;
        }
        if count < STRINGS && self.strum_in_time(pass.from, attacks) {
            odds -= STRUM_IN_TIME;
        }
        let mut pitches = [0f64; STRINGS];
        let mut known = 0;
        for hz in attacks.iter().filter_map(|a| a.hz()) {
            pitches[known] = hz;
            known += 1;
        }
        Some(odds - line::cost(&mut pitches[..known], count)?)
    }
}

/// Samples from the first of two attacks to the second.
fn gap(pair: &[&Attack]) -> u64 {
    pair[1].first() - pair[0].first()
}

/// The middle one of the gaps between at least two attacks, at most [`STRINGS`].
fn usual_gap(attacks: &[&Attack]) -> u64 {
    let mut gaps = [0u64; STRINGS - 1];
    let gaps = &mut gaps[..attacks.len() - 1];
    for (into, pair) in gaps.iter_mut().zip(attacks.windows(2)) {
        *into = gap(pair);
    }
    median(gaps, Ord::cmp).expect("attacks have a gap")
}

fn even(gap: u64, usual: u64) -> bool {
    let (gap, usual) = (gap as f64, usual as f64);
    gap < usual * UNEVEN && gap > usual / UNEVEN
}
