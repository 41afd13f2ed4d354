//! The treble's lines, string by string.
//!
//! A string that strikes a fret hands energy to its own high partials: up to 10 kHz they stand far above
//! the noise between them, some tenths of a second long, whatever its pitch. While it strikes, each is
//! broadened upwards, since a string that touches is a little higher. So its lines are looked for where
//! they really are (pitch and stiffness fitted anew in the treble), and what is on them, beside them and
//! on the other strings' lines is read band by band and window by window.

use std::sync::Arc;

use realfft::num_complex::Complex32;
use realfft::{RealFftPlanner, RealToComplex};

use super::bursts::ratio_db;
use crate::fretboard::STRINGS;
use crate::spectrum::partials::{partial_hz, shifted_hz};
use crate::strings::Moments;
use crate::strings::fit::{Fit, distance_hz};
use crate::take::Strum;

/// Windows in seconds from the last onset, and the shortest piece of one that is read.
const WINDOWS_S: [(f64, f64); 3] = [(0.03, 0.18), (0.18, 0.38), (0.38, 0.68)];
const SHORTEST_S: f64 = 0.07;
/// Bands in Hz.
const BANDS_HZ: [(f32, f32); 4] = [
    (1_000.0, 1_800.0),
    (1_800.0, 3_200.0),
    (3_200.0, 5_600.0),
    (5_600.0, 9_500.0),
];
/// What levels are held against, in Hz.
const LOW_HZ: (f32, f32) = (80.0, 1_000.0);
/// Highest line looked at, in Hz.
const HIGHEST_HZ: f64 = 9_600.0;
/// Most lines of a string.
const LINES: usize = 140;
/// Coarsest bin wanted, in Hz: half of what the shortest window parts.
const BIN_HZ: f64 = 3.0;
/// The floor at a place is this share from below of the levels within this distance, in Hz.
const FLOOR_SHARE: f32 = 0.35;
const FLOOR_HZ: f32 = 150.0;
/// The floor is read at every so many-th bin.
const FLOOR_STEP: usize = 4;
/// A line may be this many bins off.
const REACH_BINS: usize = 2;
/// What a line must stand above the floor to speak for a place, and the most it may say, in dB.
const TOLL_DB: f32 = 6.0;
const CAP_DB: f32 = 25.0;
/// The search for pitch and stiffness: farthest from the fit below in cents and decades, and what the
/// distance costs in dB per cent and per decade, squared.
const REACH_CENTS: f64 = 6.0;
const REACH_DECADES: f64 = 0.5;
const CENT_COST_DB: f64 = 0.004;
const DECADE_COST_DB: f64 = 4.0;
/// Lines nearer than this to another string's are not this string's own, in Hz.
const OWN_HZ: f32 = 8.0;
/// Shares of the distance from line to line: on the line, and beside it.
const ON: f32 = 0.08;
const BESIDE: f32 = 0.33;
/// Numbers per band and window.
const NUMBERS: usize = 6;
/// Those of them that are held against the other strings'.
const COMPARED: [usize; 3] = [STANDING, LEVEL, SHARE];
const STANDING: usize = 0;
const RELATIVE: usize = 1;
const LEVEL: usize = 2;
const SHARE: usize = 3;
const ABOVE: usize = 4;
const SLANT: usize = 5;

const CELLS: usize = WINDOWS_S.len() * BANDS_HZ.len();

/// Number of numbers per string.
pub const FEATURES: usize = CELLS * NUMBERS + 2 * CELLS * COMPARED.len() + 2 * BANDS_HZ.len() + 6;

/// One window's spectrum.
#[derive(Debug, Clone, Default)]
struct Window {
    filled: bool,
    power: Vec<f32>,
    /// Highest level within [`REACH_BINS`] of each bin, and the floor there, in dB.
    peak_db: Vec<f32>,
    floor_db: Vec<f32>,
    low_db: f32,
}

/// A string's lines as fitted in the treble.
#[derive(Debug, Clone)]
pub(super) struct Lines {
    pub f0_hz: f64,
    pub b: f64,
    /// From the first partial on.
    pub hz: Vec<f32>,
    /// Mean of what the lines say for the place found, in dB, and how far it is from the fit below.
    score: f64,
    cents: f64,
    pub decades: f64,
}

