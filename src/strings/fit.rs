//! Fit of one string's partials in one take: its tuning offset and its stiffness.

use multiversion::multiversion;

use crate::fretboard::STRINGS;
use crate::spectrum::LineSpectrum;
use crate::spectrum::partials::{flexible_hz, partial_hz, shifted_hz};

/// Most partials looked at.
pub const PARTIALS: usize = 28;
/// Highest partial looked at, in Hz.
const HIGHEST_HZ: f64 = 4_500.0;
/// Farthest that a string may be from the take's common tuning, in cents.
const REACH_CENTS: f64 = 25.0;
/// Farthest that a string's stiffness may be below and above the usual, in decades: a plain or nylon
/// third string is five times as stiff as a wound one, and a note may be recorded on the neighbouring
/// string. Measured on guitars left out: 0.6 either way misses a fifth more missing strings.
const REACH_DECADES: (f64, f64) = (0.9, 1.3);
/// What a decade from the usual costs, squared, in dB: halving or doubling it changes no figure.
const DECADE_COST_DB: f64 = 8.0;
/// Steps of the coarse search to either side: cents, decades.
const COARSE_STEPS: (i32, i32) = (12, 18);
/// A partial counts at most this many dB, so that no single one decides the fit.
const CAP_DB: f32 = 30.0;
/// What an own partial must stand above its surroundings to speak for a place rather than against it,
/// in dB: a little over what noise does at the best of a few hundred places tried.
const TOLL_DB: f32 = 12.0;
/// The same for partials from the fifth on, some of which a ringing string lacks.
const MIDDLE_TOLL_DB: f32 = 8.0;
/// The same for partials from the ninth on, most of which a ringing string may lack.
const HIGH_TOLL_DB: f32 = 4.0;
/// Partials nearer than this to another string's are not this string's own.
pub const OWN_HZ: f32 = 2.5;

/// A note that a string may be sounding, fitted to the take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// Flexible fundamental in Hz.
    pub f0_hz: f64,
    /// Stiffness coefficient.
    pub b: f64,
    /// Cents above the nominal pitch at which the search was centred.
    pub cents: f32,
    /// log10 of B over the usual B.
    pub decades: f32,
    /// Sum over own partials of their standing in dB, each capped, less the toll.
    pub score: f32,
    /// Partials below the frequency limit.
    pub count: usize,
    /// Own partials at the place found.
    pub used: usize,
}

impl Fit {
    /// The note as expected, before any fitting.
    pub fn nominal(f1_hz: f64, usual_b: f64, top_hz: f64) -> Self {
        let f0_hz = flexible_hz(f1_hz, usual_b);
        let limit = HIGHEST_HZ.min(top_hz * 0.9);
        let count = (1..=PARTIALS)
            .take_while(|&n| partial_hz(f0_hz, usual_b, n) < limit)
            .count();
        Fit {
            f0_hz,
            b: usual_b,
            cents: 0.0,
            decades: 0.0,
            score: 0.0,
            count,
            used: 0,
        }
    }

    /// Frequency of partial `n` (1 = fundamental) in Hz.
    pub fn hz(&self, n: usize) -> f32 {
        partial_hz(self.f0_hz, self.b, n) as f32
    }
}

/// Strings whose partials lie at or near each bin of a spectrum: one bit a string.
pub struct Occupied {
    bits: Vec<u8>,
    reach: usize,
}

impl Occupied {
    /// Nobody anywhere.
    pub fn new(spectrum: &LineSpectrum) -> Self {
        let bin_hz = spectrum.top_hz() / (spectrum.bins() - 1) as f32;
        Occupied {
            bits: vec![0; spectrum.bins()],
            reach: (own_hz(spectrum) / bin_hz) as usize,
        }
    }

