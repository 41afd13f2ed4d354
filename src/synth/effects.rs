//! Changes to recorded sounds: moved in pitch, damped, filtered, put into noise.

use fourier::{FftDirection, num_complex::Complex32};
use rand::Rng;
use rand::rngs::SmallRng;

use super::notes::NOTE_RATE_HZ;
use super::random::gauss;
use super::room::fft;
use crate::decibels;

/// Resamples so that the pitch rises by `ratio` (band-limited enough for ratios near 1: 16-point
/// windowed sinc).
pub(super) fn stretch(samples: &[f32], ratio: f64) -> Vec<f32> {
    const HALF: isize = 8;
    const STEPS: usize = 256;
    thread_local! {
        static TABLE: Vec<[f32; 16]> = (0..=STEPS).map(|step| {
            let fraction = step as f64 / STEPS as f64;
            std::array::from_fn(|i| {
                let x = i as f64 - (HALF - 1) as f64 - fraction;
                let sinc = if x.abs() < 1e-9 { 1.0 } else { (std::f64::consts::PI * x).sin() / (std::f64::consts::PI * x) };
                let window = (std::f64::consts::FRAC_PI_2 * x / HALF as f64).cos().powi(2);
                (sinc * window) as f32
            })
        }).collect();
    }
    TABLE.with(|table| {
        let length = (samples.len() as f64 / ratio) as usize;
        (0..length)
            .map(|i| {
                let at = i as f64 * ratio;
                let whole = at.floor() as isize;
                let taps = &table[((at - whole as f64) * STEPS as f64).round() as usize];
                let first = whole - (HALF - 1);
                if first >= 0 && (first + 16) as usize <= samples.len() {
                    let part = &samples[first as usize..first as usize + 16];
                    part.iter().zip(taps).map(|(s, t)| s * t).sum()
                } else {
                    (0..16)
                        .filter_map(|k| {
                            samples
                                .get((first + k as isize) as usize)
                                .map(|s| s * taps[k])
                        })
                        .sum()
                }
            })
            .collect()
    })
}

/// Lets a note die with the given T60, its higher partials faster: two bands split at 800 Hz, the
/// upper one's T60 times `upper`.
pub(super) fn damp(samples: &mut Vec<f32>, t60_s: f64, upper: f64) {
    let rate = f64::from(NOTE_RATE_HZ);
    let pole = (-std::f64::consts::TAU * 800.0 / rate).exp() as f32;
    let per_sample = |t60: f64| (-6.9078 / (t60 * rate)).exp();
    let (low_step, high_step) = (per_sample(t60_s), per_sample(t60_s * upper));
    let (mut low_gain, mut high_gain, mut low) = (1f64, 1f64, 0f32);
    let keep = ((t60_s * 1.5 * rate) as usize).min(samples.len());
    samples.truncate(keep);
    for s in samples.iter_mut() {
        low = (1.0 - pole) * *s + pole * low;
        *s = low * low_gain as f32 + (*s - low) * high_gain as f32;
        low_gain *= low_step;
        high_gain *= high_step;
    }
}

pub(super) fn add(into: &mut [f32], from: &[f32], gain: f32) {
    into.iter_mut().zip(from).for_each(|(a, b)| *a += gain * b);
}

/// Weighs every frequency.
pub(super) fn filter_by(samples: &mut [f32], mut gain_at: impl FnMut(f64) -> f32) {
    let size = (samples.len() + 4096).next_power_of_two();
    let mut buffer: Vec<Complex32> = samples.iter().map(|&s| Complex32::new(s, 0.0)).collect();
    buffer.resize(size, Complex32::default());
    fft(&mut buffer, FftDirection::Forward);
    for i in 0..=size / 2 {
        let gain = gain_at(i as f64 * f64::from(NOTE_RATE_HZ) / size as f64) / size as f32;
        buffer[i] *= gain;
        if i > 0 && i < size / 2 {
            buffer[size - i] *= gain;
        }
    }
    fft(&mut buffer, FftDirection::Inverse);
    samples.iter_mut().zip(&buffer).for_each(|(s, b)| *s = b.re);
}

/// A random smooth equaliser: one gain per octave from 62 Hz, joined by straight lines in dB.
pub(super) fn equalise(samples: &mut [f32], depth_db: f64, rng: &mut SmallRng) {
    let points: Vec<f64> = (0..10)
        .map(|_| gauss(rng).clamp(-2.0, 2.0) * depth_db)
        .collect();
    filter_by(samples, |hz| {
        let at = (hz.max(62.0) / 62.0).log2().min(8.999);
        let (i, t) = (at as usize, at.fract());
        decibels::to_amplitude(points[i] * (1.0 - t) + points[i + 1] * t) as f32
    });
}

pub(super) fn band_limit(samples: &mut [f32], low_hz: f64, high_hz: f64) {
    filter_by(samples, |hz| {
        let high_pass = 1.0 / (1.0 + (low_hz / hz.max(1.0)).powi(4)).sqrt();
        let low_pass = 1.0 / (1.0 + (hz / high_hz).powi(8)).sqrt();
        (high_pass * low_pass) as f32
    });
}

