//! One finely sampled spectrum of a stretch of sound, for reading single partials.

use std::sync::Arc;

use realfft::{RealFftPlanner, RealToComplex, num_complex::Complex32};

use super::{blackman_at, db, peak_shift, quantile};

/// Half the width, in Hz, of the neighbourhood whose level counts as the local floor.
const FLOOR_HALF_WIDTH_HZ: f32 = 90.0;
/// Step in Hz between points at which the floor is computed.
const FLOOR_STEP_HZ: f32 = 30.0;
/// The quantile of the neighbourhood's levels taken as the floor: below the partials, above the gaps.
const FLOOR_QUANTILE: f32 = 0.35;

/// The FFT plan that all line spectra of one rate share.
pub struct LinePlan {
    fft: Arc<dyn RealToComplex<f32>>,
    rate_hz: f64,
    size: usize,
    input: Vec<f32>,
    bins: Vec<Complex32>,
    scratch: Vec<Complex32>,
    sorted: Vec<f32>,
    lowest: Lowest,
}

impl LinePlan {
    /// Longest stretch that fits, in seconds.
    pub const LONGEST_S: f64 = 1.5;

    /// Plans for samples at `rate_hz`: about 0.35 Hz from bin to bin.
    pub fn new(rate_hz: f64) -> Self {
        let size = ((rate_hz * Self::LONGEST_S) as usize)
            .next_power_of_two()
            .max(1024)
            * if rate_hz * Self::LONGEST_S > 12_000.0 {
                1
            } else {
                2
            };
        let fft = RealFftPlanner::new().plan_fft_forward(size);
        LinePlan {
            rate_hz,
            size,
            input: fft.make_input_vec(),
            bins: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            sorted: Vec::new(),
            lowest: Lowest::default(),
            fft,
        }
    }

    /// An empty spectrum to fill.
    pub fn spectrum(&self) -> LineSpectrum {
        LineSpectrum {
            bin_hz: (self.rate_hz / self.size as f64) as f32,
            db: vec![0.0; self.size / 2 + 1],
            floor_db: Vec::new(),
            standing_db: vec![0.0; self.size / 2 + 1],
            seconds: 0.0,
        }
    }

    /// Fills `into` with the spectrum of `samples` under a Blackman window, scaled so that a sinusoid of
    /// amplitude 1 reads 0 dB whatever the length. At most [`Self::LONGEST_S`] is used.
    pub fn fill(&mut self, samples: &[f32], into: &mut LineSpectrum) {
        let length = samples.len().min(self.size);
        into.seconds = (length as f64 / self.rate_hz) as f32;
        self.input.fill(0.0);
        let mut sum = 0.0;
        let step = std::f64::consts::TAU / length.max(1) as f64;
        for (i, (input, s)) in self.input.iter_mut().zip(&samples[..length]).enumerate() {
            let w = blackman_at(step * (i as f64 + 0.5)) as f32;
            sum += w;
            *input = w * s;
        }
        self.fft
            .process_with_scratch(&mut self.input, &mut self.bins, &mut self.scratch)
            .expect("buffers come from this plan");
        let scale = (2.0 / sum.max(1e-9)).powi(2);
        for (bin, level) in self.bins.iter().zip(&mut into.db) {
            *level = db(scale * bin.norm_sqr());
        }
        self.fill_floor(into);
        into.fill_standing(&mut self.lowest);
    }

    fn fill_floor(&mut self, into: &mut LineSpectrum) {
        let half = (FLOOR_HALF_WIDTH_HZ / into.bin_hz) as usize;
        // Every third bin is enough for a quantile and spares the time.
        let points = ((into.db.len() as f32 * into.bin_hz) / FLOOR_STEP_HZ) as usize;
        into.floor_db.clear();
        for point in 0..=points {
            let centre =
                ((point as f32 * FLOOR_STEP_HZ / into.bin_hz) as usize).min(into.db.len() - 1);
            let range = centre.saturating_sub(half)..(centre + half).min(into.db.len());
            self.sorted.clear();
            self.sorted.extend(into.db[range].iter().step_by(3));
            into.floor_db
                .push(quantile(&mut self.sorted, FLOOR_QUANTILE));
        }
    }
}

