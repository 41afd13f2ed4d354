//! Frequencies of a stiff string's partials.

/// Frequency in Hz of partial `n` (1 = fundamental) of a string whose flexible fundamental is `f0_hz`
/// and whose stiffness coefficient is `b`: f_n = n f0 sqrt(1 + B n²) (Fletcher, JASA 36 (1964) 203-209).
pub fn partial_hz(f0_hz: f64, b: f64, n: usize) -> f64 {
    let n = n as f64;
    n * f0_hz * (1.0 + b * n * n).sqrt()
}

/// The flexible string's fundamental, from the sounding one: f1 = f0 sqrt(1 + B).
pub fn flexible_hz(f1_hz: f64, b: f64) -> f64 {
    f1_hz / (1.0 + b).sqrt()
}

/// Interval in cents from `from_hz` up to `to_hz`.
pub fn cents(from_hz: f64, to_hz: f64) -> f64 {
    1200.0 * (to_hz / from_hz).log2()
}

/// Gives offsets to be tried, in cents: in such steps, and as many of them to either side as lie within `reach_cents`.
pub fn offsets_cents(reach_cents: f64, step_cents: f64) -> impl Iterator<Item = f64> + Clone {
    let steps = (reach_cents / step_cents) as i32;
    (-steps..=steps).map(move |i| f64::from(i) * step_cents)
}

/// Frequency `cents` above `hz`.
pub fn shifted_hz(hz: f64, cents: f64) -> f64 {
    hz * (cents / 1200.0).exp2()
}
