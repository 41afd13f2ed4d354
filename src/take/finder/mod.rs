//! The stream: samples in, takes out.
//!
//! [`grouping`] puts onsets and sweeps together to attacks, [`hearing`] hears them out, [`rings`] says what it is that
//! rings after one.

mod grouping;
mod hearing;
mod rings;

use std::collections::VecDeque;

use super::around::Around;
use super::departure::Departure;
use super::entry::EntryBuffers;
use super::expected::ExpectedNotes;
use super::history::RecentSamples;
use super::onset::{Onset, OnsetDetector};
use super::ringing::{LONG_WINDOW_S, Ringing, WINDOW_S};
use super::sequence::{Cut, Sequence};
use super::sweep::{Sweep, Sweeps};
use super::{Manner, Take};
use crate::decibels;
use crate::fretboard::{Frets, Tuning};

/// A take ends this long before the first onset of the next one.
const MARGIN_S: f64 = 0.003;
/// A take that has fallen this far below its loudest has died away.
const DIED_DB: f64 = -50.0;
/// ... but this much after its last onset is kept in any case.
const SHORTEST_TAIL_S: f64 = 1.5;
/// A take that begins this near to where one was struck is that one, in seconds.
#[cfg(feature = "measuring")]
const NEAR_S: f64 = 0.2;
/// Sound kept beyond the pre-roll, to look back from an onset.
const LOOK_BACK_S: f64 = 0.2;
/// The stretch in which its level is read.
const LEVEL_S: f64 = 0.1;

/// A take that is still sounding; positions in samples from the start of the stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OpenTake {
    /// Its first onset.
    pub first: u64,
    /// The first onset of its last stroke; equal to `first` for a strum.
    pub last: u64,
    /// Strummed or picked.
    pub manner: Manner,
    /// All that its verdict depends on has been heard: nothing that comes later can change it,
    /// except that a lone strum may yet turn out to be the first note of a pass.
    pub complete: bool,
}

/// All takes of a recording, in order.
pub fn strums(samples: &[f32], rate_hz: u32) -> Vec<Take> {
    all(Finder::new(rate_hz), samples)
}

/// All takes of a recording in which this chord is meant, in order.
pub fn strums_of(samples: &[f32], rate_hz: u32, tuning: &Tuning, frets: &Frets) -> Vec<Take> {
    let mut finder = Finder::new(rate_hz);
    finder.expect(tuning, Some(frets));
    all(finder, samples)
}

fn all(mut finder: Finder, samples: &[f32]) -> Vec<Take> {
    let mut found = Vec::new();
    finder.push(samples, &mut found);
    finder.finish(&mut found);
    found
}

/// Picks the take that begins nearest to `onset`, a position in their recording; none where none begins within
/// [`NEAR_S`] of it.
#[cfg(feature = "measuring")]
pub fn strum_near(strums: Vec<Take>, onset: usize) -> Option<Take> {
    let off = |s: &Take| (s.first + s.onsets[0] as u64).abs_diff(onset as u64);
    strums
        .into_iter()
        .min_by_key(off)
        .filter(|s| (off(s) as f64) < NEAR_S * f64::from(s.rate_hz))
}

/// Finds takes in a stream of mono samples.
pub struct Finder {
    rate_hz: u32,
    history: RecentSamples,
    detector: OnsetDetector,
    sweeps: Sweeps,
    /// Sweeps of attacks that are not yet heard out.
    swept: VecDeque<Sweep>,
    around: Around,
    ringing: Ringing,
    ringing_long: Ringing,
    /// Attacks not yet heard out, the last one perhaps still growing.
    attacks: VecDeque<Vec<Onset>>,
    departure: Departure,
    entry: EntryBuffers,
    /// Last onset of the attack heard before.
    heard: u64,
    /// ... and whether it was a chord rather than one string. After one, no faint onset is waited for: what is
    /// said of a strum would come later.
    chord: bool,
    sequence: Sequence,
    cuts: Vec<Cut>,
    told: FinderSettings,
}

/// What a finder is told of the sound: it outlasts a recording.
#[derive(Default)]
struct FinderSettings {
    /// Notes of the chord that is meant, and number of its strings.
    expected: ExpectedNotes,
    strings: Option<usize>,
    /// Whether music is heard beside the strings.
    beside_music: bool,
}

impl Finder {
    /// A finder for one sample rate, in Hz; made for 8000 to 50000.
    pub fn new(rate_hz: u32) -> Self {
        Self::of(rate_hz, FinderSettings::default())
    }

