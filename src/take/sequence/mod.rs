//! Takes from single attacks: which attacks stand alone, and which form one slow pass.

mod ways;

use super::attack::Attack;
use super::{Manner, OpenTake, Take};
use crate::fretboard::STRINGS;
use ways::{Piece, Way};

/// A take whose limits are known, but for the sound dying away earlier.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cut {
    pub onsets: Vec<u64>,
    pub manner: Manner,
    pub middle: Option<u64>,
    pub end: u64,
    pub cut_by_next: bool,
}

/// A take is over this long after its last onset.
const LONGEST_TAIL_S: f64 = 4.0;
/// Strings picked further apart than this are no longer one pass.
pub(super) const LONGEST_PASS_GAP_S: f64 = 1.6;
/// As many attacks wait at most to be told what they were: two passes.
const MOST_WAITING: usize = 2 * STRINGS;

/// A take whose end is not known yet.
#[derive(Debug, Clone, PartialEq)]
struct UnendedTake {
    onsets: Vec<u64>,
    manner: Manner,
    middle: Option<u64>,
}

impl UnendedTake {
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
    open: Option<UnendedTake>,
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

    /// Sets how many strings the chord has that is meant from here on.
    pub fn expect(&mut self, strings: Option<usize>) {
        self.expected = strings;
    }

    /// Tells whether a single string is meant. Then each that rings is a take, and none is a stroke of a pass.
    pub fn is_one_meant(&self) -> bool {
        self.expected == Some(1)
    }

    fn samples(&self, seconds: f64) -> u64 {
        (seconds * self.rate_hz) as u64
    }

    /// The earliest onset that may still be part of a take to come.
    pub fn oldest(&self) -> Option<u64> {
        let open = self.open.iter().map(UnendedTake::first);
        open.chain(self.waiting.first().map(Attack::first)).min()
    }

    /// The take that is sounding; no attack before `unheard` will come.
    pub fn sounding(&self, unheard: u64) -> Option<OpenTake> {
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
                let enough = first + self.samples(Take::JUDGED_S);
                (first, next.unwrap_or(unheard) >= enough)
            }
        };
        Some(OpenTake {
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
        let chord = attack.is_surely_chord();
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
        let over = |open: &UnendedTake| now > open.last() + tail;
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
            let (onsets, middle) = match manner {
                Manner::Strummed => {
                    let strum = &self.waiting[from];
                    self.strum = Some(strum.first());
                    (strum.onsets.clone(), strum.middle)
                }
                Manner::Picked => {
                    let strokes = piece.strokes(&self.waiting);
                    (strokes.map(Attack::first).collect(), None)
                }
            };
            self.open = Some(UnendedTake {
                onsets,
                manner,
                middle,
            });
        }
        if let Some(last) = self.pieces[..count].last() {
            self.waiting.drain(..last.to);
            self.weigh();
        }
    }

    fn close(&mut self, end: u64, cut_by_next: bool, cuts: &mut Vec<Cut>) {
        if let Some(open) = self.open.take() {
            let tail = open.last() + self.samples(LONGEST_TAIL_S);
            cuts.push(Cut {
                onsets: open.onsets,
                manner: open.manner,
                middle: open.middle,
                end: end.min(tail),
                cut_by_next: cut_by_next && end <= tail,
            });
        }
    }
}

#[cfg(test)]
mod tests;
