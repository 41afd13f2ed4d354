//! Note that is new after a stroke.

use super::series::Series;
use super::stroke::{LINES_HZ, Stroke};
use crate::fretboard::{Frets, Tuning, other_frets};
use crate::spectrum::partials::{offsets_cents, shifted_hz};
use crate::strings::whole::best_offset;

/// A line belongs to a partial this near, in Hz and as a share of its frequency (12 cents).
const NEAR: (f64, f64) = (1.5, 0.007);
/// A string may be off the guitar's own tuning by less than half a fret.
const REACH_CENTS: f64 = 45.0;
const STEP_CENTS: f64 = 3.0;
/// Of places that explain the same the one nearest to in tune.
const PER_CENT_OFF: f32 = 0.0005;

/// A stroke is plainly a note where the note that fits best explains so much: a dead string's few lines fit many notes a
/// little. It is a certain note where that explains this share of that. Choices.
const PLAIN_FIT: f32 = 0.5;
const SHARE_OF_ANY: f32 = 0.75;

/// Notes of a guitar in Hz, the step between those tried, and a stiffness in the middle of its strings'.
const ANY_HZ: (f64, f64) = (70.0, 1_200.0);
const ANY_STEP_CENTS: f64 = 12.0;
const ANY_B: f64 = 1e-4;

/// A note on a string as a stroke sounds it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sounded {
    pub string: usize,
    pub fret: u8,
    /// Off the guitar's common tuning.
    pub cents: f32,
    /// 0 to 1: how much of what is new the note explains, times how complete it is.
    pub fit: f32,
}

/// The common offset of the guitar, in cents: where `notes` (string, fret) explain most.
pub fn common_cents(strokes: &[Stroke], tuning: &Tuning, notes: &[(usize, u8)]) -> f64 {
    let score = |cents: f64| -> f32 {
        strokes
            .iter()
            .map(|stroke| {
                notes
                    .iter()
                    .map(|&(s, f)| fit(stroke, Series::of(tuning, s, f, cents)))
                    .fold(0.0, f32::max)
            })
            .sum()
    };
    best_offset(STEP_CENTS, PER_CENT_OFF, score).0
}

/// The notes (string, fret) that a pass over a voicing sounds; strings that should be quiet are picked along, open.
pub fn picked(frets: &Frets) -> impl Iterator<Item = (usize, u8)> {
    let frets = frets.0.into_iter();
    frets.map(|fret| fret.unwrap_or(0)).enumerate()
}

/// Tells how much a note (string, fret) explains where its string may be off the guitar's own tuning.
pub fn fit_near(
    stroke: &Stroke,
    tuning: &Tuning,
    (string, fret): (usize, u8),
    common_cents: f64,
) -> f32 {
    offsets_cents(REACH_CENTS, STEP_CENTS)
        .map(|off| fit(stroke, Series::of(tuning, string, fret, common_cents + off)))
        .fold(0.0, f32::max)
}

/// The note that `string` most likely sounds after a stroke: the expected one, unless another fits better.
pub fn best(
    stroke: &Stroke,
    string: usize,
    tuning: &Tuning,
    frets: &Frets,
    common_cents: f64,
) -> Sounded {
    let expected = frets.0[string].into_iter();
    let mut best: Option<Sounded> = None;
    for fret in expected.chain(other_frets(frets, string)) {
        for cents in offsets_cents(REACH_CENTS, STEP_CENTS) {
            let series = Series::of(tuning, string, fret, common_cents + cents);
            let fit = fit(stroke, series) - PER_CENT_OFF * cents.abs() as f32;
            if best.is_none_or(|b| fit > b.fit) {
                best = Some(Sounded {
                    string,
                    fret,
                    cents: cents as f32,
                    fit,
                });
            }
        }
    }
    best.unwrap_or(Sounded {
        string,
        fret: 0,
        cents: 0.0,
        fit: 0.0,
    })
}

/// Tells how much any note of a guitar explains, whatever is expected.
pub fn any(stroke: &Stroke) -> f32 {
    let cents = (0..).map(|i| f64::from(i) * ANY_STEP_CENTS);
    let notes = cents.map(|cents| shifted_hz(ANY_HZ.0, cents));
    notes
        .take_while(|hz| *hz < ANY_HZ.1)
        .map(|f0_hz| fit(stroke, Series { f0_hz, b: ANY_B }))
        .fold(0.0, f32::max)
}

/// Tells whether a stroke of which some note explains `any` is plainly a note.
pub fn is_plain(any: f32) -> bool {
    any >= PLAIN_FIT
}

/// Tells whether a stroke of which some note explains `any` is the note that explains `fit` of it.
pub fn is_it(fit: f32, any: f32) -> bool {
    fit >= SHARE_OF_ANY * any
}

/// How much of a stroke's new lines a note explains: 0 to 1.
fn fit(stroke: &Stroke, series: Series) -> f32 {
    let highest_hz = f64::from(LINES_HZ.1);
    stroke.lines.explained(|n| series.hz(n), highest_hz, NEAR)
}
