//! All strings of a chord together, and one note read against them.

use super::among::{put_courses, put_parts, put_shared, put_trace};
use super::levels::Partials;
use super::sheet::{Sheet, mean, mean_of_best, median};
use super::{Asked, LISTED, NoteEvidence, partials_of, reach_hz};
use crate::fretboard::STRINGS;
use crate::strings::courses::Courses;
use crate::strings::fit::{Fit, PARTIALS, distance_hz, own_hz};
use crate::strings::shared::SharedPartials;
use crate::strings::spectra::Spectra;

/// How far the level of neighbours in frequency is averaged, in octaves (standard deviation).
const ENVELOPE_OCTAVES: f32 = 0.4;

/// What all strings of a chord share.
pub(super) struct Chord {
    /// Highest level of any expected partial, in dB.
    reference_db: f32,
    /// Frequency, level and string of every expected partial.
    peaks: Vec<(f32, f32, usize)>,
    /// Which partials no other expected string shares, per string.
    own: [[bool; PARTIALS]; STRINGS],
    shared: SharedPartials,
}

impl Chord {
    pub(super) fn new(spectra: &Spectra, fits: &[Option<Fit>; STRINGS]) -> Self {
        let long = &spectra.long;
        let mut chord = Chord {
            reference_db: -160.0,
            peaks: Vec::new(),
            own: [[false; PARTIALS]; STRINGS],
            shared: SharedPartials::new(spectra, &[None; STRINGS], &[[false; PARTIALS]; STRINGS]),
        };
        let mut occupied = Vec::new();
        for (string, fit) in fits.iter().enumerate() {
            let Some(fit) = fit else { continue };
            partials_of(fits, Some(string), &mut occupied);
            for n in 1..=fit.count {
                let hz = fit.hz(n);
                let level = long.peak_db(hz, reach_hz(long));
                chord.own[string][n - 1] = distance_hz(&occupied, hz) >= own_hz(long);
                chord.peaks.push((hz, level, string));
                chord.reference_db = chord.reference_db.max(level);
            }
        }
        chord.shared = SharedPartials::new(spectra, fits, &chord.own);
        chord
    }