    fn of(rate_hz: u32, told: FinderSettings) -> Self {
        let mut sequence = Sequence::new(rate_hz);
        sequence.expect(told.strings);
        let around = Around::new(rate_hz);
        let detector = OnsetDetector::new(rate_hz);
        let (_, size) = detector.spectrum();
        Finder {
            rate_hz,
            history: RecentSamples::default(),
            sweeps: Sweeps::new(f64::from(rate_hz), detector.frame, detector.hop, size),
            swept: VecDeque::new(),
            detector,
            ringing: Ringing::new(&around, WINDOW_S),
            ringing_long: Ringing::new(&around, LONG_WINDOW_S),
            attacks: VecDeque::new(),
            departure: Departure::new(rate_hz),
            entry: EntryBuffers::new(&around),
            around,
            heard: 0,
            chord: false,
            sequence,
            cuts: Vec::new(),
            told,
        }
    }

    /// Sets the chord that is meant from here on: its notes are better told from each other, and more of them found when they are
    /// picked one at a time. Another chord is found as without this.
    pub fn expect(&mut self, tuning: &Tuning, frets: Option<&Frets>) {
        self.told.expected = frets.map_or_else(ExpectedNotes::default, |frets| {
            ExpectedNotes::of(tuning, frets)
        });
        self.told.strings = frets.map(|frets| frets.sounding().count());
        self.sequence.expect(self.told.strings);
    }

    /// Tells whether music is heard beside the strings, whose notes may be the chord's.
    pub fn beside_music(&mut self, beside: bool) {
        self.told.beside_music = beside;
    }

    /// Takes the next samples, in blocks of any length, and adds the takes that have become
    /// certain to `found`, in the order in which they were played. The blocks make no difference
    /// to what is found.
    pub fn push(&mut self, samples: &[f32], found: &mut Vec<Take>) {
        // Long blocks go in piece by piece, so that memory does not depend on them.
        for piece in samples.chunks(self.rate_hz as usize) {
            self.history.push(piece);
            while self.detector.next_span().1 <= self.history.end() {
                self.step(found);
            }
            self.forget();
        }
    }

    /// Ends the recording: gives the takes still open. The finder then starts over; what it was told still holds.
    pub fn finish(&mut self, found: &mut Vec<Take>) {
        let end = self.history.end();
        // Every onset before the end becomes certain once the frames have passed it.
        while self.detector.settled_until() < end {
            self.step_onset();
        }
        self.hear(u64::MAX, end);
        self.sequence.finish(end, &mut self.cuts);
        self.give(found);
        *self = Finder::of(self.rate_hz, std::mem::take(&mut self.told));
    }

    /// The take that is sounding, where one is: known about 0.45 s after its last onset.
    pub fn open(&self) -> Option<OpenTake> {
        let settled = self.detector.settled_until();
        let unheard = self.attacks.front().map_or(settled, |a| a[0].at);
        self.sequence.sounding(unheard.min(settled))
    }

    /// Adds the takes that [`finish`](Finder::finish) would give, and goes on listening. A take
    /// that is still sounding comes with the sound that there is so far.
    pub fn peek(&mut self, found: &mut Vec<Take>) {
        let waiting = self.sequence.clone();
        self.sequence.finish(self.history.end(), &mut self.cuts);
        self.give(found);
        self.sequence = waiting;
    }

    fn samples(&self, seconds: f64) -> u64 {
        (seconds * f64::from(self.rate_hz)) as u64
    }

    fn step(&mut self, found: &mut Vec<Take>) {
        self.step_onset();
        let settled = self.detector.settled_until();
        self.hear(settled, u64::MAX);
        let oldest = self
            .attacks
            .front()
            .map_or(settled, |a| a[0].at.min(settled));
        self.sequence.advance(oldest, &mut self.cuts);
        self.give(found);
    }

    fn step_onset(&mut self) {
        let frame = self.detector.next_frame();
        if let Some(onset) = self.detector.step(&self.history) {
            self.add_onset(onset);
        }
        let (spectrum, _) = self.detector.spectrum();
        if let Some(sweep) = self.sweeps.step(frame, spectrum) {
            self.add_sweep(sweep);
        }
    }