/// Of each number the lowest within a reach to its left and to its right, itself included, by minima from the
/// beginning and to the end of blocks as long as that (van Herk, Pattern Recognition Letters 13 (1992) 517-521, from memory).
#[derive(Default)]
struct Lowest {
    left: Vec<f32>,
    right: Vec<f32>,
    since: Vec<f32>,
    until: Vec<f32>,
}

impl Lowest {
    fn fill(&mut self, values: &[f32], reach: usize) {
        let (count, block) = (values.len(), reach + 1);
        for each in [
            &mut self.left,
            &mut self.right,
            &mut self.since,
            &mut self.until,
        ] {
            each.clear();
            each.extend(values);
        }
        let since = self.since.chunks_mut(block);
        for (since, until) in since.zip(self.until.chunks_mut(block)) {
            for i in 1..since.len() {
                since[i] = lower(since[i], since[i - 1]);
            }
            for i in (1..until.len()).rev() {
                until[i - 1] = lower(until[i - 1], until[i]);
            }
        }
        // From each number as far as the reach goes to the right, where that is within: as far to the left from there.
        let whole = count.saturating_sub(reach);
        let (cut, reaches) = self.since.split_at(count - whole);
        for (right, (until, since)) in self.right.iter_mut().zip(self.until.iter().zip(reaches)) {
            *right = lower(*until, *since);
        }
        self.left[..cut.len()].copy_from_slice(cut);
        self.left[cut.len()..].copy_from_slice(&self.right[..whole]);
        for i in (whole..count.saturating_sub(1)).rev() {
            self.right[i] = lower(self.right[i], self.right[i + 1]);
        }
    }
}

/// The lower of two numbers; [`f32::min`] takes longer, for the sake of those that are none.
#[inline(always)]
fn lower(a: f32, b: f32) -> f32 {
    if b < a { b } else { a }
}

/// A spectrum with a bin every third of a hertz or so.
#[derive(Debug, Clone)]
pub struct LineSpectrum {
    bin_hz: f32,
    db: Vec<f32>,
    floor_db: Vec<f32>,
    standing_db: Vec<f32>,
    seconds: f32,
}

/// Step in Hz between stretches whose floor is computed for [`LineSpectrum::prominence_db`].
const PROMINENCE_STEP_HZ: f32 = 50.0;

/// How far to either side a peak is compared with its surroundings, in widths 1/T of the window: just
/// past the first zero of the Blackman window's main lobe.
const SURROUNDINGS: f32 = 3.2;

impl LineSpectrum {
    /// Marks the spectrum as holding nothing.
    pub fn clear(&mut self) {
        self.seconds = 0.0;
    }

    /// Tells whether there was enough sound to fill it.
    pub fn is_filled(&self) -> bool {
        self.seconds > 0.0
    }

    /// Length of the stretch in seconds; 0 when not filled.
    pub fn seconds(&self) -> f32 {
        self.seconds
    }

    /// Highest frequency in Hz.
    pub fn top_hz(&self) -> f32 {
        (self.db.len() - 1) as f32 * self.bin_hz
    }

    /// For every bin, how far it stands above both the local floor and the lowest points to its left
    /// and its right: on the skirt of a strong neighbour that is next to nothing.
    fn fill_standing(&mut self, lowest: &mut Lowest) {
        let reach = ((SURROUNDINGS / self.seconds.max(0.02)) / self.bin_hz).ceil() as usize;
        lowest.fill(&self.db, reach);
        for (i, level) in self.db.iter().enumerate() {
            let floor = self.floor_db(i as f32 * self.bin_hz);
            self.standing_db[i] = level - floor.max(lowest.left[i]).max(lowest.right[i]);
        }
    }

