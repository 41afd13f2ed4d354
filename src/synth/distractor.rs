//! Sounds that may be taken for a string's buzz and are none.

use rand::Rng;
use rand::rngs::SmallRng;

use super::body::Biquad;
use super::effects::filter_by;
use super::notes::NOTE_RATE_HZ;
use super::random::gauss;
use crate::decibels;

/// A sound that no string makes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Distractor {
    /// Something loose, on the guitar or in the room, that the sound shakes.
    Rattle,
    /// A finger sliding along a wound string.
    Squeak,
    /// A bright plectrum and new strings: more treble on everything.
    Bright,
}

impl Distractor {
    /// Adds it to a strum whose first stroke falls at sample `first`.
    pub fn add(self, samples: &mut [f32], first: usize, rng: &mut SmallRng) {
        match self {
            Distractor::Rattle => rattle(samples, first, rng),
            Distractor::Squeak => squeak(samples, first, rng),
            Distractor::Bright => brighten(samples, rng),
        }
    }
}

fn rms(samples: &[f32]) -> f64 {
    let power: f64 = samples.iter().map(|s| f64::from(*s).powi(2)).sum();
    (power / samples.len().max(1) as f64).sqrt()
}

/// Adds `sound`, brought to `below_db` below what is there in the half second from `first`.
fn add_below(samples: &mut [f32], sound: &[f64], first: usize, below_db: f64) {
    let end = samples.len().min(first + NOTE_RATE_HZ as usize / 2);
    let loud: f64 = sound.iter().map(|s| s * s).sum::<f64>();
    if loud == 0.0 || first >= end {
        return;
    }
    let mean = (loud / (end - first) as f64).sqrt();
    let gain = rms(&samples[first..end]) * decibels::to_amplitude(-below_db) / mean;
    samples
        .iter_mut()
        .zip(sound)
        .for_each(|(s, r)| *s += (gain * r) as f32);
}

/// A loose thing lies on a panel that the sound moves, leaps when the panel falls away faster than the
/// thing's weight or spring brings it down, and clicks when they meet again.
fn rattle(samples: &mut [f32], first: usize, rng: &mut SmallRng) {
    let hz = 80.0 * 2f64.powf(rng.random_range(0.0..3.3));
    let mut panel = Biquad::band_pass(hz, rng.random_range(0.5..5.0));
    let moved: Vec<f64> = samples.iter().map(|s| panel.next(f64::from(*s))).collect();
    let speed = |i: usize| moved[i] - moved[i.saturating_sub(1)];
    let end = moved.len().min(first + NOTE_RATE_HZ as usize / 5);
    let hard: f64 = (first.max(1)..end)
        .map(|i| (speed(i) - speed(i - 1)).powi(2))
        .sum();
    // How hard the panel moves at first; the thing lies still once that has fallen by so many dB.
    let hard = (2.0 * hard / end.saturating_sub(first).max(1) as f64).sqrt();
    let weight = hard * decibels::to_amplitude(-rng.random_range(3.0..26.0));
    let bounce = rng.random_range(0.1..0.7);
    let mut bells: Vec<Biquad> = (0..rng.random_range(2..5))
        .map(|_| {
            let hz = 1_200.0 * 2f64.powf(rng.random_range(0.0..3.0));
            Biquad::band_pass(hz, rng.random_range(2.0..30.0))
        })
        .collect();
    let (mut at, mut velocity) = (moved[0], 0.0);
    let mut sound = vec![0f64; samples.len()];
    for i in first..samples.len() {
        velocity -= weight;
        at += velocity;
        let mut click = 0.0;
        if at <= moved[i] {
            let meeting = speed(i) - velocity;
            at = moved[i];
            velocity = speed(i) + bounce * meeting.max(0.0);
            // What merely rests falls by its weight each sample and does not click.
            click = (meeting - 2.0 * weight).max(0.0);
        }
        sound[i] = bells.iter_mut().map(|b| b.next(click)).sum();
    }
    let below_db = rng.random_range(10.0..32.0);
    add_below(samples, &sound, first, below_db);
}

/// A glide of a few harmonics and noise, shortly before or after the chord.
fn squeak(samples: &mut [f32], first: usize, rng: &mut SmallRng) {
    let rate = f64::from(NOTE_RATE_HZ);
    let length = (rng.random_range(0.05..0.25) * rate) as usize;
    let begin = first.saturating_add_signed((rng.random_range(-0.2..0.7) * rate) as isize);
    let hz = 600.0 * 2f64.powf(rng.random_range(0.0..2.2));
    let glide = rng.random_range(-1.0..1.0f64);
    let noise = rng.random_range(0.1..1.0);
    let mut rough = Biquad::band_pass(1.5 * hz, 1.5);
    let mut phase = 0.0;
    let mut sound = vec![0f64; samples.len()];
    for (i, s) in sound.iter_mut().skip(begin).take(length).enumerate() {
        let t = i as f64 / length as f64;
        phase += std::f64::consts::TAU * hz * 2f64.powf(glide * t) / rate;
        let harmonics: f64 = (1..5)
            .map(|n| (phase * f64::from(n)).sin() / f64::from(n))
            .sum();
        let swell = (std::f64::consts::PI * t).sin().powi(2);
        *s = swell * (harmonics + noise * rough.next(2.0 * gauss(rng)));
    }
    let below_db = rng.random_range(12.0..35.0);
    add_below(samples, &sound, first, below_db);
}

/// A shelf that lifts the treble.
fn brighten(samples: &mut [f32], rng: &mut SmallRng) {
    let from_hz = 1_000.0 * 2f64.powf(rng.random_range(0.0..1.6));
    let lift = decibels::to_amplitude(rng.random_range(4.0..14.0));
    filter_by(samples, |hz| {
        let over = (hz / from_hz).powi(2);
        ((1.0 + lift * over) / (1.0 + over)) as f32
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    #[test]
    fn distractors_leave_what_came_before_the_chord_alone_but_for_a_squeak() {
        let strum: Vec<f32> = (0..66_150)
            .map(|i| {
                let t = i as f32 / 44_100.0;
                let on = if t < 0.3 {
                    0.0
                } else {
                    (-(t - 0.3) * 3.0).exp()
                };
                on * (std::f32::consts::TAU * 196.0 * t).sin()
            })
            .collect();
        for seed in 0..8 {
            let mut rng = SmallRng::seed_from_u64(seed);
            let mut rattled = strum.clone();
            Distractor::Rattle.add(&mut rattled, 13_230, &mut rng);
            assert_eq!(rattled[..13_000], strum[..13_000]);
            let above = |samples: &[f32]| {
                let mut high = samples.to_vec();
                filter_by(&mut high, |hz| f32::from(u8::from(hz > 1_000.0)));
                rms(&high[14_000..30_000])
            };
            assert!(
                above(&rattled) > 2.0 * above(&strum),
                "seed {seed} does not rattle"
            );
            let mut squeaked = strum.clone();
            Distractor::Squeak.add(&mut squeaked, 13_230, &mut rng);
            assert!(squeaked != strum && squeaked.iter().all(|s| s.is_finite()));
        }
    }
}
