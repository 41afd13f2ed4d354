//! What a take says about one note on one string: the numbers that the model decides by.

mod among;
mod chord;
mod levels;
mod sheet;
mod whole;

pub use whole::{REACH_TUNING_CENTS, rough_fit};

use chord::Chord;
use sheet::Sheet;

use super::apart::{Parts, take_apart};
use super::courses::Courses;
use super::fit::{Fit, Occupied, fit};
use super::spectra::Spectra;
use super::stiffness::usual_b;
use super::traces::{Trace, traces};
use crate::fretboard::{Frets, STRINGS, Tuning};
use crate::spectrum::LineSpectrum;
use crate::spectrum::partials::shifted_hz;

/// Rounds in which strings are fitted on what the others leave.
const ROUNDS: usize = 2;
/// Single partials that the model sees one by one.
const LISTED: usize = 10;

/// Evidence on one note.
#[derive(Debug, Clone)]
pub struct NoteEvidence {
    /// String index (0 = string 6).
    pub string: usize,
    pub fret: u8,
    pub fit: Fit,
    /// As named by [`feature_names`]; NaN where the take has nothing to say.
    pub features: Vec<f32>,
}

/// Evidence on all notes that matter for a voicing.
#[derive(Debug, Clone)]
pub struct Evidence {
    /// Common offset of the guitar from the reference, in cents.
    pub tuning_cents: f64,
    /// Sum of levels at the expected notes' partials at that offset, per partial looked at, in dB.
    pub tuning_score: f32,
    /// How far the strongest line below 1.5 kHz stands above its surroundings, in dB.
    pub strongest_db: f32,
    /// Share of the lines heard, weighted by how far they stand out, that belong to the expected notes
    /// or to others that the same strings may be sounding.
    pub explained: f32,
    /// The expected note of each string.
    pub expected: [Option<NoteEvidence>; STRINGS],
    /// Other notes that a string may be sounding instead, per string.
    pub others: [Vec<NoteEvidence>; STRINGS],
}

/// The fret of the barre (or of the index finger) of a voicing without open strings: its lowest.
pub fn barre_fret(frets: &Frets) -> Option<u8> {
    let lowest = frets.sounding().map(|(_, f)| f).min()?;
    (lowest > 0).then_some(lowest)
}

/// The frets other than the expected one that a string is likely to sound at when the hand is not
/// quite right: see [`frets_beside`].
pub fn other_frets(frets: &Frets, string: usize) -> Vec<u8> {
    frets_beside(frets.0[string], barre_fret(frets))
}

/// Open, the barre's fret, one below and one above `fret`; ascending, without `fret` itself.
pub fn frets_beside(fret: Option<u8>, barre: Option<u8>) -> Vec<u8> {
    let mut others = vec![0];
    others.extend(barre);
    if let Some(fret) = fret {
        others.extend(fret.checked_sub(1));
        others.push(fret + 1);
        others.retain(|&f| f != fret);
    }
    others.sort_unstable();
    others.dedup();
    others
}

/// The notes alone.
pub type Fitted = ([Option<(u8, Fit)>; STRINGS], [Vec<(u8, Fit)>; STRINGS]);

/// Fits alone.
pub fn fitted_notes(spectra: &Spectra, tuning: &Tuning, frets: &Frets) -> Fitted {
    let (tuning_cents, _) = whole::common_tuning(&spectra.long, tuning, frets);
    let note_hz = |string: usize, fret: u8| shifted_hz(tuning.hz(string, fret), tuning_cents);
    let long = &spectra.long;
    let fitted = |string: usize, fret: u8, occupied: Option<&Occupied>, without: Option<usize>| {
        let usual_b = usual_b(string, fret + tuning.capo);
        fit(long, note_hz(string, fret), usual_b, occupied, without)
    };
    let mut fits: [Option<(u8, Fit)>; STRINGS] = [None; STRINGS];
    let mut bits = Occupied::new(long);
    for (string, fret) in frets.sounding() {
        let alone = fitted(string, fret, None, None);
        bits.place(long, string, Some(&alone));
        fits[string] = Some((fret, alone));
    }
    for _ in 0..ROUNDS {
        for (string, fret) in frets.sounding() {
            let among = fitted(string, fret, Some(&bits), Some(string));
            bits.place(long, string, Some(&among));
            fits[string] = Some((fret, among));
        }
    }
    let others = std::array::from_fn(|string| {
        other_frets(frets, string)
            .into_iter()
            .map(|fret| (fret, fitted(string, fret, Some(&bits), None)))
            .collect()
    });
    (fits, others)
}

