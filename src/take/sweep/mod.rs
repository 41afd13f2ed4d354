//! Sweeps of a hand over several strings, though a chord rings on: what a small network hears in the
//! levels of third-octave bands, a hundredth of a second a frame.

mod network;

use std::collections::VecDeque;

use fourier::num_complex::Complex;

#[cfg(feature = "measuring")]
use super::history::RecentSamples;
#[cfg(feature = "measuring")]
use super::onset::OnsetDetector;
use super::onset::{FRAME_S, HOP_S};
use crate::decibels;
use network::StreamMemory;

pub use network::{BANDS, LAYOUT, Network};

/// Bands are a third of an octave wide between these, in Hz, and at least [`NARROWEST_HZ`].
const LOWEST_HZ: f64 = 70.0;
const HIGHEST_HZ: f64 = 8_000.0;
const NARROWEST_HZ: f64 = 45.0;
/// Bands above this share of the sample rate are silent.
const KNOWN_SHARE: f64 = 0.45;
/// Level that stands for silence, full scale 0.
const SILENCE_DB: f32 = -100.0;
/// Levels are told against the loudest of so many frames, down to so many dB below it.
const LOUDEST_FRAMES: usize = 100;
const DEPTH_DB: f32 = 60.0;
/// ... and against the level so many frames before.
const LAG: usize = 4;
/// Constants that the network is fitted by. Its frames are those of the onsets.
pub const CONSTANTS: &[(&str, f32)] = &[
    ("bands", BANDS as f32),
    ("lowest_hz", LOWEST_HZ as f32),
    ("highest_hz", HIGHEST_HZ as f32),
    ("narrowest_hz", NARROWEST_HZ as f32),
    ("silence_db", SILENCE_DB),
    ("loudest_frames", LOUDEST_FRAMES as f32),
    ("depth_db", DEPTH_DB),
    ("lag", LAG as f32),
    ("taken_in", network::TAKEN_IN as f32),
    ("rounds", network::ROUNDS as f32),
    ("rounds_ahead", network::AHEAD as f32),
    ("frame_s", FRAME_S as f32),
    ("hop_s", EVERY as f32 * HOP_S as f32),
];
/// Frames of the network a frame of the onsets: every other one.
const EVERY: u64 = 2;
/// A sweep is the likeliest frame among so many on either side, and lies no nearer to the one before.
const PEAK_REACH: usize = 3;
const APART_FRAMES: u64 = 6;
/// Least log odds of a sweep that is told.
const LEAST_ODDS: f32 = -2.0;

/// Moment at which a hand swept over the strings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sweep {
    /// Sample position: the mean of the strings' onsets, loud ones counting more.
    pub at: u64,
    /// Log odds that it is one.
    pub odds: f64,
}

/// Follows a stream frame by frame.
pub(super) struct Sweeps {
    /// Samples from frame to frame of the network, and from a frame's first sample to its middle.
    hop: u64,
    half: u64,
    /// Bins of every band; none where it lies above what is known.
    bands: Vec<std::ops::Range<usize>>,
    norm: f64,
    network: Network,
    running: StreamMemory,
    /// Levels of the last frames in dB, newest last, and the loudest band of each.
    levels: VecDeque<Vec<f32>>,
    begun: bool,
    loudest: VecDeque<f32>,
    row: Vec<f32>,
    /// Log odds of the last frames, newest last.
    odds: VecDeque<f32>,
    heard: u64,
    latest: Option<u64>,
}

impl Sweeps {
    /// Plans for frames of `frame` samples at `rate_hz`, `hop` apart, whose spectra have `size` / 2 + 1 bins.
    pub fn new(rate_hz: f64, frame: usize, hop: usize, size: usize) -> Self {
        let network = Network::built_in();
        let bin = |hz: f64| (hz * size as f64 / rate_hz).round() as usize;
        let bands: Vec<_> = edges_hz()
            .windows(2)
            .map(|edge| match edge[1] <= KNOWN_SHARE * rate_hz {
                true => bin(edge[0])..bin(edge[1]).max(bin(edge[0]) + 1),
                false => 0..0,
            })
            .collect();
        Sweeps {
            hop: EVERY * hop as u64,
            half: frame as u64 / 2,
            norm: 2.0 / (frame as f64 * frame as f64 * 0.375),
            running: network.running(),
            network,
            levels: std::iter::repeat_n(vec![SILENCE_DB; bands.len()], LAG + 1).collect(),
            begun: false,
            loudest: VecDeque::new(),
            row: Vec::with_capacity(2 * bands.len()),
            bands,
            odds: std::iter::repeat_n(f32::MIN, 2 * PEAK_REACH + 1).collect(),
            heard: 0,
            latest: None,
        }
    }

    /// Takes the spectrum of frame number `index`; gives the sweep that became certain, if any.
    pub fn step(&mut self, index: u64, spectrum: &[Complex<f32>]) -> Option<Sweep> {
        if !index.is_multiple_of(EVERY) {
            return None;
        }
        self.see(spectrum);
        let odds = self.network.step(&self.row, &mut self.running)?;
        self.odds.pop_front();
        self.odds.push_back(odds);
        self.heard += 1;
        self.peak()
    }

    /// What the network sees of a frame: each band's level, and how it has changed.
    fn see(&mut self, spectrum: &[Complex<f32>]) {
        let mut levels = self.levels.pop_front().unwrap_or_default();
        levels.clear();
        levels.extend(self.levels_of(spectrum));
        self.take_in(levels);
    }

