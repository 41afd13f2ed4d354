//! View of the treble for the network: each string's lines frame by frame and from line to line, how the
//! treble pulses at each string's pitch, and the course of the bands that all strings share.

mod alone;
mod click;
mod lines;
mod pulses;
mod released;
mod rows;
mod spectrum;

pub use pulses::{BANDS as PULSES, WIDTH as PULSE_WIDTH};
pub use rows::ROWS;

use rayon::prelude::*;

use crate::decibels;
use crate::fretboard::STRINGS;
use crate::strings::{CandidateNotes, Moments};
use crate::take::Take;
use lines::{HIGHEST_HZ, Standing, StringLines};
use pulses::Pulses;
use rows::TrebleSpectra;
use spectrum::{FftPlan, Hann, Spectrum};

/// Short frames: length in seconds, first centre after the last onset, step, and how many; then the late ones, further
/// apart. The lines are read from frame [`LINES_FROM`] on; those before say what was there already.
const FRAME_S: f64 = 0.06;
const FRAMES_FROM_S: f64 = -0.3;
const FRAME_STEP_S: f64 = 0.025;
const EARLY: usize = 44;
const LATE_FROM_S: f64 = 0.85;
const LATE_STEP_S: f64 = 0.08;
const LATE: usize = 20;
const FRAMES: usize = EARLY + LATE;
const LINES_FROM: usize = 8;
/// Long windows in seconds from the last onset; what is shorter than half of one is not read. Where the
/// lines lie is read from all but the last, which has their sum.
const LONG_S: [(f64, f64); 4] = [(0.03, 0.18), (0.18, 0.38), (0.38, 0.68), (0.05, 0.7)];
/// Length of the padded transforms of frames and windows, in samples at 44.1 kHz.
const SHORT_SIZE: usize = 8192;
const LONG_SIZE: usize = 32_768;
/// Numbers that a row of lines is described by.
pub const ROW_WIDTH: usize = rows::width(FRAMES - LINES_FROM, LONG_S.len());

/// With less than this after the last string no buzz is told, in seconds: of short strums of a real guitar one in ten was said
/// to buzz.
const LEAST_S: f64 = 0.4;

/// Bands that all strings share: the lowest one's lower edge in Hz, bands per octave, and how many.
const BAND_FROM_HZ: f32 = 700.0;
const BANDS_PER_OCTAVE: f32 = 6.0;
/// Number of bands, the sampling rate permitting.
pub const BANDS: usize = 24;
/// Numbers that a band is described by.
pub const BAND_WIDTH: usize = FRAMES + 1;
/// What levels are held against, in Hz, over the frames of the first tenths.
const LOW_HZ: (f32, f32) = (80.0, 1_000.0);
const LOW_FRAMES: std::ops::Range<usize> = 13..25;

/// What the network is fitted by.
pub(super) const CONSTANTS: [(&str, f32); 20] = [
    ("rows", ROWS as f32),
    ("line_frames", (FRAMES - LINES_FROM) as f32),
    ("windows", LONG_S.len() as f32),
    ("profile", rows::PROFILE as f32),
    ("line_places", rows::PLACES as f32),
    ("row_numbers", ROW_WIDTH as f32),
    ("pulses", PULSES as f32),
    ("pulse_windows", pulses::WINDOWS_S.len() as f32),
    ("pulse_window_numbers", pulses::NUMBERS as f32),
    ("pulse_from_hz", pulses::FROM_HZ),
    ("bands", BANDS as f32),
    ("band_frames", FRAMES as f32),
    ("band_from_hz", BAND_FROM_HZ),
    ("bands_per_octave", BANDS_PER_OCTAVE),
    ("frame_s", FRAME_S as f32),
    ("frames_from_s", FRAMES_FROM_S as f32),
    ("frame_step_s", FRAME_STEP_S as f32),
    ("early_frames", EARLY as f32),
    ("late_from_s", LATE_FROM_S as f32),
    ("late_step_s", LATE_STEP_S as f32),
];

