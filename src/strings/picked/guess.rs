//! Guess at the voicing of a pass whose chord nobody named.

use super::note::{self, Sounded};
use super::stroke::Stroke;
use super::turns;
use crate::fretboard::{Frets, STRINGS, Tuning};

// What each string counts, as the logarithm of how rarely it happens where the voicing is the one played. With 1,314 composed
// passes, two thirds of them with a fault or two (seed 78, all voicings of the library), what is said to be 0.7 to 0.8 sure is
// right in 0.76 of cases, 0.9 to 0.95 in 0.92; above that all depends on how often a fault makes another chord of it.
/// A string sounds a note that is not its own.
const OTHER_NOTE: f32 = -4.6;
/// A string that should sound is dead, or was left out.
const MISSING: f32 = -1.5;
/// One that should be quiet sounds.
const UNWANTED: f32 = -2.5;
/// What a voicing counts that is none of those known.
const UNKNOWN: f32 = -3.5;

/// Tells how probable each of `library` is, 0 to 1; what is left of 1 is that it was none of them.
pub fn probabilities(strokes: &[Stroke], tuning: &Tuning, library: &[Frets]) -> Vec<f32> {
    let fits = fits(strokes, tuning, library);
    let odds: f32 = fits.iter().map(|fit| fit.exp()).sum();
    fits.iter()
        .map(|fit| fit.exp() / (odds + UNKNOWN.exp()))
        .collect()
}

/// What each of `library` counts: 0 where every stroke is the note that the voicing has on a string in its turn, and none is
/// missing.
fn fits(strokes: &[Stroke], tuning: &Tuning, library: &[Frets]) -> Vec<f32> {
    let mut notes: Vec<(usize, u8)> = library.iter().flat_map(note::picked).collect();
    notes.sort_unstable();
    notes.dedup();
    let common_cents = note::common_cents(strokes, tuning, &notes);
    let heard: Vec<StrokeFits> = strokes
        .iter()
        .map(|stroke| {
            let any = note::any(stroke);
            let fit = |&(s, f): &(usize, u8)| note::fit_near(stroke, tuning, (s, f), common_cents);
            StrokeFits {
                any,
                fits: notes.iter().map(fit).collect(),
            }
        })
        .collect();
    library
        .iter()
        .map(|frets| {
            let strokes: Vec<[Sounded; STRINGS]> = heard
                .iter()
                .map(|heard| heard.on_strings(frets, &notes))
                .collect();
            fit(&heard, &strokes, frets)
        })
        .collect()
}

/// What any note explains of a stroke, and each one that a voicing of the library has.
struct StrokeFits {
    any: f32,
    fits: Vec<f32>,
}

impl StrokeFits {
    /// What the notes of a voicing explain; `notes` are those of `fits`, rising.
    fn on_strings(&self, frets: &Frets, notes: &[(usize, u8)]) -> [Sounded; STRINGS] {
        std::array::from_fn(|string| {
            let fret = frets.0[string].unwrap_or(0);
            let at = notes.binary_search(&(string, fret));
            Sounded {
                string,
                fret,
                cents: 0.0,
                fit: at.map_or(0.0, |at| self.fits[at]),
            }
        })
    }
}

/// What a voicing counts, of whose notes `strokes` holds what they explain of each stroke heard.
fn fit(heard: &[StrokeFits], strokes: &[[Sounded; STRINGS]], frets: &Frets) -> f32 {
    let struck = turns::assign(strokes, frets);
    let is_plain = |&stroke: &usize| note::is_plain(heard[stroke].any);
    let of_strings = (0..STRINGS).map(|string| {
        let plain = struck[string].filter(is_plain);
        let is_its_own =
            |stroke: usize| note::is_it(strokes[stroke][string].fit, heard[stroke].any);
        match (frets.0[string], plain.map(is_its_own)) {
            (Some(_), Some(true)) | (None, None) => 0.0,
            (Some(_), None) => MISSING,
            (None, Some(true)) => UNWANTED,
            (_, Some(false)) => OTHER_NOTE,
        }
    });
    let left = (0..heard.len()).filter(|&stroke| !struck.contains(&Some(stroke)));
    let left = left.filter(is_plain).count();
    of_strings.sum::<f32>() + OTHER_NOTE * left as f32
}
