//! Sounds that tests are made of.

/// Rate of these, in Hz.
pub const RATE_HZ: u32 = 44_100;

/// Strings (Hz, seconds, level) that ring, a hand that stops those before it at `let_go_s`, and faint noise.
pub fn sound(strings: &[(f64, f64, f64)], let_go_s: f64) -> Vec<f32> {
    const TAU: f64 = std::f64::consts::TAU;
    let mut noise = 1u32;
    (0..2 * RATE_HZ)
        .map(|i| {
            let t = f64::from(i) / f64::from(RATE_HZ);
            noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let hiss = f64::from(noise >> 16) / 65_536.0 - 0.5;
            let ringing = strings
                .iter()
                .filter(|s| s.1 <= t)
                .map(|(hz, at_s, level)| {
                    let stopped_s = if *at_s < let_go_s {
                        (t - let_go_s).max(0.0)
                    } else {
                        0.0
                    };
                    let decay = (-2.0 * (t - at_s) - 60.0 * stopped_s).exp();
                    let partial = |n: f64| (TAU * n * hz * (t - at_s)).sin() / n;
                    level * decay * (1..=6).map(|n| partial(f64::from(n))).sum::<f64>()
                });
            (ringing.sum::<f64>() * 0.1 + 2e-4 * hiss) as f32
        })
        .collect()
}
