//! What a string that strikes a fret does to the sound, string by string.
//!
//! A string that strikes a fret does so once a period, each time with a burst of high frequencies: the
//! treble's envelope pulses at that string's own pitch. A clean string's treble pulses too, by beating of
//! its partials, but these are stretched, so that it pulses a little faster, and it dies sooner. A rattle
//! of something loose follows the sound of all strings.

use std::sync::Arc;

use realfft::num_complex::Complex32;
use realfft::{RealFftPlanner, RealToComplex};
use rustfft::{Fft, FftPlanner};

use super::comb::{self, Comb};
use super::levels;
use crate::fretboard::STRINGS;
use crate::spectrum::partials::partial_hz;
use crate::strings::fit::{Fit, distance_hz, own_hz};
use crate::strings::{Moments, Notes, Spectra};
use crate::take::Strum;

/// Bands whose envelopes are read, in Hz.
const BANDS_HZ: [(f32, f32); 5] = [
    (1_000.0, 2_000.0),
    (2_000.0, 4_000.0),
    (4_000.0, 7_000.0),
    (7_000.0, 10_000.0),
    // A burst is in all of them at once, beating is not.
    (2_000.0, 10_000.0),
];
/// What levels are held against, in Hz: where the strings' lowest partials are.
const LOW_HZ: (f32, f32) = (80.0, 1_000.0);
/// Windows in which the pulse is looked for, in seconds from the last onset; the last one is the long one.
const WINDOWS_S: [(f64, f64); 4] = [(0.03, 0.28), (0.28, 0.53), (0.53, 0.78), (0.05, 0.75)];
/// Longest stretch read, in seconds: lead, spread of the strum, last window.
const LONGEST_S: f64 = 1.45;
/// Sound before the first onset that is read along, in seconds.
const LEAD_S: f64 = 0.2;
/// This much before the first onset is left out of what was there before, in seconds, and so many
/// samples of the envelope at its start.
const CLEAR_S: f64 = 0.02;
const SETTLED: usize = 16;
/// Samples of an envelope over the padded stretch, and the length of the spectra taken from it.
const ENVELOPE: usize = 8192;
const PULSE: usize = 4096;
/// Pulses are followed between these frequencies, in Hz: below lie swells, above the bands' own width.
pub(super) const PULSE_HZ: (f32, f32) = (60.0, 2_400.0);
/// A string's pulse lies this near to whole multiples of its pitch.
const NEAR: f32 = 0.006;
/// Beating of stretched partials lies between these ratios above them.
const STRETCHED: (f32, f32) = (1.012, 1.08);
/// Partials of a low string that reach the treble.
const TREBLE_PARTIALS: usize = 60;
/// One band's envelope and its pulse, window by window.
struct Band {
    hz: (f32, f32),
    inverse: Arc<dyn Fft<f32>>,
    power: Vec<f32>,
    /// Mean power per window, and the spectrum of the envelope over its mean.
    mean: [f32; WINDOWS_S.len()],
    /// Mean power before the first onset.
    before: f32,
    pulse: [Vec<f32>; WINDOWS_S.len()],
}

/// Reads the envelopes of one strum: planned once, filled strum by strum.
pub struct Bursts {
    rate_hz: f64,
    forward: Arc<dyn RealToComplex<f32>>,
    pulse_fft: Arc<dyn RealToComplex<f32>>,
    input: Vec<f32>,
    spectrum: Vec<Complex32>,
    scratch: Vec<Complex32>,
    work: Vec<Complex32>,
    work_scratch: Vec<Complex32>,
    pulse_input: Vec<f32>,
    pulse_output: Vec<Complex32>,
    pulse_scratch: Vec<Complex32>,
    low: Band,
    bands: Vec<Band>,
    pub(super) comb: Comb,
}

