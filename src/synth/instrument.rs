//! A guitar of physical strings: what they are made of, how high they lie, its body.

use rand::Rng;
use rand::rngs::SmallRng;

use super::body::Body;
use super::random::gauss;
use super::string::{Finger, HeldString, Loss, Spec};
use crate::fretboard::{OPEN_B, STRINGS, Tuning, usual_b};

/// Mass per length of strings 6 to 1 in kg/m: a light steel set and a normal nylon set, from memory,
/// within some per cent of what their gauges give.
const STEEL_KG_M: [f64; STRINGS] = [1.0e-2, 6.4e-3, 3.7e-3, 2.0e-3, 1.0e-3, 5.7e-4];
const NYLON_KG_M: [f64; STRINGS] = [5.5e-3, 3.4e-3, 2.0e-3, 9.5e-4, 5.6e-4, 4.1e-4];
/// A plain third string, computed from B = π³ E d⁴ / (64 T L²).
pub(super) const PLAIN_THIRD_B: f64 = 1.2e-4;
/// Open nylon strings 6 to 1: Anderson and Beausoleil, JASA 156(1) 683 (2024).
pub(super) const NYLON_B: [f64; STRINGS] = [3.6e-5, 4.8e-5, 8.9e-5, 3.6e-5, 5.6e-5, 10.2e-5];
/// Height of the strings over the line of the frets at the bridge, in metres: twice the usual 2 mm at
/// fret 12 (common practice).
const BRIDGE_HEIGHT_M: f64 = 0.004;
/// Loss of usual steel strings: 9 to 39 dB/s from the fundamental to the tenth partial were measured on
/// two takes of GuitarSet (Xi, Bittner, Pauwels, Ye, Bello, ISMIR 2018).
const USUAL_LOSS: Loss = Loss {
    db_s: 8.0,
    db_s_khz: 12.0,
};
/// What each fret adds to the loss, in dB per second: shorter strings die sooner. A choice.
const FRET_DB_S: f64 = 0.6;

/// A guitar.
#[derive(Debug, Clone, PartialEq)]
pub struct Instrument {
    /// The open strings, 6 to 1.
    pub strings: [Spec; STRINGS],
    /// Height of the strings over the line of the frets at the bridge, in metres.
    pub bridge_height_m: f64,
    /// Body that makes sound of the bridge's motion.
    pub body: Body,
}

impl Instrument {
    /// A usual steel-string guitar in `tuning` (a capo counts as its nut).
    pub fn usual(tuning: &Tuning) -> Self {
        Instrument {
            strings: std::array::from_fn(|s| Spec {
                length_m: 0.65 * 2f64.powf(-f64::from(tuning.capo) / 12.0),
                density_kg_m: STEEL_KG_M[s],
                f1_hz: tuning.hz(s, 0),
                b: usual_b(s, tuning.capo),
                loss: USUAL_LOSS,
            }),
            bridge_height_m: BRIDGE_HEIGHT_M,
            body: Body::usual(),
        }
    }

    /// A guitar that nobody built: steel or nylon strings of other gauges and age, another body.
    pub fn drawn(tuning: &Tuning, rng: &mut SmallRng) -> Self {
        let mut guitar = Instrument::usual(tuning);
        let nylon = rng.random_bool(0.3);
        let plain_third = rng.random_bool(0.5);
        let scale = rng.random_range(0.96..1.02);
        // Old strings lose their high partials fast, new ones slowly.
        let db_s = if nylon {
            rng.random_range(10.0..25.0)
        } else {
            rng.random_range(5.0..13.0)
        };
        let db_s_khz = if nylon {
            rng.random_range(15.0..45.0)
        } else {
            4.0 * 2f64.powf(rng.random_range(0.0..2.8))
        };
        for (s, string) in guitar.strings.iter_mut().enumerate() {
            let (density, b) = match (nylon, plain_third && s == 3) {
                (true, _) => (NYLON_KG_M[s], NYLON_B[s]),
                (false, true) => (1.4 * STEEL_KG_M[s], PLAIN_THIRD_B),
                (false, false) => (STEEL_KG_M[s], OPEN_B[s]),
            };
            string.length_m *= scale;
            string.density_kg_m = density * 2f64.powf(0.15 * gauss(rng));
            string.b = b * 2f64.powf(f64::from(tuning.capo) / 6.0) * 10f64.powf(0.12 * gauss(rng));
            string.loss.db_s = db_s * 2f64.powf(0.3 * gauss(rng));
            string.loss.db_s_khz = db_s_khz * 2f64.powf(0.35 * gauss(rng));
        }
        guitar.bridge_height_m *= 2f64.powf(0.3 * gauss(rng));
        guitar.body = Body::drawn(rng);
        guitar
    }

    /// String `string` (0 = string 6) held at `fret`, above the nut or the capo.
    pub fn held(&self, string: usize, fret: u8, finger: Finger) -> HeldString {
        let open = &self.strings[string];
        let mut loss = open.loss;
        loss.db_s += FRET_DB_S * f64::from(fret);
        HeldString::new(open, fret, finger, loss)
    }

    /// Clearance in metres under a string held at `fret`, over the fret after that.
    pub fn room_over_next_fret_m(&self) -> f64 {
        self.bridge_height_m * (1.0 - 2f64.powf(-1.0 / 12.0))
    }
}
