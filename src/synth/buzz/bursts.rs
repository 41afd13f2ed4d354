//! Real contact, taken out of recorded notes of a bass and laid onto a recorded note of a guitar.
//!
//! What a fret adds to a note is its treble while it swells or holds. It is moved to the guitar note's pitch in one of
//! two ways. Resampled, it pulses faster and its spectrum moves along. Or its pulses are cut apart and set at the
//! guitar note's own periods: they keep their spectrum, and their level goes on as it went.
//!
//! Periods are found in the guitar note itself, so the pulses follow its pitch and its swing. When they begin, how
//! long and how regularly they go on, and how loud they are, is drawn wider than what was measured on the bass.

use rand::Rng;
use rand::rngs::SmallRng;

use super::contact::RattlingNote;
use super::recorded::{ContactSpan, RecordedGuitars, levels_db};
use super::twins::{Twins, at};
use super::{Aim, Make};
use crate::synth::effects::{filter_by, stretch};
use crate::synth::notes::NOTE_RATE_HZ;
use crate::synth::random::gauss;

/// Contact from recorded notes, and the guitars whose notes it is laid on.
pub(super) struct Bursts<'a> {
    pub notes: RecordedGuitars<'a>,
    pub contact: &'a [RattlingNote],
}

/// Contact counts while its treble lies within this of its peak, in dB: under that is the note's own.
const WITHIN_DB: f64 = 20.0;
/// Level is followed in steps of this, in seconds.
const STEP_S: f64 = 0.01;
/// No burst reaches further from its peak, in seconds.
const REACH_S: f64 = 0.5;
/// Most that a burst is resampled by, as a ratio: beyond, nothing of it is left to hear.
const MOST_RATIO: f64 = 2.5;
/// How steep the corner is above which a bass note is taken for contact, as an exponent.
const STEEP: i32 = 8;

/// The treble of a rattling note around its peak: what the fret adds.
struct Burst {
    treble: Vec<f32>,
    /// Where its treble is loud enough, in samples.
    from: usize,
    to: usize,
    hz: f64,
}

impl Burst {
    fn of(note: &RattlingNote, rng: &mut SmallRng) -> Self {
        let corner_hz = 700.0 * 2f64.powf(rng.random_range(0.0..1.3));
        let reach = at(REACH_S);
        let begin = note.peak().saturating_sub(reach);
        let end = (note.peak() + reach).min(note.samples.len());
        let mut treble = note.samples[begin..end].to_vec();
        filter_by(&mut treble, |hz| {
            let over = (hz / corner_hz).powi(STEEP);
            (over / (1.0 + over)) as f32
        });
        let step = at(STEP_S);
        let levels: Vec<f64> = treble
            .chunks_exact(step)
            .map(super::twins::level_db)
            .collect();
        let middle = (note.peak() - begin) / step;
        let near = middle.saturating_sub(10)..(middle + 10).min(levels.len());
        let peak = near
            .max_by(|a, b| levels[*a].total_cmp(&levels[*b]))
            .unwrap_or(0);
        let loud = |block: &usize| levels[*block] > levels[peak] - WITHIN_DB;
        let before = (0..peak).rev().take_while(loud).count();
        let after = (peak..levels.len()).take_while(loud).count();
        Burst {
            treble,
            from: (peak - before) * step,
            to: (peak + after) * step,
            hz: note.hz(),
        }
    }

    /// Where each pulse is loudest.
    fn pulses(&self) -> Vec<usize> {
        let period = f64::from(NOTE_RATE_HZ) / self.hz;
        let smooth = (period / 40.0).max(4.0) as usize;
        let loud = |middle: usize| -> f64 {
            let from = middle.saturating_sub(smooth);
            let to = (middle + smooth).min(self.treble.len());
            self.treble[from..to]
                .iter()
                .map(|s| f64::from(*s).powi(2))
                .sum()
        };
        let loudest = |from: f64, to: f64| {
            (from as usize..(to as usize).max(from as usize + 1))
                .step_by((smooth / 2).max(1))
                .map(|middle| (middle, loud(middle)))
                .max_by(|a, b| a.1.total_cmp(&b.1))
                .map_or(from as usize, |(middle, _)| middle)
        };
        let mut pulses = vec![loudest(self.from as f64, self.from as f64 + period)];
        loop {
            let last = *pulses.last().expect("there is a first one") as f64;
            if last + 1.2 * period > self.to as f64 {
                return pulses;
            }
            pulses.push(loudest(last + 0.8 * period, last + 1.2 * period));
        }
    }

