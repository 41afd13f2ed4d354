//! The hand that strikes computed strings.

use rand::Rng;
use rand::rngs::SmallRng;

use crate::synth::random::gauss;
use crate::synth::string::{Pluck, Touch};
use crate::synth::strum::Gesture;
use crate::take::Manner;

/// A hand and what it strikes with: any.
pub(super) struct StrikingHand(Gesture);

impl StrikingHand {
    pub fn drawn(rng: &mut SmallRng) -> Self {
        StrikingHand(Gesture {
            manner: Manner::Strummed,
            down: true,
            step_s: 0.0,
            pluck: Pluck {
                from_bridge: rng.random_range(0.07..0.35),
                aside_m: 0.000_6 * 2f64.powf(rng.random_range(0.0..2.3)),
                touch: if rng.random_bool(0.7) {
                    Touch::Plectrum
                } else {
                    Touch::Finger
                },
                draw_s: rng.random_range(0.002..0.010),
            },
            towards_frets: rng.random_range(0.25..0.9),
        })
    }

    /// Its stroke on a string held at `fret`.
    pub fn on(&self, fret: u8, rng: &mut SmallRng) -> Gesture {
        let mut own = self.0;
        // The hand stays at its place: on a shorter string that is a larger share.
        own.pluck.from_bridge =
            (own.pluck.from_bridge * 2f64.powf(f64::from(fret) / 12.0)).min(0.5);
        own.pluck.aside_m *= 2f64.powf(0.3 * gauss(rng));
        own
    }
}