    /// Takes string `string` off and, with `fit`, puts it where its partials are.
    pub fn place(&mut self, spectrum: &LineSpectrum, string: usize, fit: Option<&Fit>) {
        let bit = 1u8 << string;
        self.bits.iter_mut().for_each(|b| *b &= !bit);
        let Some(fit) = fit else { return };
        for n in 1..=fit.count {
            let centre = spectrum.bin(fit.hz(n));
            let end = (centre + self.reach).min(self.bits.len() - 1);
            self.bits[centre.saturating_sub(self.reach)..=end]
                .iter_mut()
                .for_each(|b| *b |= bit);
        }
    }
}

/// Tells how far a partial must stand from another string's to be read alone in this spectrum.
pub fn own_hz(spectrum: &LineSpectrum) -> f32 {
    OWN_HZ.max(2.2 / spectrum.seconds().max(0.05))
}

/// Fits the note with nominal fundamental `f1_hz` to `spectrum`. Only partials that no string other
/// than `without` occupies speak: for a place where they stand out, against one where they do not. A
/// place all of whose partials are shared scores nothing: it can be neither held nor excluded.
pub fn fit(
    spectrum: &LineSpectrum,
    f1_hz: f64,
    usual_b: f64,
    occupied: Option<&Occupied>,
    without: Option<usize>,
) -> Fit {
    let nominal = Fit::nominal(f1_hz, usual_b, f64::from(spectrum.top_hz()));
    let mask = without.map_or(u8::MAX >> (8 - STRINGS), |s| {
        (u8::MAX >> (8 - STRINGS)) & !(1 << s)
    });
    let counts = counts(spectrum, occupied, mask);
    let mut best = (f32::MIN, 0.0, 0.0);
    let mut tried = Tried::default();
    let mut search = |centre: (f64, f64), steps: (i32, i32), size: (f64, f64)| {
        tried.fill(
            usual_b,
            nominal.count,
            (-steps.1..=steps.1).map(|j| {
                let decades = centre.1 + f64::from(j) * size.1;
                decades.clamp(-REACH_DECADES.0, REACH_DECADES.1)
            }),
        );
        for i in -steps.0..=steps.0 {
            let cents = (centre.0 + f64::from(i) * size.0).clamp(-REACH_CENTS, REACH_CENTS);
            tried.score(shifted_hz(f1_hz, cents), spectrum, &counts);
            for (decades, sum) in tried.decades.iter().zip(&tried.sums) {
                // Among equals the usual string at the common tuning wins.
                let cost = 0.02 * cents * cents + DECADE_COST_DB * decades * decades;
                let score = sum - cost as f32;
                if score > best.0 {
                    best = (score, cents, *decades);
                }
            }
        }
        (best.1, best.2)
    };
    let coarse = search(
        (0.0, 0.5 * (REACH_DECADES.1 - REACH_DECADES.0)),
        COARSE_STEPS,
        (
            REACH_CENTS / f64::from(COARSE_STEPS.0),
            0.5 * (REACH_DECADES.0 + REACH_DECADES.1) / f64::from(COARSE_STEPS.1),
        ),
    );
    let fine = search(coarse, (3, 3), (0.6, 0.017));
    search(fine, (2, 2), (0.2, 0.006));
    let (score, cents, decades) = best;
    let b = usual_b * 10f64.powf(decades);
    let fit = Fit {
        f0_hz: flexible_hz(shifted_hz(f1_hz, cents), b),
        b,
        cents: cents as f32,
        decades: decades as f32,
        score,
        ..nominal
    };
    let own = |n: &usize| counts[spectrum.bin(fit.hz(*n))] != SHARED;
    let used = (1..=fit.count).filter(own).count();
    Fit { used, ..fit }
}

/// What a bin counts that another string's partial lies at or near: no bin that is the string's own counts less
/// than nothing.
const SHARED: f32 = -1.0;

/// What each bin of a spectrum counts where a partial is expected, before the toll.
fn counts(spectrum: &LineSpectrum, occupied: Option<&Occupied>, mask: u8) -> Vec<f32> {
    let own = |standing: &f32| standing.clamp(0.0, CAP_DB);
    let standing = spectrum.standing_of_all_db().iter();
    match occupied {
        None => standing.map(own).collect(),
        Some(occupied) => standing
            .zip(&occupied.bits)
            .map(|(standing, bits)| {
                if bits & mask != 0 {
                    SHARED
                } else {
                    own(standing)
                }
            })
            .collect(),
    }
}

