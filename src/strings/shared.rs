//! What partials say that two strings share: an octave doubled by another string adds level where the
//! lower string alone would be smooth, and, being tuned by another peg, stands a little off.

use super::fit::{Fit, PARTIALS, own_hz};
use super::spectra::Spectra;
use crate::fretboard::STRINGS;
use crate::spectrum::LineSpectrum;

/// Windows in which levels are compared: early, mid, long, late.
pub const WINDOWS: usize = 4;
/// How far to either side, in partials, a string's own level is looked for.
const NEIGHBOURS: usize = 4;
/// Partials of the asked note that are compared.
const COMPARED: usize = 10;
/// A line must stand this far above its surroundings for its frequency to be trusted, in dB.
const TRUSTED_DB: f32 = 14.0;
/// Smallest scatter of a string's own lines around its law that is believed, in cents.
const LEAST_SCATTER_CENTS: f64 = 0.3;

/// f_n² / n² = f0² + f0² B n², fitted through a string's own lines.
#[derive(Debug, Clone, Copy)]
struct Law {
    intercept: f64,
    slope: f64,
    scatter_cents: f64,
}

impl Law {
    fn hz(&self, n: usize) -> f64 {
        let n = n as f64;
        n * (self.intercept + self.slope * n * n).max(1.0).sqrt()
    }

    /// Least squares, then once more without the lines that lie farthest off.
    fn through(lines: &[(usize, f64)]) -> Option<Law> {
        let mut kept = lines.to_vec();
        let mut law = None;
        for _ in 0..3 {
            if kept.len() < 3 {
                return law;
            }
            let (mut s, mut sx, mut sxx, mut sy, mut sxy) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for &(n, hz) in &kept {
                let (x, y) = ((n * n) as f64, (hz / n as f64).powi(2));
                // A line's frequency is known to so many Hz: in (f/n)² that is 1/n-fold.
                let w = (n * n) as f64;
                s += w;
                sx += w * x;
                sxx += w * x * x;
                sy += w * y;
                sxy += w * x * y;
            }
            let determinant = s * sxx - sx * sx;
            if determinant.abs() < 1e-9 {
                return law;
            }
            let slope = (s * sxy - sx * sy) / determinant;
            let mut next = Law {
                intercept: (sy - slope * sx) / s,
                slope,
                scatter_cents: 0.0,
            };
            let off = |&(n, hz): &(usize, f64)| (1200.0 * (hz / next.hz(n)).log2()).abs();
            let mut offs: Vec<f64> = kept.iter().map(off).collect();
            offs.sort_by(f64::total_cmp);
            let scatter = offs[offs.len() / 2].max(LEAST_SCATTER_CENTS);
            kept.retain(|line| off(line) <= 3.0 * scatter);
            next.scatter_cents = scatter;
            law = Some(next);
        }
        law
    }
}

/// Levels and lines of all expected strings of a chord.
pub struct SharedPartials {
    levels: [[[f32; PARTIALS]; WINDOWS]; STRINGS],
    laws: [Option<Law>; STRINGS],
}

/// What the shared partials of one note say.
#[derive(Debug, Clone)]
pub struct SharedEvidence {
    /// Level above what the other strings alone would give, per window and partial compared, in dB.
    pub excess_db: [[f32; COMPARED]; WINDOWS],
    /// Distance of the line heard from where the other string's law puts its partial, in units of that
    /// string's own scatter, per partial compared.
    pub off_scatter: [f32; COMPARED],
    /// The same in cents.
    pub off_cents: [f32; COMPARED],
}

fn windows(spectra: &Spectra) -> [&LineSpectrum; WINDOWS] {
    [&spectra.early, &spectra.mid, &spectra.long, &spectra.late]
}

impl SharedPartials {
    /// Reads all strings; `own[string][n - 1]` tells which partials no other string shares.
    pub fn new(
        spectra: &Spectra,
        fits: &[Option<Fit>; STRINGS],
        own: &[[bool; PARTIALS]; STRINGS],
    ) -> Self {
        let mut levels = [[[f32::NAN; PARTIALS]; WINDOWS]; STRINGS];
        let mut laws = [None; STRINGS];
        let mut lines = Vec::with_capacity(PARTIALS);
        for (string, fit) in fits.iter().enumerate() {
            let Some(fit) = fit else { continue };
            lines.clear();
            for n in 1..=fit.count {
                let hz = fit.hz(n);
                for (window, spectrum) in windows(spectra).into_iter().enumerate() {
                    if spectrum.is_filled() {
                        levels[string][window][n - 1] =
                            spectrum.peak_db(hz, super::evidence::reach_hz(spectrum));
                    }
                }
                if own[string][n - 1]
                    && let Some(line) = trusted_line(&spectra.long, hz)
                {
                    lines.push((n, line));
                }
            }
            laws[string] = Law::through(&lines);
        }
        SharedPartials { levels, laws }
    }

