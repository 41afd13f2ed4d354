//! Verdicts per string from evidence, and all the wording.

mod analyser;
pub mod cause;
mod chord;
mod clean;
#[cfg(test)]
pub(crate) mod examples;
mod expected;
mod history;
mod picked;
mod string;
pub mod wording;

pub use analyser::{Analyser, AnalyserSettings, Evidence};
pub use cause::{Advice, Cause, Hand};
pub use clean::{ALL_STRINGS, clean};
pub use expected::{Expected, ExpectedVoicing};
pub use history::History;

use serde::{Deserialize, Serialize};

use crate::fretboard::{Frets, NamedFrets, STRINGS};
use crate::take::Manner;

/// Behaviour of one string.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Rings as it should.
    Clean,
    /// A dead thud.
    Muted,
    /// Sounds, but dies early.
    Choked,
    /// Rings with a buzz against a fret.
    Buzzing,
    /// Rings at another fret than the one written.
    WrongFret,
    /// Sounds though it should not.
    Ringing,
    /// Quiet, as it should be.
    Silent,
    /// The recording cannot tell.
    Unsure,
}

/// Reason why a string is `unsure`, or its verdict not surer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reason {
    /// The take ends too early for this question.
    TooShort,
    /// The evidence is balanced between two answers, mostly because another string sounds the same partials.
    Balanced,
    /// The whole take was not judged; the take's warnings say why.
    NotJudged,
    /// An exercise leaves the string out: it may do what it likes.
    NotAsked,
    /// No sound that rings; whether the string is dead or dies early is open.
    MutedOrChoked,
    /// Resonance, too faint to be heard beside the chord.
    Faint,
    /// A buzz, of this string or of another one.
    MayBuzz,
}

/// Fault of a take as a whole. `judged()` false: no string was judged because of it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum Warning {
    /// Another chord than the expected one sounds, and which, where that is sure.
    WrongChord {
        /// The chord that sounds; `None` where that is not sure.
        heard: Option<NamedFrets>,
    },
    /// The guitar as a whole is off the reference by more than can be followed, or its strings disagree.
    OutOfTune {
        /// Offset from the reference pitch, in cents.
        cents: f32,
    },
    /// Peak level in dBFS.
    TooQuiet {
        /// Highest sample of the take, in dBFS.
        peak_dbfs: f32,
    },
    /// Share of the samples at full scale.
    Clipped {
        /// Share of the samples at full scale, 0 to 1.
        share: f32,
    },
    /// Sound after the last onset, in seconds.
    TooShort {
        /// Sound after the last onset, in seconds.
        seconds: f32,
    },
    /// Strum over background, in dB.
    TooNoisy {
        /// Strum over background, in dB.
        snr_db: f32,
    },
    /// The computer dropped sound within the take, in seconds.
    SoundLost {
        /// Sound that was dropped within the take, in seconds.
        seconds: f32,
    },
    /// A string buzzes, and it cannot be told which of two.
    Buzz {
        /// The likelier string, and the other one, 6 to 1.
        strings: [u8; 2],
        /// Probability that any string buzzes, 0 to 1.
        sure: f32,
    },
    /// A string that may buzz, where it is not sure that any does.
    PossibleBuzz {
        /// The likeliest string, 6 to 1.
        string: u8,
        /// Probability that any string buzzes, 0 to 1.
        sure: f32,
    },
    /// Something buzzes or rattles that follows no single string, and how probable that is, 0 to 1.
    Rattle {
        /// Probability of it, 0 to 1.
        sure: f32,
    },
    /// No chord was named; the take's chord is the best fit of the library, and how probable that
    /// is, 0 to 1. Below [`SURE_ENOUGH`] the take is not judged against it.
    ChordGuessed {
        /// Probability that the guess is right, 0 to 1.
        sure: f32,
    },
    /// A chord was named, but not which of its voicings: those that it may be, the most probable first, and how probable that
    /// one is, 0 to 1. Below [`SURE_ENOUGH`] only a take of which every string is as it should be is judged.
    VoicingGuessed {
        /// Probability of the first of them, 0 to 1.
        sure: f32,
        /// Voicings that it may be, the most probable first.
        voicings: Candidates,
    },
}

/// A few voicings that one strum may be, the most probable first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidates([Option<NamedFrets>; Candidates::MOST]);

impl Candidates {
    /// More than three nobody reads.
    const MOST: usize = 3;

    /// The first three of these.
    pub fn of(voicings: impl IntoIterator<Item = NamedFrets>) -> Self {
        let mut voicings = voicings.into_iter();
        Candidates(std::array::from_fn(|_| voicings.next()))
    }

    /// Voicings, the most probable first.
    pub fn iter(&self) -> impl Iterator<Item = &NamedFrets> {
        self.0.iter().flatten()
    }
}

impl Serialize for Candidates {
    fn serialize<S: serde::Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_seq(self.iter())
    }
}

/// A guessed chord is judged against only from this probability up: at most one take in twenty is
/// then told about strings of a chord that was never meant.
pub const SURE_ENOUGH: f32 = 0.95;

/// A string that is off the guitar's own tuning by at least this is mentioned. Amateurs hear about
/// 10 cents in an interval (Hill and Summers, JASA 121 (2007) 2376), but fretting alone sharpens by
/// some 2 to 6 (Anderson and Beausoleil, JASA 156(1) (2024) 683), a real hand by more.
const STRING_OFF_CENTS: f32 = 20.0;
/// A whole guitar off the reference pitch by at least this is mentioned: below, nobody playing
/// along would notice much (common practice).
const GUITAR_OFF_CENTS: f32 = 20.0;

