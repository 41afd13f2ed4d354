//! What was said of takes beside what is true of them.

use ringtrue::fretboard::STRINGS;
use ringtrue::strings::buzz::{self, BuzzFindings};
use ringtrue::synth::buzz::{BuzzTake, BuzzTruth};
use ringtrue::synth::distractor::Distractor;

use crate::ears::{CUES, Said};

/// What was said of a take, and what is true of it.
pub struct Judged {
    pub subject: Truly,
    pub said: buzz::BuzzProbabilities,
    /// What would be said were a cue hidden.
    pub hidden: [buzz::BuzzProbabilities; CUES.len()],
}

#[derive(Clone, Copy, PartialEq)]
pub enum Truly {
    Buzz {
        strings: [bool; STRINGS],
        /// Of the octave of the take's treble that is lifted most.
        lift_db: f64,
    },
    /// Clean strings of the maker, one of which met a fret.
    HardClean,
    Clean,
    Rattle,
    Between,
}

impl Truly {
    pub fn of(take: &BuzzTake) -> Self {
        let strings = take.truth.map(|t| matches!(t, BuzzTruth::Buzzes { .. }));
        if strings.contains(&true) {
            let lift_db = take.lifts_db.into_iter().fold(0.0, f64::max);
            return Truly::Buzz { strings, lift_db };
        }
        if take.truth.contains(&BuzzTruth::Between) {
            return Truly::Between;
        }
        match take.distractor {
            Some(Distractor::Rattle) if take.rattles() == Some(true) => Truly::Rattle,
            Some(Distractor::Rattle) if take.rattles().is_none() => Truly::Between,
            _ if take.met_a_fret => Truly::HardClean,
            _ => Truly::Clean,
        }
    }
}

impl Judged {
    pub fn of(take: &BuzzTake, (said, hidden): Said) -> Self {
        Judged {
            subject: Truly::of(take),
            said,
            hidden,
        }
    }

    pub fn found(&self) -> BuzzFindings {
        buzz::found(&self.said)
    }

    /// Whether a string that is named, or one of two, is one that buzzes.
    pub fn is_right(&self) -> bool {
        let Truly::Buzz { strings, .. } = self.subject else {
            return false;
        };
        let found = self.found();
        let named = (0..STRINGS).filter(|&s| found.strings[s].is_some());
        named
            .chain(found.either.into_iter().flatten())
            .any(|s| strings[s])
    }

    /// The string that buzzes most probably, and how probable that is.
    pub fn likeliest(&self) -> Option<(usize, f32)> {
        (0..STRINGS)
            .filter_map(|s| Some((s, self.said.buzzes[s]?)))
            .max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// Whether that string does.
    pub fn is_likeliest_right(&self) -> bool {
        let likeliest = self.likeliest();
        matches!((self.subject, likeliest), (Truly::Buzz { strings, .. }, Some((s, _))) if strings[s])
    }

    /// Whether one string buzzes whose lift lies within these bounds in dB.
    pub fn is_one(&self, from_db: f64, to_db: f64) -> bool {
        matches!(self.subject, Truly::Buzz { strings, lift_db }
            if strings.iter().filter(|s| **s).count() == 1 && (from_db..to_db).contains(&lift_db))
    }

    pub fn is_several(&self) -> bool {
        matches!(self.subject, Truly::Buzz { strings, .. } if strings.iter().filter(|s| **s).count() > 1)
    }
}

/// How many of those of which `of` is true are so.
pub fn share<'a>(
    all: impl IntoIterator<Item = &'a Judged>,
    of: impl Fn(&Judged) -> bool,
    so: impl Fn(&Judged) -> bool,
) -> String {
    let of: Vec<bool> = all.into_iter().filter(|j| of(j)).map(so).collect();
    let part = of.iter().filter(|so| **so).count();
    match of.len() {
        0 => "-".to_owned(),
        count => format!("{:.3} of {count}", part as f64 / count as f64),
    }
}
