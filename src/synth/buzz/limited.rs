//! A recorded note whose swing is limited on one side, as by a fret under it.
//!
//! The note's low part stands for the displacement. A bound lies on one side of it, as a share of how far it swings; it
//! comes nearer and goes again. What swings beyond is cut off, with a hard or a soft corner. What the cut changes, as
//! velocity or as acceleration, is the contact's sound.

use rand::Rng;
use rand::rngs::SmallRng;

use super::recorded::{ContactSpan, RecordedGuitars, levels_db, swing};
use super::twins::{Twins, at};
use super::{Aim, Make};
use crate::synth::body::Biquad;
use crate::synth::effects::filter_by;
use crate::synth::notes::NOTE_RATE_HZ;
use crate::synth::random::gauss;

/// The guitars whose notes are limited.
pub(super) struct Limited<'a> {
    pub notes: RecordedGuitars<'a>,
}

/// A bound further away than the swing by this factor limits nothing.
const OPEN: f64 = 1.1;

impl Make for Limited<'_> {
    fn twins(&self, (string, fret): (usize, u8), aim: Aim, rng: &mut SmallRng) -> Twins {
        let (free, hz) = self.notes.note(string, fret, rng);
        let levels_db = levels_db(aim, rng);
        if levels_db.is_empty() {
            return Twins::judged(free, []);
        }
        let onset = ContactSpan::drawn(rng);
        let from = at(onset.from_s);
        let cut = cut(&free, hz, &onset, rng);
        let (first, last) = (
            cut.iter().position(|c| *c != 0.0),
            cut.iter().rposition(|c| *c != 0.0),
        );
        let hits = last.zip(first).map_or(0, |(last, first)| last - first);
        let mut contact = sound(&cut, rng);
        self.notes.vary(&mut contact, rng);
        let hits_s = hits as f64 / f64::from(NOTE_RATE_HZ);
        Twins::laid(free, (&contact, from), levels_db, hits_s)
    }
}

/// How far the swing goes beyond the bound, from the onset on.
fn cut(note: &[f32], hz: f64, onset: &ContactSpan, rng: &mut SmallRng) -> Vec<f32> {
    let corner_hz = hz * rng.random_range(1.2..8.0);
    let mut swing = swing(note, hz, corner_hz, rng.random_range(2..8));
    if rng.random_bool(0.5) {
        swing.iter_mut().for_each(|s| *s = -*s);
    }
    let period = f64::from(NOTE_RATE_HZ) / hz;
    let reach = reach(&swing, period);
    let from = at(onset.from_s).min(note.len());
    let to = at(onset.from_s + onset.lasts_s).min(note.len());
    let share = rng.random_range(0.3..0.97f64);
    // Contact from the attack on ends as the swing falls away from a bound that stays, or goes on with one that follows.
    let stays = if onset.is_late() {
        0.0
    } else {
        rng.random_range(0.0..1.0)
    };
    let first = reach.get(at(0.03)).copied().unwrap_or(1e-9).max(1e-9);
    let uneven = 0.08 * rng.random_range(0.0f64..1.0).powi(2);
    let corner = 10f64.powf(rng.random_range(-4.0..-0.7));
    let (mut wobble, mut next) = (0.0, from as f64);
    (from..to)
        .map(|i| {
            if i as f64 >= next {
                wobble = uneven * gauss(rng);
                next += period;
            }
            let through = (i - from) as f64 / (to - from).max(1) as f64;
            // Late contact comes and goes; contact from the attack on only goes.
            let near = if onset.is_late() {
                (std::f64::consts::PI * through).sin()
            } else {
                (4.0 * (1.0 - through)).min(1.0)
            };
            let fraction = OPEN - near * (OPEN - share) + wobble;
            let scale = reach[i].max(1e-9).powf(1.0 - stays) * first.powf(stays);
            let beyond = f64::from(swing[i]) / scale - fraction;
            let cut = if beyond > 20.0 * corner {
                beyond
            } else if beyond < -20.0 * corner {
                0.0
            } else {
                corner * (beyond / corner).exp().ln_1p()
            };
            (scale * cut) as f32
        })
        .collect()
}

/// How far the swing goes about each sample: its greatest over a period before and after, drawn smooth.
fn reach(swing: &[f32], period: f64) -> Vec<f64> {
    let block = period.ceil() as usize;
    let most: Vec<f64> = swing
        .chunks(block)
        .map(|part| part.iter().fold(0f64, |most, s| most.max(f64::from(*s))))
        .collect();
    (0..swing.len())
        .map(|i| {
            let place = (i as f64 / block as f64 - 0.5).max(0.0);
            let (k, t) = (place as usize, place.fract());
            let of = |k: usize| most[k.min(most.len() - 1)];
            (1.0 - t) * of(k) + t * of(k + 1)
        })
        .collect()
}

/// What is heard of a cut: its velocity or acceleration, rough, and coloured by what it shakes.
fn sound(cut: &[f32], rng: &mut SmallRng) -> Vec<f32> {
    let mut sound: Vec<f64> = cut.iter().map(|s| f64::from(*s)).collect();
    for _ in 0..rng.random_range(1..3) {
        let mut before = 0.0;
        for s in &mut sound {
            let now = *s;
            *s = now - before;
            before = now;
        }
    }
    let rough = rng.random_range(0.0f64..1.0).powi(2);
    let straight = rng.random_range(0.1..1.0);
    let mut bells: Vec<(f64, Biquad)> = (0..rng.random_range(0..4))
        .map(|_| {
            let hz = 1_000.0 * 2f64.powf(rng.random_range(0.0..3.3));
            let gain = rng.random_range(0.0..2.0);
            (gain, Biquad::band_pass(hz, rng.random_range(0.5..8.0)))
        })
        .collect();
    let mut heard: Vec<f32> = sound
        .into_iter()
        .map(|s| {
            let s = s * (1.0 + rough * gauss(rng));
            let rung: f64 = bells.iter_mut().map(|(gain, b)| *gain * b.next(s)).sum();
            (straight * s + rung) as f32
        })
        .collect();
    let corner_hz = 200.0 * 2f64.powf(rng.random_range(0.0..3.0));
    filter_by(&mut heard, |hz| {
        let over = (hz / corner_hz).powi(4);
        (over / (1.0 + over)) as f32
    });
    heard
}
