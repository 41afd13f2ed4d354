//! A recording of someone practising: strums put together from real notes, one after the other, so that
//! what was played, when, and when the hand stopped it is known.

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use ringtrue::fretboard::{Frets, STRINGS, Tuning};
use ringtrue::synth::compose::{Conditions, StringSound, compose};
use ringtrue::synth::notes::NOTE_RATE_HZ;

use super::guitars::ARCHTOP;

/// The hand's own time to stop the strings, in seconds.
const STOP_S: f64 = 0.03;

/// Sound so far.
pub struct Tape {
    rng: SmallRng,
    pub samples: Vec<f32>,
    /// When the first stroke of each strum falls and when the hand stops it, in seconds.
    pub strums: Vec<(f64, f64)>,
}

impl Tape {
    /// An empty tape, half a second of a quiet room.
    pub fn new() -> Tape {
        let mut tape = Tape {
            rng: SmallRng::seed_from_u64(6),
            samples: Vec::new(),
            strums: Vec::new(),
        };
        tape.wait(0.5);
        tape
    }

    pub fn now_s(&self) -> f64 {
        self.samples.len() as f64 / f64::from(NOTE_RATE_HZ)
    }

    /// A quiet room.
    pub fn wait(&mut self, seconds: f64) {
        let count = (seconds * f64::from(NOTE_RATE_HZ)) as usize;
        let hiss = (0..count).map(|_| self.rng.random_range(-1e-4..1e-4f32));
        self.samples.extend(hiss);
    }

    /// Strums clean but for the strings named (6 to 1), lets ring and stops.
    pub fn strum(&mut self, frets: &str, faults: &[(u8, StringSound)], ring_s: f64) {
        let frets: Frets = frets.parse().expect("frets");
        let sounds: [StringSound; STRINGS] = std::array::from_fn(|i| {
            let fault = faults
                .iter()
                .find(|(string, _)| usize::from(6 - string) == i);
            fault.map_or(
                frets.0[i].map_or(StringSound::Nothing, StringSound::Rings),
                |f| f.1,
            )
        });
        let quiet = Conditions {
            tuning_cents: 4.0,
            step_s: (0.008, 0.012),
            noise_db: (60.0, 61.0),
            phone: 0.0,
            level_db: 1.0,
            ..Conditions::measuring()
        };
        let made = compose(&ARCHTOP, &Tuning::default(), &sounds, &quiet, &mut self.rng);
        let first = made.onsets.iter().flatten().min().copied().unwrap_or(0);
        let rate = f64::from(NOTE_RATE_HZ);
        let end = (first + (ring_s * rate) as usize).min(made.samples.len());
        let mut piece = made.samples[first - (0.02 * rate) as usize..end].to_vec();
        let peak = piece.iter().fold(1e-9f32, |p, s| p.max(s.abs()));
        let (length, stop) = (piece.len(), (STOP_S * rate) as usize);
        for (i, sample) in piece.iter_mut().enumerate() {
            let left = (length - i) as f32 / stop as f32;
            *sample *= 0.4 / peak * left.min(1.0);
        }
        let struck_s = self.now_s() + 0.02;
        self.samples.extend(piece);
        self.strums.push((struck_s, self.now_s() - STOP_S));
    }

    /// Strums and waits, at an easy pace.
    pub fn play(&mut self, frets: &str, faults: &[(u8, StringSound)]) {
        self.strum(frets, faults, 1.6);
        self.wait(0.6);
    }
}