    /// Mean level of the other strings' partials near `hz`, in dB.
    pub(super) fn envelope_db(&self, hz: f32, without: usize) -> f32 {
        let (mut sum, mut weight) = (0.0, 1e-9);
        for &(other_hz, level, string) in &self.peaks {
            if string != without {
                let octaves = (other_hz / hz).log2() / ENVELOPE_OCTAVES;
                if octaves.abs() < 3.0 {
                    let w = (-0.5 * octaves * octaves).exp();
                    sum += w * level;
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

    pub(super) fn evidence(
        &self,
        spectra: &Spectra,
        fits: &[Option<Fit>; STRINGS],
        courses: &Courses,
        asked: Asked,
        occupied: &[f32],
    ) -> NoteEvidence {
        let mut sheet = Sheet {
            names: None,
            values: Vec::with_capacity(160),
        };
        self.fill(&mut sheet, spectra, fits, courses, &asked, occupied);
        NoteEvidence {
            string: asked.string,
            fret: asked.fret,
            fit: asked.among,
            features: sheet.values,
        }
    }

    pub(super) fn fill(
        &self,
        sheet: &mut Sheet,
        spectra: &Spectra,
        fits: &[Option<Fit>; STRINGS],
        courses: &Courses,
        asked: &Asked,
        occupied: &[f32],
    ) {
        let Asked {
            string,
            fret,
            midi,
            expected,
            among: fit,
            alone,
            traces,
            parts,
        } = asked;
        let (string, fret, expected) = (*string, *fret, *expected);
        let own_set = Partials::read(spectra, fit, occupied);

        // The note and its neighbours.
        sheet.put("midi", f32::from(*midi));
        sheet.put("string", string as f32);
        sheet.put("fret", f32::from(fret));
        sheet.put("expected", f32::from(u8::from(expected)));
        sheet.put("available_s", spectra.available_s);
        sheet.put("spread_s", spectra.spread_s);
        sheet.put("chord_size", fits.iter().flatten().count() as f32);
        sheet.put(
            "chord_over_pre",
            if spectra.pre.is_filled() {
                self.reference_db
                    - (self
                        .peaks
                        .iter()
                        .map(|p| spectra.pre.at_db(p.0))
                        .fold(-160.0, f32::max))
            } else {
                f32::NAN
            },
        );

        // The fit.
        let others: Vec<&Fit> = fits
            .iter()
            .enumerate()
            .filter(|(i, _)| *i != string)
            .filter_map(|(_, f)| f.as_ref())
            .collect();
        let mean_cents = others.iter().map(|f| f.cents).sum::<f32>() / others.len().max(1) as f32;
        sheet.put("cents", fit.cents - mean_cents);
        sheet.put("decades", fit.decades);
        sheet.put("score", fit.score / fit.used.max(1) as f32);
        sheet.put("score_sum", fit.score);
        sheet.put("alone_score", alone.score / alone.count.max(1) as f32);
        sheet.put("alone_cents", alone.cents - mean_cents);
        sheet.put("alone_decades", alone.decades);
        sheet.put(
            "alone_apart_hz",
            (1..=fit.count.min(12))
                .map(|n| (fit.hz(n) - alone.hz(n)).abs())
                .fold(0.0, f32::max),
        );
        sheet.put("used", fit.used as f32);
        sheet.put("count", fit.count as f32);

        // Levels over the floor and against the chord, window by window, own partials only.
        own_set.put_levels(
            sheet,
            "long",
            spectra,
            &own_set.long,
            &spectra.long,
            self.reference_db,
        );
        own_set.put_levels(
            sheet,
            "mid",
            spectra,
            &own_set.mid,
            &spectra.mid,
            self.reference_db,
        );
        own_set.put_levels(
            sheet,
            "late",
            spectra,
            &own_set.late,
            &spectra.late,
            self.reference_db,
        );
        own_set.put_levels(
            sheet,
            "early",
            spectra,
            &own_set.early,
            &spectra.early,
            self.reference_db,
        );

        // Against the other strings' partials nearby.
        let mut relative: Vec<f32> = Vec::with_capacity(PARTIALS);
        for n in 1..=LISTED.max(fit.count) {
            let mut rel = f32::NAN;
            if n <= fit.count && own_set.separation[n - 1] >= own_hz(&spectra.long) {
                rel = own_set.long[n - 1] - self.envelope_db(fit.hz(n), string);
                relative.push(rel);
            }
            if n <= LISTED {
                sheet.put_numbered("relative", n, rel);
            }
        }
        sheet.put("relative_mean", mean(&relative));
        sheet.put("relative_best5", mean_of_best(&mut relative, 5));
        sheet.put("relative_median", median(&mut relative));
        let shared = self.shared.on(spectra, fits, string, fit);
        put_shared(sheet, "among", &shared);
        // The fit that hides from the others may have fled from where the string really is.
        put_shared(
            sheet,
            "alone",
            &self.shared.on(spectra, fits, string, alone),
        );

        // How near relatives stand: an octave, a twelfth, a double octave, unison, below and above.
        for (name, interval) in [
            ("unison", 0.0),
            ("octave_below", -12.0),
            ("twelfth_below", -19.0),
            ("two_octaves_below", -24.0),
            ("octave_above", 12.0),
            ("twelfth_above", 19.0),
            ("fifth_below", -7.0),
            ("fourth_below", -5.0),
        ] {
            let there = fits.iter().enumerate().any(|(i, f)| {
                i != string
                    && f.is_some_and(|f| {
                        ((12.0 * (f.f0_hz / fit.f0_hz).log2()) as f32 - interval).abs() < 0.5
                    })
            });
            sheet.put(name, f32::from(u8::from(there)));
        }
        // Could the fit be a mirror of the string an octave below: same offset, four times its stiffness?
        let mirror = fits
            .iter()
            .enumerate()
            .filter(|(i, _)| *i != string)
            .filter_map(|(_, f)| *f)
            .find(|f| ((12.0 * (fit.f0_hz / f.f0_hz).log2()) - 12.0).abs() < 0.5);
        sheet.put(
            "mirror_cents",
            mirror.map_or(f32::NAN, |f| fit.cents - f.cents),
        );
        sheet.put(
            "mirror_decades",
            mirror.map_or(f32::NAN, |f| (fit.b / (4.0 * f.b)).log10() as f32),
        );

        own_set.put_decay(sheet, spectra);
        put_courses(sheet, courses, string, fit);
        put_trace(sheet, traces, string);
        put_parts(sheet, parts, string);
    }
}
