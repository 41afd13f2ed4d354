//! What a network sees of the treble: each string's lines frame by frame and from line to line, how the
//! treble pulses at each string's pitch, and the course of the bands that all strings share.

use std::sync::Arc;

use realfft::num_complex::Complex32;
use realfft::{RealFftPlanner, RealToComplex};
use rustfft::{Fft, FftPlanner};

use super::bursts::{Bursts, PULSE_HZ};
use super::comb::Lines;
use crate::fretboard::STRINGS;
use crate::strings::fit::distance_hz;
use crate::strings::{Moments, Notes};
use crate::take::Strum;

/// Short frames: length in seconds, first centre after the last onset, step, and how many. The lines are
/// read from frame [`LINES_FROM`] on; those before say what was there already.
const FRAME_S: f64 = 0.06;
const FRAMES_FROM_S: f64 = -0.3;
const FRAME_STEP_S: f64 = 0.025;
const FRAMES: usize = 44;
const LINES_FROM: usize = 8;
/// Long windows in seconds from the last onset; what is shorter than half of one is not read.
const LONG_S: [(f64, f64); 4] = [(0.03, 0.18), (0.18, 0.38), (0.38, 0.68), (0.05, 0.7)];
/// Length of the padded transforms of frames and windows, in samples at 44.1 kHz.
const SHORT_SIZE: usize = 8192;
const LONG_SIZE: usize = 32_768;
/// Lines below this are low: a few are looked at one by one, for what the treble is held against.
const TREBLE_HZ: f32 = 900.0;
const LOW_LINES: usize = 4;
/// Lines of the treble are taken together where their numbers lie within this ratio.
const TOGETHER: f64 = 1.1;
/// Most rows of a string.
pub const ROWS: usize = 32;
/// A line may be this far off in a short frame and in a long window, in Hz.
const SHORT_REACH_HZ: f32 = 10.0;
const LONG_REACH_HZ: f32 = 8.0;
/// Lines nearer than this to another string's are not this string's own, in Hz.
const OWN_HZ: f32 = 8.0;
/// From line to line: bounds in shares of the distance, and places in Hz from the line.
const SHARES: [f32; 8] = [-0.5, -0.35, -0.2, -0.08, 0.08, 0.2, 0.35, 0.5];
const OFFSETS_HZ: [f32; 6] = [-8.0, -4.0, 0.0, 4.0, 8.0, 16.0];
const PROFILE: usize = SHARES.len() - 1 + OFFSETS_HZ.len() + 1;
/// Halfway to the next line, in shares of the distance.
const BETWEEN: (f32, f32) = (0.35, 0.65);
const PLACES: usize = 9;
/// Numbers a row of lines is described by.
pub const ROW_WIDTH: usize = 2 * (FRAMES - LINES_FROM) + 2 * LONG_S.len() * PROFILE + PLACES;

/// Windows in which the pulse is read, in seconds from the last onset.
const PULSE_S: [(f64, f64); 6] = [
    (0.03, 0.18),
    (0.13, 0.28),
    (0.28, 0.43),
    (0.43, 0.63),
    (0.63, 0.83),
    (0.05, 0.75),
];
/// Bands whose envelopes are read in half octaves, the lowest one's lower edge in Hz, and how many.
const PULSES_FROM_HZ: f32 = 1_000.0;
pub const PULSES: usize = 8;
/// Samples of an envelope over the padded stretch, which begins this long before the first onset, in
/// seconds, and is at most so long.
const ENVELOPE: usize = 8192;
const LEAD_S: f64 = 0.05;
const LONGEST_S: f64 = 1.4;
/// Multiples of the string's pitch, and ratios beside its first and second one.
const MULTIPLES: usize = 8;
const BESIDE: [f32; 7] = [0.97, 0.988, 1.012, 1.03, 1.06, 1.1, 1.16];
const PULSE_NUMBERS: usize = 2 * MULTIPLES + 2 * BESIDE.len() + 3;
/// Numbers of one band's pulse.
pub const PULSE_WIDTH: usize = PULSE_S.len() * PULSE_NUMBERS;
/// Steps in which the moment of the bursts within a period is looked for.
const TURNS: usize = 32;

