//! From single attacks to takes: which attacks stand alone, and which form one slow pass.

use super::attack::{Attack, Brought};
use super::{Manner, Open, Strum, line};
use crate::fretboard::STRINGS;

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
pub(super) const LONGEST_PASS_GAP_S: f64 = 1.6;
/// A pass has at least this many onsets, as many as a guitar has strings at most, and this many of them ring.
const LEAST_ONSETS: usize = 3;
const LEAST_NOTES: usize = 2;
/// A muted string in front of a pass, or behind it, keeps the pass's time within this factor.
const UNEVEN: f64 = 1.6;

// What the attacks in a row were is what makes the highest sum of log odds: half an attack's own for or
// against a chord, and what follows. Chosen on scenes of tests/finding_takes/measure.rs and composed
// passes (seeds 20 to 25 and 7), rounded; a search found nothing that did better on other seeds.
/// A note that belongs to no take, and one shortly after a strum: there, what may be a strum is one.
const LOOSE: f64 = 1.0;
const LOOSE_AMONG_STRUMS: f64 = 4.5;
/// Where a chord is meant and nothing else comes, what rings is rather that chord of which little rings; the more so where a
/// note of it explains what rings.
const LOOSE_ALONE: f64 = 4.0;
const LOOSE_ALONE_EXPECTED: f64 = 10.0;
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
/// tests/finding_takes/measure.rs (seeds 31 to 33).
const STRUM_IN_TIME: f64 = 3.0;
/// So was what is taken for a strum when the pass's next stroke is due and a string is left, unless it brings more
/// new lines than one string: of 4,264 strings picked while three or more rang, one in twenty did; of 96 strums
/// of a chord that was picked just before, all but one in twenty. On 3,300 composed passes (seed 602) it brought the
/// clean strings called dead from 0.0031 to 0.0019; in tests/finding_takes/measure.rs (seeds 41 to 50) it cost none
/// of 6,822 strums, and one of 120 that came in the time of a pass.
const STRUM_AFTER_IN_TIME: f64 = 6.0;
/// No pass takes in an attack that is a chord by these log odds and brings more new lines than one string:
/// joining brings no more than a stroke's own and what it saves of a second pass.
const CHORD_FOR_SURE: f64 = 8.0;
/// As many attacks wait at most to be told what they were: two passes.
const MOST_WAITING: usize = 2 * STRINGS;

/// Attacks `from..to` of those that wait, and what they were.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Piece {
    /// `None`: no take but a note of a melody, or a thud.
    manner: Option<Manner>,
    from: usize,
    to: usize,
    /// One of them that is no stroke of the pass.
    left_out: Option<usize>,
}

impl Piece {
    fn strokes<'a>(&self, waiting: &'a [Attack]) -> impl Iterator<Item = &'a Attack> {
        let left_out = self.left_out;
        let all = waiting.iter().enumerate().take(self.to).skip(self.from);
        all.filter(move |(i, _)| Some(*i) != left_out)
            .map(|(_, attack)| attack)
    }
}

/// The best way to take the attacks up to one of them: log odds, last piece, when the last strum began.
#[derive(Debug, Clone, Copy)]
struct Way {
    odds: f64,
    last: Piece,
    strum: Option<u64>,
}

/// A take whose end is not known yet.
#[derive(Debug, Clone, PartialEq)]
struct Sounding {
    onsets: Vec<u64>,
    manner: Manner,
}

impl Sounding {
    fn first(&self) -> u64 {
        self.onsets[0]
    }

    fn last(&self) -> u64 {
        self.onsets[self.onsets.len() - 1]
    }
}

/// Sorts attacks into takes as they come.
#[derive(Debug, Clone)]
pub(super) struct Sequence {
    rate_hz: f64,
    /// The take that is sounding, where it is certain that it is one.
    open: Option<Sounding>,
    /// When the last strum among the attacks told began.
    strum: Option<u64>,
    /// How many strings the chord has that is meant.
    expected: Option<usize>,
    /// Whether it is certain that nothing follows what waits.
    over: bool,
    /// Attacks that what comes may yet make part of something else.
    waiting: Vec<Attack>,
    /// What they are by what has come so far.
    pieces: Vec<Piece>,
    ways: Vec<Way>,
}

impl Sequence {
    pub fn new(rate_hz: u32) -> Self {
        Sequence {
            rate_hz: f64::from(rate_hz),
            open: None,
            strum: None,
            expected: None,
            over: false,
            waiting: Vec::with_capacity(MOST_WAITING + 1),
            pieces: Vec::with_capacity(MOST_WAITING + 1),
            ways: Vec::with_capacity(MOST_WAITING + 2),
        }
    }

    /// From here on a chord with so many strings is meant.
    pub fn expect(&mut self, strings: Option<usize>) {
        self.expected = strings;
    }

    /// Tells how many strings the chord has that is meant.
    pub fn expected(&self) -> Option<usize> {
        self.expected
    }

