//! Onsets: moments at which many bands of the spectrum rise at once.

use std::collections::VecDeque;
use std::sync::Arc;

use fourier::RealToComplex;
use fourier::num_complex::Complex;

use super::history::RecentSamples;
use crate::decibels;
use crate::spectrum::{hann, median};

/// Time from frame to frame: fine enough to tell 10 ms from 20 ms.
pub(super) const HOP_S: f64 = 0.005;
/// Length of a frame: holds a period and a half of the low E, and no more than one string's onset
/// of a slow strum.
pub(super) const FRAME_S: f64 = 0.02;
/// Bands are a third of an octave wide between these, in Hz.
const LOWEST_BAND_HZ: f64 = 70.0;
const HIGHEST_BAND_HZ: f64 = 8_000.0;
/// A frame is compared with the loudest of those that end as it begins or shortly before.
const LAGS: [usize; 3] = [4, 5, 6];
/// Rises count up to this much per band, so that silence before does not outweigh everything.
const RISE_CAP_DB: f64 = 24.0;
/// Sound below this per band (dBFS, power of a full-scale square = 0) is silence.
const SILENCE_DB: f64 = -95.0;
/// The floor of a band is the least it held over one to two of these.
const FLOOR_S: f64 = 1.0;
/// The least is below the mean of noise; this many times it stands for the mean, with some margin.
const FLOOR_FACTOR: f64 = 3.0;
/// Mean rise over all bands that makes an onset.
pub(super) const ONSET_RISE_DB: f64 = 1.9;
/// ... and it must stand out from the median rise just before by this factor.
const ONSET_OVER_RECENT: f64 = 1.6;
/// The same of a faint onset, which counts only where a string is heard after it that was not there before.
const FAINT_RISE_DB: f64 = 1.3;
const FAINT_OVER_RECENT: f64 = 1.4;
/// Frames on either side that a peak of the rise must top.
const PEAK_REACH: usize = 4;

/// The onset of an attack that is known otherwise is where the rise is greatest in frames from so many before to so many after.
const AROUND_FRAMES: (usize, usize) = (12, 4);

/// The rise has begun in frames that reach this share of its peak, and this many dB.
const RISING: f64 = 0.2;
const LEAST_RISING_DB: f64 = 0.8;
/// One string's rise begins up to this many frames before its peak.
const USUAL_AHEAD: usize = 4;
/// A softer string is sought this many frames ahead.
const MOST_AHEAD: usize = 13;
/// A softer string may come this much before the one that stands out, in ms.
const LEAD_MS: f64 = 60.0;
/// It steps up the high-passed sound by this factor in power.
const LEAD_RATIO: f64 = 2.0;

/// An onset: a sample position and how strongly the bands rose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Onset {
    /// Sample position.
    pub at: u64,
    /// Rise of the level in the bands, in dB.
    pub rise_db: f64,
    /// True where it is too weak to count by itself.
    pub faint: bool,
}

/// Sound that is looked back at from the next frame, in seconds: the frames of a peak and those ahead of it, and the
/// softer string before; with some margin.
const LOOK_BACK_S: f64 = 0.3;

/// Finds all onsets in a stream of mono samples, of takes or not.
pub struct Onsets {
    history: RecentSamples,
    detector: OnsetDetector,
}

impl Onsets {
    /// Plans for one sample rate, in Hz.
    pub fn new(rate_hz: u32) -> Self {
        Onsets {
            history: RecentSamples::default(),
            detector: OnsetDetector::new(rate_hz),
        }
    }

    /// Takes the next samples, in blocks of any length, and adds the onsets that have become certain to `found`, in
    /// order. The blocks make no difference to what is found.
    pub fn push(&mut self, samples: &[f32], found: &mut Vec<Onset>) {
        self.history.push(samples);
        while self.detector.next_span().1 <= self.history.end() {
            self.step(found);
        }
        let looked_back_at = (LOOK_BACK_S * self.detector.rate_hz) as u64;
        let (next, _) = self.detector.next_span();
        self.history.forget(next.saturating_sub(looked_back_at));
    }

