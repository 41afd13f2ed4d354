//! Notes of one guitar made into notes of another: plucked elsewhere, on older strings. It widens the variety that is
//! learned from; nothing is measured on it.

use rand::Rng;
use rand::rngs::SmallRng;

use super::notes::NOTE_RATE_HZ;

/// Changes that are the same for all strings of a take.
#[derive(Debug, Clone, Copy)]
pub struct Disguise {
    /// Where the strings are plucked, as a part of the open string's length from the bridge, and how sharply.
    pluck: Option<(f64, f32)>,
    /// From which frequency in Hz the treble dies sooner, and in how many seconds by 60 dB.
    age: Option<(f64, f64)>,
}

impl Disguise {
    /// Draws one.
    pub fn draw(rng: &mut SmallRng) -> Self {
        Disguise {
            pluck: rng
                .random_bool(0.6)
                .then(|| (rng.random_range(0.04..0.35), rng.random_range(0.2..0.9))),
            age: rng
                .random_bool(0.4)
                .then(|| (rng.random_range(700.0..3_000.0), rng.random_range(0.5..3.0))),
        }
    }

    /// Changes a note of `hz`, fingered at `fret`.
    pub fn put_on(&self, voice: &mut [f32], hz: f64, fret: u8) {
        let rate = f64::from(NOTE_RATE_HZ);
        if let Some((place, depth)) = self.pluck {
            // The wave that goes to the bridge first comes back upside down; the pluck is where it was,
            // the string shorter.
            let part = place * 2f64.powf(f64::from(fret) / 12.0);
            let delay = ((part * rate / hz) as usize).max(1);
            for i in (delay..voice.len()).rev() {
                voice[i] -= depth * voice[i - delay];
            }
        }
        if let Some((from_hz, t60_s)) = self.age {
            let pole = (-std::f64::consts::TAU * from_hz / rate).exp() as f32;
            let step = (-6.9078 / (t60_s * rate)).exp();
            let (mut low, mut gain) = (0f32, 1f64);
            for s in voice {
                low = (1.0 - pole) * *s + pole * low;
                *s = low + (*s - low) * gain as f32;
                gain *= step;
            }
        }
    }
}
