//! Counts of one voicing, and the takes that stand for its others.

use std::cmp::{Ordering, Reverse};
use std::collections::HashMap;

use super::causes::Causes;
use super::over_time::OverTime;
use super::{ChordSummary, StringSummary};
use crate::fretboard::{Frets, STRINGS, string_number};
use crate::report::page::played::PlayedTake;
use crate::verdict::{JudgedTake, Verdict};

/// How good a take is: of two with as many faults, the one of which less is known, or whose strings rang less,
/// is the worse.
type Goodness = (Reverse<(usize, usize)>, f32);

fn goodness(take: &JudgedTake) -> Goodness {
    let rang = take.strings.iter().map(|s| match s.expected_fret {
        Some(_) => s.rings,
        None => 1.0 - s.rings,
    });
    let wrong = (faults(take), unsure(take));
    (Reverse(wrong), rang.sum::<f32>())
}

fn order(a: &Goodness, b: &Goodness) -> Ordering {
    a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
}

/// A take that stands for others.
#[derive(Debug)]
struct Example {
    goodness: Goodness,
    at: usize,
    played: PlayedTake,
}

/// What is counted of one voicing.
#[derive(Debug)]
pub(super) struct VoicingCounts {
    frets: Frets,
    chord: Option<String>,
    pub(super) takes: usize,
    judged: usize,
    clean: usize,
    /// How often each string of judged takes got each verdict, in the order of [`Verdict::ALL`].
    verdicts: [[usize; Verdict::ALL.len()]; STRINGS],
    over_time: OverTime,
    causes: Causes,
    worst: Option<Example>,
    best: Option<Example>,
}

impl VoicingCounts {
    pub(super) fn new(frets: Frets) -> Self {
        VoicingCounts {
            frets,
            chord: None,
            takes: 0,
            judged: 0,
            clean: 0,
            verdicts: Default::default(),
            over_time: OverTime::default(),
            causes: Causes::default(),
            worst: None,
            best: None,
        }
    }

    pub(super) fn add(&mut self, at: usize, played: PlayedTake) {
        let take = &played.take;
        self.takes += 1;
        self.clean += usize::from(played.is_clean());
        if self.chord.is_none() {
            self.chord.clone_from(&take.chord);
        }
        self.causes.add(take);
        if !take.judged() {
            return;
        }
        self.judged += 1;
        for (counts, string) in self.verdicts.iter_mut().zip(&take.strings) {
            counts[column(string.verdict)] += 1;
        }
        self.over_time
            .add(played.when.map(|when| when.date()), played.is_clean());
        let goodness = goodness(take);
        let is_best = (self.best.as_ref()).is_none_or(|e| order(&goodness, &e.goodness).is_ge());
        let is_worst = (self.worst.as_ref()).is_none_or(|e| order(&goodness, &e.goodness).is_lt());
        let example = |played| {
            Some(Example {
                goodness,
                at,
                played,
            })
        };
        match (is_worst, is_best) {
            (true, true) => {
                self.worst = example(played.clone());
                self.best = example(played);
            }
            (true, false) => self.worst = example(played),
            (false, true) => self.best = example(played),
            (false, false) => {}
        }
    }

    pub(super) fn finish(self, named: &mut HashMap<usize, PlayedTake>) -> ChordSummary {
        let mut name = |example: Option<Example>| {
            let Example { at, played, .. } = example?;
            named.insert(at, played);
            Some(at)
        };
        let some_fault = self.clean < self.judged;
        let worst = name(self.worst.filter(|_| some_fault));
        let best = name(self.best);
        ChordSummary {
            chord: self.chord,
            frets: self.frets,
            takes: self.takes,
            judged: self.judged,
            clean: self.clean,
            strings: (self.verdicts.iter().enumerate())
                .map(|(index, counts)| StringSummary::of(index, self.frets, counts))
                .collect(),
            over_time: self.over_time.finish(),
            causes: self.causes.finish(),
            worst,
            best: best.filter(|_| best != worst),
        }
    }
}

fn unsure(take: &JudgedTake) -> usize {
    let verdicts = take.strings.iter().map(|s| s.verdict);
    verdicts.filter(|&v| v == Verdict::Unsure).count()
}

fn faults(take: &JudgedTake) -> usize {
    take.strings.iter().filter(|s| s.verdict.is_fault()).count()
}

/// Where a verdict is counted.
fn column(verdict: Verdict) -> usize {
    Verdict::ALL.iter().position(|v| *v == verdict).unwrap_or(0)
}

impl StringSummary {
    fn of(index: usize, frets: Frets, counts: &[usize; Verdict::ALL.len()]) -> Self {
        let times = |verdict: Verdict| counts[column(verdict)];
        let unsure = times(Verdict::Unsure);
        StringSummary {
            string: string_number(index),
            expected_fret: frets.0[index],
            told: counts.iter().sum::<usize>() - unsure,
            as_it_should: times(Verdict::Clean) + times(Verdict::Silent),
            muted: times(Verdict::Muted),
            choked: times(Verdict::Choked),
            buzzing: times(Verdict::Buzzing),
            wrong_fret: times(Verdict::WrongFret),
            ringing: times(Verdict::Ringing),
            unsure,
        }
    }
}
