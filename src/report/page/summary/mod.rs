//! Sums of many takes: the numbers of the page, of `--csv` and of `--json`.

mod causes;
mod gatherer;
mod over_time;
mod voicing;

use jiff::civil::DateTime;
use serde::Serialize;

use super::played::PlayedTake;
use super::timing::StrumTiming;
use crate::fretboard::{Frets, STRINGS};
use crate::verdict::Cause;

pub use gatherer::SummaryGatherer;

/// The numbers of a report.
#[derive(Debug, Clone, Serialize)]
pub struct Summary {
    /// Takes in all.
    pub takes: usize,
    /// Takes of which strings were judged.
    pub judged: usize,
    /// Takes in which every string that counted did what it should.
    pub clean: usize,
    /// Minutes from take to take, without [rests](crate::practice::REST_S); `None` where no two takes have a moment.
    pub minutes: Option<usize>,
    /// The earliest moment that was noted.
    pub first: Option<DateTime>,
    /// The latest moment that was noted.
    pub last: Option<DateTime>,
    /// The names of the guitars, each once.
    pub guitars: Vec<String>,
    /// Chords, by how often they were played.
    pub chords: Vec<ChordSummary>,
    /// The commonest first.
    pub causes: Vec<CauseSummary>,
    /// Reasons why takes were not judged and how often, the commonest first.
    pub not_judged: Vec<(String, usize)>,
    /// Recordings of which nothing could be read.
    pub unread: usize,
    /// List of what could not be judged, by name, in order: at most [`MOST_LISTED`] of them.
    pub left_out: Vec<LeftOut>,
    /// Timing of what was played along with a backing.
    pub timing: Option<StrumTiming>,
}

/// Take or recording that could not be judged: a take, or a recording as a whole.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeftOut {
    /// The recording's name.
    pub file: String,
    /// Moment at which its take begins, in seconds; `None` of a recording as a whole.
    pub at_s: Option<f64>,
    /// Reason, in a sentence.
    pub why: String,
}

/// Most takes that are listed by name as not judged; the reasons are counted in any case. A choice.
pub const MOST_LISTED: usize = 200;

/// One voicing.
#[derive(Debug, Clone, Serialize)]
pub struct ChordSummary {
    /// The chord's name where it has one.
    pub chord: Option<String>,
    /// The frets that the takes were judged against.
    pub frets: Frets,
    /// Takes in all.
    pub takes: usize,
    /// Takes of which strings were judged.
    pub judged: usize,
    /// Takes in which every string that counted did what it should.
    pub clean: usize,
    /// String 6 to string 1.
    pub strings: Vec<StringSummary>,
    /// Parts in the order of time, or of the files where no dates were noted.
    pub over_time: Vec<Period>,
    /// Likely causes, the commonest first.
    pub causes: Vec<CauseSummary>,
    /// The take with most faults, as a position in the list summed up; `None` where nothing was judged, and where every
    /// take was clean.
    pub worst: Option<usize>,
    /// The take with fewest faults, as a position in the list summed up; `None` where it is the worst, too.
    pub best: Option<usize>,
}

/// One string of a voicing: how often it did what.
#[derive(Debug, Clone, Serialize)]
pub struct StringSummary {
    /// String number, 6 to 1.
    pub string: u8,
    /// The fret it should sound at; `None` where it must not sound.
    pub expected_fret: Option<u8>,
    /// Takes in which the sound told what the string did.
    pub told: usize,
    /// Takes of these in which it did what it should.
    pub as_it_should: usize,
    /// Takes in which it was muted.
    pub muted: usize,
    /// Takes in which it was choked.
    pub choked: usize,
    /// Takes in which it buzzed.
    pub buzzing: usize,
    /// Takes in which it rang at another fret.
    pub wrong_fret: usize,
    /// Takes in which it sounded though it should not.
    pub ringing: usize,
    /// Takes in which the recording could not tell.
    pub unsure: usize,
}

/// One part of the time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Period {
    /// "2 March", "week of 2 March", "March 2026", "takes 1 to 5".
    pub label: String,
    /// Takes of which strings were judged.
    pub judged: usize,
    /// Takes in which every string that counted did what it should.
    pub clean: usize,
}

/// One likely cause.
#[derive(Debug, Clone, Serialize)]
pub struct CauseSummary {
    /// The cause.
    pub cause: Cause,
    /// Takes that it was named for.
    pub takes: usize,
    /// Number of times that each string was concerned, string 6 to string 1.
    pub strings: [usize; STRINGS],
    /// Sentence that was said and what to try, as in the last take that it was named for.
    pub what: String,
    /// Advice to try first, as in the last take that it was named for.
    #[serde(rename = "try")]
    pub try_first: String,
}

impl Summary {
    /// Sums up takes, which should be in the order of time.
    pub fn of(takes: &[PlayedTake]) -> Self {
        let mut gatherer = SummaryGatherer::default();
        takes.iter().cloned().for_each(|take| gatherer.add(take));
        gatherer.finish().0
    }
}

impl ChordSummary {
    /// "Bb (x13331)", the barre that it is, or the frets alone.
    pub fn name(&self) -> String {
        let frets = self.frets;
        match &self.chord {
            Some(chord) => format!("{chord} ({frets})"),
            None => frets.barre_name().unwrap_or_else(|| frets.to_string()),
        }
    }
}

#[cfg(test)]
mod tests;