    /// Tells how far the bin nearest `hz` stands above the floor and above its surroundings, in dB.
    #[inline]
    pub fn standing_db(&self, hz: f32) -> f32 {
        self.standing_db[self.bin(hz)]
    }

    /// The same of each bin.
    pub fn standing_of_all_db(&self) -> &[f32] {
        &self.standing_db
    }

    /// Half the width in Hz within which a partial's level is looked for, given the window's length.
    pub fn reach_hz(&self) -> f32 {
        (0.6 / self.seconds().max(0.05)).max(0.7)
    }

    /// The highest such standing within `reach_hz` of `hz`.
    pub fn standing_near_db(&self, hz: f32, reach_hz: f32) -> f32 {
        let (low, high) = (self.bin(hz - reach_hz), self.bin(hz + reach_hz));
        self.standing_db[low..=high]
            .iter()
            .copied()
            .fold(f32::MIN, f32::max)
    }

    /// The highest peak within `reach_hz` of `hz`: its frequency in Hz, by a parabola through three bins
    /// in dB, and how far it stands above its surroundings, in dB.
    pub fn line_near(&self, hz: f32, reach_hz: f32) -> (f64, f32) {
        let inside = |bin: usize| bin.clamp(1, self.db.len() - 2);
        let (low, high) = (
            inside(self.bin(hz - reach_hz)),
            inside(self.bin(hz + reach_hz)),
        );
        let top = (low..=high.max(low))
            .max_by(|&a, &b| self.db[a].total_cmp(&self.db[b]))
            .unwrap_or(low);
        let shift = peak_shift([self.db[top - 1], self.db[top], self.db[top + 1]]);
        (
            (top as f64 + f64::from(shift)) * f64::from(self.bin_hz),
            self.standing_db[top],
        )
    }

    /// All lines within `range_hz` that stand at least `standing_db` above their surroundings and at most
    /// `range_db` below the strongest: frequency in Hz and weight, dB above that lower limit.
    pub fn lines(&self, range_hz: (f32, f32), standing_db: f32, range_db: f32) -> Vec<(f32, f32)> {
        let (low, high) = (
            self.bin(range_hz.0).max(1),
            self.bin(range_hz.1).min(self.db.len() - 2),
        );
        let top = self.db[low..=high].iter().copied().fold(f32::MIN, f32::max);
        (low..=high)
            .filter(|&i| self.db[i] > self.db[i - 1] && self.db[i] >= self.db[i + 1])
            .filter(|&i| self.standing_db[i] >= standing_db && self.db[i] > top - range_db)
            .map(|i| (i as f32 * self.bin_hz, self.db[i] - (top - range_db)))
            .collect()
    }

    /// Tells how far the highest line within `range_hz` stands above the quieter bins up to `around_hz` to its left and its right, in
    /// dB: for a tone however short the window is, since its line does not fill them.
    pub fn prominence_db(&self, range_hz: (f32, f32), around_hz: f32) -> f32 {
        let around = (around_hz / self.bin_hz) as usize;
        let step = ((PROMINENCE_STEP_HZ / self.bin_hz) as usize).max(1);
        let mut sorted = Vec::new();
        let mut highest = f32::MIN;
        let end = self.bin(range_hz.1) + 1;
        for from in (self.bin(range_hz.0)..end).step_by(step) {
            let to = (from + step).min(end);
            let near = from.saturating_sub(around)..(to + around).min(self.db.len());
            sorted.clear();
            sorted.extend(self.db[near].iter().step_by(3));
            let floor = quantile(&mut sorted, FLOOR_QUANTILE);
            let peak = self.db[from..to].iter().copied().fold(f32::MIN, f32::max);
            highest = highest.max(peak - floor);
        }
        highest
    }

    /// The bin nearest `hz`.
    #[inline]
    pub fn bin(&self, hz: f32) -> usize {
        let last = (self.db.len() - 1) as f32;
        let bin = (hz / self.bin_hz + 0.5).max(0.0).min(last);
        // By way of a signed number of 32 bits, into which processors turn several at once where nothing is checked.
        // SAFETY: what is no number has become 0, and no spectrum has 2^31 bins.
        (unsafe { bin.to_int_unchecked::<i32>() }) as usize
    }

