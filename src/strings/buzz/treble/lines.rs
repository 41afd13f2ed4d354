//! Places of each string's lines in the treble.
//!
//! A string that strikes a fret hands energy to its own high partials: up to 10 kHz they stand far above
//! the noise between them, some tenths of a second long, whatever its pitch. Pitch and stiffness as fitted
//! below are tens of hertz off up there, so both are fitted anew.

use super::spectrum::Spectrum;
use crate::decibels;
use crate::spectrum::partials::{partial_hz, shifted_hz};
use crate::spectrum::quantile;
use crate::strings::fit::Fit;

/// Lines from this far up speak, up to the highest looked at, in Hz.
const LOWEST_HZ: f64 = 900.0;
pub const HIGHEST_HZ: f64 = 9_600.0;
/// Most lines of a string.
const LINES: usize = 140;
/// The floor at a place is this share from below of the levels within this distance, in Hz, looked at in
/// such steps; it is the same for so many of them.
const FLOOR_SHARE: f32 = 0.35;
const FLOOR_HZ: f32 = 150.0;
const FLOOR_STEP_HZ: f32 = 10.8;
const FLOOR_STEPS: usize = 2;
/// A line may be this far off, in Hz.
const REACH_HZ: f32 = 5.4;
/// What a line must stand above the floor to speak for a place, and the most it may say, in dB.
const TOLL_DB: f32 = 6.0;
const CAP_DB: f32 = 25.0;
/// The search for pitch and stiffness: farthest from the fit below in cents and decades, and what the
/// distance costs in dB per cent and per decade, squared.
const REACH_CENTS: f64 = 6.0;
const REACH_DECADES: f64 = 0.5;
const CENT_COST_DB: f64 = 0.004;
const DECADE_COST_DB: f64 = 4.0;

/// A string's lines as fitted in the treble.
#[derive(Debug, Clone)]
pub struct StringLines {
    /// Frequencies from the first partial on.
    pub hz: Vec<f32>,
    /// Distance of stiffness from the fit below, in decades.
    pub decades: f32,
}

impl StringLines {
    /// Distance from line `n` to the next one, in Hz.
    pub fn spacing_hz(&self, n: usize) -> f32 {
        match self.hz.get(n + 1) {
            Some(next) => next - self.hz[n],
            None if n > 0 => self.hz[n] - self.hz[n - 1],
            None => self.hz[n],
        }
    }
}

/// Heights by which lines stand out, by frequency, over several windows: planned once, filled strum by strum.
#[derive(Debug, Clone, Default)]
pub struct Standing {
    /// Mean over the windows of what each bin says for a line, in dB.
    speaks_db: Vec<f32>,
    bin_hz: f32,
    thinned: Vec<f32>,
    sorted: Vec<f32>,
}

impl Standing {
    /// Reads windows of one strum, those that are filled.
    pub fn fill(&mut self, windows: &[Spectrum]) {
        self.speaks_db.clear();
        let mut count = 0.0;
        for window in windows.iter().filter(|w| w.is_filled()) {
            self.bin_hz = window.bin_hz;
            let bins = (HIGHEST_HZ as f32 + 2.0 * FLOOR_HZ) / window.bin_hz;
            let bins = (bins as usize).min(window.power.len());
            self.speaks_db.resize(bins, 0.0);
            self.add(&window.power[..bins]);
            count += 1.0;
        }
        self.speaks_db
            .iter_mut()
            .for_each(|s| *s /= f32::max(count, 1.0));
    }

    fn add(&mut self, power: &[f32]) {
        let bins = |hz: f32| (hz / self.bin_hz).round().max(1.0) as usize;
        let (step, reach) = (bins(FLOOR_STEP_HZ), bins(REACH_HZ));
        let around = bins(FLOOR_HZ) / step;
        self.thinned.clear();
        self.thinned.extend(power.iter().step_by(step));
        let toll = decibels::to_power(TOLL_DB);
        let stretch = FLOOR_STEPS * step;
        for (i, speaks) in self.speaks_db.chunks_mut(stretch).enumerate() {
            let i = i * FLOOR_STEPS;
            let near = i.saturating_sub(around)..(i + around + 1).min(self.thinned.len());
            self.sorted.clear();
            self.sorted.extend_from_slice(&self.thinned[near]);
            let floor = quantile(&mut self.sorted, FLOOR_SHARE) + 1e-20;
            for (k, speaks) in speaks.iter_mut().enumerate() {
                let at = i * step + k;
                let near = &power[at.saturating_sub(reach)..(at + reach + 1).min(power.len())];
                let over = near.iter().copied().fold(0.0, f32::max) / floor;
                if over > toll {
                    *speaks += (decibels::of_power(over) - TOLL_DB).min(CAP_DB);
                }
            }
        }
    }