    /// Cuts the takes out of the history.
    fn give(&mut self, found: &mut Vec<Take>) {
        let rate = f64::from(self.rate_hz);
        let pre_roll = (Take::PRE_ROLL_S * rate) as u64;
        let margin = self.samples(MARGIN_S);
        for cut in self.cuts.drain(..) {
            let first = self.history.clamp(cut.onsets[0].saturating_sub(pre_roll));
            let end = if cut.cut_by_next {
                cut.end.saturating_sub(margin)
            } else {
                cut.end
            };
            let last = cut.onsets[cut.onsets.len() - 1];
            let end = self.history.clamp(end.max(last + 1));
            let died = died_away(&self.history, rate, cut.onsets[0], last, end);
            let samples = self.history.slice(first, died.unwrap_or(end)).to_vec();
            found.push(Take {
                samples,
                rate_hz: self.rate_hz,
                first,
                onsets: cut.onsets.iter().map(|at| (at - first) as usize).collect(),
                manner: cut.manner,
                middle: cut.middle.map(|at| at.saturating_sub(first) as usize),
                cut_by_next: cut.cut_by_next && died.is_none(),
            });
        }
    }

    fn forget(&mut self) {
        let (next, _) = self.detector.next_span();
        let waiting = self.attacks.front().map_or(next, |a| a[0].at);
        let oldest = self
            .sequence
            .oldest()
            .unwrap_or(next)
            .min(waiting)
            .min(next);
        self.history
            .forget(oldest.saturating_sub(self.samples(Take::PRE_ROLL_S + LOOK_BACK_S)));
    }
}

/// Where the sound of a take has died away, if it has before `end`.
fn died_away(
    history: &RecentSamples,
    rate_hz: f64,
    first: u64,
    last: u64,
    end: u64,
) -> Option<u64> {
    let stretch = (LEVEL_S * rate_hz) as u64;
    let loudest = history.power(first, last + stretch);
    let silent = loudest * decibels::to_power(DIED_DB);
    let mut at = last + (SHORTEST_TAIL_S * rate_hz) as u64;
    while at + stretch < end {
        if history.power(at, at + stretch) < silent {
            return Some(at);
        }
        at += stretch;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_finder_was_told_outlasts_a_recording() {
        let mut finder = Finder::new(8_000);
        finder.expect(&Tuning::default(), Some(&"x13331".parse().unwrap()));
        finder.beside_music(true);
        finder.finish(&mut Vec::new());
        assert!(finder.told.beside_music);
        assert_eq!(finder.told.strings, Some(5));
    }

    #[test]
    fn a_take_has_died_away_where_its_decay_reaches_50_db() {
        // A T60 of 3 s: 20 dB a second.
        let rate_hz = 8_000.0;
        let mut history = RecentSamples::default();
        let sound = (0..5 * 8_000).map(|at| decibels::to_amplitude(-20.0 * at as f32 / 8_000.0));
        history.push(&sound.collect::<Vec<_>>());
        let died = died_away(&history, rate_hz, 0, 0, history.end());
        let died_s = died.expect("it dies away") as f64 / rate_hz;
        assert!((died_s - 2.5).abs() <= LEVEL_S, "{died_s} s");
        assert_eq!(died_away(&history, rate_hz, 0, 0, 19_000), None);
    }

    #[test]
    fn a_recording_that_ends_while_one_of_two_strings_rings_holds_no_second_stroke() {
        // String 6 at fret 3, and a thud in place of string 5.
        const RATE_HZ: u32 = 22_050;
        let note = |t: f64| {
            let partial = |n: f64| {
                let turn = std::f64::consts::TAU * 98.0 * n * t;
                (-(1.0 + 0.3 * n) * t).exp() * turn.sin() / n
            };
            let thud = (-t / 0.01).exp() * (std::f64::consts::TAU * 310.0 * t).sin();
            0.2 * (1..=12).map(|n| partial(f64::from(n))).sum::<f64>() + 0.1 * thud
        };
        let sound: Vec<f32> = (0..2 * RATE_HZ)
            .map(|i| f64::from(i) / f64::from(RATE_HZ) - 0.3)
            .map(|t| if t < 0.0 { 0.0 } else { note(t) as f32 })
            .collect();
        let frets = "35xxxx".parse().unwrap();
        for ms in 1_800..1_830 {
            let end = (RATE_HZ * ms / 1_000) as usize;
            let found = strums_of(&sound[..end], RATE_HZ, &Tuning::default(), &frets);
            let manners: Vec<Manner> = found.iter().map(|take| take.manner).collect();
            assert_eq!(manners, [Manner::Strummed], "ends after {ms} ms");
        }
    }
}