/// Bands that all strings share: the lowest one's lower edge in Hz, bands per octave, and how many.
const BAND_FROM_HZ: f32 = 700.0;
const BANDS_PER_OCTAVE: f32 = 6.0;
pub const BANDS: usize = 24;
pub const BAND_WIDTH: usize = FRAMES + 1;
/// What levels are held against, in Hz, over the frames of the first tenths.
const LOW_HZ: (f32, f32) = (80.0, 1_000.0);
const LOW_FRAMES: std::ops::Range<usize> = 13..25;

/// One string's lines and pulses.
#[derive(Debug, Clone)]
pub struct SeenString {
    /// Mean frequency of the lines of each row in Hz.
    pub hz: Vec<f32>,
    /// [`ROW_WIDTH`] numbers a row.
    pub rows: Vec<f32>,
    /// [`PULSE_WIDTH`] numbers for each of [`PULSES`] bands.
    pub pulses: Vec<f32>,
}

/// The treble as the network sees it.
#[derive(Debug, Clone)]
pub struct SeenTreble {
    pub strings: [Option<SeenString>; STRINGS],
    /// [`BAND_WIDTH`] numbers for each of [`BANDS`].
    pub bands: Vec<f32>,
}

/// Sees the treble of one strum: planned once.
pub struct Treble {
    rate_hz: f64,
    short: Plan,
    long: Plan,
    whole: Plan,
    inverse: Vec<Arc<dyn Fft<f32>>>,
}

/// The power of bands over time.
struct Envelopes {
    bands: Vec<Vec<f32>>,
    rate_hz: f64,
    /// The last onset and the end of the sound, in seconds after the beginning.
    last_s: f64,
    length_s: f64,
}

struct Plan {
    forward: Arc<dyn RealToComplex<f32>>,
    input: Vec<f32>,
    output: Vec<Complex32>,
    scratch: Vec<Complex32>,
    bin_hz: f32,
}

/// Power of a stretch by frequency, a line of amplitude 1 reading 1; empty where there is no sound.
#[derive(Debug, Clone, Default)]
struct Spectrum {
    power: Vec<f32>,
    bin_hz: f32,
}

impl Spectrum {
    fn bin(&self, hz: f32) -> usize {
        ((hz / self.bin_hz + 0.5) as usize).min(self.power.len() - 1)
    }

    fn highest(&self, from_hz: f32, to_hz: f32) -> f32 {
        let bins = self.bin(from_hz)..=self.bin(to_hz);
        self.power[bins].iter().copied().fold(0.0, f32::max)
    }

    fn mean(&self, from_hz: f32, to_hz: f32) -> f32 {
        let part = &self.power[self.bin(from_hz)..=self.bin(to_hz)];
        part.iter().sum::<f32>() / part.len() as f32
    }

    fn at(&self, hz: f32) -> f32 {
        let at = (hz / self.bin_hz).min(self.power.len() as f32 - 2.0);
        let (i, t) = (at as usize, at.fract());
        self.power[i] * (1.0 - t) + self.power[i + 1] * t
    }
}

impl Plan {
    fn new(size: usize, rate_hz: f64) -> Self {
        let forward = RealFftPlanner::new().plan_fft_forward(size);
        Plan {
            input: forward.make_input_vec(),
            output: forward.make_output_vec(),
            scratch: forward.make_scratch_vec(),
            bin_hz: (rate_hz / size as f64) as f32,
            forward,
        }
    }

