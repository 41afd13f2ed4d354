//! One short burst of treble a period, drawn, laid onto a recorded note.
//!
//! What every fret does to every string is this: once a period it hits, and the hit is treble. All else is drawn: what a
//! hit sounds like, how even hits are, how many are left out, when they begin and end, and how long the string's own
//! partials ring on from them. No real string is so free; a network that learns it cannot lean on one maker's habits.

use rand::Rng;
use rand::rngs::SmallRng;

use super::recorded::{ContactSpan, RecordedGuitars, levels_db};
use super::twins::{Twins, at};
use super::{Aim, Make};
use crate::fretboard::OPEN_B;
use crate::spectrum::partials::{flexible_hz, partial_hz};
use crate::synth::body::Biquad;
use crate::synth::effects::{add, filter_by};
use crate::synth::notes::NOTE_RATE_HZ;
use crate::synth::random::gauss;

/// The guitars whose notes the bursts are laid on.
pub(super) struct Hits<'a> {
    pub notes: RecordedGuitars<'a>,
}

/// Lowest and highest frequency of what a hit sounds of, in Hz.
const FROM_HZ: f64 = 700.0;
const TO_HZ: f64 = 12_000.0;
/// Longest that a hit sounds, in seconds: no longer than it falls by 60 dB.
const LONGEST_S: f64 = 0.006;
/// How long what rings on is kept after the last hit, in seconds.
const RINGS_S: f64 = 0.15;
/// Partials that ring on, at most.
const PARTIALS: usize = 40;

/// What a hit sounds of: tones that fall at once, and noise.
struct HitSound {
    tones: Vec<(f64, f64, f64)>,
    noise: f64,
    length: usize,
}

impl HitSound {
    fn drawn(rng: &mut SmallRng) -> Self {
        let octaves = (TO_HZ / FROM_HZ).log2();
        let tones = (0..rng.random_range(2..9))
            .map(|_| {
                let hz = FROM_HZ * 2f64.powf(rng.random_range(0.0..octaves));
                let t60_s = LONGEST_S * rng.random_range(0.05..1.0f64);
                (hz, t60_s, rng.random_range(0.1..1.0))
            })
            .collect();
        HitSound {
            tones,
            noise: rng.random_range(0.0..1.5f64).powi(2),
            length: at(LONGEST_S),
        }
    }

    /// One of them: the same but for its noise and its phases.
    fn sound(&self, alike: bool, rng: &mut SmallRng) -> Vec<f32> {
        let mut sound = vec![0f32; self.length];
        for &(hz, t60_s, level) in &self.tones {
            let phase = if alike {
                0.0
            } else {
                rng.random_range(0.0..6.3)
            };
            let turn = std::f64::consts::TAU * hz / f64::from(NOTE_RATE_HZ);
            let fall = 6.9078 / (t60_s * f64::from(NOTE_RATE_HZ));
            for (i, s) in sound.iter_mut().enumerate() {
                let i = i as f64;
                *s += (level * (-fall * i).exp() * (turn * i + phase).sin()) as f32;
            }
        }
        let fall = 6.9078 / (0.5 * LONGEST_S * f64::from(NOTE_RATE_HZ));
        for (i, s) in sound.iter_mut().enumerate() {
            *s += (self.noise * (-fall * i as f64).exp() * gauss(rng)) as f32;
        }
        sound
    }
}