/// What a string's lines say in each window and band, and the level of its strongest low partials in
/// each window.
struct Read {
    cells: [[f32; NUMBERS]; CELLS],
    low_own_db: [f32; WINDOWS_S.len()],
}

/// Reads the treble's lines of one strum: planned once, filled strum by strum.
pub struct Comb {
    rate_hz: f64,
    forward: Arc<dyn RealToComplex<f32>>,
    input: Vec<f32>,
    output: Vec<Complex32>,
    scratch: Vec<Complex32>,
    sorted: Vec<f32>,
    windows: [Window; WINDOWS_S.len()],
    /// Mean over the windows of what each bin says for a line, in dB.
    speaks_db: Vec<f32>,
}

impl Comb {
    /// For samples at `rate_hz`.
    pub fn new(rate_hz: u32) -> Self {
        let rate_hz = f64::from(rate_hz);
        let longest = WINDOWS_S.iter().map(|w| w.1 - w.0).fold(0.0, f64::max);
        let size = ((rate_hz / BIN_HZ).max(longest * rate_hz) as usize).next_power_of_two();
        let forward = RealFftPlanner::new().plan_fft_forward(size);
        Comb {
            rate_hz,
            input: forward.make_input_vec(),
            output: forward.make_output_vec(),
            scratch: forward.make_scratch_vec(),
            forward,
            sorted: Vec::new(),
            windows: Default::default(),
            speaks_db: Vec::new(),
        }
    }

    fn bin_hz(&self) -> f32 {
        (self.rate_hz / self.input.len() as f64) as f32
    }

    fn bin(&self, hz: f32) -> usize {
        ((hz / self.bin_hz() + 0.5) as usize).min(self.speaks_db.len() - 1)
    }

    /// Reads the strum in `samples`: at most [`Strum::JUDGED_S`] of it.
    pub fn fill(&mut self, samples: &[f32], moments: Moments) {
        let judged = moments.first + (Strum::JUDGED_S * self.rate_hz) as usize;
        let end = moments.end.min(judged).min(samples.len());
        let bins = (HIGHEST_HZ as f32 + 2.0 * FLOOR_HZ) / self.bin_hz();
        let bins = (bins as usize).min(self.output.len());
        self.speaks_db.clear();
        self.speaks_db.resize(bins, 0.0);
        let mut filled = 0.0;
        for (at, (from_s, to_s)) in WINDOWS_S.into_iter().enumerate() {
            let from = (moments.last + (from_s * self.rate_hz) as usize).min(end);
            let to = (moments.last + (to_s * self.rate_hz) as usize).min(end);
            self.windows[at].filled = (to - from) as f64 >= SHORTEST_S * self.rate_hz;
            if self.windows[at].filled {
                self.read(&samples[from..to], at);
                filled += 1.0;
            }
        }
        self.speaks_db
            .iter_mut()
            .for_each(|s| *s /= f32::max(filled, 1.0));
    }