    fn transform(&mut self, part: &[f32], window: impl Fn(usize) -> f32) {
        self.input.fill(0.0);
        for (i, (into, s)) in self.input.iter_mut().zip(part).enumerate() {
            *into = s * window(i);
        }
        self.forward
            .process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch)
            .expect("buffers come from this plan");
    }

    fn read(&mut self, part: &[f32]) -> Spectrum {
        let part = &part[..part.len().min(self.input.len())];
        let step = std::f32::consts::TAU / part.len().max(1) as f32;
        self.transform(part, |i| 0.5 - 0.5 * (step * (i as f32 + 0.5)).cos());
        // A Hann window's mean is a half, a line's amplitude is in two bins.
        let scale = (4.0 / part.len().max(1) as f32).powi(2);
        Spectrum {
            power: self.output.iter().map(|z| z.norm_sqr() * scale).collect(),
            bin_hz: self.bin_hz,
        }
    }
}

/// A level in dB against the low strings' for the network: about -2.5 to 3, and 0 for what is not there.
fn level(power: f32, low: f32) -> f32 {
    (10.0 * (power / low + 1e-11).log10() + 60.0) / 20.0
}

impl Treble {
    /// For samples at `rate_hz`.
    pub fn new(rate_hz: u32) -> Self {
        let rate_hz = f64::from(rate_hz);
        let size =
            |at_44: usize| ((at_44 as f64 * rate_hz / 44_100.0) as usize).next_power_of_two();
        let whole = size((LONGEST_S * 44_100.0) as usize);
        let mut planner = FftPlanner::new();
        let inverse = (0..PULSES)
            .map(|k| {
                let (from_hz, to_hz) = pulse_band_hz(k);
                let bins = (f64::from(to_hz - from_hz) * whole as f64 / rate_hz) as usize + 2;
                planner.plan_fft_inverse(bins.next_power_of_two().max(ENVELOPE))
            })
            .collect();
        Treble {
            whole: Plan::new(whole, rate_hz),
            inverse,
            rate_hz,
            short: Plan::new(size(SHORT_SIZE), rate_hz),
            long: Plan::new(size(LONG_SIZE), rate_hz),
        }
    }