/// One string's lines and pulses.
#[derive(Debug, Clone)]
pub struct SeenString {
    /// The expected fret.
    pub fret: u8,
    /// Mean frequency of the lines of each row in Hz.
    pub hz: Vec<f32>,
    /// [`ROW_WIDTH`] numbers a row.
    pub rows: Vec<f32>,
    /// [`PULSE_WIDTH`] numbers for each of [`PULSES`] bands, those that the rate has.
    pub pulses: Vec<f32>,
}

/// The treble as the network sees it.
#[derive(Debug, Clone)]
pub struct SeenTreble {
    /// View of each string that has a note.
    pub strings: [Option<SeenString>; STRINGS],
    /// [`BAND_WIDTH`] numbers for each of [`BANDS`], those that the rate has.
    pub bands: Vec<f32>,
    /// Seconds from the last onset to the end, and from the first to the last.
    pub available_s: f32,
    /// Seconds from the first onset to the last.
    pub spread_s: f32,
    /// True where the sound has a click in it: then no buzz can be told.
    pub has_click: bool,
}

/// Centre of a frame in seconds after the last onset.
fn frame_s(k: usize) -> f64 {
    match k.checked_sub(EARLY) {
        Some(late) => LATE_FROM_S + LATE_STEP_S * late as f64,
        None => FRAMES_FROM_S + FRAME_STEP_S * k as f64,
    }
}

/// Sees the treble of one strum: planned once.
pub struct Treble {
    rate_hz: f64,
    short: FftPlan,
    long: FftPlan,
    frames: Vec<Spectrum>,
    frame_window: Hann,
    windows: Vec<Spectrum>,
    long_windows: [Hann; LONG_S.len()],
    standing: Standing,
    pulses: Pulses,
}

/// Added to a share of the low strings' power: -110 dB. The network was fitted with it.
const FAINTEST: f32 = 1e-11;

/// A level in dB against the low strings' for the network: about -2.5 to 3, and 0 for what is not there.
fn level(power: f32, low: f32) -> f32 {
    (decibels::of_power(power / low + FAINTEST) + 60.0) / 20.0
}

impl Treble {
    /// Plans for samples at `rate_hz`.
    pub fn new(rate_hz: u32) -> Self {
        let rate_hz = f64::from(rate_hz);
        let size =
            |at_44: usize| ((at_44 as f64 * rate_hz / 44_100.0) as usize).next_power_of_two();
        Treble {
            rate_hz,
            short: FftPlan::new(size(SHORT_SIZE), rate_hz),
            long: FftPlan::new(size(LONG_SIZE), rate_hz),
            frames: vec![Spectrum::default(); FRAMES],
            frame_window: Hann::default(),
            windows: vec![Spectrum::default(); LONG_S.len()],
            long_windows: Default::default(),
            standing: Standing::default(),
            pulses: Pulses::new(rate_hz),
        }
    }