/// Gives what phones do to loud sounds: the gain falls at once and comes back slowly (a feed-forward compressor; its ranges
/// are choices).
pub(super) fn compress(samples: &mut [f32], rng: &mut SmallRng) {
    let rate = f64::from(NOTE_RATE_HZ);
    let peak = samples.iter().fold(1e-9f32, |p, s| p.max(s.abs()));
    let threshold = peak * decibels::to_amplitude(-rng.random_range(12.0f32..30.0));
    let ratio = rng.random_range(2.0f32..6.0);
    let mut pole = |s: (f64, f64)| (-1.0 / (rng.random_range(s.0..s.1) * rate)).exp() as f32;
    let (attack, release) = (pole((0.002, 0.02)), pole((0.1, 0.6)));
    let mut level = 0f32;
    for s in samples {
        let pole = if s.abs() > level { attack } else { release };
        level = pole * level + (1.0 - pole) * s.abs();
        if level > threshold {
            *s *= (level / threshold).powf(1.0 / ratio - 1.0);
        }
    }
}

/// Gives what a microphone does that is too near: peaks are cut off, hard or softly, 1 to 9 dB under the highest.
pub(super) fn overdrive(samples: &mut [f32], rng: &mut SmallRng) {
    let peak = samples.iter().fold(1e-9f32, |p, s| p.max(s.abs()));
    let most = peak * decibels::to_amplitude(-rng.random_range(1.0f32..9.0));
    let soft = rng.random_bool(0.5);
    for s in samples {
        *s = match soft {
            true => most * (*s / most).tanh(),
            false => s.clamp(-most, most),
        };
    }
}

/// Lets sound be lost on its way, in one to three places: silence, the same again, one sample far off, or a knock.
pub(super) fn tear(samples: &mut [f32], rng: &mut SmallRng) {
    let at = |s: f64| (s * f64::from(NOTE_RATE_HZ)) as usize;
    let peak = samples.iter().fold(1e-9f32, |p, s| p.max(s.abs()));
    for _ in 0..rng.random_range(1..4) {
        let length = at(rng.random_range(0.002..0.06)).min(samples.len() / 2);
        let from = rng.random_range(0..samples.len() - length);
        match rng.random_range(0..4) {
            0 => samples[from..from + length].fill(0.0),
            1 => {
                let earlier = from.saturating_sub(length);
                samples.copy_within(earlier..earlier + length, from);
            }
            2 => samples[from] += peak * rng.random_range(-0.7..0.7f32),
            _ => {
                let hz = 80.0 * 2f64.powf(rng.random_range(0.0..4.0));
                let t60_s = rng.random_range(0.02..0.15);
                let turn = std::f64::consts::TAU * hz / f64::from(NOTE_RATE_HZ);
                let fall = 6.9078 / (t60_s * f64::from(NOTE_RATE_HZ));
                let level = f64::from(peak) * decibels::to_amplitude(-rng.random_range(6.0..30.0));
                let rough = rng.random_range(0.1..1.0);
                for (i, s) in samples[from..].iter_mut().take(at(2.0 * t60_s)).enumerate() {
                    let i = i as f64;
                    let knock = (turn * i).sin() * (-fall * i).exp();
                    let noise = rough * gauss(rng) * (-8.0 * fall * i).exp();
                    *s += (level * (knock + noise)) as f32;
                }
            }
        }
    }
}

/// Background, in dB below the peak: white, pink-like or low rumble, with mains hum in some.
pub(super) fn add_background(samples: &mut [f32], below_db: (f64, f64), rng: &mut SmallRng) {
    let peak = samples.iter().fold(1e-9f32, |p, s| p.max(s.abs()));
    let below_db = rng.random_range(below_db.0..=below_db.1);
    let pole: f32 = [0.0, 0.9, 0.98][rng.random_range(0..3)];
    let mut state = 0f32;
    let mut noise: Vec<f32> = (0..samples.len())
        .map(|_| {
            state = pole * state + gauss(rng) as f32;
            state
        })
        .collect();
    if rng.random_bool(0.2) {
        let hz = [50.0, 60.0][rng.random_range(0..2)];
        for harmonic in 1..6 {
            let level = rng.random_range(0.2..3.0) / harmonic as f32;
            let phase: f32 = rng.random_range(0.0..std::f32::consts::TAU);
            let step = std::f32::consts::TAU * hz * harmonic as f32 / NOTE_RATE_HZ as f32;
            noise
                .iter_mut()
                .enumerate()
                .for_each(|(i, n)| *n += level * (step * i as f32 + phase).sin());
        }
    }
    // Noise is stated by its RMS below the strum's peak.
    let rms = (noise.iter().map(|n| n * n).sum::<f32>() / noise.len() as f32).sqrt();
    let gain = peak * decibels::to_amplitude(-below_db as f32) / rms.max(1e-9);
    add(samples, &noise, gain);
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    #[test]
    fn what_compresses_brings_loud_and_soft_nearer_and_leaves_the_soft_alone() {
        let tone = |i: usize, peak: f32| peak * (i as f32 * 0.3).sin();
        let half = NOTE_RATE_HZ as usize;
        for seed in 0..20 {
            let mut rng = SmallRng::seed_from_u64(seed);
            let soft = 1e-3;
            let mut samples: Vec<f32> = (0..half).map(|i| tone(i, soft)).collect();
            samples.extend((0..half).map(|i| tone(i, 0.9)));
            let before = samples.clone();
            compress(&mut samples, &mut rng);
            assert_eq!(samples[..half], before[..half], "seed {seed}");
            let rms = |s: &[f32]| (s.iter().map(|s| s * s).sum::<f32>() / s.len() as f32).sqrt();
            let late = half + half / 2;
            let gain_db = decibels::of_amplitude(rms(&samples[late..]) / rms(&before[late..]));
            assert!(
                (-25.0..-2.0).contains(&gain_db),
                "seed {seed}: {gain_db} dB"
            );
        }
    }
}