    /// Tells where the string's lines are, from where `fit` has put its partials below.
    pub fn lines(&self, fit: &Fit) -> StringLines {
        let score = |cents: f64, decades: f64| {
            let (f0_hz, b) = moved(fit, cents, decades);
            let (mut sum, mut count) = (0.0, 0.0);
            for n in 1..LINES {
                let hz = partial_hz(f0_hz, b, n);
                if hz > HIGHEST_HZ {
                    break;
                }
                if hz > LOWEST_HZ {
                    let bin = (hz as f32 / self.bin_hz + 0.5) as usize;
                    sum += f64::from(self.speaks_db.get(bin).copied().unwrap_or(0.0));
                    count += 1.0;
                }
            }
            sum / f64::max(count, 1.0)
                - CENT_COST_DB * cents * cents
                - DECADE_COST_DB * decades * decades
        };
        let mut best = (f64::MIN, 0.0, 0.0);
        let mut search = |centre: (f64, f64), steps: (i32, i32), size: (f64, f64)| {
            for i in -steps.0..=steps.0 {
                for j in -steps.1..=steps.1 {
                    let cents = centre.0 + f64::from(i) * size.0;
                    let decades = centre.1 + f64::from(j) * size.1;
                    let score = score(cents, decades);
                    if score > best.0 {
                        best = (score, cents, decades);
                    }
                }
            }
            (best.1, best.2)
        };
        let coarse = search(
            (0.0, 0.0),
            (2, 20),
            (REACH_CENTS / 2.0, REACH_DECADES / 20.0),
        );
        let (cents, decades) = search(coarse, (2, 4), (1.0, 0.005));
        let (f0_hz, b) = moved(fit, cents, decades);
        let hz = (1..LINES)
            .map(|n| partial_hz(f0_hz, b, n))
            .take_while(|hz| *hz < HIGHEST_HZ)
            .map(|hz| hz as f32)
            .collect();
        StringLines {
            hz,
            decades: decades as f32,
        }
    }
}

/// Pitch and stiffness of `fit`, moved.
fn moved(fit: &Fit, cents: f64, decades: f64) -> (f64, f64) {
    (shifted_hz(fit.f0_hz, cents), fit.b * 10f64.powf(decades))
}

#[cfg(test)]
mod tests {
    use super::super::spectrum::{FftPlan, Hann};
    use super::*;

    #[test]
    fn stiffness_is_corrected_by_the_lines_in_the_treble() {
        let (b, f0_hz) = (6e-5, 329.6);
        let mut samples = vec![0f32; 13_230];
        for hz in (1..60).map(|n| partial_hz(f0_hz, b, n)) {
            if hz > 9_000.0 {
                break;
            }
            let step = std::f64::consts::TAU * hz / 44_100.0;
            for (i, s) in samples.iter_mut().enumerate() {
                *s += 0.003 * (step * i as f64).sin() as f32;
            }
        }
        // A floor of noise, the same each time.
        let mut state = 1u32;
        for s in &mut samples {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            *s += 0.001 * (state as f32 / u32::MAX as f32 - 0.5);
        }
        let (mut spectrum, mut standing) = (Spectrum::default(), Standing::default());
        FftPlan::new(32_768, 44_100.0).read(&samples, &mut Hann::default(), &mut spectrum);
        standing.fill(&[spectrum, Spectrum::default()]);
        // Stiffness as known from below is a third off.
        let lines = standing.lines(&Fit::nominal(f0_hz, 1.35 * b, 5_000.0));
        assert!(
            (lines.decades + 1.35f32.log10()).abs() < 0.02,
            "{} decades",
            lines.decades
        );
        let last = *lines.hz.last().expect("lines");
        assert!(last > 9_000.0 && f64::from(last) < HIGHEST_HZ, "{last}");
    }

    #[test]
    fn where_nothing_is_filled_lines_stay_where_the_fit_has_them() {
        let mut standing = Standing::default();
        standing.fill(&[Spectrum::default()]);
        let lines = standing.lines(&Fit::nominal(110.0, 1e-4, 5_000.0));
        assert_eq!(lines.decades, 0.0);
        assert!((lines.hz[0] - 110.0).abs() < 0.1);
    }
}