    /// Sees the strum in `samples`, at most [`Take::BUZZ_S`] of it and as long as it sounds alone, which `notes` were fitted to.
    /// Nothing where the rate leaves out lines that are looked at, or too little sounds.
    pub fn see(
        &mut self,
        samples: &[f32],
        moments: Moments,
        notes: &CandidateNotes,
    ) -> Option<SeenTreble> {
        let rate = self.rate_hz;
        if rate < 2.0 * HIGHEST_HZ {
            return None;
        }
        let heard = moments.first + (Take::BUZZ_S * rate) as usize;
        let end = moments.end.min(heard).min(samples.len());
        let end = alone::until(&samples[..end], moments.last, rate);
        if end < moments.last + (LEAST_S * rate) as usize {
            return None;
        }
        self.fill(&samples[..end], moments.last);
        let times_s: [f64; FRAMES] = std::array::from_fn(frame_s);
        let released = released::released_s(&self.frames, &times_s, notes);
        let end = match released.map(|at_s| at_s - alone::TOUCHED_S) {
            Some(at_s) if at_s < LEAST_S => return None,
            Some(at_s) => {
                let end = moments.last + (at_s * rate) as usize;
                self.fill(&samples[..end], moments.last);
                end
            }
            None => end,
        };
        let samples = &samples[..end];
        let low = self.low();
        let Treble {
            pulses, standing, ..
        } = self;
        let mut lines: [Option<StringLines>; STRINGS] = Default::default();
        let placed = lines.par_iter_mut().zip(&notes.expected);
        rayon::join(
            || pulses.fill(samples, moments),
            || placed.for_each(|(lines, note)| *lines = note.map(|n| standing.lines(&n.fit))),
        );
        let sound = TrebleSpectra {
            frames: &self.frames[LINES_FROM..],
            windows: &self.windows,
            low,
        };
        let see = |s: usize| {
            let (note, own) = (notes.expected[s]?, lines[s].as_ref()?);
            let others = lines.iter().enumerate().filter(|(o, _)| *o != s);
            let mut others: Vec<f32> = others
                .filter_map(|(_, l)| l.as_ref())
                .flat_map(|l| l.hz.iter().copied())
                .collect();
            others.sort_unstable_by(f32::total_cmp);
            let f1_hz = note.fit.hz(1);
            let (hz, rows) = rows::describe(&sound, own, f1_hz, &others);
            Some(SeenString {
                fret: note.fret,
                hz,
                rows,
                pulses: self.pulses.at_pitch(f1_hz, low),
            })
        };
        let mut strings: [Option<SeenString>; STRINGS] = Default::default();
        (strings.par_iter_mut().enumerate()).for_each(|(s, string)| *string = see(s));
        let after = |from: usize, to: usize| (to.saturating_sub(from) as f64 / rate) as f32;
        Some(SeenTreble {
            strings,
            bands: self.bands(low),
            available_s: after(moments.last, end),
            spread_s: after(moments.first, moments.last),
            has_click: click::has_click(samples, moments.last, rate),
        })
    }

    /// Reads all frames and windows.
    fn fill(&mut self, samples: &[f32], last: usize) {
        let after_last = |s: f64| last as f64 + s * self.rate_hz;
        let length = (FRAME_S * self.rate_hz) as usize;
        for (k, frame) in self.frames.iter_mut().enumerate() {
            let centre = after_last(frame_s(k));
            let from = usize::try_from(centre as isize - (length / 2) as isize);
            match from.ok().and_then(|from| samples.get(from..from + length)) {
                Some(part) => self.short.read(part, &mut self.frame_window, frame),
                None => frame.power.clear(),
            }
        }
        for (k, (from_s, to_s)) in LONG_S.into_iter().enumerate() {
            let (from, to) = (after_last(from_s) as usize, after_last(to_s) as usize);
            let part = samples.get(from..to.min(samples.len())).unwrap_or_default();
            if part.len() as f64 >= 0.5 * (to_s - from_s) * self.rate_hz {
                let hann = &mut self.long_windows[k];
                self.long.read(part, hann, &mut self.windows[k]);
            } else {
                self.windows[k].power.clear();
            }
        }
        self.standing.fill(&self.windows[..LONG_S.len() - 1]);
    }

    /// Power of the low strings.
    fn low(&self) -> f32 {
        let there = self.frames[LOW_FRAMES].iter().filter(|f| f.is_filled());
        let powers = there.map(|f| f.between(LOW_HZ.0, LOW_HZ.1).iter().sum::<f32>());
        let (sum, count) = powers.fold((0.0, 0.0), |(sum, count), p| (sum + p, count + 1.0));
        sum / f32::max(count, 1.0) + 1e-20
    }

