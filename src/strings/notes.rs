//! Notes that the strings of a chord may be sounding, and where exactly their partials stand.

use rayon::prelude::*;

use super::fit::{Fit, Occupied, fit};
use super::spectra::Spectra;
use super::whole;
use crate::fretboard::{Frets, STRINGS, Tuning, other_frets, usual_b};
use crate::spectrum::partials::shifted_hz;

/// Rounds in which strings are fitted on what the others leave.
const ROUNDS: usize = 2;

/// A note that a string may be sounding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CandidateNote {
    /// String index (0 = string 6).
    pub string: usize,
    /// Fret, counted from the nut or the capo.
    pub fret: u8,
    /// MIDI note number.
    pub midi: u8,
    /// Fitted on what the expected notes of other strings leave.
    pub fit: Fit,
}

/// All notes that matter for a voicing.
#[derive(Debug, Clone)]
pub struct CandidateNotes {
    /// Common offset of the guitar from the reference, in cents.
    pub tuning_cents: f64,
    /// Sum of levels at the expected notes' partials at that offset, per partial looked at, in dB.
    pub tuning_score: f32,
    /// Height by which the strongest line below 1.5 kHz stands above its surroundings as the strings are struck, in dB: of a short take
    /// as of a long one.
    pub strongest_db: f32,
    /// Share of the lines heard, weighted by how far they stand out, that belong to the expected notes
    /// or to others that the same strings may be sounding.
    pub explained: f32,
    /// The expected note of each string.
    pub expected: [Option<CandidateNote>; STRINGS],
    /// Other notes that a string may be sounding instead, per string.
    pub others: [Vec<CandidateNote>; STRINGS],
}

impl CandidateNotes {
    /// Fits the notes that matter for `frets` to one strum.
    pub fn fit(spectra: &Spectra, tuning: &Tuning, frets: &Frets) -> CandidateNotes {
        let common = whole::common_tuning(&spectra.long, tuning, frets);
        CandidateNotes::fit_near(spectra, tuning, frets, common, &[0.0; STRINGS])
    }

    /// Gives the partials of all strings but one, as they are expected, or as they were `heard` instead, in Hz, ascending.
    pub fn foreign(&self, heard: &[Option<u8>; STRINGS], without: usize) -> Vec<f32> {
        let instead = self.others.iter().flatten();
        let instead = instead.filter(|note| heard[note.string] == Some(note.fret));
        let sounding = self.expected.iter().flatten().chain(instead);
        let mut all: Vec<f32> = sounding
            .filter(|note| note.string != without)
            .flat_map(|note| (1..=note.fit.count).map(|n| note.fit.hz(n)))
            .collect();
        all.sort_unstable_by(f32::total_cmp);
        all
    }

    /// The same where it is known how many cents the guitar is off as a whole, how much speaks for that, and each string beyond it.
    pub fn fit_near(
        spectra: &Spectra,
        tuning: &Tuning,
        frets: &Frets,
        (tuning_cents, tuning_score): (f64, f32),
        off_cents: &[f64; STRINGS],
    ) -> CandidateNotes {
        let long = &spectra.long;
        let fitted =
            |string: usize, fret: u8, occupied: Option<&Occupied>, without: Option<usize>| {
                let cents = tuning_cents + off_cents[string];
                let nominal_hz = shifted_hz(tuning.hz(string, fret), cents);
                let usual_b = usual_b(string, fret + tuning.capo);
                CandidateNote {
                    string,
                    fret,
                    midi: tuning.midi(string, fret),
                    fit: fit(long, nominal_hz, usual_b, occupied, without),
                }
            };
        // Alone first, then each string on the partials that the others leave to it.
        let mut expected: [Option<CandidateNote>; STRINGS] = [None; STRINGS];
        let mut bits = Occupied::new(long);
        for (string, fret) in frets.sounding() {
            let alone = fitted(string, fret, None, None);
            bits.place(long, string, Some(&alone.fit));
            expected[string] = Some(alone);
        }
        for _ in 0..ROUNDS {
            for (string, fret) in frets.sounding() {
                let among = fitted(string, fret, Some(&bits), Some(string));
                bits.place(long, string, Some(&among.fit));
                expected[string] = Some(among);
            }
        }
        let mut others: [Vec<CandidateNote>; STRINGS] = Default::default();
        others
            .par_iter_mut()
            .enumerate()
            .for_each(|(string, notes)| {
                let beside = other_frets(frets, string).into_iter();
                notes.extend(beside.map(|fret| fitted(string, fret, Some(&bits), None)));
            });
        let fits: Vec<Fit> = expected.iter().flatten().map(|note| note.fit).collect();
        CandidateNotes {
            tuning_cents,
            tuning_score,
            strongest_db: whole::strongest_db(&spectra.early),
            explained: whole::explained(long, &fits),
            expected,
            others,
        }
    }
}
