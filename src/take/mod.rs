//! Finding takes in a recording: one strum, or one slow pass over the strings.
//!
//! A picked pass has faint strokes. An onset too weak to count by itself counts where one string alone is heard
//! after it. After a chord it does not: the chord's verdict would wait for it. A thud that is no stroke may be left
//! out of a pass. Where the chord that is meant is known ([`Finder::expect`]), a single note of it that explains
//! what is new gives the stroke's pitch.

mod around;
mod attack;
mod dead;
mod departure;
mod entry;
mod expected;
mod finder;
mod history;
mod line;
mod meant;
mod onset;
mod ringing;
mod sequence;
mod several;
mod stop;
mod strokes;
pub mod sweep;

#[cfg(feature = "measuring")]
pub use finder::strum_near;
pub use finder::{Finder, OpenTake, strums, strums_of};
pub use onset::{Onset, Onsets};

use sequence::LONGEST_PASS_GAP_S;

/// The middle of a strum lies at most so long after its first stroke, in seconds. (Of 127 labelled strokes of running
/// accompaniment the label lies 30 ms after the first stroke in the median, and where the middle is.)
pub const MIDDLE_S: f64 = 0.05;
/// Strokes are labelled so long after the middle of the sweep that is heard, in seconds: of 231 labelled strokes of runs 1 and 2 of
/// phone-strums the median is 0.012; from 0.005 to 0.015 fewest takes lie more than 50 ms from a label.
const LABELLED_S: f64 = 0.01;

/// Way in which the strings were struck.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Manner {
    /// All strings in one sweep: their onsets span at most about 150 ms.
    Strummed,
    /// One string at a time.
    Picked,
}

/// One take cut out of a recording. Holds up to [`Take::PRE_ROLL_S`] of sound from before the first
/// onset, because what was there already (noise, the last chord's tail) is not this strum's doing.
#[derive(Debug, Clone, PartialEq)]
pub struct Take {
    /// Mono samples: pre-roll, the strum, until the next take or until it has died away.
    pub samples: Vec<f32>,
    /// Sample rate in Hz.
    pub rate_hz: u32,
    /// Position of `samples[0]` in the recording, in samples at `rate_hz`.
    pub first: u64,
    /// Onsets found, as indices into `samples`, ascending, at least one. A strum may have a single
    /// one (its six onsets blur into one rise) or several within 150 ms; a picked pass has one or
    /// more per string.
    pub onsets: Vec<usize>,
    /// Strummed or picked.
    pub manner: Manner,
    /// Middle of the hand's sweep over the strings of a strum, as an index into `samples`, where it was heard.
    pub middle: Option<usize>,
    /// True where another take begins right where this one ends, false where the sound died away or
    /// the recording ended.
    pub cut_by_next: bool,
}

impl Take {
    /// Sound kept from before the first onset, in seconds, where the recording has it.
    pub const PRE_ROLL_S: f64 = 0.25;

    /// A strum is judged by the sound up to this long after its first onset, each stroke of a
    /// picked pass likewise, in seconds. (After the last one that was heard, one that was missed is looked for until it is
    /// certain that no other comes, in [`LONGEST_PASS_GAP_S`].) However long it rings on, its verdict stays the same, and
    /// a listener has it while the hand is still in place. Only a buzz may begin later: see [`Take::BUZZ_S`].
    pub const JUDGED_S: f64 = 1.12;
    /// Buzz is listened for up to this long after the first onset, in seconds. Real contact may swell late: nine in ten
    /// swells of a measured bass begin within 1.9 s of the attack.
    pub const BUZZ_S: f64 = 2.5;

    /// A strum with one onset, sample number `onset` of `recording`, which ends where the strum does and is cut by no
    /// next one.
    pub fn with_onset(recording: &[f32], rate_hz: u32, onset: usize) -> Take {
        let pre_roll = (Take::PRE_ROLL_S * f64::from(rate_hz)) as usize;
        let first = onset.saturating_sub(pre_roll);
        Take {
            samples: recording[first..].to_vec(),
            rate_hz,
            first: first as u64,
            onsets: vec![onset - first],
            manner: Manner::Strummed,
            middle: None,
            cut_by_next: false,
        }
    }

    /// One past the last sample that the verdict depends on, as an index into `samples`.
    pub fn judged_end(&self) -> usize {
        self.samples.len().min(self.judged_length())
    }

    /// Place where a hand stops all strings before [`judged_end`](Self::judged_end), as an index into `samples`; `None` where
    /// none does.
    pub fn stopped(&self) -> Option<usize> {
        let judged = &self.samples[..self.judged_end()];
        let last = self.onsets[self.onsets.len() - 1];
        (self.manner == Manner::Strummed)
            .then(|| stop::stopped(judged, last, f64::from(self.rate_hz)))
            .flatten()
    }

    /// Gives [`judged_end`](Self::judged_end) as if there were samples without end.
    pub fn judged_length(&self) -> usize {
        let (stroke, enough_s) = match self.manner {
            Manner::Strummed => (self.onsets[0], Take::JUDGED_S),
            Manner::Picked => (self.onsets[self.onsets.len() - 1], LONGEST_PASS_GAP_S),
        };
        stroke + (enough_s * f64::from(self.rate_hz)) as usize
    }

    /// One past the last sample that buzz is listened for in, as an index into `samples`.
    pub fn buzz_end(&self) -> usize {
        let end = self.onsets[0] + (Take::BUZZ_S * f64::from(self.rate_hz)) as usize;
        self.samples.len().min(end)
    }

    /// Moment of the take, in seconds from the start of the recording: when the first stroke of a pass falls, and the
    /// middle of a strum, which lies at most [`MIDDLE_S`] after its first stroke.
    pub fn start_s(&self) -> f64 {
        let first = self.onsets[0];
        let samples = |seconds: f64| (seconds * f64::from(self.rate_hz)) as usize;
        let latest = first + samples(MIDDLE_S);
        let labelled = |middle: usize| (middle + samples(LABELLED_S)).clamp(first, latest);
        let at = match self.manner {
            Manner::Strummed => self.middle.map_or(first, labelled),
            Manner::Picked => first,
        };
        (self.first + at as u64) as f64 / f64::from(self.rate_hz)
    }

    /// Moment of the first stroke, in seconds from the start of the recording.
    pub fn first_stroke_s(&self) -> f64 {
        (self.first + self.onsets[0] as u64) as f64 / f64::from(self.rate_hz)
    }
}