    /// Ends the recording: adds the onsets that are left.
    pub fn finish(mut self, found: &mut Vec<Onset>) {
        while self.detector.settled_until() < self.history.end() {
            self.step(found);
        }
    }

    fn step(&mut self, found: &mut Vec<Onset>) {
        let onset = self.detector.step(&self.history);
        found.extend(onset.filter(|onset| !onset.faint));
    }
}

/// Follows the bands frame by frame.
pub(super) struct OnsetDetector {
    rate_hz: f64,
    pub hop: usize,
    pub frame: usize,
    fft: Arc<dyn RealToComplex<f32>>,
    window: Vec<f32>,
    input: Vec<f32>,
    spectrum: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    /// First bin of every band, and one past the last band.
    edges: Vec<usize>,
    /// Powers of the last frames, newest last.
    recent: VecDeque<Vec<f64>>,
    smooth: Vec<f64>,
    least: Vec<f64>,
    least_before: Vec<f64>,
    /// Rises of the last frames, newest last.
    rises: VecDeque<f64>,
    next_frame: u64,
    floor_frames: u64,
    latest: Option<u64>,
}

impl OnsetDetector {
    pub fn new(rate_hz: u32) -> Self {
        let rate = f64::from(rate_hz);
        let hop = (HOP_S * rate).round() as usize;
        let frame = (FRAME_S * rate).round() as usize;
        let size = (2 * frame).next_power_of_two();
        let fft = fourier::forward(size);
        let window = hann(frame);
        let top_hz = HIGHEST_BAND_HZ.min(0.45 * rate);
        let mut edges = vec![(LOWEST_BAND_HZ * size as f64 / rate).round() as usize];
        let mut edge_hz = LOWEST_BAND_HZ;
        while edge_hz < top_hz {
            edge_hz = (edge_hz * 2f64.powf(1.0 / 3.0))
                .max(edge_hz + 45.0)
                .min(top_hz);
            let bin = (edge_hz * size as f64 / rate).round() as usize;
            if bin > *edges.last().unwrap_or(&0) {
                edges.push(bin);
            }
        }
        let bands = edges.len() - 1;
        let depth = LAGS[LAGS.len() - 1] + 1;
        OnsetDetector {
            rate_hz: rate,
            hop,
            frame,
            input: fft.make_input_vec(),
            spectrum: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            fft,
            window,
            edges,
            recent: (0..depth).map(|_| vec![0.0; bands]).collect(),
            smooth: vec![0.0; bands],
            least: vec![f64::INFINITY; bands],
            least_before: vec![f64::INFINITY; bands],
            rises: std::iter::repeat_n(0.0, 64).collect(),
            next_frame: 0,
            floor_frames: (FLOOR_S / HOP_S) as u64,
            latest: None,
        }
    }

    /// Number of the next frame.
    pub fn next_frame(&self) -> u64 {
        self.next_frame
    }

    /// The next frame's first sample and one past its last.
    pub fn next_span(&self) -> (u64, u64) {
        let first = self.next_frame * self.hop as u64;
        (first, first + self.frame as u64)
    }

    /// No onset earlier than this will be reported from now on.
    pub fn settled_until(&self) -> u64 {
        let frames = (PEAK_REACH + 2) as u64;
        (self.next_frame.saturating_sub(frames) * self.hop as u64).saturating_sub(self.reach())
    }

    /// How far before a frame its onset may lie.
    fn reach(&self) -> u64 {
        (0.010 * self.rate_hz) as u64
    }

    /// The spectrum of the frame taken last, and the length of its transform.
    pub fn spectrum(&self) -> (&[Complex<f32>], usize) {
        (&self.spectrum, self.input.len())
    }

    /// The onset of an attack that is known to lie around a position, with the greatest rise there in dB.
    pub fn onset_near(&self, at: u64, history: &RecentSamples) -> Onset {
        let (early, late) = (AROUND_FRAMES.0 as u64, AROUND_FRAMES.1 as u64);
        let frame = at / self.hop as u64;
        let newest = self.next_frame.saturating_sub(1);
        let rise = |frame: u64| {
            let back = newest.checked_sub(frame)? as usize;
            let place = self.rises.len().checked_sub(1 + back)?;
            Some((frame, self.rises[place]))
        };
        let most = (frame.saturating_sub(early)..=frame + late)
            .filter_map(rise)
            .max_by(|a, b| a.1.total_cmp(&b.1));
        let (frame, rise_db) = most.unwrap_or((frame, 0.0));
        Onset {
            at: self.refine(frame * self.hop as u64, history),
            rise_db,
            faint: false,
        }
    }

