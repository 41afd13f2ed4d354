//! Random numbers that takes are drawn by.

use rand::Rng;
use rand::rngs::SmallRng;

/// Standard normal deviate (Box-Muller).
pub fn gauss(rng: &mut SmallRng) -> f64 {
    let u: f64 = rng.random_range(1e-12..1.0);
    let v: f64 = rng.random_range(0.0..std::f64::consts::TAU);
    (-2.0 * u.ln()).sqrt() * v.cos()
}