    /// Sees the strum in `samples`, which `bursts` has been filled with and `notes` fitted to.
    pub fn see(
        &mut self,
        samples: &[f32],
        moments: Moments,
        bursts: &Bursts,
        notes: &Notes,
    ) -> SeenTreble {
        let rate = self.rate_hz;
        let judged = moments.first + (Strum::JUDGED_S * rate) as usize;
        let end = moments.end.min(judged).min(samples.len());
        let after_last = |s: f64| moments.last as f64 + s * rate;
        let length = (FRAME_S * rate) as usize;
        let frames: Vec<Spectrum> = (0..FRAMES)
            .map(|k| {
                let centre = after_last(FRAMES_FROM_S + FRAME_STEP_S * k as f64);
                let from = centre as isize - (length / 2) as isize;
                match usize::try_from(from) {
                    Ok(from) if from + length <= end => self.short.read(&samples[from..][..length]),
                    _ => Spectrum::default(),
                }
            })
            .collect();
        let windows: Vec<Spectrum> = LONG_S
            .iter()
            .map(|(from_s, to_s)| {
                let (from, to) = (after_last(*from_s) as usize, after_last(*to_s) as usize);
                match to.min(end) {
                    to if to as f64 - from as f64 >= 0.5 * (to_s - from_s) * rate => {
                        self.long.read(&samples[from..to])
                    }
                    _ => Spectrum::default(),
                }
            })
            .collect();
        let there = || frames[LOW_FRAMES].iter().filter(|f| !f.power.is_empty());
        let low = there()
            .map(|f| {
                f.power[f.bin(LOW_HZ.0)..f.bin(LOW_HZ.1)]
                    .iter()
                    .sum::<f32>()
            })
            .sum::<f32>()
            / there().count().max(1) as f32
            + 1e-20;
        let envelopes = self.envelopes(&samples[..end], moments);
        let fits = notes.fits();
        let lines: [Option<Lines>; STRINGS] =
            std::array::from_fn(|s| fits[s].map(|fit| bursts.comb.lines(&fit)));
        let strings = std::array::from_fn(|s| {
            let own = lines[s].as_ref()?;
            let others = lines.iter().enumerate().filter(|(o, _)| *o != s);
            let mut others: Vec<f32> = others
                .filter_map(|(_, l)| l.as_ref())
                .flat_map(|l| l.hz.iter().copied())
                .collect();
            others.sort_unstable_by(f32::total_cmp);
            let (mut hz, mut rows) = (Vec::new(), Vec::new());
            for group in groups(own) {
                let distance = |n: &usize| distance_hz(&others, own.hz[*n]);
                hz.push(mean(group.clone().map(|n| own.hz[n])));
                let alone: Vec<usize> = group.clone().filter(|n| distance(n) > OWN_HZ).collect();
                let share = alone.len() as f32 / group.len() as f32;
                let read = match alone.is_empty() {
                    true => group.clone().collect(),
                    false => alone,
                };
                put_frames(&mut rows, &frames[LINES_FROM..], low, own, &read);
                let lines: Vec<(f32, f32)> =
                    (read.iter().map(|&n| (own.hz[n], spacing_hz(own, n)))).collect();
                put_profile(&mut rows, &windows, low, &lines);
                // What strikes once a period drives it at whole multiples of its pitch, wherever its own
                // partials are.
                let f1_hz = fits[s].map_or(own.hz[0], |fit| fit.hz(1));
                let whole = |n: usize| (own.hz[n] / f1_hz).round() as usize;
                let (from, to) = (whole(group.start), whole(group.end - 1));
                let multiples: Vec<(f32, f32)> =
                    (from..=to).map(|k| (k as f32 * f1_hz, f1_hz)).collect();
                put_profile(&mut rows, &windows, low, &multiples);
                let first_hz = own.hz[0];
                let middle = group.start + group.len() / 2;
                let spacing_hz = spacing_hz(own, middle);
                rows.extend([
                    (own.hz[middle] / 2_000.0).log2(),
                    (middle + 1) as f32 / 32.0,
                    (group.len() as f32).ln(),
                    (spacing_hz / 200.0).log2(),
                    mean(group.clone().map(|n| distance(&n).min(300.0).ln_1p())) / 4.0,
                    share,
                    4.0 * (spacing_hz / first_hz - 1.0),
                    f32::from(u8::from(own.hz[middle] < TREBLE_HZ)),
                    own.decades as f32 * 4.0,
                ]);
            }
            let pulses = pulses(&envelopes, fits[s]?.hz(1), low);
            Some(SeenString { hz, rows, pulses })
        });
        let bands = (0..BANDS)
            .flat_map(|k| {
                let edge = |k: usize| BAND_FROM_HZ * (k as f32 / BANDS_PER_OCTAVE).exp2();
                let (from, to) = (edge(k), edge(k + 1));
                let course = frames.iter().map(move |f| match f.power.is_empty() {
                    true => 0.0,
                    false => level(f.mean(from, to), low),
                });
                course.chain([(from / 2_000.0).log2()])
            })
            .collect();
        SeenTreble { strings, bands }
    }
}

/// Bounds in Hz of a band whose pulse is read.
fn pulse_band_hz(k: usize) -> (f32, f32) {
    let edge = |k: usize| PULSES_FROM_HZ * (k as f32 / 2.0).exp2();
    (edge(k), edge(k + 1))
}

