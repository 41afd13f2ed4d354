//! A progression played in time: composed strums set on known moments, so that the truth is known to
//! the sample.

use rand::Rng;
use rand::rngs::SmallRng;
use ringtrue::fretboard::Tuning;
use ringtrue::synth::compose::{Conditions, StringSound, compose};
use ringtrue::synth::notes::{Guitar, NOTE_RATE_HZ};
use ringtrue::synth::random::gauss;

/// One strum: when its first stroke falls, in seconds, and what the strings do.
#[derive(Debug, Clone, Copy)]
pub struct Strike {
    pub at_s: f64,
    pub sounds: [StringSound; 6],
    /// Struck while the hand holds on to the chord of the strike before: that one rings until then.
    pub again: bool,
}

/// How it is played and recorded.
#[derive(Debug, Clone, Copy)]
pub struct PlayingStyle {
    /// From string to string, in seconds.
    pub step_s: (f64, f64),
    /// How long before the next strum the hand lets go of the chord, in seconds.
    pub gap_s: (f64, f64),
    /// Noise below the strums' peak, in dB.
    pub noise_db: f64,
    /// Standard deviation of the strums' levels, in dB.
    pub level_db: f64,
}

impl PlayingStyle {
    pub fn usual() -> Self {
        PlayingStyle {
            step_s: (0.005, 0.025),
            gap_s: (0.03, 0.25),
            noise_db: 50.0,
            level_db: 2.0,
        }
    }
}

/// A note begins where it first reaches a tenth of its peak: the lower of the two levels between which
/// a rise is timed (IEEE Std 181, from memory). Most recordings were cut 5 ms before that, and hold a
/// finger laid on the string up to 30 dB below the peak: between that level and this lie 2 ms in the
/// middle and 5 at most.
const BEGINS_AT: f32 = 0.1;

/// Cuts the silence before each note off, so that the moment a note is set on is the moment it is heard.
pub fn trimmed(mut guitars: Vec<Guitar>) -> Vec<Guitar> {
    let trim = |samples: &mut Vec<f32>| {
        let head = &samples[..samples.len().min(NOTE_RATE_HZ as usize / 10)];
        let peak = head.iter().fold(0f32, |p, s| p.max(s.abs()));
        let least = peak * BEGINS_AT;
        let lead = head.iter().position(|s| s.abs() > least).unwrap_or(0);
        samples.drain(..lead);
    };
    for guitar in &mut guitars {
        guitar
            .notes
            .iter_mut()
            .for_each(|note| trim(&mut note.samples));
        guitar.dead_strikes.iter_mut().for_each(trim);
    }
    guitars
}

/// Lets the last of a sound go, so that it does not break off.
fn fade_out(samples: &mut [f32]) {
    let length = samples.len().min(NOTE_RATE_HZ as usize / 20);
    let from = samples.len() - length;
    for (index, sample) in samples[from..].iter_mut().enumerate() {
        *sample *= 1.0 - index as f32 / length as f32;
    }
}

/// Peak of a strum before its own level, full scale 1.
const PEAK: f32 = 0.4;

/// Plays all strikes; `length_s` of sound. Gives the samples and the gap before each strum (0 for the
/// first), in seconds.
pub fn play(
    guitar: &Guitar,
    strikes: &[Strike],
    manner: &PlayingStyle,
    length_s: f64,
    rng: &mut SmallRng,
) -> (Vec<f32>, Vec<f64>) {
    let rate = f64::from(NOTE_RATE_HZ);
    let mut samples = vec![0f32; (length_s * rate) as usize];
    let conditions = Conditions {
        tuning_cents: 0.0,
        step_s: manner.step_s,
        noise_db: (90.0, 90.0),
        phone: 0.0,
        ..Conditions::measuring()
    };
    let mut gaps = vec![0.0];
    for (index, strike) in strikes.iter().enumerate() {
        let mut made = compose(guitar, &Tuning::default(), &strike.sounds, &conditions, rng);
        let first = made.onsets.iter().flatten().min().copied().unwrap_or(0);
        let peak = made.samples.iter().fold(1e-9f32, |p, s| p.max(s.abs()));
        let gain = PEAK / peak * 10f32.powf((gauss(rng) * manner.level_db / 20.0) as f32);
        // Where a recorded note ends early the composer lets another chord follow; here none does.
        made.samples.truncate(made.end);
        fade_out(&mut made.samples);
        made.samples.drain(..first);
        if let Some(next) = strikes.get(index + 1) {
            let gap = match next.again {
                true => 0.0,
                false => rng.random_range(manner.gap_s.0..=manner.gap_s.1),
            };
            gaps.push(gap);
            let stop = ((next.at_s - strike.at_s - gap).max(0.05) * rate) as usize;
            // Fingers that are lifted stop a string within a tenth of a second.
            let step = (-6.9078 / (0.08 * rate)).exp() as f32;
            let mut fade = 1.0;
            for sample in made.samples.iter_mut().skip(stop) {
                *sample *= fade;
                fade *= step;
            }
        }
        let at = (strike.at_s * rate).round() as usize;
        for (sample, s) in samples.iter_mut().skip(at).zip(&made.samples) {
            *sample += gain * s;
        }
    }
    let noise = PEAK * 10f32.powf(-manner.noise_db as f32 / 20.0);
    samples
        .iter_mut()
        .for_each(|s| *s += noise * gauss(rng) as f32);
    (samples, gaps)
}

/// Adds a backing so many dB below the samples (by RMS), from `at_s` on.
#[allow(dead_code, reason = "each file of tests uses its own part")]
pub fn mix_in(samples: &mut [f32], backing: &[f32], db: f32, at_s: f64) {
    let rms = |s: &[f32]| (s.iter().map(|x| x * x).sum::<f32>() / s.len() as f32).sqrt();
    let gain = rms(samples) / rms(backing) * 10f32.powf(db / 20.0);
    let at = (at_s * f64::from(NOTE_RATE_HZ)) as usize;
    for (sample, b) in samples[at..].iter_mut().zip(backing) {
        *sample += gain * b;
    }
}
