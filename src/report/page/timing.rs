//! Timing of strums that were played along with a backing: by tempo and by change.

use std::collections::{BTreeMap, HashMap};

use serde::Serialize;

use super::super::playing::late;
use super::PlayedTake;
use crate::practice::progress::{tempo_from, tempo_range};
use crate::progression::timing::{Spread, in_time};
use crate::words;

/// A strum against its beat.
#[derive(Debug, Clone, PartialEq)]
pub struct TimedStrum {
    /// Late by so many ms, early where negative.
    pub off_ms: f64,
    /// Tempo in beats a minute.
    pub tempo_bpm: Option<f64>,
    /// The chord left, where the strum ends a change.
    pub from: Option<String>,
}

/// Strums that have something in common.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TimeSummary {
    /// "70 to 79", "F to Bb", "all".
    pub name: String,
    /// Number of strums.
    pub strums: usize,
    /// Strums within 50 ms of their beat.
    pub in_time: usize,
    /// Late by so many ms, early where negative: the middle one of all.
    pub usually_ms: f64,
    /// Two thirds of the strums lie within so many ms of that.
    pub steady_ms: f64,
    /// The same in words: "12 ms late".
    #[serde(rename = "usually")]
    pub said: String,
}

/// All strums that were played along; `None` where none were.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StrumTiming {
    /// All strums together.
    pub all: TimeSummary,
    /// The same by tempo, the slowest first.
    pub tempos: Vec<TimeSummary>,
    /// The commonest change first.
    pub changes: Vec<TimeSummary>,
}

/// Takes that kept time, as they come.
#[derive(Debug, Default)]
pub(super) struct TimingGatherer {
    offs_ms: Vec<f64>,
    tempos: BTreeMap<u32, Vec<f64>>,
    /// As they came, and where each one is.
    changes: Vec<(String, Vec<f64>)>,
    by_name: HashMap<String, usize>,
}

impl TimingGatherer {
    pub fn add(&mut self, played: &PlayedTake) {
        let Some(kept) = played.kept.as_ref().filter(|k| k.off_ms.is_finite()) else {
            return;
        };
        self.offs_ms.push(kept.off_ms);
        if let Some(bpm) = kept.tempo_bpm {
            self.tempos
                .entry(tempo_from(bpm))
                .or_default()
                .push(kept.off_ms);
        }
        if let (Some(from), Some(to)) = (&kept.from, &played.take.chord) {
            let name = words::playing::change(from, to);
            let index = *self.by_name.entry(name).or_insert_with_key(|name| {
                self.changes.push((name.clone(), Vec::new()));
                self.changes.len() - 1
            });
            self.changes[index].1.push(kept.off_ms);
        }
    }

    pub fn finish(mut self) -> Option<StrumTiming> {
        self.changes
            .sort_by_key(|(_, offs)| std::cmp::Reverse(offs.len()));
        let tempo = |(from, offs): (u32, Vec<f64>)| TimeSummary::of(tempo_range(from), &offs);
        Some(StrumTiming {
            all: TimeSummary::of(words::playing::ALL.to_owned(), &self.offs_ms)?,
            tempos: self.tempos.into_iter().filter_map(tempo).collect(),
            changes: (self.changes.into_iter())
                .filter_map(|(name, offs)| TimeSummary::of(name, &offs))
                .collect(),
        })
    }
}

impl TimeSummary {
    fn of(name: String, offs_ms: &[f64]) -> Option<TimeSummary> {
        let spread = Spread::of(offs_ms)?;
        Some(TimeSummary {
            name,
            strums: spread.count,
            in_time: in_time(offs_ms),
            usually_ms: spread.middle_ms,
            steady_ms: spread.spread_ms,
            said: late(spread.middle_ms),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verdict::examples::bb;

    fn strum(off_ms: f64, tempo_bpm: f64, from: &str) -> PlayedTake {
        PlayedTake {
            when: None,
            guitar: None,
            name: "a take".to_owned(),
            take: bb(),
            clean: Some(true),
            why_not: None,
            sound: None,
            kept: Some(TimedStrum {
                off_ms,
                tempo_bpm: Some(tempo_bpm),
                from: Some(from.to_owned()),
            }),
        }
    }

    fn sum_up(takes: &[PlayedTake]) -> Option<StrumTiming> {
        let mut gatherer = TimingGatherer::default();
        takes.iter().for_each(|take| gatherer.add(take));
        gatherer.finish()
    }

    #[test]
    fn strums_are_told_by_tempo_and_by_change() {
        let takes = [
            strum(10.0, 72.0, "F"),
            strum(20.0, 79.9, "F"),
            strum(-90.0, 80.0, "C"),
        ];
        let timing = sum_up(&takes).unwrap();
        assert_eq!((timing.all.strums, timing.all.in_time), (3, 2));
        assert_eq!(
            (timing.all.usually_ms, timing.all.steady_ms > 10.0),
            (10.0, true)
        );
        let names = |of: &[TimeSummary]| -> Vec<(String, usize)> {
            of.iter().map(|t| (t.name.clone(), t.strums)).collect()
        };
        let said = |name: &str, strums| (name.to_owned(), strums);
        assert_eq!(
            names(&timing.tempos),
            [said("70 to 79", 2), said("80 to 89", 1)]
        );
        assert_eq!(
            names(&timing.changes),
            [said("F to Bb", 2), said("C to Bb", 1)]
        );
        assert_eq!(timing.changes[1].said, "90 ms early");
        assert_eq!(sum_up(&[]), None);
    }
}
