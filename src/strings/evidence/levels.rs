//! Levels of one note's partials in every window, and how they fall.

use super::sheet::{Sheet, mean, mean_of_best, median};
use super::{LISTED, reach_hz};
use crate::spectrum::LineSpectrum;
use crate::strings::fit::{Fit, PARTIALS, distance_hz, own_hz};
use crate::strings::spectra::Spectra;

/// Levels of one note's partials in every window.
pub(super) struct Partials {
    hz: Vec<f32>,
    /// Distance in Hz to the nearest partial of another string.
    pub(super) separation: Vec<f32>,
    pre: Vec<f32>,
    pub(super) early: Vec<f32>,
    pub(super) mid: Vec<f32>,
    pub(super) long: Vec<f32>,
    pub(super) late: Vec<f32>,
}

impl Partials {
    pub(super) fn read(spectra: &Spectra, fit: &Fit, occupied: &[f32]) -> Self {
        let hz: Vec<f32> = (1..=fit.count).map(|n| fit.hz(n)).collect();
        let levels = |s: &LineSpectrum| {
            hz.iter()
                .map(|&h| {
                    if s.is_filled() {
                        s.peak_db(h, reach_hz(s))
                    } else {
                        f32::NAN
                    }
                })
                .collect()
        };
        Partials {
            separation: hz.iter().map(|&h| distance_hz(occupied, h)).collect(),
            pre: levels(&spectra.pre),
            early: levels(&spectra.early),
            mid: levels(&spectra.mid),
            long: levels(&spectra.long),
            late: levels(&spectra.late),
            hz,
        }
    }

    pub(super) fn put_levels(
        &self,
        sheet: &mut Sheet,
        window: &str,
        spectra: &Spectra,
        levels: &[f32],
        spectrum: &LineSpectrum,
        reference_db: f32,
    ) {
        let limit = own_hz(spectrum);
        let (mut over, mut against, mut rise) = (Vec::new(), Vec::new(), Vec::new());
        let mut listed = [f32::NAN; LISTED];
        if spectrum.is_filled() {
            for (i, &level) in levels.iter().enumerate() {
                if self.separation[i] >= limit {
                    let o = spectrum.standing_near_db(self.hz[i], reach_hz(spectrum));
                    over.push(o);
                    against.push(level - reference_db);
                    if spectra.pre.is_filled() {
                        rise.push(level - self.pre[i]);
                    }
                    if i < LISTED {
                        listed[i] = o;
                    }
                }
            }
        }
        sheet.put(format_args!("{window}_own"), over.len() as f32);
        sheet.put(
            format_args!("{window}_standing"),
            over.iter().filter(|o| **o > 10.0).count() as f32 / over.len().max(1) as f32,
        );
        sheet.put(format_args!("{window}_mean"), mean(&over));
        sheet.put(format_args!("{window}_median"), median(&mut over));
        sheet.put(format_args!("{window}_best3"), mean_of_best(&mut over, 3));
        sheet.put(format_args!("{window}_best5"), mean_of_best(&mut over, 5));
        sheet.put(
            format_args!("{window}_against_best1"),
            mean_of_best(&mut against, 1),
        );
        sheet.put(
            format_args!("{window}_against_best3"),
            mean_of_best(&mut against, 3),
        );
        sheet.put(format_args!("{window}_rise_median"), median(&mut rise));
        if window == "long" || window == "mid" {
            for (i, o) in listed.iter().enumerate() {
                sheet.put_numbered(window, i + 1, *o);
            }
        }
    }

    /// How the note's own partials fall: between windows, and frame by frame from their height.
    pub(super) fn put_decay(&self, sheet: &mut Sheet, spectra: &Spectra) {
        for (name, from, to, spectrum) in [
            ("early_mid", &self.early, &self.mid, &spectra.early),
            ("early_late", &self.early, &self.late, &spectra.early),
            ("mid_late", &self.mid, &self.late, &spectra.mid),
        ] {
            let limit = own_hz(spectrum);
            let fall = |range: std::ops::Range<usize>| -> Vec<f32> {
                range
                    .filter(|&i| i < self.hz.len() && self.separation[i] >= limit)
                    .map(|i| to[i] - from[i])
                    .filter(|f| f.is_finite())
                    .collect()
            };
            sheet.put(format_args!("{name}_low"), mean(&fall(0..4)));
            sheet.put(format_args!("{name}_high"), mean(&fall(4..12)));
            sheet.put(
                format_args!("{name}_median"),
                median(&mut fall(0..PARTIALS)),
            );
        }
        let frames = &spectra.frames;
        let wide: Vec<f32> = self
            .hz
            .iter()
            .zip(&self.separation)
            .filter(|(_, s)| **s >= 20.0)
            .map(|(h, _)| *h)
            .take(12)
            .collect();
        let lags = [0.12f32, 0.25, 0.4, 0.6, 0.9];
        let mut sums = Vec::new();
        if !wide.is_empty() {
            for frame in 0..frames.count() {
                let power: f32 = wide
                    .iter()
                    .map(|&h| 10f32.powf(frames.at_db(frame, h) / 10.0))
                    .sum();
                sums.push(10.0 * (power + 1e-16).log10());
            }
        }
        let rise_frames = ((0.2 + spectra.spread_s) / frames.step_s()) as usize;
        let top =
            (0..sums.len().min(rise_frames.max(1))).max_by(|&a, &b| sums[a].total_cmp(&sums[b]));
        sheet.put("frames_own", wide.len() as f32);
        sheet.put("rise_db", top.map_or(f32::NAN, |t| sums[t] - sums[0]));
        for lag in lags {
            let value = top
                .and_then(|t| {
                    sums.get(t + (lag / frames.step_s()) as usize)
                        .map(|s| s - sums[t])
                })
                .unwrap_or(f32::NAN);
            sheet.put_numbered("fall", (lag * 100.0) as usize, value);
        }
        // The steepest fall over 0.1 s after the height, in dB.
        let span = (0.1 / frames.step_s()) as usize;
        let steepest = top.map_or(f32::NAN, |t| {
            sums[t..]
                .windows(span + 1)
                .map(|w| w[span] - w[0])
                .fold(f32::NAN, f32::min)
        });
        sheet.put("steepest", steepest);
    }
}