/// Stiffnesses that are tried with one offset at a time, side by side.
#[derive(Default)]
struct Tried {
    decades: Vec<f64>,
    b: Vec<f64>,
    /// sqrt(1 + B) of each, by which its flexible fundamental lies below the sounding one.
    roots: Vec<f64>,
    /// By how much each stretches a partial, partial after partial.
    stretches: Vec<f64>,
    /// What each scores with the offset.
    sums: Vec<f32>,
    fundamentals_hz: Vec<f64>,
    bins: Vec<u32>,
}

impl Tried {
    /// Takes stiffnesses in decades from the usual, and strings of so many partials.
    fn fill(&mut self, usual_b: f64, partials: usize, decades: impl Iterator<Item = f64>) {
        self.decades.clear();
        self.decades.extend(decades);
        let b = self.decades.iter().map(|d| usual_b * 10f64.powf(*d));
        self.b.clear();
        self.b.extend(b);
        self.roots.clear();
        self.roots.extend(self.b.iter().map(|b| (1.0 + b).sqrt()));
        self.stretches.clear();
        for n in 1..=partials {
            let n = n as f64;
            let stretches = self.b.iter().map(|b| (1.0 + b * n * n).sqrt());
            self.stretches.extend(stretches);
        }
    }

    /// Scores each stiffness where the string sounds at `at_hz`.
    fn score(&mut self, at_hz: f64, spectrum: &LineSpectrum, counts: &[f32]) {
        let many = self.decades.len();
        self.fundamentals_hz.clear();
        self.fundamentals_hz
            .extend(self.roots.iter().map(|root| at_hz / root));
        self.sums.clear();
        self.sums.resize(many, 0.0);
        self.bins.resize(many, 0);
        for (i, stretches) in self.stretches.chunks_exact(many).enumerate() {
            let toll = match i + 1 {
                ..=4 => TOLL_DB,
                5..=8 => MIDDLE_TOLL_DB,
                _ => HIGH_TOLL_DB,
            };
            let n = (i + 1) as f64;
            bins(
                n,
                &self.fundamentals_hz,
                stretches,
                spectrum,
                &mut self.bins,
            );
            for (sum, bin) in self.sums.iter_mut().zip(&self.bins) {
                let count = counts[*bin as usize];
                *sum += if count == SHARED { 0.0 } else { count - toll };
            }
        }
    }
}

/// Where partial `n` of each stiffness lies.
#[multiversion(targets("x86_64+avx2"))]
fn bins(
    n: f64,
    fundamentals_hz: &[f64],
    stretches: &[f64],
    spectrum: &LineSpectrum,
    bins: &mut [u32],
) {
    let at = fundamentals_hz.iter().zip(stretches);
    for (bin, (f0_hz, stretch)) in bins.iter_mut().zip(at) {
        *bin = spectrum.bin((n * f0_hz * stretch) as f32) as u32;
    }
}

/// Distance in Hz from `hz` to the nearest of `sorted` (ascending).
pub fn distance_hz(sorted: &[f32], hz: f32) -> f32 {
    let at = sorted.partition_point(|&o| o < hz);
    let below = at.checked_sub(1).map_or(f32::MAX, |i| hz - sorted[i]);
    let above = sorted.get(at).map_or(f32::MAX, |&o| o - hz);
    below.min(above)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strings::{Moments, Spectra};

    #[test]
    fn partials_3_hz_apart_are_parted_in_the_long_window_and_not_in_the_early_one() {
        let mut spectra = Spectra::new(22_050);
        let samples = vec![0.1; 2 * 22_050];
        let moments = Moments {
            first: 0,
            last: 0,
            end: samples.len(),
        };
        spectra.fill(&samples, moments);
        assert!(own_hz(&spectra.long) < 3.0);
        assert!(own_hz(&spectra.early) > 3.0);
    }
}