impl Treble {
    /// The envelopes of the bands whose pulse is read, in power of lines of amplitude 1.
    fn envelopes(&mut self, samples: &[f32], moments: Moments) -> Envelopes {
        let rate = self.rate_hz;
        let begin = moments.first.saturating_sub((LEAD_S * rate) as usize);
        let end = samples.len().min(begin + (LONGEST_S * rate) as usize);
        let part = &samples[begin.min(end)..end];
        self.whole.transform(part, |_| 1.0);
        let size = self.whole.input.len();
        let bands = (0..PULSES)
            .map(|k| {
                let (from_hz, to_hz) = pulse_band_hz(k);
                let bin = |hz: f32| ((hz / self.whole.bin_hz) as usize).min(size / 2);
                let (from, to) = (bin(from_hz), bin(to_hz));
                let mut work = vec![Complex32::default(); self.inverse[k].len()];
                work[..to - from].copy_from_slice(&self.whole.output[from..to]);
                self.inverse[k].process(&mut work);
                let each = work.len() / ENVELOPE;
                let scale = (2.0 / size as f32).powi(2);
                work.chunks_exact(each)
                    .map(|c| scale * c.iter().map(|z| z.norm_sqr()).sum::<f32>() / each as f32)
                    .collect()
            })
            .collect();
        Envelopes {
            bands,
            rate_hz: rate * ENVELOPE as f64 / size as f64,
            last_s: (moments.last.clamp(begin, end.max(begin)) - begin) as f64 / rate,
            length_s: part.len() as f64 / rate,
        }
    }
}

/// Lines that are taken together, as indices into [`Lines::hz`].
fn groups(lines: &Lines) -> Vec<std::ops::Range<usize>> {
    let low = lines.hz.iter().take_while(|hz| **hz < TREBLE_HZ).count();
    let mut groups: Vec<_> = (0..low.min(LOW_LINES)).map(|n| n..n + 1).collect();
    let mut from = low;
    while from < lines.hz.len() && groups.len() < ROWS {
        let next = (((from + 1) as f64 * TOGETHER) as usize).saturating_sub(1);
        let to = next.max(from + 1).min(lines.hz.len());
        groups.push(from..to);
        from = to;
    }
    groups
}

fn spacing_hz(lines: &Lines, n: usize) -> f32 {
    match lines.hz.get(n + 1) {
        Some(next) => next - lines.hz[n],
        None if n > 0 => lines.hz[n] - lines.hz[n - 1],
        None => lines.hz[n],
    }
}

fn mean(values: impl Iterator<Item = f32>) -> f32 {
    let (sum, count) = values.fold((0.0, 0.0), |(sum, count), v| (sum + v, count + 1.0));
    sum / f32::max(count, 1.0)
}

/// Levels on the lines and between them, frame by frame.
fn put_frames(row: &mut Vec<f32>, frames: &[Spectrum], low: f32, lines: &Lines, read: &[usize]) {
    let mut put = |of: &dyn Fn(&Spectrum, usize) -> f32| {
        row.extend(frames.iter().map(|f| match f.power.is_empty() {
            true => 0.0,
            false => mean(read.iter().map(|&n| level(of(f, n), low))),
        }));
    };
    put(&|f, n| f.highest(lines.hz[n] - SHORT_REACH_HZ, lines.hz[n] + SHORT_REACH_HZ));
    put(&|f, n| {
        let step = spacing_hz(lines, n);
        f.mean(
            lines.hz[n] + BETWEEN.0 * step,
            lines.hz[n] + BETWEEN.1 * step,
        )
    });
}

/// Levels from halfway below `lines` (each with the distance to the next) to halfway above, window by window.
fn put_profile(row: &mut Vec<f32>, windows: &[Spectrum], low: f32, lines: &[(f32, f32)]) {
    for window in windows {
        if window.power.is_empty() {
            row.extend([0.0; PROFILE]);
            continue;
        }
        let mut put = |of: &dyn Fn(f32, f32) -> f32| {
            row.push(mean(
                lines
                    .iter()
                    .map(|&(hz, step_hz)| level(of(hz, step_hz), low)),
            ));
        };
        for bounds in SHARES.windows(2) {
            put(&|hz, step| window.mean(hz + bounds[0] * step, hz + bounds[1] * step));
        }
        for offset in OFFSETS_HZ {
            put(&|hz, _| window.at(hz + offset));
        }
        put(&|hz, _| window.highest(hz - LONG_REACH_HZ, hz + LONG_REACH_HZ));
    }
}