/// Gathers the evidence on `frets` from the spectra of one strum.
pub fn gather(spectra: &Spectra, tuning: &Tuning, frets: &Frets) -> Evidence {
    let (tuning_cents, tuning_score) = whole::common_tuning(&spectra.long, tuning, frets);
    let note_hz = |string: usize, fret: u8| shifted_hz(tuning.hz(string, fret), tuning_cents);

    // Alone first, then each string on the partials that the others leave to it.
    let long = &spectra.long;
    let fitted = |string: usize, fret: u8, occupied: Option<&Occupied>, without: Option<usize>| {
        let usual_b = usual_b(string, fret + tuning.capo);
        fit(long, note_hz(string, fret), usual_b, occupied, without)
    };
    let mut fits: [Option<Fit>; STRINGS] = [None; STRINGS];
    let mut bits = Occupied::new(long);
    for (string, fret) in frets.sounding() {
        let alone = fitted(string, fret, None, None);
        bits.place(long, string, Some(&alone));
        fits[string] = Some(alone);
    }
    let free = fits;
    for _ in 0..ROUNDS {
        for (string, fret) in frets.sounding() {
            let among = fitted(string, fret, Some(&bits), Some(string));
            bits.place(long, string, Some(&among));
            fits[string] = Some(among);
        }
    }
    let mut occupied = Vec::new();

    let chord = Chord::new(spectra, &fits);
    let courses = Courses::new(&spectra.bands, &fits);
    let (first, last) = spectra.onsets;
    let traced = traces(&spectra.low, spectra.rate_hz(), first, last, &fits);
    let parts =
        take_apart(&spectra.low, spectra.rate_hz(), spectra.onsets, &fits).unwrap_or_default();
    let none = Parts::default();
    let mut expected: [Option<NoteEvidence>; STRINGS] = Default::default();
    let mut others: [Vec<NoteEvidence>; STRINGS] = Default::default();
    for string in 0..STRINGS {
        if let (Some(fret), Some(among), Some(alone)) =
            (frets.0[string], fits[string], free[string])
        {
            partials_of(&fits, Some(string), &mut occupied);
            let asked = Asked {
                string,
                midi: tuning.midi(string, fret),
                fret,
                expected: true,
                among,
                alone,
                traces: &traced,
                parts: &parts,
            };
            expected[string] = Some(chord.evidence(spectra, &fits, &courses, asked, &occupied));
        }
        for fret in other_frets(frets, string) {
            partials_of(&fits, None, &mut occupied);
            let alone = fitted(string, fret, None, None);
            let among = fitted(string, fret, Some(&bits), None);
            let asked = Asked {
                string,
                midi: tuning.midi(string, fret),
                fret,
                expected: false,
                among,
                alone,
                traces: &[None; STRINGS],
                parts: &none,
            };
            others[string].push(chord.evidence(spectra, &fits, &courses, asked, &occupied));
        }
    }
    let (strongest_db, explained) = whole::explained(long, &expected);
    Evidence {
        tuning_cents,
        tuning_score,
        strongest_db,
        explained,
        expected,
        others,
    }
}

/// Names of the features, in order.
pub fn feature_names() -> Vec<String> {
    let spectra = Spectra::new(44_100);
    let fit = Fit::nominal(220.0, 1e-4, 5000.0);
    let mut sheet = Sheet {
        names: Some(Vec::new()),
        values: Vec::new(),
    };
    let asked = Asked {
        string: 0,
        fret: 0,
        midi: 40,
        expected: true,
        among: fit,
        alone: fit,
        traces: &[None; STRINGS],
        parts: &Parts::default(),
    };
    let nobody = [None; STRINGS];
    let chord = Chord::new(&spectra, &nobody);
    let courses = Courses::new(&spectra.bands, &nobody);
    chord.fill(&mut sheet, &spectra, &nobody, &courses, &asked, &[]);
    sheet.names.expect("asked for")
}

/// The note asked about and its two fits.
struct Asked<'a> {
    string: usize,
    fret: u8,
    midi: u8,
    expected: bool,
    /// Fitted on what the other strings leave.
    among: Fit,
    /// Fitted as if there were no others.
    alone: Fit,
    /// Of all expected strings; nobody's for a note that is not expected.
    traces: &'a [Option<Trace>; STRINGS],
    /// The same.
    parts: &'a Parts,
}

/// Collects the partials of all `fits` but that of string `without`, ascending.
fn partials_of(fits: &[Option<Fit>; STRINGS], without: Option<usize>, into: &mut Vec<f32>) {
    into.clear();
    for (string, fit) in fits.iter().enumerate() {
        if let Some(fit) = fit
            && Some(string) != without
        {
            into.extend((1..=fit.count).map(|n| fit.hz(n)));
        }
    }
    into.sort_unstable_by(f32::total_cmp);
}

/// Half the width in Hz within which a partial's level is looked for, given the window's length.
pub fn reach_hz(spectrum: &LineSpectrum) -> f32 {
    (0.6 / spectrum.seconds().max(0.05)).max(0.7)
}