impl Bursts {
    /// For samples at `rate_hz`.
    pub fn new(rate_hz: u32) -> Self {
        let rate = f64::from(rate_hz);
        let size = ((LONGEST_S * rate) as usize)
            .next_power_of_two()
            .max(2 * ENVELOPE);
        let mut real = RealFftPlanner::new();
        let (forward, pulse_fft) = (real.plan_fft_forward(size), real.plan_fft_forward(PULSE));
        let mut planner = FftPlanner::new();
        let bin_hz = rate as f32 / size as f32;
        let mut band = |hz: (f32, f32)| {
            let bins = ((hz.1 - hz.0) / bin_hz) as usize + 1;
            let length = bins.next_power_of_two().max(ENVELOPE);
            Band {
                hz,
                inverse: planner.plan_fft_inverse(length),
                power: Vec::with_capacity(ENVELOPE),
                mean: [f32::NAN; WINDOWS_S.len()],
                before: f32::NAN,
                pulse: std::array::from_fn(|_| vec![0.0; PULSE / 2 + 1]),
            }
        };
        let low = band(LOW_HZ);
        let bands: Vec<Band> = BANDS_HZ.into_iter().map(&mut band).collect();
        let longest = bands.iter().map(|b| b.inverse.len()).max().unwrap_or(0);
        let scratch = bands
            .iter()
            .map(|b| b.inverse.get_inplace_scratch_len())
            .max()
            .unwrap_or(0)
            .max(low.inverse.get_inplace_scratch_len());
        Bursts {
            rate_hz: rate,
            input: forward.make_input_vec(),
            spectrum: forward.make_output_vec(),
            scratch: forward.make_scratch_vec(),
            work: vec![Complex32::default(); longest.max(low.inverse.len())],
            work_scratch: vec![Complex32::default(); scratch],
            pulse_input: pulse_fft.make_input_vec(),
            pulse_output: pulse_fft.make_output_vec(),
            pulse_scratch: pulse_fft.make_scratch_vec(),
            forward,
            pulse_fft,
            comb: Comb::new(rate_hz),
            low,
            bands,
        }
    }

    /// Samples of an envelope per second.
    fn envelope_hz(&self) -> f64 {
        self.rate_hz * ENVELOPE as f64 / self.forward.len() as f64
    }

    /// Whether the rate is high enough.
    fn reaches_all_bands(&self) -> bool {
        let top_hz = BANDS_HZ.iter().map(|band| band.1).fold(0.0, f32::max);
        self.rate_hz >= 2.0 * f64::from(top_hz)
    }

    /// Hz from bin to bin of a pulse spectrum.
    fn pulse_bin_hz(&self) -> f32 {
        (self.envelope_hz() / PULSE as f64) as f32
    }

    /// Reads the strum in `samples`: at most [`Strum::JUDGED_S`] of it.
    pub fn fill(&mut self, samples: &[f32], moments: Moments) {
        self.comb.fill(samples, moments);
        let rate = self.rate_hz;
        let judged = moments.first + (Strum::JUDGED_S * rate) as usize;
        let end = moments.end.min(judged).min(samples.len());
        let begin = moments
            .first
            .saturating_sub((LEAD_S * rate) as usize)
            .min(end);
        let part = &samples[begin..end.min(begin + (LONGEST_S * rate) as usize)];
        self.input.fill(0.0);
        self.input[..part.len()].copy_from_slice(part);
        // A cut is a click: fade both ends.
        let fade = ((0.004 * rate) as usize).min(part.len() / 2).max(1);
        for i in 0..fade {
            let gain = i as f32 / fade as f32;
            self.input[i] *= gain;
            if let Some(last) = part.len().checked_sub(1 + i) {
                self.input[last] *= gain;
            }
        }
        self.forward
            .process_with_scratch(&mut self.input, &mut self.spectrum, &mut self.scratch)
            .expect("buffers come from this plan");
        let envelope_hz = self.envelope_hz();
        let last_s = (moments.last.clamp(begin, end) - begin) as f64 / rate;
        let length_s = part.len() as f64 / rate;
        let bin_hz = rate as f32 / self.forward.len() as f32;
        for band in self.bands.iter_mut().chain(std::iter::once(&mut self.low)) {
            let (low, high) = ((band.hz.0 / bin_hz) as usize, (band.hz.1 / bin_hz) as usize);
            let there = high < self.spectrum.len();
            band.power.clear();
            if there {
                let work = &mut self.work[..band.inverse.len()];
                work.fill(Complex32::default());
                work[..=high - low].copy_from_slice(&self.spectrum[low..=high]);
                band.inverse
                    .process_with_scratch(work, &mut self.work_scratch);
                let each = work.len() / ENVELOPE;
                band.power.extend(
                    work.chunks_exact(each)
                        .map(|c| c.iter().map(|z| z.norm_sqr()).sum::<f32>() / each as f32),
                );
            }
            let lead_s = (moments.first.min(end) - begin) as f64 / rate - CLEAR_S;
            band.before = match (lead_s * envelope_hz) as usize {
                to if to > SETTLED && there => {
                    band.power[SETTLED..to].iter().sum::<f32>() / (to - SETTLED) as f32
                }
                _ => f32::NAN,
            };
            for (window, (from_s, to_s)) in WINDOWS_S.into_iter().enumerate() {
                band.mean[window] = f32::NAN;
                let to_s = (last_s + to_s).min(length_s);
                let from = ((last_s + from_s) * envelope_hz) as usize;
                let to = ((to_s * envelope_hz) as usize)
                    .min(ENVELOPE)
                    .min(from + PULSE);
                // Half a window still tells; less than that does not.
                if !there || (to_s - last_s - from_s) < 0.5 * (WINDOWS_S[window].1 - from_s) {
                    continue;
                }
                let part = &band.power[from..to];
                let mean = part.iter().sum::<f32>() / part.len() as f32 + 1e-20;
                band.mean[window] = mean;
                self.pulse_input.fill(0.0);
                let step = std::f32::consts::TAU / part.len() as f32;
                for (i, (into, p)) in self.pulse_input.iter_mut().zip(part).enumerate() {
                    *into = (p / mean - 1.0) * (0.5 - 0.5 * (step * (i as f32 + 0.5)).cos());
                }
                self.pulse_fft
                    .process_with_scratch(
                        &mut self.pulse_input,
                        &mut self.pulse_output,
                        &mut self.pulse_scratch,
                    )
                    .expect("buffers come from this plan");
                let scale = 4.0 / part.len() as f32;
                for (into, z) in band.pulse[window].iter_mut().zip(&self.pulse_output) {
                    *into = (z * scale).norm_sqr();
                }
            }
        }
    }