/// How the envelopes pulse at whole multiples of the string's pitch and beside them. Phases are turned so
/// that the bursts of all bands together come at phase 0.
fn pulses(envelopes: &Envelopes, f1_hz: f32, low: f32) -> Vec<f32> {
    let rate_hz = envelopes.rate_hz;
    let mut numbers = vec![0.0; PULSES * PULSE_WIDTH];
    for (w, (from_s, to_s)) in PULSE_S.into_iter().enumerate() {
        let to_s = (envelopes.last_s + to_s).min(envelopes.length_s);
        let from_s = envelopes.last_s + from_s;
        if to_s - from_s < 0.5 * (PULSE_S[w].1 - PULSE_S[w].0) {
            continue;
        }
        let (from, to) = ((from_s * rate_hz) as usize, (to_s * rate_hz) as usize);
        let multiples = (1..=MULTIPLES).map(|k| k as f32 * f1_hz);
        let beside = [1.0, 2.0]
            .into_iter()
            .flat_map(|k| BESIDE.map(|r| k * r * f1_hz));
        let count = to.min(ENVELOPE).saturating_sub(from);
        let parts: [&[f32]; PULSES] = std::array::from_fn(|b| &envelopes.bands[b][from..][..count]);
        let mean = parts.map(|part| part.iter().sum::<f32>() / count as f32 + 1e-20);
        let step = std::f32::consts::TAU / count as f32;
        let windowed: Vec<[f32; PULSES]> = (0..count)
            .map(|i| {
                let window = 0.5 - 0.5 * (step * (i as f32 + 0.5)).cos();
                std::array::from_fn(|b| (parts[b][i] / mean[b] - 1.0) * window)
            })
            .collect();
        let spread: [f32; PULSES] = std::array::from_fn(|b| {
            windowed.iter().map(|v| v[b] * v[b]).sum::<f32>() * 8.0 / (3.0 * count as f32)
        });
        let lines: Vec<[Complex32; PULSES]> = (multiples.chain(beside))
            .map(|hz| line(&windowed, hz, rate_hz as f32))
            .collect();
        let together: Vec<Complex32> = (0..MULTIPLES).map(|k| lines[k].iter().sum()).collect();
        let turn = |t: usize, k: usize| {
            Complex32::cis(std::f32::consts::TAU * t as f32 * (k + 1) as f32 / TURNS as f32)
        };
        let sum = |t: usize| -> f32 { (0..MULTIPLES).map(|k| (together[k] * turn(t, k)).re).sum() };
        let best = (0..TURNS)
            .max_by(|&a, &b| sum(a).total_cmp(&sum(b)))
            .unwrap_or(0);
        for b in 0..PULSES {
            let into = &mut numbers[b * PULSE_WIDTH + w * PULSE_NUMBERS..][..PULSE_NUMBERS];
            for k in 0..MULTIPLES {
                let turned = lines[k][b] * turn(best, k);
                let compressed = turned / (turned.norm() + 1e-6).sqrt();
                (into[k], into[MULTIPLES + k]) = (compressed.re, compressed.im);
            }
            for (into, line) in into[2 * MULTIPLES..].iter_mut().zip(&lines[MULTIPLES..]) {
                *into = line[b].norm().sqrt();
            }
            let periodic = lines[..MULTIPLES]
                .iter()
                .map(|z| z[b].norm_sqr() * 0.5)
                .sum::<f32>();
            into[PULSE_NUMBERS - 3..].copy_from_slice(&[
                level(mean[b], low),
                (spread[b] + 1e-4).log10(),
                (periodic / (spread[b] + 1e-6)).min(2.0),
            ]);
        }
    }
    numbers
}