    /// Number of bins.
    pub fn bins(&self) -> usize {
        self.db.len()
    }

    /// Level in dB at the bin nearest `hz`.
    #[inline]
    pub fn at_db(&self, hz: f32) -> f32 {
        self.db[((hz / self.bin_hz + 0.5) as usize).min(self.db.len() - 1)]
    }

    /// Highest level in dB within `reach_hz` of `hz`.
    pub fn peak_db(&self, hz: f32, reach_hz: f32) -> f32 {
        let low =
            (((hz - reach_hz) / self.bin_hz).round().max(0.0) as usize).min(self.db.len() - 1);
        let high = (((hz + reach_hz) / self.bin_hz).round() as usize).clamp(low, self.db.len() - 1);
        self.db[low..=high].iter().copied().fold(f32::MIN, f32::max)
    }

    /// Level in dB of the local floor around `hz`.
    pub fn floor_db(&self, hz: f32) -> f32 {
        let at = (hz / FLOOR_STEP_HZ).max(0.0);
        let i = (at as usize).min(self.floor_db.len() - 1);
        let j = (i + 1).min(self.floor_db.len() - 1);
        self.floor_db[i] + (self.floor_db[j] - self.floor_db[i]) * (at - i as f32).min(1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::{LinePlan, Lowest};
    use proptest::prelude::*;
    use rand::rngs::SmallRng;
    use rand::{Rng, SeedableRng};

    /// Six tones a fourth or a third apart, as of a chord, or noise; so many seconds of it.
    fn prominence_db(seconds: f64, sound: impl FnMut(f64) -> f32) -> f32 {
        let rate_hz = 11_025.0;
        let mut plan = LinePlan::new(rate_hz);
        let times = (0..(seconds * rate_hz) as usize).map(|i| i as f64 / rate_hz);
        let samples: Vec<f32> = times.map(sound).collect();
        let mut spectrum = plan.spectrum();
        plan.fill(&samples, &mut spectrum);
        spectrum.prominence_db((75.0, 1_500.0), 400.0)
    }

    #[test]
    fn a_chord_stands_out_of_a_short_window_as_of_a_long_one_and_noise_of_none() {
        let chord = |t: f64| {
            let partial =
                |n: u32| move |hz: f64| (std::f64::consts::TAU * hz * f64::from(n) * t).sin();
            let notes = [98.0, 146.8, 196.0, 246.9, 293.7, 392.0];
            (1..=6)
                .map(|n| notes.map(partial(n)).iter().sum::<f64>() / f64::from(n * n))
                .sum::<f64>() as f32
        };
        let mut rng = SmallRng::seed_from_u64(3);
        for seconds in [0.15, 0.3, 1.1] {
            let [chord_db, noise_db] = [
                prominence_db(seconds, chord),
                prominence_db(seconds, |_| rng.random_range(-1.0..1.0)),
            ];
            assert!(chord_db > 25.0, "{seconds} s: {chord_db} dB");
            assert!(noise_db < 18.0, "{seconds} s: {noise_db} dB");
        }
    }

    proptest! {
        #[test]
        fn lowest_is_the_least_within_reach(
            values in proptest::collection::vec(-100f32..100.0, 0..80),
            reach in 0usize..100,
        ) {
            let mut lowest = Lowest::default();
            lowest.fill(&[1.0; 7], 2);
            lowest.fill(&values, reach);
            let least = |part: &[f32]| part.iter().copied().fold(f32::MAX, f32::min);
            for i in 0..values.len() {
                prop_assert_eq!(lowest.left[i], least(&values[i.saturating_sub(reach)..=i]));
                prop_assert_eq!(lowest.right[i], least(&values[i..values.len().min(i + reach + 1)]));
            }
        }
    }
}