/// Almost nothing rings where so many strings are dead at least, and so many others sound at most. A choice.
const DEAD_LEAST: usize = 4;
const SOUNDING_MOST: usize = 2;

/// The verdict on one string.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct StringVerdict {
    /// 6 (low E) to 1 (high E).
    pub string: u8,
    /// The fret it should sound at, `None` where it must not sound.
    pub expected_fret: Option<u8>,
    /// Behaviour of the string.
    pub verdict: Verdict,
    /// The fret heard, for `WrongFret` and `Ringing`.
    pub heard_fret: Option<u8>,
    /// 0 to 1, calibrated: how probable it is that the expected note rings on (for a string that
    /// must not sound: that it sounds at all).
    pub rings: f32,
    /// 0 to 1: how probable it is that the verdict is right.
    pub confidence: f32,
    /// Cents above the expected pitch in this take's own tuning, where the string could be measured.
    pub cents: Option<f32>,
    /// Level of it: its strongest partial that no other string of the chord has, against the chord's strongest partial,
    /// in dB. `None` where it does not sound, or no such partial stands out.
    pub level_db: Option<f32>,
    /// Reason why the string is `Unsure`, or its verdict not surer.
    pub reason: Option<Reason>,
}

impl StringVerdict {
    /// Tells whether it is sure that the string does not ring, and open whether it is dead or dies early.
    pub fn dead_or_dying(&self) -> bool {
        self.reason == Some(Reason::MutedOrChoked)
    }

    /// Tells how far a clean string is off the guitar's own tuning, in cents, where that is worth a word: by 20 or more.
    pub fn off_cents(&self) -> Option<f32> {
        let is_off =
            |cents: &f32| self.verdict == Verdict::Clean && cents.abs() >= STRING_OFF_CENTS;
        self.cents.filter(is_off)
    }

    /// Says that the string buzzes, and how probable that is, if it sounds: whatever else was said of its ringing.
    fn buzzes(&mut self, sure: f32) {
        let sounds = matches!(
            self.verdict,
            Verdict::Clean | Verdict::Choked | Verdict::Unsure
        );
        if sounds {
            self.verdict = Verdict::Buzzing;
            self.confidence = sure;
            self.reason = None;
        }
    }

    /// Tells whether what is said in words is true of a string whose verdict should be `verdict`.
    pub fn is_true_of(&self, verdict: Verdict) -> bool {
        let either = matches!(verdict, Verdict::Muted | Verdict::Choked);
        self.verdict == verdict || self.dead_or_dying() && either
    }
}

/// One take judged.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct JudgedTake {
    /// Moment of the first stroke, in seconds from the start of the recording.
    pub start_s: f64,
    /// Strummed or picked.
    pub manner: Manner,
    /// The chord's name where it has one.
    pub chord: Option<String>,
    /// The frets that it was judged against.
    pub frets: Frets,
    /// Common offset of the guitar from the reference pitch, in cents.
    pub tuning_cents: f32,
    /// Faults of the take as a whole.
    pub warnings: Vec<Warning>,
    /// String 6 to string 1.
    pub strings: [StringVerdict; STRINGS],
    /// Likely causes and what to try, most useful first; at most two.
    pub advice: Vec<Advice>,
}

impl Verdict {
    /// All of them: what is as it should be, the faults, what stays open.
    pub const ALL: [Verdict; 8] = [
        Verdict::Clean,
        Verdict::Silent,
        Verdict::Muted,
        Verdict::Choked,
        Verdict::Buzzing,
        Verdict::WrongFret,
        Verdict::Ringing,
        Verdict::Unsure,
    ];

    /// True where the string did something else than it should; `Unsure` is no fault.
    pub fn is_fault(self) -> bool {
        !matches!(self, Verdict::Clean | Verdict::Silent | Verdict::Unsure)
    }
}

impl JudgedTake {
    /// Tells whether another chord than the expected one is said to sound.
    pub fn is_another_chord(&self) -> bool {
        let another = |w: &Warning| matches!(w, Warning::WrongChord { .. });
        self.warnings.iter().any(another)
    }

    /// Tells whether the guitar as a whole is off by so much that it is worth a word: by 20 cents or more.
    pub fn guitar_is_off(&self) -> bool {
        self.tuning_cents.abs() >= GUITAR_OFF_CENTS
    }

    /// Tells whether four or more of the strings that should sound are dead, and two at most are not.
    pub fn almost_nothing_rings(&self) -> bool {
        let expected = || self.strings.iter().filter(|s| s.expected_fret.is_some());
        let silent = expected().filter(|s| matches!(s.verdict, Verdict::Muted | Verdict::Choked));
        let silent = silent.count();
        // One or two of them may seem to die early, by what lies beside them; where most do, that is another fault.
        let dead = expected().filter(|s| s.is_true_of(Verdict::Muted)).count();
        silent >= DEAD_LEAST && 2 * dead >= silent && silent + SOUNDING_MOST >= expected().count()
    }

    /// False where no string was judged because of what the warnings say.
    pub fn judged(&self) -> bool {
        self.strings
            .iter()
            .any(|s| s.reason != Some(Reason::NotJudged))
    }
}