    /// Power of the pulse at whole multiples of `f1_hz`, and at the places where a stretched string's
    /// partials beat, both over all the pulse's power in [`PULSE_HZ`]; and the line at `f1_hz` itself.
    fn comb(&self, band: &Band, window: usize, f1_hz: f32) -> [f32; 3] {
        let spectrum = &band.pulse[window];
        let bin_hz = self.pulse_bin_hz();
        let bin = |hz: f32| ((hz / bin_hz) as usize).min(spectrum.len() - 1);
        let highest = |from: f32, to: f32| {
            spectrum[bin(from)..=bin(to).max(bin(from))]
                .iter()
                .copied()
                .fold(0.0, f32::max)
        };
        let seconds = (WINDOWS_S[window].1 - WINDOWS_S[window].0) as f32;
        let (mut whole, mut stretched, mut first) = (0.0, 0.0, 0.0);
        for n in 1..16 {
            let hz = f1_hz * n as f32;
            if hz > PULSE_HZ.1 {
                break;
            }
            let near = (NEAR * hz).max(0.6 / seconds);
            let line = highest(hz - near, hz + near);
            whole += line;
            stretched += highest(hz * STRETCHED.0, hz * STRETCHED.1);
            if n == 1 {
                first = line;
            }
        }
        // A line is as wide as the window is short: so many bins stand for one line.
        let width = 1.5 / seconds / bin_hz;
        let all: f32 = spectrum[bin(PULSE_HZ.0)..bin(PULSE_HZ.1)]
            .iter()
            .sum::<f32>()
            / width
            + 1e-9;
        [whole / all, stretched / all, first]
    }

    /// The evidence on each string that `evidence` has a note for, [`FEATURES`] numbers each. Both must be of
    /// the strum last filled in, here and in `spectra`. Nothing where the rate leaves out a band: the
    /// forest knows no such sound.
    pub fn evidence(&self, spectra: &Spectra, notes: &Notes) -> [Option<Vec<f32>>; STRINGS] {
        let fits: [Option<Fit>; STRINGS] = notes.fits();
        if !self.reaches_all_bands() {
            return Default::default();
        }
        let take = self.take_wide(&fits);
        let long = WINDOWS_S.len() - 1;
        let combs: Vec<[Option<f32>; STRINGS]> = self
            .bands
            .iter()
            .map(|band| {
                std::array::from_fn(|s| fits[s].map(|fit| self.comb(band, long, fit.hz(1))[0]))
            })
            .collect();
        let lines = self.comb.evidence(&fits);
        std::array::from_fn(|string| {
            let note = notes.expected[string]?;
            let mut row = Vec::with_capacity(FEATURES);
            row.extend(levels::evidence(spectra, &fits, &note));
            self.put_pulses(&mut row, &note.fit);
            for (band, combs) in self.bands.iter().zip(&combs) {
                put_against_others(&mut row, band.mean[long], combs, &fits, string);
            }
            put_partials(&mut row, spectra, &fits, string);
            row.extend(&take);
            row.extend(lines[string].as_ref()?);
            Some(row)
        })
    }