    /// Takes the next frame out of the history; gives the onset that became certain, if any.
    pub fn step(&mut self, history: &RecentSamples) -> Option<Onset> {
        let (first, _) = self.next_span();
        self.input.fill(0.0);
        history.copy(first, &mut self.input[..self.frame]);
        for (s, w) in self.input.iter_mut().zip(&self.window) {
            *s *= w;
        }
        // The lengths are the plan's own, so this cannot fail.
        let _ =
            self.fft
                .process_with_scratch(&mut self.input, &mut self.spectrum, &mut self.scratch);
        let rise = self.rise();
        self.rises.pop_front();
        self.rises.push_back(rise);
        let index = self.next_frame;
        self.next_frame += 1;
        if self.next_frame.is_multiple_of(self.floor_frames) {
            std::mem::swap(&mut self.least_before, &mut self.least);
            self.least.fill(f64::INFINITY);
        }
        self.peak(index, history)
    }

    fn rise(&mut self) -> f64 {
        let silence = decibels::to_power(SILENCE_DB);
        let norm = 2.0 / (self.frame as f64 * self.frame as f64 * 0.375);
        let Some(mut now) = self.recent.pop_front() else {
            return 0.0;
        };
        for (band, power) in now.iter_mut().enumerate() {
            let bins = &self.spectrum[self.edges[band]..self.edges[band + 1]];
            *power = bins.iter().map(|c| f64::from(c.norm_sqr())).sum::<f64>() * norm;
        }
        let depth = self.recent.len();
        let mut total = 0.0;
        for (band, power) in now.iter().enumerate() {
            let before = LAGS
                .iter()
                .map(|lag| self.recent[depth - lag][band])
                .fold(0.0, f64::max);
            let least = self.least[band].min(self.least_before[band]);
            let floor = if least.is_finite() {
                FLOOR_FACTOR * least
            } else {
                0.0
            } + silence;
            let rise_db = decibels::of_power((power + floor) / (before + floor));
            total += rise_db.clamp(0.0, RISE_CAP_DB);
            self.smooth[band] += 0.25 * (power - self.smooth[band]);
            // The first frames of a recording are still filling the average.
            if self.next_frame > 12 {
                self.least[band] = self.least[band].min(self.smooth[band]);
            }
        }
        let bands = now.len() as f64;
        self.recent.push_back(now);
        total / bands
    }

    /// Is the frame `PEAK_REACH` before `index` a peak of the rise?
    fn peak(&mut self, index: u64, history: &RecentSamples) -> Option<Onset> {
        let middle = self.rises.len() - 1 - PEAK_REACH;
        let rise_db = self.rises[middle];
        if rise_db < FAINT_RISE_DB {
            return None;
        }
        let earlier = (middle - PEAK_REACH..middle).all(|i| self.rises[i] < rise_db);
        let later = (middle + 1..self.rises.len()).all(|i| self.rises[i] <= rise_db);
        if !(earlier && later) {
            return None;
        }
        let mut recent = [0.0; 36];
        for (r, rise) in recent.iter_mut().zip(self.rises.range(middle - 40..)) {
            *r = *rise;
        }
        let usual = median(&mut recent, f64::total_cmp)?;
        if rise_db < FAINT_OVER_RECENT * usual {
            return None;
        }
        let faint = rise_db < ONSET_RISE_DB || rise_db < ONSET_OVER_RECENT * usual;
        let frame = index.checked_sub(PEAK_REACH as u64)?;
        if faint {
            let at = self.refine(frame * self.hop as u64, history);
            return Some(Onset { at, rise_db, faint });
        }
        let ahead = self.frames_ahead(middle);
        let mut at = self.refine(frame * self.hop as u64, history);
        if ahead > USUAL_AHEAD {
            let early = frame.saturating_sub((ahead - 1) as u64) * self.hop as u64;
            at = at.min(self.refine(early, history));
        }
        let at = self.lead(at, history);
        // Two peaks of the rise may lead to the same attack.
        let apart = (0.004 * self.rate_hz) as u64;
        if self.latest.is_some_and(|latest| at < latest + apart) {
            return None;
        }
        self.latest = Some(at);
        Some(Onset { at, rise_db, faint })
    }

