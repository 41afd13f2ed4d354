//! Recorded notes that contact is laid on, and when and how loud it is drawn to be.

use rand::Rng;
use rand::rngs::SmallRng;

use super::Aim;
use super::twins::at;
use crate::fretboard::{STRINGS, Tuning};
use crate::synth::compose::{Pitch, StringSound, voice};
use crate::synth::effects::{equalise, filter_by};
use crate::synth::notes::{Guitar, NOTE_RATE_HZ};
use crate::synth::random::gauss;

/// The guitars that notes are taken from, one for each string.
pub(super) struct RecordedGuitars<'a> {
    pub guitars: [&'a Guitar; STRINGS],
    pub tuning: &'a Tuning,
    /// Semitones by which the guitars are moved.
    pub transpose: f64,
    /// True where contact is varied beyond what its maker draws.
    pub varied: bool,
}

/// What contact is varied by: a smooth equaliser, a level that wanders and how often it turns; in dB, dB and seconds. Choices,
/// wide on purpose: what two makers do not share is not to be learnt.
const EQUALISER_DB: f64 = 6.0;
const WANDERS_DB: f64 = 4.0;
const WANDERS_S: (f64, f64) = (0.05, 0.4);
/// Share of contact that is varied.
const VARIED: f64 = 0.7;

impl RecordedGuitars<'_> {
    /// A recorded note moved to what the string sounds at `fret`, and its fundamental in Hz.
    pub fn note(&self, string: usize, fret: u8, rng: &mut SmallRng) -> (Vec<f32>, f64) {
        let rings = StringSound::Rings(fret);
        let guitar = self.guitars[string];
        let pitch = Pitch {
            tuning: self.tuning,
            transpose: self.transpose,
            cents: 0.0,
        };
        let samples = voice(guitar, &pitch, (string, fret), rings, rng);
        (samples, self.tuning.hz(string, fret))
    }

    /// Gives contact another colour and another course, where that is wanted.
    pub fn vary(&self, contact: &mut [f32], rng: &mut SmallRng) {
        if !self.varied || contact.is_empty() || !rng.random_bool(VARIED) {
            return;
        }
        equalise(contact, EQUALISER_DB, rng);
        let step = at(rng.random_range(WANDERS_S.0..WANDERS_S.1));
        let levels: Vec<f64> = (0..contact.len() / step + 2)
            .map(|_| WANDERS_DB * gauss(rng).clamp(-2.0, 2.0))
            .collect();
        for (i, s) in contact.iter_mut().enumerate() {
            let (k, t) = (i / step, (i % step) as f64 / step as f64);
            let level_db = (1.0 - t) * levels[k] + t * levels[k + 1];
            *s *= 10f64.powf(level_db / 20.0) as f32;
        }
    }

    /// Moments at which the string comes nearest to the fret, as long as contact goes on: once a period, at some phase. In
    /// samples after the onset.
    pub fn periods(
        &self,
        note: &[f32],
        hz: f64,
        onset: &ContactSpan,
        rng: &mut SmallRng,
    ) -> Vec<f64> {
        let swing = swing(note, hz, 1.25 * hz, 16);
        let period = f64::from(NOTE_RATE_HZ) / hz;
        let from = at(onset.from_s);
        let to = at(onset.from_s + onset.lasts_s).min(note.len().saturating_sub(1));
        let mut offset = rng.random_range(0.0..period);
        let wander = 0.03 * period * rng.random_range(0.0f64..1.0);
        let mut moments: Vec<f64> = Vec::new();
        for i in from..to {
            let (now, next) = (swing[i], swing[i + 1]);
            if now >= 0.0 || next < 0.0 {
                continue;
            }
            let crossed = (i - from) as f64 + f64::from(now / (now - next));
            offset += wander * gauss(rng);
            moments.push((crossed + offset).max(0.0));
        }
        moments
    }
}

/// The string's displacement as far as its sound tells it: what lies below a corner, without what is under the note.
pub(super) fn swing(note: &[f32], hz: f64, corner_hz: f64, steep: i32) -> Vec<f32> {
    let mut swing = note.to_vec();
    filter_by(&mut swing, |at| {
        let under = (0.6 * hz / at.max(1.0)).powi(8);
        let over = (at / corner_hz).powi(steep);
        (1.0 / ((1.0 + under) * (1.0 + over))) as f32
    });
    swing
}

/// When contact begins and how long it goes on.
#[derive(Debug, Clone, Copy)]
pub(super) struct ContactSpan {
    /// Beginning in seconds after the stroke; 0 where it begins with the attack.
    pub from_s: f64,
    pub lasts_s: f64,
}