    /// The course of the bands that all strings share.
    fn bands(&self, low: f32) -> Vec<f32> {
        let edge = |k: usize| BAND_FROM_HZ * (k as f32 / BANDS_PER_OCTAVE).exp2();
        let there = |k: &usize| f64::from(2.0 * edge(k + 1)) <= self.rate_hz;
        let mut bands = Vec::with_capacity(BANDS * BAND_WIDTH);
        for k in (0..BANDS).take_while(there) {
            bands.extend(self.frames.iter().map(|f| match f.is_filled() {
                true => level(f.mean(edge(k), edge(k + 1)), low),
                false => 0.0,
            }));
            bands.push((edge(k) / 2_000.0).log2());
        }
        bands
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::OPEN_B;
    use crate::fretboard::{Frets, Tuning};
    use crate::spectrum::partials::{flexible_hz, partial_hz};
    use crate::strings::Spectra;

    /// An A major chord's lowest notes, of which the one on string `bright` has lines up to 9 kHz.
    fn seen(rate_hz: u32, bright: usize) -> Option<SeenTreble> {
        let count = rate_hz as usize * 3 / 2;
        let mut samples = vec![0f32; count];
        for (string, f1_hz) in [(1, 110.0), (2, 164.81), (3, 220.0)] {
            let top_hz = if string == bright { 9_000.0 } else { 700.0 };
            let (b, rate) = (OPEN_B[string], f64::from(rate_hz));
            let f0_hz = flexible_hz(f1_hz, b);
            let lines = (1..).map(|n| (n, partial_hz(f0_hz, b, n)));
            for (n, hz) in lines.take_while(|(_, hz)| *hz < top_hz) {
                let gain = if n > 4 { 0.002 } else { 0.1 };
                for (i, s) in samples.iter_mut().enumerate().skip(count / 5) {
                    *s += gain * (std::f64::consts::TAU * hz / rate * i as f64).sin() as f32;
                }
            }
        }
        let moments = Moments {
            first: count / 5,
            last: count / 5 + 400,
            end: count,
        };
        let mut spectra = Spectra::new(rate_hz);
        spectra.fill(&samples, moments);
        let frets: Frets = "x022xx".parse().expect("a voicing");
        let notes = CandidateNotes::fit(&spectra, &Tuning::default(), &frets);
        Treble::new(rate_hz).see(&samples, moments, &notes)
    }

    #[test]
    fn the_treble_is_described_by_as_many_numbers_as_it_should_be() {
        let seen = seen(44_100, 1).expect("a high rate");
        assert_eq!(seen.bands.len(), BANDS * BAND_WIDTH);
        assert!((seen.spread_s - 400.0 / 44_100.0).abs() < 1e-4);
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
    fn a_string_with_lines_in_the_treble_is_told_from_one_without() {
        for bright in [1, 2] {
            let seen = seen(44_100, bright).expect("a high rate");
            // Level on the lines of the row at 3 kHz in the longest window: after both courses of the frames,
            // the three windows before, and the shares from line to line.
            let at = 2 * (FRAMES - LINES_FROM) + 3 * 14 + 7 + 2;
            let on_lines = |s: usize| {
                let string = seen.strings[s].as_ref().expect("it sounds");
                let row = string.hz.iter().position(|hz| *hz > 3_000.0);
                string.rows[row.expect("lines there") * ROW_WIDTH + at]
            };
            assert!(
                on_lines(bright) > on_lines(3 - bright) + 0.3,
                "{bright}: {} and {}",
                on_lines(bright),
                on_lines(3 - bright)
            );
        }
    }

    #[test]
    fn a_low_rate_has_fewer_bands_and_one_without_the_lines_is_not_seen() {
        let seen = seen(22_050, 1).expect("the lines are there");
        assert_eq!(seen.bands.len(), 23 * BAND_WIDTH);
        let string = seen.strings[1].as_ref().expect("it sounds");
        assert_eq!(string.pulses.len(), 6 * PULSE_WIDTH);
        assert!(super::tests::seen(16_000, 1).is_none());
    }
}