    /// Is it a single string that is meant? Then each that rings is a take, and none is a stroke of a pass.
    pub fn is_one_meant(&self) -> bool {
        self.expected == Some(1)
    }

    fn samples(&self, seconds: f64) -> u64 {
        (seconds * self.rate_hz) as u64
    }

    /// The earliest onset that may still be part of a take to come.
    pub fn oldest(&self) -> Option<u64> {
        let open = self.open.iter().map(Sounding::first);
        open.chain(self.waiting.first().map(Attack::first)).min()
    }

    /// The take that is sounding; no attack before `unheard` will come.
    pub fn sounding(&self, unheard: u64) -> Option<Open> {
        let waits = self.pieces.iter().rev().find_map(|p| Some((p, p.manner?)));
        let (manner, first, last, rest) = match waits {
            Some((piece, manner)) => {
                let (from, to) = (piece.from, piece.to);
                let (first, last) = (&self.waiting[from], &self.waiting[to - 1]);
                (manner, first.first(), last.first(), &self.waiting[to..])
            }
            None => {
                let open = self.open.as_ref()?;
                (open.manner, open.first(), open.last(), &self.waiting[..])
            }
        };
        let (last, complete) = match manner {
            Manner::Picked => (last, unheard > last + self.samples(LONGEST_PASS_GAP_S)),
            Manner::Strummed => {
                let next = rest.iter().find(|a| a.may_be_strum()).map(Attack::first);
                let enough = first + self.samples(Strum::JUDGED_S);
                (first, next.unwrap_or(unheard) >= enough)
            }
        };
        Some(Open {
            first,
            last,
            manner,
            complete,
        })
    }

    /// Takes the next attack in time.
    pub fn attack(&mut self, attack: Attack, cuts: &mut Vec<Cut>) {
        let gap = self.samples(LONGEST_PASS_GAP_S);
        let at = attack.first();
        if self.waiting.last().is_some_and(|l| at > l.first() + gap) {
            self.tell_all(cuts);
        }
        let chord = attack.several() > CHORD_FOR_SURE && !attack.may_be_one();
        self.waiting.push(attack);
        self.weigh();
        if chord || self.is_one_meant() {
            self.tell(self.pieces.len(), cuts);
        } else if self.waiting.len() > MOST_WAITING {
            self.tell(1, cuts);
        }
    }

    /// Closes what can no longer change, now that no attack can come before `now`.
    pub fn advance(&mut self, now: u64, cuts: &mut Vec<Cut>) {
        let gap = self.samples(LONGEST_PASS_GAP_S);
        if self.waiting.last().is_some_and(|l| now > l.first() + gap) {
            self.tell_all(cuts);
        }
        let tail = self.samples(LONGEST_TAIL_S);
        let over = |open: &Sounding| now > open.last() + tail;
        if self.waiting.is_empty() && self.open.as_ref().is_some_and(over) {
            self.close(now, false, cuts);
        }
    }

    /// The recording ends.
    pub fn finish(&mut self, end: u64, cuts: &mut Vec<Cut>) {
        self.tell_all(cuts);
        self.close(end, false, cuts);
    }

    /// Settles what waits, now that nothing follows it.
    fn tell_all(&mut self, cuts: &mut Vec<Cut>) {
        if self.waiting.len() == 1 {
            self.over = true;
            self.weigh();
            self.over = false;
        }
        self.tell(self.pieces.len(), cuts);
    }

    /// Settles the first `count` pieces of what waits.
    fn tell(&mut self, count: usize, cuts: &mut Vec<Cut>) {
        for at in 0..count {
            let piece = self.pieces[at];
            let Piece {
                manner, from, to, ..
            } = piece;
            let struck = manner.is_some() || self.waiting[from..to].iter().any(Attack::rings);
            if struck {
                // A melody note is no take, but it is not the last strum's doing either.
                self.close(self.waiting[from].first(), true, cuts);
            }
            let Some(manner) = manner else { continue };
            let onsets = match manner {
                Manner::Strummed => {
                    let strum = &self.waiting[from];
                    self.strum = Some(strum.first());
                    strum.onsets.clone()
                }
                Manner::Picked => piece.strokes(&self.waiting).map(Attack::first).collect(),
            };
            self.open = Some(Sounding { onsets, manner });
        }
        if let Some(last) = self.pieces[..count].last() {
            self.waiting.drain(..last.to);
            self.weigh();
        }
    }

