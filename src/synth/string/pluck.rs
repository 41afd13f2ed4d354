//! A pluck: the string is drawn aside at one place and let go.

use super::{Modes, Spec};

/// Thing that draws the string.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Touch {
    /// A plectrum: narrow, and lets go quickly.
    Plectrum,
    /// A fingertip: wide, and lets go slowly.
    Finger,
}

// Widths and release times: from memory, of the order of what is published on plucking.
impl Touch {
    /// Tells how much of the string it takes in metres.
    pub fn width_m(self) -> f64 {
        match self {
            Touch::Plectrum => 0.003,
            Touch::Finger => 0.010,
        }
    }

    /// Tells how long it takes to let go, in seconds.
    pub fn release_s(self) -> f64 {
        match self {
            Touch::Plectrum => 0.000_25,
            Touch::Finger => 0.001_2,
        }
    }
}

/// One pluck.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pluck {
    /// Place as a share of the vibrating length, from the bridge.
    pub from_bridge: f64,
    /// Distance by which the string is drawn aside there, in metres.
    pub aside_m: f64,
    /// Thing that draws the string.
    pub touch: Touch,
    /// Time that it takes to draw it, in seconds.
    pub draw_s: f64,
}

impl Pluck {
    /// The force that holds the string there.
    pub(super) fn force_n(&self, spec: &Spec) -> f64 {
        let p = self.from_bridge.clamp(0.01, 0.99);
        self.aside_m * spec.tension_n() / (p * (1.0 - p) * spec.length_m)
    }
}

/// A pluck under way.
#[derive(Debug, Clone)]
pub(super) struct Driven {
    force_n: f64,
    /// Way that the modes go per newton, and the force on the bridge per newton, per step.
    pub(super) give: Modes,
    pub(super) bridge: f64,
    step: f64,
    draw: f64,
    release: f64,
}

impl Driven {
    pub(super) fn new(
        pluck: &Pluck,
        force_n: f64,
        (give, bridge): (Modes, f64),
        step_s: f64,
    ) -> Self {
        Driven {
            force_n,
            give,
            bridge,
            step: 0.0,
            draw: (pluck.draw_s / step_s).max(1.0),
            release: (pluck.touch.release_s() / step_s).max(1.0),
        }
    }

    /// The force in newtons at the next step; `None` once the string is let go.
    pub(super) fn next_force_n(&mut self) -> Option<f64> {
        let smooth = |t: f64| 0.5 - 0.5 * (std::f64::consts::PI * t.clamp(0.0, 1.0)).cos();
        let at = self.step;
        self.step += 1.0;
        if at < self.draw {
            Some(self.force_n * smooth(at / self.draw))
        } else if at < self.draw + self.release {
            Some(self.force_n * smooth(1.0 - (at - self.draw) / self.release))
        } else {
            None
        }
    }
}