    /// Looks at the partials that the note `fit` on `string` shares with the other strings' `fits`.
    pub fn on(
        &self,
        spectra: &Spectra,
        fits: &[Option<Fit>; STRINGS],
        string: usize,
        fit: &Fit,
    ) -> SharedEvidence {
        let mut evidence = SharedEvidence {
            excess_db: [[f32::NAN; COMPARED]; WINDOWS],
            off_scatter: [f32::NAN; COMPARED],
            off_cents: [f32::NAN; COMPARED],
        };
        let limit = own_hz(&spectra.long);
        for n in 1..=COMPARED.min(fit.count) {
            let hz = fit.hz(n);
            let mut expected_db = [f32::NAN; WINDOWS];
            for (other, other_fit) in fits.iter().enumerate() {
                let Some(other_fit) = other_fit else { continue };
                if other == string {
                    continue;
                }
                let m = nearest_partial(other_fit, hz);
                if (other_fit.hz(m) - hz).abs() >= limit {
                    continue;
                }
                for (window, expected) in expected_db.iter_mut().enumerate() {
                    *expected =
                        expected.max(self.expected_db(other, other_fit, m, fit, window, limit));
                }
                if let Some(law) = &self.laws[other]
                    && let Some(line) = trusted_line(&spectra.long, hz)
                {
                    let cents = 1200.0 * (line / law.hz(m)).log2();
                    // The nearest law is the one that could explain the line.
                    let scatter = (cents / law.scatter_cents) as f32;
                    if evidence.off_scatter[n - 1].is_nan()
                        || scatter.abs() < evidence.off_scatter[n - 1].abs()
                    {
                        evidence.off_scatter[n - 1] = scatter;
                        evidence.off_cents[n - 1] = cents as f32;
                    }
                }
            }
            for (window, spectrum) in windows(spectra).into_iter().enumerate() {
                if spectrum.is_filled() {
                    evidence.excess_db[window][n - 1] = spectrum
                        .peak_db(hz, super::evidence::reach_hz(spectrum))
                        - expected_db[window];
                }
            }
        }
        evidence
    }

    /// What string `other` gives at its partial `m` without the asked note's help: the level between
    /// its nearest partials on both sides that the asked note does not share.
    fn expected_db(
        &self,
        other: usize,
        other_fit: &Fit,
        m: usize,
        asked: &Fit,
        window: usize,
        limit: f32,
    ) -> f32 {
        let free = |k: &usize| {
            let hz = other_fit.hz(*k);
            (asked.hz(nearest_partial(asked, hz)) - hz).abs() >= limit
        };
        let below = (m.saturating_sub(NEIGHBOURS).max(1)..m).rev().find(free);
        let above = (m + 1..=(m + NEIGHBOURS).min(other_fit.count)).find(free);
        let level = |k: usize| self.levels[other][window][k - 1];
        match (below, above) {
            (Some(a), Some(b)) => {
                level(a) + (level(b) - level(a)) * (m - a) as f32 / (b - a) as f32
            }
            (Some(a), None) => level(a),
            (None, Some(b)) => level(b),
            (None, None) => f32::NAN,
        }
    }
}

/// The frequency in Hz of the line near `hz`, if one stands out.
fn trusted_line(spectrum: &LineSpectrum, hz: f32) -> Option<f64> {
    let (line, standing_db) = spectrum.line_near(hz, own_hz(spectrum));
    (standing_db >= TRUSTED_DB).then_some(line)
}

/// The partial of `fit` nearest to `hz`.
pub fn nearest_partial(fit: &Fit, hz: f32) -> usize {
    let guess = (f64::from(hz) / fit.f0_hz).round().max(1.0) as usize;
    (guess.saturating_sub(2).max(1)..=(guess + 1).min(fit.count.max(1)))
        .min_by(|&a, &b| (fit.hz(a) - hz).abs().total_cmp(&(fit.hz(b) - hz).abs()))
        .unwrap_or(1)
}