    /// How the treble pulses at this string's pitch, band by band and window by window.
    fn put_pulses(&self, row: &mut Vec<f32>, fit: &Fit) {
        let f1_hz = fit.hz(1);
        for band in &self.bands {
            for window in 0..WINDOWS_S.len() {
                let [whole, stretched, first] = self.comb(band, window, f1_hz);
                let there = |v: f32| {
                    if band.mean[window].is_nan() {
                        f32::NAN
                    } else {
                        v
                    }
                };
                let level_db = ratio_db(band.mean[window], self.low.mean[window]);
                row.push(there(whole));
                row.push(there(ratio_db(whole, stretched)));
                row.push(there(ratio_db(first, 1.0)));
                // How much of the sound these bursts are.
                row.push(there(level_db + 0.5 * ratio_db(first, 1.0)));
            }
            // A string an octave up pulses at every second line of this one.
            let [octave, ..] = self.comb(band, WINDOWS_S.len() - 1, 2.0 * f1_hz);
            row.push(if band.mean[WINDOWS_S.len() - 1].is_nan() {
                f32::NAN
            } else {
                octave
            });
        }
    }

    /// What is the same for all strings: the treble's level, how it falls, how bursty it is.
    fn take_wide(&self, fits: &[Option<Fit>; STRINGS]) -> Vec<f32> {
        let mut row = Vec::new();
        let long = WINDOWS_S.len() - 1;
        for band in &self.bands {
            for window in 0..WINDOWS_S.len() {
                row.push(ratio_db(band.mean[window], self.low.mean[window]));
                row.push(ratio_db(band.mean[window], band.before));
            }
            let envelope_hz = self.envelope_hz();
            let step = (0.04 * envelope_hz) as usize;
            let levels: Vec<f32> = band
                .power
                .chunks_exact(step.max(1))
                .map(|c| ratio_db(c.iter().sum::<f32>() / c.len() as f32, 1.0))
                .take((1.0 / 0.04) as usize)
                .collect();
            let top = levels.iter().copied().fold(f32::MIN, f32::max);
            let top_at = levels.iter().position(|l| *l == top).unwrap_or(0);
            let after = &levels[top_at..];
            let there = |v: f32| {
                if band.mean[long].is_nan() {
                    f32::NAN
                } else {
                    v
                }
            };
            // The steepest fall and rise once the attack is over, and how far it has come down by then.
            let over = &after[after.len().min(3)..];
            let falls = over.windows(3).map(|w| w[2] - w[0]);
            row.push(there(falls.clone().fold(0.0, f32::min)));
            row.push(there(falls.fold(0.0, f32::max)));
            for later in [3, 6, 10, 15] {
                row.push(after.get(later).map_or(f32::NAN, |l| there(l - top)));
            }
            let pulse = &band.pulse[long];
            let bin_hz = self.pulse_bin_hz();
            let range = (PULSE_HZ.0 / bin_hz) as usize..(PULSE_HZ.1 / bin_hz) as usize;
            row.push(there(ratio_db(pulse[range.clone()].iter().sum(), 1.0)));
            // The strongest pulse, and the strongest that any string explains.
            let strongest = pulse[range].iter().copied().fold(0.0, f32::max);
            let explained = fits
                .iter()
                .flatten()
                .map(|fit| self.comb(band, long, fit.hz(1))[0])
                .fold(0.0, f32::max);
            row.push(there(ratio_db(strongest, 1.0)));
            row.push(there(explained));
        }
        row
    }
}

pub(super) fn ratio_db(a: f32, b: f32) -> f32 {
    10.0 * ((a + 1e-12) / (b + 1e-12)).log10()
}