/// Complex amplitude of each band at `hz` under a Hann window that `windowed` has been multiplied by; 0 above
/// the range in which pulses are followed.
fn line(windowed: &[[f32; PULSES]], hz: f32, rate_hz: f32) -> [Complex32; PULSES] {
    let (mut re, mut im) = ([0f32; PULSES], [0f32; PULSES]);
    if hz <= PULSE_HZ.1 {
        let step = Complex32::cis(-std::f32::consts::TAU * hz / rate_hz);
        let mut turn = Complex32::new(4.0 / windowed.len().max(1) as f32, 0.0);
        for values in windowed {
            for b in 0..PULSES {
                re[b] += turn.re * values[b];
                im[b] += turn.im * values[b];
            }
            turn *= step;
        }
    }
    std::array::from_fn(|b| Complex32::new(re[b], im[b]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::{Frets, Tuning};
    use crate::strings::Spectra;

    const RATE_HZ: u32 = 44_100;

    /// An A major chord's lowest notes whose treble pulses `pulse_hz` times a second.
    fn seen(pulse_hz: f64) -> SeenTreble {
        let samples: Vec<f32> = (0..66_150)
            .map(|i| {
                let t = f64::from(i) / f64::from(RATE_HZ) - 0.3;
                let turn = std::f64::consts::TAU * t;
                let pulse = (0.5 + 0.5 * (turn * pulse_hz).cos()).powi(6);
                let low: f64 = [110.0, 164.8, 220.0]
                    .iter()
                    .map(|hz| (turn * hz).sin())
                    .sum();
                let on = if t < 0.0 { 0.0 } else { (-2.0 * t).exp() };
                (on * (low + 0.1 * pulse * (turn * 3_013.0).sin())) as f32
            })
            .collect();
        let moments = Moments {
            first: 13_230,
            last: 13_700,
            end: samples.len(),
        };
        let mut spectra = Spectra::new(RATE_HZ);
        let mut bursts = Bursts::new(RATE_HZ);
        spectra.fill(&samples, moments);
        bursts.fill(&samples, moments);
        let frets: Frets = "x022xx".parse().expect("a voicing");
        let notes = Notes::fit(&spectra, &Tuning::default(), &frets);
        Treble::new(RATE_HZ).see(&samples, moments, &bursts, &notes)
    }

    #[test]
    fn the_treble_is_described_by_as_many_numbers_as_it_should_be() {
        let seen = seen(110.0);
        assert_eq!(seen.bands.len(), BANDS * BAND_WIDTH);
        for (string, there) in [false, true, true, true, false, false]
            .into_iter()
            .enumerate()
        {
            let of = &seen.strings[string];
            assert_eq!(of.is_some(), there, "string {string}");
            let Some(of) = of else { continue };
            assert!(of.hz.len() <= ROWS && of.hz.len() > 10, "{}", of.hz.len());
            assert_eq!(of.rows.len(), of.hz.len() * ROW_WIDTH);
            assert_eq!(of.pulses.len(), PULSES * PULSE_WIDTH);
            assert!(of.rows.iter().chain(&of.pulses).all(|v| v.is_finite()));
        }
    }

    #[test]
    fn a_treble_that_pulses_at_a_strings_pitch_pulses_for_that_string() {
        // In the longest window, the band from 2.8 to 4 kHz.
        let at = 3 * PULSE_WIDTH + (PULSE_S.len() - 1) * PULSE_NUMBERS;
        for (pulse_hz, string) in [(110.0, 1), (164.8, 2)] {
            let seen = seen(pulse_hz);
            let first = |s: usize| seen.strings[s].as_ref().expect("it sounds").pulses[at];
            let other = 3 - string;
            assert!(
                first(string) > 0.8 && first(other).abs() < 0.3,
                "{pulse_hz}: {} and {}",
                first(string),
                first(other)
            );
        }
    }
}