/// Hits at `moments` (in samples), as one train.
fn train(moments: &[f64], period: f64, rng: &mut SmallRng) -> Vec<f32> {
    let hit = HitSound::drawn(rng);
    let alike = rng.random_bool(0.5);
    let jitter = 0.04 * period * rng.random_range(0.0f64..1.0).powi(2);
    let uneven_db = rng.random_range(0.0..6.0);
    let left_out = 0.4 * rng.random_range(0.0f64..1.0).powi(3);
    // A string that swings in two directions comes nearer in some periods than in others.
    let (beat, depth_db) = (rng.random_range(3.0..40.0), rng.random_range(0.0..8.0));
    // Some touch twice a period.
    let second =
        (rng.random_bool(0.2)).then(|| (rng.random_range(0.2..0.8), -rng.random_range(0.0..15.0)));
    let end = moments.last().copied().unwrap_or(0.0) + RINGS_S * f64::from(NOTE_RATE_HZ);
    let mut sound = vec![0f32; end as usize + hit.length + 2];
    for (number, moment) in moments.iter().enumerate() {
        if rng.random_bool(left_out) {
            continue;
        }
        let swing_db = depth_db * (std::f64::consts::TAU * number as f64 / beat).sin();
        let level_db = swing_db + uneven_db * gauss(rng);
        let mut put = |moment: f64, level_db: f64, rng: &mut SmallRng| {
            let place = (moment + jitter * gauss(rng)).max(0.0) as usize;
            let gain = 10f64.powf(level_db / 20.0) as f32;
            if place < sound.len() {
                add(&mut sound[place..], &hit.sound(alike, rng), gain);
            }
        };
        put(*moment, level_db, rng);
        if let Some((share, lower_db)) = second {
            put(moment + share * period, level_db + lower_db, rng);
        }
    }
    sound
}

/// Lets the string's own partials ring on from what hits it.
fn ring_on(train: &mut [f32], (string, hz): (usize, f64), rng: &mut SmallRng) {
    let b = OPEN_B[string] * 10f64.powf(0.2 * gauss(rng));
    let f0_hz = flexible_hz(hz, b);
    let level = 10f64.powf(rng.random_range(-20.0..6.0) / 20.0);
    let t60_s = 0.03 * 2f64.powf(rng.random_range(0.0..4.5));
    let lowest = (FROM_HZ / hz).ceil().max(1.0) as usize;
    let mut rung = vec![0f64; train.len()];
    for n in lowest..lowest + PARTIALS {
        let partial = partial_hz(f0_hz, b, n);
        if partial > TO_HZ || rng.random_bool(0.2) {
            continue;
        }
        // A band of this width falls by 60 dB in the time that is wanted.
        let width_hz = 6.9078 / (std::f64::consts::PI * t60_s * 2f64.powf(0.4 * gauss(rng)));
        let mut bell = Biquad::band_pass(partial, partial / width_hz);
        let gain = 10f64.powf(4.0 * gauss(rng) / 20.0);
        for (r, s) in rung.iter_mut().zip(train.iter()) {
            *r += gain * bell.next(f64::from(*s));
        }
    }
    let power = |values: &mut dyn Iterator<Item = f64>| values.map(|v| v * v).sum::<f64>();
    let (own, heard) = (
        power(&mut train.iter().map(|s| f64::from(*s))),
        power(&mut rung.iter().copied()),
    );
    if heard > 0.0 {
        let gain = level * (own / heard).sqrt();
        for (s, r) in train.iter_mut().zip(&rung) {
            *s += (gain * r) as f32;
        }
    }
}

impl Make for Hits<'_> {
    fn twins(&self, (string, fret): (usize, u8), aim: Aim, rng: &mut SmallRng) -> Twins {
        let (free, hz) = self.notes.note(string, fret, rng);
        let levels_db = levels_db(aim, rng);
        if levels_db.is_empty() {
            return Twins::judged(free, []);
        }
        let onset = ContactSpan::drawn(rng);
        let moments = self.notes.periods(&free, hz, &onset, rng);
        let period = f64::from(NOTE_RATE_HZ) / hz;
        let mut contact = train(&moments, period, rng);
        if rng.random_bool(0.6) {
            ring_on(&mut contact, (string, hz), rng);
        }
        let corner_hz = 300.0 * 2f64.powf(rng.random_range(0.0..2.5));
        filter_by(&mut contact, |hz| {
            let over = (hz / corner_hz).powi(4);
            (over / (1.0 + over)) as f32
        });
        onset.fall(&mut contact, &free, rng);
        self.notes.vary(&mut contact, rng);
        let hits_s = contact.len() as f64 / f64::from(NOTE_RATE_HZ);
        let from = at(onset.from_s);
        Twins::laid(free, (&contact, from), levels_db, hits_s)
    }
}