    fn read(&mut self, part: &[f32], at: usize) {
        self.input.fill(0.0);
        let step = std::f32::consts::TAU / part.len() as f32;
        for (i, (into, s)) in self.input.iter_mut().zip(part).enumerate() {
            *into = s * (0.5 - 0.5 * (step * (i as f32 + 0.5)).cos());
        }
        self.forward
            .process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch)
            .expect("buffers come from this plan");
        let bins = self.speaks_db.len();
        let bin_hz = self.bin_hz();
        let reach = (FLOOR_HZ / bin_hz) as usize / FLOOR_STEP;
        let window = &mut self.windows[at];
        let scale = 8.0 / (3.0 * part.len() as f32);
        window.power.clear();
        window
            .power
            .extend(self.output[..bins].iter().map(|z| z.norm_sqr() * scale));
        let level_db: Vec<f32> = window.power.iter().map(|p| ratio_db(*p, 1.0)).collect();
        window.peak_db.clear();
        window.peak_db.extend((0..bins).map(|i| {
            level_db[i.saturating_sub(REACH_BINS)..(i + REACH_BINS + 1).min(bins)]
                .iter()
                .copied()
                .fold(f32::MIN, f32::max)
        }));
        window.floor_db.clear();
        let thinned: Vec<f32> = level_db.iter().step_by(FLOOR_STEP).copied().collect();
        for i in 0..thinned.len() {
            self.sorted.clear();
            let near = i.saturating_sub(reach)..(i + reach + 1).min(thinned.len());
            self.sorted.extend_from_slice(&thinned[near]);
            let nth = (FLOOR_SHARE * self.sorted.len() as f32) as usize;
            let (_, floor, _) = self.sorted.select_nth_unstable_by(nth, f32::total_cmp);
            let floor = *floor;
            window.floor_db.extend(std::iter::repeat_n(
                floor,
                FLOOR_STEP.min(bins - window.floor_db.len()),
            ));
        }
        let low = (LOW_HZ.0 / bin_hz) as usize..(LOW_HZ.1 / bin_hz) as usize;
        window.low_db = ratio_db(window.power[low].iter().sum(), 1.0);
        for (speaks, (peak, floor)) in self
            .speaks_db
            .iter_mut()
            .zip(window.peak_db.iter().zip(&window.floor_db))
        {
            *speaks += (peak - floor - TOLL_DB).clamp(0.0, CAP_DB);
        }
    }

    /// Where the string's lines are, from where `fit` has put its partials below.
    pub(super) fn lines(&self, fit: &Fit) -> Lines {
        let score = |cents: f64, decades: f64| {
            let (f0_hz, b) = moved(fit, cents, decades);
            let (mut sum, mut count) = (0.0, 0.0);
            for n in 1..LINES {
                let hz = partial_hz(f0_hz, b, n);
                if hz > HIGHEST_HZ {
                    break;
                }
                if hz > 0.9 * f64::from(BANDS_HZ[0].0) {
                    sum += f64::from(self.speaks_db[self.bin(hz as f32)]);
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
        search(coarse, (2, 4), (1.0, 0.005));
        let (score, cents, decades) = best;
        let (f0_hz, b) = moved(fit, cents, decades);
        let hz = (1..LINES)
            .map(|n| partial_hz(f0_hz, b, n))
            .take_while(|hz| *hz < HIGHEST_HZ)
            .map(|hz| hz as f32)
            .collect();
        Lines {
            f0_hz,
            b,
            hz,
            score,
            cents,
            decades,
        }
    }

    /// What `lines` say; `others` are the other strings' lines, ascending.
    fn read_lines(&self, lines: &Lines, others: &[f32]) -> Read {
        let mut read = Read {
            cells: [[f32::NAN; NUMBERS]; CELLS],
            low_own_db: [f32::NAN; WINDOWS_S.len()],
        };
        for (at, window) in self.windows.iter().enumerate().filter(|(_, w)| w.filled) {
            let peak_db = |hz: f32| window.peak_db[self.bin(hz)];
            let mut low: Vec<f32> = lines
                .hz
                .iter()
                .filter(|hz| **hz < LOW_HZ.1)
                .map(|hz| peak_db(*hz))
                .collect();
            low.sort_unstable_by(|a, b| b.total_cmp(a));
            low.truncate(3);
            read.low_own_db[at] = mean(low.into_iter());
            for (k, band) in BANDS_HZ.into_iter().enumerate() {
                let cell = &mut read.cells[at * BANDS_HZ.len() + k];
                let own = || {
                    lines.hz.iter().copied().filter(|hz| {
                        (band.0..band.1).contains(hz) && distance_hz(others, *hz) > OWN_HZ
                    })
                };
                cell[STANDING] = mean(own().map(|hz| peak_db(hz) - window.floor_db[self.bin(hz)]));
                cell[RELATIVE] = mean(own().map(&peak_db)) - read.low_own_db[at];
                let power = mean(own().map(|hz| 10f32.powf(peak_db(hz) / 10.0)));
                cell[LEVEL] = 10.0 * (power + 1e-12).log10() - window.low_db;
                let [on, above, below] = self.folded(window, lines, band);
                cell[SHARE] = on;
                cell[ABOVE] = above;
                cell[SLANT] = ((above + 1e-3) / (below + 1e-3)).ln();
            }
        }
        read
    }

    /// Shares of the power in `band` that lie on the string's lines, a little above and a little below
    /// them, each stretch from line to line counting alike.
    fn folded(&self, window: &Window, lines: &Lines, band: (f32, f32)) -> [f32; 3] {
        let mut shares = [0f32; 3];
        let mut stretch = [0f32; 3];
        let (mut all, mut at, mut count) = (0f32, None, 0f32);
        let mut close = |stretch: &mut [f32; 3], all: &mut f32| {
            if *all > 0.0 {
                for (share, part) in shares.iter_mut().zip(stretch.iter()) {
                    *share += part / *all;
                }
                count += 1.0;
            }
            (*stretch, *all) = ([0.0; 3], 0.0);
        };
        for bin in self.bin(band.0)..self.bin(band.1) {
            let hz = f64::from(bin as f32 * self.bin_hz()) / lines.f0_hz;
            // The number of the partial that would be here: n f0 sqrt(1 + B n^2) solved for n.
            let n =
                ((((1.0 + 4.0 * lines.b * hz * hz).sqrt() - 1.0) / (2.0 * lines.b)).sqrt()) as f32;
            let nearest = n.round();
            if at != Some(nearest as i32) {
                close(&mut stretch, &mut all);
                at = Some(nearest as i32);
            }
            let off = n - nearest;
            let power = window.power[bin];
            all += power;
            if off.abs() < ON {
                stretch[0] += power;
            } else if (ON..BESIDE).contains(&off) {
                stretch[1] += power;
            } else if (ON..BESIDE).contains(&-off) {
                stretch[2] += power;
            }
        }
        close(&mut stretch, &mut all);
        shares.map(|s| s / count.max(1.0))
    }

    /// The evidence on each string with a fit, [`FEATURES`] numbers each.
    pub fn evidence(&self, fits: &[Option<Fit>; STRINGS]) -> [Option<Vec<f32>>; STRINGS] {
        let lines: [Option<Lines>; STRINGS] =
            std::array::from_fn(|s| fits[s].as_ref().map(|fit| self.lines(fit)));
        let reads: [Option<Read>; STRINGS] = std::array::from_fn(|s| {
            let mut others: Vec<f32> = (0..STRINGS)
                .filter(|&o| o != s)
                .filter_map(|o| lines[o].as_ref())
                .flat_map(|l| l.hz.iter().copied())
                .collect();
            others.sort_unstable_by(f32::total_cmp);
            lines[s].as_ref().map(|own| self.read_lines(own, &others))
        });
        std::array::from_fn(|s| {
            let (lines_here, read) = (lines[s].as_ref()?, reads[s].as_ref()?);
            let mut row = Vec::with_capacity(FEATURES);
            row.extend(read.cells.iter().flatten());
            let others = || {
                reads
                    .iter()
                    .enumerate()
                    .filter(|&(o, _)| o != s)
                    .filter_map(|(_, read)| read.as_ref())
            };
            for number in COMPARED {
                for cell in 0..CELLS {
                    let mut there: Vec<f32> = others()
                        .map(|o| o.cells[cell][number])
                        .filter(|v| !v.is_nan())
                        .collect();
                    there.sort_unstable_by(f32::total_cmp);
                    let own = read.cells[cell][number];
                    row.push(there.last().map_or(f32::NAN, |most| own - most));
                    row.push(own - median(&there));
                }
            }
            let level = |window: usize, band: usize| {
                read.cells[window * BANDS_HZ.len() + band][LEVEL] + self.windows[window].low_db
            };
            let missing = |window: usize| !self.windows[window].filled;
            for later in 1..WINDOWS_S.len() {
                for band in 0..BANDS_HZ.len() {
                    let fall = level(later, band) - level(later - 1, band);
                    row.push(if missing(later) { f32::NAN } else { fall });
                }
                row.push(read.low_own_db[later] - read.low_own_db[later - 1]);
            }
            let best = lines
                .iter()
                .enumerate()
                .filter(|&(o, _)| o != s)
                .filter_map(|(_, l)| l.as_ref())
                .map(|l| l.score as f32)
                .fold(f32::NAN, f32::max);
            row.push(lines_here.score as f32);
            row.push(lines_here.score as f32 - best);
            row.push(lines_here.cents as f32);
            row.push(lines_here.decades as f32);
            Some(row)
        })
    }
}

/// Pitch and stiffness of `fit`, moved.
fn moved(fit: &Fit, cents: f64, decades: f64) -> (f64, f64) {
    (shifted_hz(fit.f0_hz, cents), fit.b * 10f64.powf(decades))
}

/// NaN of nothing.
fn mean(values: impl Iterator<Item = f32>) -> f32 {
    let (sum, count) = values.fold((0.0, 0.0), |(sum, count), v| (sum + v, count + 1.0));
    sum / count
}

/// Of ascending values; NaN of nothing.
fn median(sorted: &[f32]) -> f32 {
    match sorted.len() {
        0 => f32::NAN,
        n => 0.5 * (sorted[(n - 1) / 2] + sorted[n / 2]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two strings of 330 and 247 Hz that ring below 1 kHz; the one at `bright_hz` also far above.
    fn comb(bright_hz: f64) -> [Option<Vec<f32>>; STRINGS] {
        let rate = 44_100u32;
        let (b, notes) = (6e-5, [(5, 329.6), (4, 246.9)]);
        let mut samples = vec![0f32; 44_100];
        for (_, f0_hz) in notes {
            let top_hz = if f0_hz == bright_hz { 9_000.0 } else { 1_000.0 };
            for hz in (1..60).map(|n| partial_hz(f0_hz, b, n)) {
                if hz > top_hz {
                    break;
                }
                let gain = if hz > 1_000.0 { 0.003 } else { 0.1 };
                for (i, s) in samples.iter_mut().enumerate() {
                    let t = i as f64 / f64::from(rate);
                    *s += gain * (std::f64::consts::TAU * hz * t).sin() as f32;
                }
            }
        }
        // A floor of noise, the same each time.
        let mut state = 1u32;
        for s in &mut samples {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            *s += 0.001 * (state as f32 / u32::MAX as f32 - 0.5);
        }
        let mut fits = [None; STRINGS];
        for (string, f0_hz) in notes {
            // Stiffness as known from below is a third off.
            fits[string] = Some(Fit::nominal(f0_hz, 1.35 * b, 5_000.0));
        }
        let mut comb = Comb::new(rate);
        comb.fill(
            &samples,
            Moments {
                first: 0,
                last: 500,
                end: 44_100,
            },
        );
        comb.evidence(&fits)
    }

    #[test]
    fn the_string_whose_high_partials_stand_is_told_from_one_whose_do_not() {
        for bright_hz in [329.6, 246.9] {
            let rows = comb(bright_hz);
            let (bright, dull) = match bright_hz {
                329.6 => (&rows[5], &rows[4]),
                _ => (&rows[4], &rows[5]),
            };
            let (bright, dull) = (bright.as_ref().unwrap(), dull.as_ref().unwrap());
            assert_eq!(bright.len(), FEATURES);
            // The third band of the first window, far over the fit below.
            let at = 2 * NUMBERS;
            assert!(
                bright[at + STANDING] > dull[at + STANDING] + 6.0
                    && bright[at + SHARE] > dull[at + SHARE] + 0.3,
                "{bright_hz}: {:?} and {:?}",
                &bright[at..at + NUMBERS],
                &dull[at..at + NUMBERS]
            );
        }
    }

    #[test]
    fn stiffness_is_corrected_by_the_lines_in_the_treble() {
        let rows = comb(329.6);
        let decades = rows[5].as_ref().unwrap()[FEATURES - 1];
        assert!(
            (decades + 1.35f32.log10()).abs() < 0.02,
            "{decades} decades"
        );
    }
}