    /// Finds what the waiting attacks are by what has come so far.
    fn weigh(&mut self) {
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
            _ if !self.over || self.expected.is_none() => LOOSE,
            Brought::Strings { expected: true, .. } => LOOSE_ALONE_EXPECTED,
            _ => LOOSE_ALONE,
        }
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
            .is_some_and(|(a, b)| (1200.0 * (a / b).log2()).abs() >= line::LEAST_STEP_CENTS);
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
        if count < LEAST_ONSETS {
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

    fn close(&mut self, end: u64, cut_by_next: bool, cuts: &mut Vec<Cut>) {
        if let Some(open) = self.open.take() {
            let tail = open.last() + self.samples(LONGEST_TAIL_S);
            cuts.push(Cut {
                onsets: open.onsets,
                manner: open.manner,
                end: end.min(tail),
                cut_by_next: cut_by_next && end <= tail,
            });
        }
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
    gaps.sort_unstable();
    gaps[gaps.len() / 2]
}

fn even(gap: u64, usual: u64) -> bool {
    let (gap, usual) = (gap as f64, usual as f64);
    gap < usual * UNEVEN && gap > usual / UNEVEN
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: u32 = 1_000;

    fn rings(at: u64, several: f64, hz: Option<f64>) -> Attack {
        with_lines(at, several, hz, 8)
    }

    fn with_lines(at: u64, several: f64, hz: Option<f64>, lines: usize) -> Attack {
        Attack {
            onsets: vec![at],
            brought: Brought::Strings {
                several,
                hz,
                lines,
                expected: false,
            },
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
    fn one_pitch_of_a_short_pass_may_be_heard_an_octave_off_but_not_two() {
        let found = |pitches: &[f64]| {
            let cuts = cuts(pass(500, pitches), 5_000).into_iter();
            cuts.map(|c| c.0.len()).collect::<Vec<_>>()
        };
        assert_eq!(found(&[110.0, 147.0, 392.0, 247.0]), [4]);
        assert!(found(&[110.0, 294.0, 98.0, 247.0]).is_empty());
    }

    fn expected(at: u64, several: f64, hz: f64) -> Attack {
        let mut attack = rings(at, several, Some(hz));
        if let Brought::Strings { expected, .. } = &mut attack.brought {
            *expected = true;
        }
        attack
    }

    #[test]
    fn two_notes_and_a_dead_string_are_a_pass_only_where_both_are_expected() {
        let found = |two: [Attack; 2]| {
            let [one, other] = two;
            cuts(vec![one, other, thud(1_500)], 3_000).len()
        };
        let (one, other) = (expected(500, -4.0, 147.0), expected(1_000, -4.0, 220.0));
        assert_eq!(found([one.clone(), other]), 1);
        assert_eq!(found([one, rings(1_000, -4.0, Some(220.0))]), 0);
    }

    #[test]
    fn a_hint_of_an_expected_note_is_a_stroke_of_a_pass_and_no_take_by_itself() {
        let hint = |at: u64, hz: f64| Attack {
            onsets: vec![at],
            brought: Brought::Hint { hz },
        };
        assert_eq!(cuts(vec![hint(500, 147.0)], 3_000), []);
        let pass = |last: Attack| {
            let first = [thud(500), expected(1_000, -1.5, 147.0), thud(1_500)];
            cuts(first.into_iter().chain([last]).collect(), 4_000).len()
        };
        assert_eq!(pass(hint(2_000, 349.0)), 1);
        assert_eq!(pass(thud(2_000)), 0);
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
    fn a_tap_between_the_strokes_of_a_pass_is_none_of_them() {
        let mut attacks = pass(500, &[110.0, 147.0, 196.0]);
        attacks.push(thud(1_750));
        attacks.extend(pass(2_000, &[247.0, 330.0, 440.0]));
        let onsets: Vec<_> = cuts(attacks, 6_000).into_iter().map(|c| c.0).collect();
        assert_eq!(onsets, [[500, 1_000, 1_500, 2_000, 2_500, 3_000]]);
    }

    #[test]
    fn what_seemed_a_strum_is_the_first_of_a_pass_only_where_it_keeps_the_time() {
        let with = |at: u64| {
            let mut attacks = vec![rings(at, 5.0, None)];
            attacks.extend(pass(2_000, &[165.0, 220.0, 330.0]));
            let onsets = cuts(attacks, 6_000).into_iter().map(|c| c.0);
            onsets.collect::<Vec<_>>()
        };
        assert_eq!(with(1_500), [vec![1_500, 2_000, 2_500, 3_000]]);
        assert_eq!(with(800), [vec![800], vec![2_000, 2_500, 3_000]]);
    }

    #[test]
    fn what_seems_a_strum_is_the_last_of_a_pass_where_it_is_due_and_brings_no_more_than_a_string() {
        let with = |at: u64, lines: usize| {
            let mut attacks = pass(500, &[110.0, 147.0, 196.0, 247.0]);
            attacks.push(with_lines(at, 9.0, None, lines));
            let onsets = cuts(attacks, 6_000).into_iter().map(|c| c.0);
            onsets.collect::<Vec<_>>()
        };
        let four = vec![500, 1_000, 1_500, 2_000];
        assert_eq!(with(2_500, 9), [[&four[..], &[2_500]].concat()]);
        assert_eq!(with(2_500, 18), [four.clone(), vec![2_500]]);
        assert_eq!(with(3_200, 9), [four, vec![3_200]]);
    }

    #[test]
    fn a_take_is_cut_four_seconds_after_its_last_onset() {
        assert_eq!(cuts(vec![rings(500, 8.0, None)], 20_000)[0].2, 4_500);
    }
}
