//! Clicks: where sound was lost on its way, or something knocked once. One is as wide as buzz and smears every string's lines,
//! so that all of them seem to buzz.

use crate::decibels;

/// Length of a block in seconds; a click lies in one or two.
const BLOCK_S: f64 = 0.001;
/// A click stands out from the blocks so far before and after it. A string that strikes a fret does so again within its period,
/// 13 ms at most in standard tuning.
const BESIDE: std::ops::RangeInclusive<usize> = 3..=16;
/// The attack itself is over by then, in seconds after the last string.
const ATTACK_S: f64 = 0.08;
/// A click stands out by this much, in dB. Of 16 strums with gaps of 5 to 60 ms cut into them, 15 have one of 26 dB and more. Of
/// ten without, four of which buzz, none has one over 4 dB.
const CLICK_DB: f64 = 15.0;

/// Tells whether a strum has a click in it, after its last string.
pub fn has_click(samples: &[f32], last: usize, rate_hz: f64) -> bool {
    let from = (last + (ATTACK_S * rate_hz) as usize).min(samples.len());
    let block = (BLOCK_S * rate_hz) as usize;
    // The second difference lifts what is wide over what rings.
    let edges: Vec<f64> = samples[from..]
        .windows(3)
        .map(|s| f64::from(s[0] - 2.0 * s[1] + s[2]).powi(2))
        .collect();
    let peaks: Vec<f64> = edges
        .chunks_exact(block.max(1))
        .map(|block| block.iter().copied().fold(1e-14, f64::max))
        .collect();
    let over = decibels::to_power(CLICK_DB);
    let reach = *BESIDE.end();
    (reach..peaks.len().saturating_sub(reach)).any(|k| {
        let beside = BESIDE.map(|off| peaks[k - off].max(peaks[k + off]));
        peaks[k] > over * beside.fold(0.0, f64::max)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 44_100.0;

    /// A falling tone with treble in bursts once a period, as of a string that strikes a fret.
    fn buzzing(f0_hz: f64) -> Vec<f32> {
        (0..66_150)
            .map(|i| {
                let t = f64::from(i) / RATE_HZ;
                let turn = std::f64::consts::TAU * f0_hz * t;
                let burst = (0.5 + 0.5 * turn.cos()).powi(12);
                let sound = turn.sin() + 0.1 * burst * (turn * 37.3).sin();
                (0.3 * (-1.5 * t).exp() * sound) as f32
            })
            .collect()
    }

    #[test]
    fn a_gap_is_a_click_and_a_string_that_strikes_a_fret_is_none() {
        for f0_hz in [82.4, 110.0, 329.6] {
            let whole = buzzing(f0_hz);
            assert!(!has_click(&whole, 0, RATE_HZ), "{f0_hz}");
        }
        // Between two hits, at their loudest, a gap is no louder than they are; in a clean string it stands out.
        for f0_hz in [82.4, 110.0, 329.6] {
            let tone = |i: u32| (std::f64::consts::TAU * f0_hz / RATE_HZ * f64::from(i)).sin();
            let mut torn: Vec<f32> = (0..66_150).map(|i| 0.3 * tone(i) as f32).collect();
            assert!(!has_click(&torn, 0, RATE_HZ), "{f0_hz}");
            torn.drain(20_000..20_777);
            assert!(has_click(&torn, 0, RATE_HZ), "{f0_hz}");
        }
        assert!(!has_click(&[], 0, RATE_HZ));
        assert!(!has_click(&[0.0; 4_000], 5_000, RATE_HZ));
    }
}
