use jiff::Timestamp;

use super::correction::clean_then;
use super::{Correction, Entry};
use crate::fretboard::STRINGS;
use crate::verdict::Verdict;

/// Values that tables and pictures need of a take; borrowed from the row that is being read.
#[derive(Debug, Clone, PartialEq)]
pub struct DiaryRow<'r> {
    /// Milliseconds since 1970 began, UTC.
    pub at_ms: i64,
    /// The frets that it was judged against, as written.
    pub frets: &'r str,
    /// True where every string that counts did what it should; `None` where that could not be told.
    pub clean: Option<bool>,
    /// The frets left for these, where the take ends a change.
    pub from: Option<&'r str>,
    /// Beginning of the practice that it belongs to, where it belongs to one.
    pub began_ms: Option<i64>,
    /// Number of the step, from 1.
    pub step: Option<u32>,
    /// The exercise's kind.
    pub exercise: Option<&'r str>,
    /// The chord's name where it has one.
    pub chord: Option<&'r str>,
    /// The shape's name where it has one.
    pub shape: Option<&'r str>,
    /// The fret at which the shape stands.
    pub fret: Option<u8>,
    /// Time from the old chord's end to this take's beginning, in seconds.
    pub gap_s: Option<f64>,
    /// Late by so many ms, and the tempo in beats a minute, where it was played along.
    pub off_ms: Option<f64>,
    /// Tempo at that beat, in beats a minute.
    pub tempo_bpm: Option<f64>,
    /// String 6 to string 1, as they stand.
    pub verdicts: [Verdict; STRINGS],
    /// True where the player has put it right.
    pub put_right: bool,
    /// True where it counts.
    pub counts: bool,
}

impl<'r> DiaryRow<'r> {
    /// The row of a take that is in no file; `frets` and `from` are its own, as they are written.
    pub fn of(entry: &'r Entry, frets: &'r str, from: Option<&'r str>) -> Self {
        let (mut strings, mut clean) = (entry.strings, entry.clean);
        if let Some(said @ Correction::Right(_)) = &entry.said {
            said.stand(&mut strings);
            clean = clean_then(clean, strings.iter().any(|s| s.verdict.is_fault()));
        }
        DiaryRow {
            at_ms: entry.at.as_millisecond(),
            frets,
            clean,
            from,
            began_ms: entry.began.map(Timestamp::as_millisecond),
            step: entry.step,
            exercise: entry.exercise.as_deref(),
            chord: entry.chord.as_deref(),
            shape: entry.shape.as_deref(),
            fret: entry.fret,
            gap_s: entry.gap_s,
            off_ms: entry.off_ms,
            tempo_bpm: entry.tempo_bpm,
            verdicts: strings.map(|string| string.verdict),
            put_right: entry.said.is_some(),
            counts: entry.said.as_ref().is_none_or(Correction::counts),
        }
    }
}