    /// How many frames before its peak the rise began.
    fn frames_ahead(&self, peak: usize) -> usize {
        let enough = (RISING * self.rises[peak]).max(LEAST_RISING_DB);
        let mut begun = 0;
        for ahead in 1..=MOST_AHEAD {
            if self.rises[peak - ahead] > enough {
                begun = ahead;
            } else if ahead > begun + 2 {
                break;
            }
        }
        begun
    }

    /// The sample at which the attack around a frame begins: the steepest rise of the high-passed
    /// sound, then back to where it leaves what was there before.
    fn refine(&self, frame: u64, history: &RecentSamples) -> u64 {
        let ms = |t: f64| (t * 0.001 * self.rate_hz) as u64;
        let first = frame.saturating_sub(self.reach());
        let last = frame + self.frame as u64;
        let step = ms(0.5).max(1);
        let energy = |from: u64, to: u64| history.edge_energy(from, to) + 1e-14;
        let mut best = (0.0, first);
        let mut at = first;
        while at < last {
            let before = energy(at.saturating_sub(ms(8.0)), at) / 8.0;
            let after = energy(at, at + ms(3.0)) / 3.0;
            // Loud beats steep: a small step out of silence is not the attack.
            let score = after.powf(0.3) * (after / (before + 1e-12)).ln();
            if score > best.0 {
                best = (score, at);
            }
            at += step;
        }
        best.1
    }

    /// The earliest step up of the high-passed sound shortly before an attack: a softer string may
    /// have been struck before the one that stands out.
    fn lead(&self, attack: u64, history: &RecentSamples) -> u64 {
        let ms = |t: f64| (t * 0.001 * self.rate_hz) as u64;
        let least = self.latest.map_or(0, |latest| latest + ms(4.0));
        let mut at = attack.saturating_sub(ms(LEAD_MS)).max(least);
        while at < attack {
            let after = history.edge_energy(at, at + ms(4.0)) / 2.0;
            let mut before: f64 = 1e-14;
            for i in 1..=7u32 {
                let from = at.saturating_sub(ms(2.0 * f64::from(i)));
                before = before.max(history.edge_energy(from, from + ms(2.0)));
            }
            if after > LEAD_RATIO * before {
                // The window reaches ahead: the step itself is where a short one has it too.
                let short = |from: u64| history.edge_energy(from, from + ms(1.0)) * 2.0;
                let end = at + ms(4.0);
                while at < end && short(at) < LEAD_RATIO * before {
                    at += ms(0.5).max(1);
                }
                return at.min(attack);
            }
            at += ms(0.5).max(1);
        }
        attack
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_make_no_difference_to_the_onsets_that_are_found() {
        const RATE_HZ: u32 = 8_000;
        let mut state = 1u32;
        let samples: Vec<f32> = (0..6 * RATE_HZ)
            .map(|i| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                let hiss = (state >> 8) as f32 / (1 << 23) as f32 - 1.0;
                let t = (i % 3_700) as f32 / RATE_HZ as f32;
                hiss * (0.001 + 0.3 * (-20.0 * t).exp())
            })
            .collect();
        let found = |block: usize| {
            let (mut onsets, mut found) = (Onsets::new(RATE_HZ), Vec::new());
            for block in samples.chunks(block) {
                onsets.push(block, &mut found);
            }
            onsets.finish(&mut found);
            found
        };
        let whole = found(samples.len());
        assert!(whole.len() > 10, "{whole:?}");
        for block in [1, 77, 5_000] {
            assert_eq!(found(block), whole, "blocks of {block}");
        }
    }
}
