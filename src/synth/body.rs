//! Body of a guitar under the force on its bridge: a few resonances and what passes beside them.

use rand::Rng;
use rand::rngs::SmallRng;

use super::notes::NOTE_RATE_HZ;
use super::random::gauss;
use crate::decibels;

/// A resonance.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Resonance {
    hz: f64,
    q: f64,
    gain: f64,
}

/// A body.
#[derive(Debug, Clone, PartialEq)]
pub struct Body {
    resonances: Vec<Resonance>,
    /// Corner of the high-pass and of the low-pass that the rest goes through, in Hz.
    low_hz: f64,
    high_hz: f64,
}

/// Air and top plate of a dreadnought, a plate of a few more: frequencies from memory, of the order of
/// what is published for steel-string guitars; the gains are a choice.
const USUAL: [Resonance; 6] = [
    Resonance {
        hz: 100.0,
        q: 14.0,
        gain: 1.5,
    },
    Resonance {
        hz: 195.0,
        q: 16.0,
        gain: 1.8,
    },
    Resonance {
        hz: 290.0,
        q: 20.0,
        gain: 0.8,
    },
    Resonance {
        hz: 395.0,
        q: 22.0,
        gain: 1.0,
    },
    Resonance {
        hz: 560.0,
        q: 22.0,
        gain: 0.8,
    },
    Resonance {
        hz: 880.0,
        q: 20.0,
        gain: 0.6,
    },
];

impl Body {
    /// The usual one.
    pub fn usual() -> Self {
        Body {
            resonances: USUAL.to_vec(),
            low_hz: 90.0,
            high_hz: 3_000.0,
        }
    }

    /// Another one: resonances moved and weighed anew, darker or brighter.
    pub fn drawn(rng: &mut SmallRng) -> Self {
        let mut body = Body::usual();
        for r in &mut body.resonances {
            r.hz *= 2f64.powf(0.2 * gauss(rng));
            r.q *= 2f64.powf(0.5 * gauss(rng));
            r.gain *= decibels::to_amplitude(4.0 * gauss(rng));
        }
        body.low_hz *= 2f64.powf(0.4 * gauss(rng));
        body.high_hz = 800.0 * 2f64.powf(rng.random_range(0.0..3.5));
        body
    }

    /// Gives what is heard when `force` acts on the bridge, both at [`NOTE_RATE_HZ`].
    pub fn radiate(&self, force: &[f32]) -> Vec<f32> {
        let mut rest = Biquad::high_pass(self.low_hz);
        let low_pass = (-std::f64::consts::TAU * self.high_hz / f64::from(NOTE_RATE_HZ)).exp();
        let mut resonators: Vec<(f64, Biquad)> = self
            .resonances
            .iter()
            .map(|r| (r.gain, Biquad::band_pass(r.hz, r.q)))
            .collect();
        let mut dull = 0f64;
        force
            .iter()
            .map(|&f| {
                let f = f64::from(f);
                dull = low_pass * dull + (1.0 - low_pass) * rest.next(f);
                let rung: f64 = resonators.iter_mut().map(|(g, r)| *g * r.next(f)).sum();
                (dull + rung) as f32
            })
            .collect()
    }
}

/// A second-order filter.
#[derive(Debug, Clone, Copy)]
pub(super) struct Biquad {
    b: [f64; 3],
    a: [f64; 2],
    x: [f64; 2],
    y: [f64; 2],
}

impl Biquad {
    /// Passes a band around `hz` with gain 1.
    pub(super) fn band_pass(hz: f64, q: f64) -> Self {
        let (cos, alpha) = Self::corner(hz, q);
        Self::scaled([alpha, 0.0, -alpha], cos, alpha)
    }

    fn high_pass(hz: f64) -> Self {
        let (cos, alpha) = Self::corner(hz, std::f64::consts::FRAC_1_SQRT_2);
        Self::scaled(
            [(1.0 + cos) / 2.0, -1.0 - cos, (1.0 + cos) / 2.0],
            cos,
            alpha,
        )
    }

    fn corner(hz: f64, q: f64) -> (f64, f64) {
        let (sin, cos) = (std::f64::consts::TAU * hz / f64::from(NOTE_RATE_HZ)).sin_cos();
        (cos, sin / (2.0 * q))
    }

    fn scaled(b: [f64; 3], cos: f64, alpha: f64) -> Self {
        Biquad {
            b: b.map(|b| b / (1.0 + alpha)),
            a: [-2.0 * cos / (1.0 + alpha), (1.0 - alpha) / (1.0 + alpha)],
            x: [0.0; 2],
            y: [0.0; 2],
        }
    }

    pub(super) fn next(&mut self, x: f64) -> f64 {
        let y = self.b[0] * x + self.b[1] * self.x[0] + self.b[2] * self.x[1]
            - self.a[0] * self.y[0]
            - self.a[1] * self.y[1];
        self.x = [x, self.x[0]];
        self.y = [y, self.y[0]];
        y
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_body_passes_its_resonance_and_no_steady_force() {
        let body = Body::usual();
        let level = |hz: f64| {
            let force: Vec<f32> = (0..44_100)
                .map(|i| (std::f64::consts::TAU * hz * f64::from(i) / 44_100.0).sin() as f32)
                .collect();
            let heard = body.radiate(&force);
            heard[22_050..].iter().fold(0f32, |p, s| p.max(s.abs()))
        };
        assert!(level(195.0) > 2.0 * level(145.0));
        let steady = body.radiate(&[1.0; 44_100]);
        assert!(steady[44_099].abs() < 1e-4);
    }
}