/// Share of contact that goes on from the attack.
const FROM_ATTACK: f64 = 0.4;
/// Where late contact begins, in seconds after the stroke. On a bass it was 0.33 to 1.89 (10th to 90th percentile).
const LATE_S: (f64, f64) = (0.05, 1.9);
/// How long late contact goes on, in seconds. On a bass its treble stayed within 10 dB of its peak for 0.10 to 0.42.
const LATE_LASTS_S: (f64, f64) = (0.1, 0.6);
/// How long contact from the attack goes on, in seconds. A choice.
const ATTACK_LASTS_S: (f64, f64) = (0.2, 2.4);

impl ContactSpan {
    pub fn drawn(rng: &mut SmallRng) -> Self {
        if rng.random_bool(FROM_ATTACK) {
            return ContactSpan {
                from_s: 0.0,
                lasts_s: rng.random_range(ATTACK_LASTS_S.0..ATTACK_LASTS_S.1),
            };
        }
        ContactSpan {
            from_s: rng.random_range(LATE_S.0..LATE_S.1),
            lasts_s: rng.random_range(LATE_LASTS_S.0..LATE_LASTS_S.1),
        }
    }

    pub fn is_late(&self) -> bool {
        self.from_s > 0.0
    }

    /// Place of each moment in a recorded burst, 0 to 1: late contact goes through it once, contact from the
    /// attack on wanders about in it.
    pub fn course(&self, moments: &[f64], rng: &mut SmallRng) -> Vec<f64> {
        let length = at(self.lasts_s).max(1) as f64;
        let mut place: f64 = rng.random_range(0.3..0.7);
        moments
            .iter()
            .map(|moment| {
                if self.is_late() {
                    return (moment / length).min(1.0);
                }
                place = (place + 0.02 * gauss(rng)).clamp(0.2, 0.8);
                place
            })
            .collect()
    }

    /// Lets contact that goes on from the attack fall with the note, faster or slower, and end.
    pub fn fall(&self, contact: &mut [f32], note: &[f32], rng: &mut SmallRng) {
        if self.is_late() {
            return;
        }
        let follows = rng.random_range(0.5..1.6);
        let block = at(0.05);
        let powers: Vec<f64> = note
            .chunks(block)
            .map(|part| 10f64.powf(super::twins::level_db(part) / 20.0))
            .collect();
        let first = powers.iter().copied().fold(1e-9, f64::max);
        let end = at(self.lasts_s) as f64;
        let close = end * rng.random_range(0.05..0.6);
        for (i, s) in contact.iter_mut().enumerate() {
            let place = i as f64 / block as f64;
            let (k, t) = (place as usize, place.fract());
            let level = |k: usize| powers[k.min(powers.len() - 1)];
            let level = (1.0 - t) * level(k) + t * level(k + 1);
            let left = ((end - i as f64) / close).clamp(0.0, 1.0);
            *s *= (left * (level / first).powf(follows)) as f32;
        }
    }
}

/// How loud the contact's treble is at its peak, against the note there, in dB: mean, spread and bounds. On a bass it
/// lay 33 to 17 dB under the note (10th to 90th percentile).
const PEAK_DB: (f64, f64) = (-22.0, 8.0);
const PEAK_BOUNDS_DB: (f64, f64) = (-42.0, -8.0);
/// What is added where the contact is no buzz yet, in dB.
const LOUDER_DB: f64 = 6.0;
/// How loud contact is that is laid on so lightly that it is no buzz, in dB.
const LIGHT_DB: (f64, f64) = (-80.0, -45.0);
/// Share of clean strings that are left as they were recorded.
const UNTOUCHED: f64 = 0.4;

/// Levels of contact to try, in dB against the note; none where the note is to stay as it is.
pub(super) fn levels_db(aim: Aim, rng: &mut SmallRng) -> Vec<f64> {
    match aim {
        Aim::Buzz => {
            let level_db = PEAK_DB.0 + PEAK_DB.1 * gauss(rng);
            let level_db = level_db.clamp(PEAK_BOUNDS_DB.0, PEAK_BOUNDS_DB.1);
            (0..3)
                .map(|n| level_db + LOUDER_DB * f64::from(n))
                .collect()
        }
        Aim::Clean if rng.random_bool(UNTOUCHED) => vec![],
        Aim::Clean => vec![rng.random_range(LIGHT_DB.0..LIGHT_DB.1)],
    }
}
