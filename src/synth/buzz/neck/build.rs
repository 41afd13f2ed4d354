//! Making of a string over frets: its own data, its bridge, and where frets lie under it.

use std::f64::consts::PI;

use rand::Rng;
use rand::rngs::SmallRng;

use crate::synth::string::Spec;
use crate::synth::strum::Gesture;

/// Force by which a string resists being stretched to twice its length, in newtons: thin plain steel to thick steel cores
/// (200 GPa times the section), nylon below. From memory.
const STRETCH_N: (f64, f64) = (2_000.0, 30_000.0);
/// How far apart the bridge puts both directions of swing, in Hz: what turns the swing within some tenths of a second to
/// some seconds. A choice.
const APART_HZ: (f64, f64) = (0.1, 1.3);
/// Where the linear loss of other strings and the quadratic one of this are alike, in kHz. A choice: the treble of a
/// clean bass note fell by 80 dB per second at 2 kHz and 230 at 4 kHz, that of new guitar strings falls far less.
const ALIKE_KHZ: (f64, f64) = (0.8, 5.0);

/// A string between a fixed end and a bridge.
#[derive(Debug, Clone, Copy)]
pub(super) struct Build {
    pub length_m: f64,
    pub density_kg_m: f64,
    /// Sounding fundamental of a calm string, in Hz.
    pub f1_hz: f64,
    /// Stiffness coefficient.
    pub b: f64,
    /// Force by which it resists being stretched to twice its length, in newtons.
    pub stretch_n: f64,
    /// Loss at 0 Hz in dB per second, and what is added at 1 kHz; that part grows with the square of frequency.
    pub loss_db_s: f64,
    pub loss_db_s_at_1_khz: f64,
    pub bridge: Bridge,
}

/// What the near end gives way to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bridge {
    /// Stiffness in its two own directions, in N/m.
    pub stiffness: [f64; 2],
    /// Frequency in Hz of its mass on the stiffer spring.
    pub own_hz: f64,
    /// Force per speed, in N s/m.
    pub resistance: f64,
    /// Angle between its first direction and the one towards the frets.
    pub askew: f64,
}

/// A fret under the string.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fret {
    /// Distance from the string's fixed end in metres.
    pub at_m: f64,
    /// Clearance under the resting string in metres.
    pub gap_m: f64,
}

impl Build {
    /// Tension of the calm string in newtons.
    pub fn tension_n(&self) -> f64 {
        self.density_kg_m * (2.0 * self.length_m * self.f1_hz).powi(2)
    }

    /// Distance in Hz that the bridge puts between both directions of swing.
    pub fn apart_hz(&self) -> f64 {
        let [first, second] = self.bridge.stiffness;
        self.f1_hz * self.tension_n() / self.length_m * (1.0 / first - 1.0 / second).abs()
    }

    /// Share of the swing along the frets that the bridge has turned towards them half a beat later, of the first
    /// swing.
    pub fn turned(&self, stroke: &Gesture) -> f64 {
        let half_beat_s = 0.5 / self.apart_hz();
        let along = (1.0 - stroke.towards_frets.powi(2)).sqrt();
        let fallen = 10f64.powf(-self.loss_db_s * half_beat_s / 20.0);
        along * (2.0 * self.bridge.askew).sin().abs() * fallen
    }

    /// A string of this kind, with a bridge and a core drawn for it.
    pub fn drawn(spec: &Spec, rng: &mut SmallRng) -> Self {
        let tension_n = spec.density_kg_m * (2.0 * spec.length_m * spec.f1_hz).powi(2);
        let apart_hz = APART_HZ.0 * (APART_HZ.1 / APART_HZ.0).powf(rng.random_range(0.0..1.0));
        // A spring of K at the end lowers the pitch by T / (K L), as a share.
        let harder = rng.random_range(2.0..8.0);
        let share = apart_hz / spec.f1_hz * harder / (harder - 1.0);
        let stiffness = tension_n / (spec.length_m * share);
        let impedance = (tension_n * spec.density_kg_m).sqrt();
        // What the bridge takes from a partial at 1 kHz, in dB per second; it grows with the square of frequency as well.
        let takes_db_s = rng.random_range(0.3..4.0);
        let speed = std::f64::consts::TAU * 1_000.0;
        let mobility = takes_db_s / 8.686 / (2.0 * spec.f1_hz * impedance);
        let alike_khz = ALIKE_KHZ.0 * (ALIKE_KHZ.1 / ALIKE_KHZ.0).powf(rng.random_range(0.0..1.0));
        Build {
            length_m: spec.length_m,
            density_kg_m: spec.density_kg_m,
            f1_hz: spec.f1_hz,
            b: spec.b,
            stretch_n: STRETCH_N.0 * (STRETCH_N.1 / STRETCH_N.0).powf(rng.random_range(0.0..1.0)),
            loss_db_s: spec.loss.db_s,
            loss_db_s_at_1_khz: spec.loss.db_s_khz / alike_khz,
            bridge: Bridge {
                stiffness: [stiffness, harder * stiffness],
                own_hz: rng.random_range(9_000.0..16_000.0),
                resistance: mobility * (stiffness / speed).powi(2),
                askew: rng.random_range(0.0..PI),
            },
        }
    }
}
