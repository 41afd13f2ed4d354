//! Evidence of each string: where its partials are, how they run, and what the trained network makes of it.
//!
//! # How a string is heard
//!
//! 1. [`Spectra`] reads the strum in four windows. `early` ends 0.16 s after the last onset. `mid` ends at 0.45
//!    s: all that a short chord has. `long` ends at 1.15 s and parts partials 3 Hz apart. `late` begins at 0.55 s.
//! 2. `fit` finds each string's tuning offset and stiffness. Its own partials, which no other expected string
//!    occupies, must stand out there. An own partial that is absent counts against a place. A place where all
//!    partials are shared counts nothing. "Stand out" means above the floor and above the lowest points on both
//!    sides: the skirt of a strong neighbour is no partial.
//! 3. `notes` lists the notes that each string may be sounding: the expected one and up to four others. Those
//!    are at frets where a finger too many, too few or too light puts the string. Each is fitted on what the
//!    expected notes of the other strings leave.
//! 4. `partials` follows each partial of each note through the strum: 16 partials of an expected note, 8 of
//!    another. It takes the complex amplitude in 24 frames of 60 ms, which show when a partial begins and how it
//!    dies. In 6 frames of 0.3 s near partials part or beat. A partial that two strings share stands in the rows of
//!    both: nothing is decided here.
//! 5. [`network`] hears all partials together and gives probabilities.

pub mod bounds;
pub mod buzz;
#[cfg(test)]
pub(crate) mod examples;
mod fit;
mod learnt;
#[cfg(feature = "measuring")]
mod left_out;
mod level;
pub mod network;
mod networks;
pub mod notes;
pub mod partials;
pub mod picked;
pub mod profile;
mod spectra;
pub mod view;
pub mod which;
mod whole;

pub use fit::Fit;
pub use learnt::{Learnt, OFFSET};
pub use network::{Network, NoteOutcome, OUTCOMES, Scratch};
pub use networks::{Networks, SharedNetwork, shared};
pub use notes::{CandidateNote, CandidateNotes};
pub use spectra::{Moments, Spectra};
pub use whole::{REACH_TUNING_CENTS, fallen_db, rough_fit};

use crate::fretboard::{Frets, STRINGS, Tuning};
use network::NoteProbabilities;

/// Sound after the last onset that ringing against missing needs, in seconds: three tenths suffice
/// (the shortest chords measured), less is not judged.
pub const SHORTEST_S: f32 = 0.22;
/// The same of a strum that a hand stops: less is not taken for a stop. Of real chords stopped 0.1 to 0.2 s after they were struck
/// nearly all strings are told rightly (`fixtures/measured/finding.md`).
pub const SHORTEST_STOPPED_S: f32 = 0.085;

/// Judgement of the network on one strum.
#[derive(Debug, Clone)]
pub struct Estimate {
    /// Every note that was considered, with its fit.
    pub notes: CandidateNotes,
    /// Probability of each [`NoteOutcome`] of each expected note.
    pub outcomes: [Option<[f32; OUTCOMES]>; STRINGS],
    /// Moment at which each expected note's string is struck, in seconds after the first onset that was heard.
    pub onsets_s: [Option<f32>; STRINGS],
    /// Fret and probability that it sounds, of each string's other notes.
    pub others: [Vec<(u8, f32)>; STRINGS],
    /// Level of the note that each string most probably sounds, against the strongest partial of the expected notes, in dB;
    /// `None` where no partial of its own stands out.
    pub levels_db: [Option<f32>; STRINGS],
}

impl Estimate {
    /// The other fret at which `string` most probably sounds, and how probable that is.
    pub fn best_other(&self, string: usize) -> Option<(u8, f32)> {
        let others = self.others[string].iter().copied();
        others.max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// The note that `string` most probably sounds.
    fn likeliest(&self, string: usize) -> Option<&CandidateNote> {
        let other = self.best_other(string).map(|(fret, _)| fret);
        let other = other.and_then(|f| self.notes.others[string].iter().find(|n| n.fret == f));
        match (&self.notes.expected[string], self.outcomes[string]) {
            (Some(_), Some(of)) if of[NoteOutcome::OtherFret as usize] > 0.5 => other,
            (Some(expected), _) => Some(expected),
            (None, _) => other,
        }
    }

    /// `found` with the last onset where the last string that sounds is struck: of a fast strum the finder
    /// hears one onset for all strings.
    pub fn moments(&self, found: Moments, rate_hz: f64) -> Moments {
        let gone =
            |s: &usize| self.outcomes[*s].is_none_or(|o| o[NoteOutcome::Gone as usize] > 0.5);
        let sounding = (0..STRINGS).filter(|s| !gone(s));
        let last_s = sounding
            .filter_map(|s| self.onsets_s[s])
            .fold(0.0, f32::max);
        let last = found.first + (f64::from(last_s) * rate_hz) as usize;
        Moments {
            last: last.max(found.last).min(found.end),
            ..found
        }
    }
}

/// Reads the spectra of one strum against a voicing; `scratch` is used again from strum to strum.
pub fn hear(
    network: &Network,
    spectra: &Spectra,
    tuning: &Tuning,
    frets: &Frets,
    scratch: &mut Scratch,
) -> Estimate {
    hear_notes(
        network,
        spectra,
        CandidateNotes::fit(spectra, tuning, frets),
        scratch,
    )
}

/// Hears as [`hear`] does, where the notes have been fitted.
pub fn hear_notes(
    network: &Network,
    spectra: &Spectra,
    notes: CandidateNotes,
    scratch: &mut Scratch,
) -> Estimate {
    let seen = partials::see(spectra, &notes);
    let said = network.hear(&seen, scratch);
    let mut heard = Estimate {
        notes,
        outcomes: [None; STRINGS],
        onsets_s: [None; STRINGS],
        others: Default::default(),
        levels_db: [None; STRINGS],
    };
    for (note, said) in seen.notes.iter().zip(said) {
        match said {
            NoteProbabilities::Expected { outcomes, onset_s } => {
                heard.outcomes[note.string] = Some(outcomes);
                heard.onsets_s[note.string] = Some(onset_s);
            }
            NoteProbabilities::Other(sounds) => heard.others[note.string].push((note.fret, sounds)),
        }
    }
    let level_db = |note| level::level_db(&spectra.long, &heard.notes, note);
    heard.levels_db = std::array::from_fn(|s| heard.likeliest(s).and_then(level_db));
    heard
}
