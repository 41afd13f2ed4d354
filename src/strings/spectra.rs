//! All spectra that the evidence on one strum is read from.

use crate::spectrum::{Decimator, LinePlan, LineSpectrum};
use crate::take::Take;

/// Moments at which a strum begins and ends, as indices into its samples.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moments {
    /// First stroke.
    pub first: usize,
    /// Last string struck.
    pub last: usize,
    /// Next take's start, or the end of the sound.
    pub end: usize,
}

impl Moments {
    /// Gives the moments as the finder heard them.
    pub fn of(strum: &Take) -> Self {
        Moments {
            first: strum.onsets[0],
            last: strum.onsets[strum.onsets.len() - 1],
            end: strum.samples.len(),
        }
    }
}

/// The spectra of one strum: planned once, filled strum by strum.
pub struct Spectra {
    decimator: Decimator,
    plan: LinePlan,
    /// The strum at the rate of analysis.
    pub low: Vec<f32>,
    /// First and last onset, as indices into `low`.
    pub onsets: (usize, usize),
    source_hz: u32,
    /// Spectrum from the first onset to a little after the last.
    pub early: LineSpectrum,
    /// The first few tenths after the last onset: all that a chord of 0.3 s has.
    pub mid: LineSpectrum,
    /// A second after the last onset, or what there is of it.
    pub long: LineSpectrum,
    /// Spectrum from half a second after the last onset on.
    pub late: LineSpectrum,
    /// Seconds from the last onset to the end.
    pub available_s: f32,
    /// Seconds from the first onset to the last.
    pub spread_s: f32,
}

/// Begin and end of each window in seconds, and the shortest that is worth reading: what each is for
/// is told in the documentation of [`strings`](super).
const EARLY_S: (f64, f64) = (0.01, 0.16);
const MID_S: (f64, f64) = (0.03, 0.45);
const LONG_S: (f64, f64) = (0.05, 1.15);
const LATE_S: (f64, f64, f64) = (0.55, 1.25, 0.3);
/// Of a strum that lasts no longer than this the long window, too, begins with the attack, in seconds: it needs all that there is.
const BRIEF_S: f32 = 0.15;

impl Spectra {
    /// Plans for samples at `rate_hz`.
    pub fn new(rate_hz: u32) -> Self {
        let decimator = Decimator::new(rate_hz);
        let plan = LinePlan::new(decimator.rate_hz());
        Spectra {
            low: Vec::new(),
            onsets: (0, 0),
            source_hz: rate_hz,
            early: plan.spectrum(),
            mid: plan.spectrum(),
            long: plan.spectrum(),
            late: plan.spectrum(),
            available_s: 0.0,
            spread_s: 0.0,
            plan,
            decimator,
        }
    }

    /// Reads the strum in `samples`: at most [`Take::JUDGED_S`] of it.
    pub fn fill(&mut self, samples: &[f32], moments: Moments) {
        let judged = (Take::JUDGED_S * f64::from(self.source_hz)) as usize;
        let end = moments.end.min(moments.first + judged).min(samples.len());
        self.decimator.run(&samples[..end], &mut self.low);
        let rate = self.decimator.rate_hz();
        let factor = self.decimator.factor();
        let end = self.low.len();
        let (first, last) = (
            (moments.first / factor).min(end),
            (moments.last / factor).min(end),
        );
        self.onsets = (first, last);
        self.available_s = ((end - last) as f64 / rate) as f32;
        self.spread_s = ((last - first) as f64 / rate) as f32;
        let at = |from: usize, s: f64| ((from as f64 + s * rate).max(0.0) as usize).min(end);
        let mut read = |from: usize, to: usize, shortest_s: f64, into: &mut LineSpectrum| {
            let part = &self.low[from.min(to)..to];
            if part.len() as f64 >= shortest_s * rate && part.len() > 16 {
                self.plan.fill(part, into);
            } else {
                into.clear();
            }
        };
        read(
            at(first, EARLY_S.0),
            at(last, EARLY_S.1),
            0.05,
            &mut self.early,
        );
        read(at(last, MID_S.0), at(last, MID_S.1), 0.05, &mut self.mid);
        let long_s = match self.available_s < BRIEF_S {
            true => EARLY_S.0,
            false => LONG_S.0,
        };
        read(at(last, long_s), at(last, LONG_S.1), 0.05, &mut self.long);
        read(
            at(last, LATE_S.0),
            at(last, LATE_S.1),
            LATE_S.2,
            &mut self.late,
        );
    }

    /// Rate in Hz that the spectra were taken at.
    pub fn rate_hz(&self) -> f64 {
        self.decimator.rate_hz()
    }
}