    /// Resamples it so that it pulses at `hz`.
    fn resampled(&self, hz: f64) -> Vec<f32> {
        let mut part = self.treble[self.from..self.to].to_vec();
        fade(&mut part, 0.05, 0.2);
        stretch(&part, hz / self.hz)
    }

    /// Sets its pulses at `moments` (in samples from its beginning), going through the burst once as its course says.
    fn set_at(&self, moments: &[f64], course: &[f64], hz: f64, rng: &mut SmallRng) -> Vec<f32> {
        let pulses = self.pulses();
        let (own, wanted) = (
            f64::from(NOTE_RATE_HZ) / self.hz,
            f64::from(NOTE_RATE_HZ) / hz,
        );
        let ratio = 2f64.powf(rng.random_range(-0.5..1.0));
        let jitter = 0.05 * rng.random_range(0.0f64..1.0).powi(2) * wanted;
        let uneven_db = rng.random_range(0.5..5.0);
        let left_out = 0.3 * rng.random_range(0.0f64..1.0).powi(3);
        // A pulse rings on into the next ones, but not through many: then nothing would pulse.
        let length = (wanted * rng.random_range(1.0..2.5) * ratio).min(1.1 * own);
        let before = 0.15 * length.min(own);
        let end = moments.last().copied().unwrap_or(0.0) + length / ratio;
        let mut sound = vec![0f32; end as usize + 2];
        for (moment, place) in moments.iter().zip(course) {
            if rng.random_bool(left_out) {
                continue;
            }
            let near = place * (pulses.len() - 1) as f64 + rng.random_range(-1.5..1.5);
            let pulse = pulses[(near.round().max(0.0) as usize).min(pulses.len() - 1)];
            let from = (pulse as f64 - before).max(0.0) as usize;
            let to = ((pulse as f64 + length) as usize).min(self.treble.len());
            let mut grain = self.treble[from..to.max(from)].to_vec();
            fade(&mut grain, 0.12, 0.5);
            let grain = stretch(&grain, ratio);
            let gain = 10f64.powf(uneven_db * gauss(rng) / 20.0) as f32;
            let at = (moment + jitter * gauss(rng)).max(0.0) as usize;
            if at < sound.len() {
                crate::synth::effects::add(&mut sound[at..], &grain, gain);
            }
        }
        sound
    }
}

/// Fades a sound in over a share of its length and out over another.
fn fade(samples: &mut [f32], rise: f64, fall: f64) {
    let length = samples.len() as f64;
    for (i, s) in samples.iter_mut().enumerate() {
        let (begun, left) = (
            i as f64 / length / rise,
            (length - i as f64) / length / fall,
        );
        let share = begun.min(left).min(1.0);
        *s *= (0.5 - 0.5 * (std::f64::consts::PI * share).cos()) as f32;
    }
}

impl Make for Bursts<'_> {
    fn twins(&self, (string, fret): (usize, u8), aim: Aim, rng: &mut SmallRng) -> Twins {
        let (free, hz) = self.notes.note(string, fret, rng);
        let levels_db = levels_db(aim, rng);
        if levels_db.is_empty() || self.contact.is_empty() {
            return Twins::judged(free, []);
        }
        let onset = ContactSpan::drawn(rng);
        let note = &self.contact[rng.random_range(0..self.contact.len())];
        let burst = Burst::of(note, rng);
        let from = at(onset.from_s);
        let low = burst.hz * MOST_RATIO > hz && burst.hz < MOST_RATIO * hz;
        let mut contact = if low && onset.is_late() && rng.random_bool(0.5) {
            burst.resampled(hz)
        } else {
            let moments = self.notes.periods(&free, hz, &onset, rng);
            let course = onset.course(&moments, rng);
            let mut contact = burst.set_at(&moments, &course, hz, rng);
            onset.fall(&mut contact, &free, rng);
            contact
        };
        self.notes.vary(&mut contact, rng);
        let hits_s = contact.len() as f64 / f64::from(NOTE_RATE_HZ);
        Twins::laid(free, (&contact, from), levels_db, hits_s)
    }
}