/// How much better the pulse follows this string than any other, and than those an octave or a twelfth away.
fn put_against_others(
    row: &mut Vec<f32>,
    mean: f32,
    combs: &[Option<f32>; STRINGS],
    fits: &[Option<Fit>; STRINGS],
    string: usize,
) {
    let own = combs[string].unwrap_or(0.0);
    let own_hz = fits[string].map_or(1.0, |f| f.hz(1));
    let (mut free, mut related) = (f32::NAN, f32::NAN);
    for other in (0..STRINGS).filter(|&s| s != string) {
        let (Some(comb), Some(fit)) = (combs[other], fits[other]) else {
            continue;
        };
        let ratio = fit.hz(1) / own_hz;
        let ratio = ratio.max(1.0 / ratio);
        let kin = (ratio - ratio.round()).abs() < 0.03 * ratio;
        let into = if kin { &mut related } else { &mut free };
        *into = into.max(comb);
    }
    let there = |v: f32| if mean.is_nan() { f32::NAN } else { own - v };
    row.push(there(free));
    row.push(there(related));
}

/// Levels of the string's own partials by height and time, and against the other strings' there.
fn put_partials(
    row: &mut Vec<f32>,
    spectra: &Spectra,
    fits: &[Option<Fit>; STRINGS],
    string: usize,
) {
    let mut others: Vec<f32> = Vec::new();
    for (s, fit) in fits.iter().enumerate() {
        if s != string
            && let Some(fit) = fit
        {
            others.extend((1..=TREBLE_PARTIALS).map(|n| partial_hz(fit.f0_hz, fit.b, n) as f32));
        }
    }
    others.sort_unstable_by(f32::total_cmp);
    let fit = fits[string].expect("the string has a note");
    for spectrum in [&spectra.early, &spectra.mid, &spectra.late] {
        let mut levels = [(0f32, 0f32, 0f32); 3];
        for n in 1..=TREBLE_PARTIALS {
            let hz = partial_hz(fit.f0_hz, fit.b, n) as f32;
            let band = match hz {
                ..1_000.0 => 0,
                ..2_200.0 => 1,
                ..4_500.0 => 2,
                _ => break,
            };
            if !spectrum.is_filled()
                || hz > 0.9 * spectrum.top_hz()
                || distance_hz(&others, hz) < own_hz(spectrum)
            {
                continue;
            }
            // High partials are known less exactly.
            let reach = spectrum.reach_hz().max(0.001 * hz);
            levels[band].0 += spectrum.peak_db(hz, reach);
            levels[band].1 += spectrum.standing_near_db(hz, reach);
            levels[band].2 += 1.0;
        }
        let mean = |b: usize| levels[b].0 / levels[b].2;
        row.push(mean(1) - mean(0));
        row.push(mean(2) - mean(0));
        row.extend(levels.map(|(_, standing, count)| standing / count));
        // The other strings' level where this one's treble lies.
        let between = |low: f32, high: f32| {
            let (mut sum, mut count) = (0.0, 0.0);
            for &hz in others.iter().filter(|h| (low..high).contains(*h)) {
                if spectrum.is_filled() && hz < 0.9 * spectrum.top_hz() {
                    sum += spectrum.peak_db(hz, spectrum.reach_hz());
                    count += 1.0;
                }
            }
            sum / count
        };
        row.push(mean(1) - between(1_000.0, 2_200.0));
        row.push(mean(2) - between(2_200.0, 4_500.0));
    }
}

/// Number of numbers per string.
pub const FEATURES: usize =
    levels::FEATURES + BANDS_HZ.len() * (4 * 4 + 1 + 2 + 4 * 2 + 9) + 3 * 7 + comb::FEATURES;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_treble_pulsing_at_a_strings_pitch_is_told_from_a_steady_one() {
        let rate = 44_100u32;
        let sound = |pulse_hz: f32| -> Vec<f32> {
            (0..66_150)
                .map(|i| {
                    let t = i as f32 / rate as f32;
                    let pulse = (0.5 + 0.5 * (std::f32::consts::TAU * pulse_hz * t).cos()).powi(6);
                    (std::f32::consts::TAU * 110.0 * t).sin()
                        + 0.1 * pulse * (std::f32::consts::TAU * 3_013.0 * t).sin()
                })
                .collect()
        };
        let mut bursts = Bursts::new(rate);
        let moments = Moments {
            first: 4_410,
            last: 5_000,
            end: 66_150,
        };
        let mut whole = |pulse_hz: f32| {
            bursts.fill(&sound(pulse_hz), moments);
            bursts.comb(&bursts.bands[1], WINDOWS_S.len() - 1, 110.0)[0]
        };
        let (own, other) = (whole(110.0), whole(147.0));
        assert!(own > 0.7 && other < 0.2, "{own} and {other}");
    }
}
