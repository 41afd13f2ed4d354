//! What note a string sounds, how loud its own partials are, and how they fall.

use crate::fretboard::STRINGS;
use crate::spectrum::LineSpectrum;
use crate::strings::fit::{Fit, distance_hz, own_hz};
use crate::strings::notes::Note;
use crate::strings::spectra::Spectra;

/// Numbers of [`evidence`].
pub const FEATURES: usize = 22;
/// How far the level of neighbours in frequency is averaged, in octaves (standard deviation).
const ENVELOPE_OCTAVES: f32 = 0.4;
/// A partial stands out by so many dB.
const STANDING_DB: f32 = 10.0;
/// Partials that are low, and those after them that are high.
const LOW: std::ops::Range<usize> = 0..4;
const HIGH: std::ops::Range<usize> = 4..12;
/// Partials farther than this from any other string's are read frame by frame, in Hz, and how many.
const APART_HZ: f32 = 20.0;
const IN_FRAMES: usize = 12;
/// Moments after the height at which the fall is read, and the span of the steepest fall, in seconds.
const LAGS_S: [f32; 4] = [0.12, 0.25, 0.4, 0.6];
const STEEPEST_S: f32 = 0.1;
/// The height is looked for this long after the first onset, the strum's own length added, in seconds.
const HEIGHT_S: f32 = 0.2;

/// Evidence on `note`, which is expected among `fits`; NaN where the take has nothing to say.
pub fn evidence(spectra: &Spectra, fits: &[Option<Fit>; STRINGS], note: &Note) -> [f32; FEATURES] {
    let fit = &note.fit;
    let others = || {
        let others = fits.iter().enumerate().filter(|(s, _)| *s != note.string);
        others.filter_map(|(_, f)| f.as_ref())
    };
    let mut foreign: Vec<f32> = others()
        .flat_map(|f| (1..=f.count).map(|n| f.hz(n)))
        .collect();
    foreign.sort_unstable_by(f32::total_cmp);
    let hz: Vec<f32> = (1..=fit.count).map(|n| fit.hz(n)).collect();
    let apart: Vec<f32> = hz.iter().map(|&h| distance_hz(&foreign, h)).collect();

    let long = &spectra.long;
    let own = (0..hz.len()).filter(|&i| apart[i] >= own_hz(long));
    let standing: Vec<f32> = own
        .clone()
        .filter(|_| long.is_filled())
        .map(|i| long.standing_near_db(hz[i], long.reach_hz()))
        .collect();
    let out = standing.iter().filter(|s| **s > STANDING_DB).count();
    let relative: Vec<f32> = own
        .map(|i| level_db(long, hz[i]) - neighbours_db(long, fits, note.string, hz[i]))
        .collect();
    let mean_cents = others().map(|f| f.cents).sum::<f32>() / others().count().max(1) as f32;
    let [rise, fall_1, fall_2, fall_3, fall_4, steepest] = course(spectra, &hz, &apart);
    let fall = |from: &LineSpectrum, to: &LineSpectrum, range: std::ops::Range<usize>| {
        let falls: Vec<f32> = range
            .filter(|&i| i < hz.len() && apart[i] >= own_hz(from))
            .map(|i| level_db(to, hz[i]) - level_db(from, hz[i]))
            .filter(|f| f.is_finite())
            .collect();
        mean(&falls)
    };
    let (early, mid, late) = (&spectra.early, &spectra.mid, &spectra.late);
    [
        f32::from(note.midi),
        note.string as f32,
        f32::from(note.fret),
        spectra.available_s,
        spectra.spread_s,
        fits.iter().flatten().count() as f32,
        fit.cents - mean_cents,
        fit.decades,
        fit.used as f32,
        mean(&standing),
        out as f32 / standing.len().max(1) as f32,
        mean(&relative),
        rise,
        fall_1,
        fall_2,
        fall_3,
        fall_4,
        steepest,
        fall(early, mid, LOW),
        fall(early, mid, HIGH),
        fall(mid, late, LOW),
        fall(mid, late, HIGH),
    ]
}

fn level_db(spectrum: &LineSpectrum, hz: f32) -> f32 {
    match spectrum.is_filled() {
        true => spectrum.peak_db(hz, spectrum.reach_hz()),
        false => f32::NAN,
    }
}

/// Mean level of the other strings' partials near `hz`, in dB.
fn neighbours_db(
    long: &LineSpectrum,
    fits: &[Option<Fit>; STRINGS],
    without: usize,
    hz: f32,
) -> f32 {
    let (mut sum, mut weight) = (0.0, 1e-9);
    for (string, fit) in fits.iter().enumerate() {
        let Some(fit) = fit.filter(|_| string != without) else {
            continue;
        };
        for other_hz in (1..=fit.count).map(|n| fit.hz(n)) {
            let octaves = (other_hz / hz).log2() / ENVELOPE_OCTAVES;
            if octaves.abs() < 3.0 {
                let w = (-0.5 * octaves * octaves).exp();
                sum += w * long.peak_db(other_hz, long.reach_hz());
                weight += w;
            }
        }
    }
    if weight > 1e-3 {
        sum / weight
    } else {
        f32::NAN
    }
}

/// Rise to the height, fall at [`LAGS_S`] after it and steepest fall, in dB, of the partials that stand apart.
fn course(spectra: &Spectra, hz: &[f32], apart: &[f32]) -> [f32; 2 + LAGS_S.len()] {
    let frames = &spectra.frames;
    let wide: Vec<f32> = (hz.iter().zip(apart))
        .filter(|(_, a)| **a >= APART_HZ)
        .map(|(h, _)| *h)
        .take(IN_FRAMES)
        .collect();
    let sums: Vec<f32> = (0..frames.count())
        .filter(|_| !wide.is_empty())
        .map(|frame| {
            let power: f32 = wide
                .iter()
                .map(|&h| 10f32.powf(frames.at_db(frame, h) / 10.0))
                .sum();
            10.0 * (power + 1e-16).log10()
        })
        .collect();
    let frames_in = |s: f32| (s / frames.step_s()) as usize;
    let early = frames_in(HEIGHT_S + spectra.spread_s).max(1);
    let mut values = [f32::NAN; 2 + LAGS_S.len()];
    let top = (0..sums.len().min(early)).max_by(|&a, &b| sums[a].total_cmp(&sums[b]));
    let Some(top) = top else {
        return values;
    };
    values[0] = sums[top] - sums[0];
    for (value, lag_s) in values[1..].iter_mut().zip(LAGS_S) {
        *value = (sums.get(top + frames_in(lag_s))).map_or(f32::NAN, |s| s - sums[top]);
    }
    let span = frames_in(STEEPEST_S);
    values[1 + LAGS_S.len()] = sums[top..]
        .windows(span + 1)
        .map(|w| w[span] - w[0])
        .fold(f32::NAN, f32::min);
    values
}

fn mean(values: &[f32]) -> f32 {
    if values.is_empty() {
        f32::NAN
    } else {
        values.iter().sum::<f32>() / values.len() as f32
    }
}