    /// Level of each band in dB.
    fn levels_of(&self, spectrum: &[Complex<f32>]) -> impl Iterator<Item = f32> {
        let silence = decibels::to_power(f64::from(SILENCE_DB));
        self.bands.iter().map(move |bins| {
            let power: f64 = spectrum[bins.clone()]
                .iter()
                .map(|c| f64::from(c.norm_sqr()))
                .sum();
            decibels::of_power(power * self.norm + silence) as f32
        })
    }

    /// Puts levels beside those of the frames before; those of one frame have been taken away.
    fn take_in(&mut self, levels: Vec<f32>) {
        if !self.begun {
            // What was before a recording is not known: the same as in its first frame.
            self.begun = true;
            self.levels.iter_mut().for_each(|l| l.clone_from(&levels));
        }
        if self.loudest.len() == LOUDEST_FRAMES {
            self.loudest.pop_front();
        }
        self.loudest
            .push_back(levels.iter().copied().fold(f32::MIN, f32::max));
        let top = self.loudest.iter().copied().fold(f32::MIN, f32::max);
        let before = &self.levels[self.levels.len() - LAG];
        let floor = top - DEPTH_DB;
        self.row.clear();
        self.row.extend(
            levels
                .iter()
                .map(|l| ((l - top) / 20.0 + 2.0).clamp(-1.0, 3.0)),
        );
        self.row.extend(
            levels
                .iter()
                .zip(before)
                .map(|(l, b)| (l.max(floor) - b.max(floor)) / 10.0),
        );
        self.levels.push_back(levels);
    }

    /// Is the frame [`PEAK_REACH`] before the last one the likeliest around?
    fn peak(&mut self) -> Option<Sweep> {
        let odds = self.odds[PEAK_REACH];
        let likeliest = self.odds.iter().all(|o| *o <= odds);
        let index = self.heard.checked_sub(1 + PEAK_REACH as u64)?;
        let apart = self
            .latest
            .is_none_or(|latest| index >= latest + APART_FRAMES);
        if odds < LEAST_ODDS || !likeliest || !apart {
            return None;
        }
        self.latest = Some(index);
        Some(Sweep {
            at: index * self.hop + self.half,
            odds: f64::from(odds),
        })
    }
}

/// Levels in dB that the network sees of a sound: [`BANDS`] for each of its frames, from the first one on that lies
/// wholly in it.
#[cfg(feature = "measuring")]
pub fn levels(samples: &[f32], rate_hz: u32) -> Vec<f32> {
    let mut history = RecentSamples::default();
    history.push(samples);
    let mut detector = OnsetDetector::new(rate_hz);
    let (_, size) = detector.spectrum();
    let sweeps = Sweeps::new(f64::from(rate_hz), detector.frame, detector.hop, size);
    let mut levels = Vec::new();
    while detector.next_span().1 <= history.end() {
        let index = detector.next_frame();
        detector.step(&history);
        if index.is_multiple_of(EVERY) {
            levels.extend(sweeps.levels_of(detector.spectrum().0));
        }
    }
    levels
}

/// Place of a moment in frames: a whole number where it lies in the middle of one.
#[cfg(feature = "measuring")]
pub fn place(at_s: f64, rate_hz: u32) -> f64 {
    let detector = OnsetDetector::new(rate_hz);
    let hop = EVERY as f64 * detector.hop as f64;
    (at_s * f64::from(rate_hz) - detector.frame as f64 / 2.0) / hop
}

/// Where the bands begin and end, in Hz.
fn edges_hz() -> Vec<f64> {
    let mut edges = vec![LOWEST_HZ];
    let mut hz = LOWEST_HZ;
    while hz < HIGHEST_HZ {
        hz = (hz * 2f64.powf(1.0 / 3.0))
            .max(hz + NARROWEST_HZ)
            .min(HIGHEST_HZ);
        edges.push(hz);
    }
    edges
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layers::testing::{far_off, golden};
    use crate::layers::trained;

    /// Log odds are at most so far from PyTorch's. Measured: 4e-6; other processors round otherwise.
    const NEAR: f32 = 1e-4;

    #[test]
    fn what_is_said_of_levels_is_what_pytorch_says() {
        let golden = golden("sweep");
        let mut sweeps = Sweeps::new(22_050.0, 441, 110, 1024);
        sweeps.network = Network::read(trained::SWEEP).unwrap();
        let mut odds = Vec::new();
        for levels in golden["seen.levels"].chunks_exact(BANDS) {
            sweeps.levels.pop_front();
            sweeps.take_in(levels.to_vec());
            odds.extend(sweeps.network.step(&sweeps.row, &mut sweeps.running));
        }
        // The rounds look ahead: PyTorch has zeros after the last frame, which the program waits for.
        assert!(odds.len() > 100);
        assert_eq!(far_off(&odds, &golden["odds"][..odds.len()], NEAR), None);
    }

    #[test]
    fn a_moment_has_its_place_in_frames() {
        assert!(place(0.01, 22_050).abs() < 1e-9);
        assert!((place(0.01 + 220.0 / 22_050.0, 22_050) - 1.0).abs() < 1e-9);
        let second = vec![0.0; 22_050];
        let levels = levels(&second, 22_050);
        assert_eq!(levels.len() % BANDS, 0);
        assert_eq!(levels.len() / BANDS, (22_050 - 441) / 220 + 1);
        assert!(levels.iter().all(|db| (db - SILENCE_DB).abs() < 1e-3));
    }
}
