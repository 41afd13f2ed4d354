//! Outputs for people and programs: one file per form, all fed the same judged takes.

#[cfg(feature = "pictures")]
pub mod csv;
pub mod json;
pub mod live;
pub mod neck;
#[cfg(feature = "pictures")]
pub mod page;
pub(crate) mod picture;
pub mod playing;
#[cfg(feature = "pictures")]
pub mod plot;
pub mod practice;
pub mod progress;
#[cfg(feature = "pictures")]
pub mod progress_picture;
#[cfg(feature = "cli")]
pub(crate) mod route;
pub mod score;
#[cfg(feature = "cli")]
pub(crate) mod shapes;
pub mod sitting;
pub mod terminal;
pub mod text;
#[cfg(feature = "pictures")]
pub mod trial;
pub mod voicings;

use std::io::{self, Write};
use std::path::Path;

use crate::fretboard::STRINGS;
use crate::verdict::{JudgedTake, Verdict};

/// One form of report. Files come one after another: [`begin`](Form::begin), any number of
/// [`take`](Form::take)s, [`end`](Form::end); then one [`summary`](Form::summary).
///
/// Every method fails only where `out` cannot be written.
pub trait Form {
    /// The recording that the next takes come from.
    fn begin(&mut self, file: &Path);
    /// A take, as soon as it is judged.
    fn take(&mut self, out: &mut dyn Write, take: JudgedTake) -> io::Result<()>;
    /// The recording is through. `problem` is the sentence that says why it could not be judged, or
    /// not to its end.
    fn end(&mut self, out: &mut dyn Write, problem: Option<&str>) -> io::Result<()>;
    /// All recordings are through.
    fn summary(&mut self, out: &mut dyn Write) -> io::Result<()>;
}

/// Outcome of a recording. The later one of two weighs more.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum RecordingOutcome {
    /// Every judged string did what it should.
    AsItShouldBe,
    /// One string or more did not.
    Fault,
    /// No string could be judged, or the recording could not be read to its end.
    NotJudged,
}

/// Counts over takes: how often each string did what.
#[derive(Debug, Clone, Default)]
pub struct TakeTally {
    /// All takes, the ones that were not judged included.
    pub takes: usize,
    /// Takes of which no string could be judged.
    pub not_judged: usize,
    /// Judged takes with at least one fault.
    pub faulty: usize,
    counts: [[usize; STRINGS]; Verdict::ALL.len()],
}

impl TakeTally {
    /// Counts one take in.
    pub fn add(&mut self, take: &JudgedTake) {
        self.takes += 1;
        if !take.strings.iter().any(|s| s.verdict != Verdict::Unsure) {
            self.not_judged += 1;
        }
        if !take.judged() {
            return;
        }
        for (index, string) in take.strings.iter().enumerate() {
            let row = Verdict::ALL.iter().position(|&v| v == string.verdict);
            self.counts[row.expect("Verdict::ALL holds every verdict")][index] += 1;
        }
        self.faulty += usize::from(take.strings.iter().any(|s| s.verdict.is_fault()));
    }

    /// Counts all that `other` has counted in.
    pub fn add_all(&mut self, other: &TakeTally) {
        self.takes += other.takes;
        self.not_judged += other.not_judged;
        self.faulty += other.faulty;
        for (mine, theirs) in self.counts.iter_mut().zip(&other.counts) {
            for (mine, theirs) in mine.iter_mut().zip(theirs) {
                *mine += theirs;
            }
        }
    }

    /// Tells how often each verdict was given to each string (index 0 = string 6), in the order of
    /// [`Verdict::ALL`], those left out that were never given.
    pub fn rows(&self) -> impl Iterator<Item = (Verdict, &[usize; STRINGS])> {
        Verdict::ALL
            .into_iter()
            .zip(&self.counts)
            .filter(|(_, row)| row.iter().any(|&n| n > 0))
    }

    /// Gives what the takes counted so far amount to.
    pub fn outcome(&self) -> RecordingOutcome {
        if self.takes == self.not_judged {
            RecordingOutcome::NotJudged
        } else if self.faulty == 0 {
            RecordingOutcome::AsItShouldBe
        } else {
            RecordingOutcome::Fault
        }
    }
}

/// A bar of cells, the share of it full.
fn bar(share: f32, cells: usize) -> String {
    let full = (share.clamp(0.0, 1.0) * cells as f32).round() as usize;
    "█".repeat(full) + &"░".repeat(cells - full)
}

/// The middle one of some numbers.
fn median(numbers: &[f64]) -> Option<f64> {
    let mut sorted = numbers.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    match sorted.len() {
        0 => None,
        n if n % 2 == 1 => Some(sorted[middle]),
        _ => Some((sorted[middle - 1] + sorted[middle]) / 2.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verdict::Warning;
    use crate::verdict::examples::*;

    #[test]
    fn a_recording_comes_out_as_its_judged_strings_do() {
        let mut tally = TakeTally::default();
        assert_eq!(tally.outcome(), RecordingOutcome::NotJudged);
        tally.add(&not_judged(Warning::WrongChord { heard: None }));
        assert_eq!(tally.outcome(), RecordingOutcome::NotJudged);
        tally.add(&with(bb(), 3, Verdict::Unsure, 0.5));
        assert_eq!(tally.outcome(), RecordingOutcome::AsItShouldBe);
        tally.add(&with(bb(), 3, Verdict::Choked, 0.9));
        assert_eq!(tally.outcome(), RecordingOutcome::Fault);
        assert_eq!((tally.takes, tally.not_judged, tally.faulty), (3, 1, 1));
    }

    #[test]
    fn a_string_that_stays_unsure_is_not_judged() {
        let mut tally = TakeTally::default();
        let mut take = bb();
        for string in 1..=6 {
            take = with(take, string, Verdict::Unsure, 0.5);
        }
        tally.add(&take);
        assert_eq!(tally.outcome(), RecordingOutcome::NotJudged);
    }
}
