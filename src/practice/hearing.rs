//! End of a chord's sound.
//!
//! A chord ends where its level falls by 10 dB within 0.1 s for good: no ringing chord does, and a hand does.

use crate::decibels;
use crate::take::Take;

/// Frames in which the level is followed, in seconds.
const FRAME_S: f64 = 0.025;
/// A chord whose level falls this much ...
const FALL_DB: f32 = 10.0;
/// ... within so many frames, 100 dB a second, is stopped by the hand: in two takes of GuitarSet (Xi,
/// Bittner, Pauwels, Ye, Bello, ISMIR 2018) ringing partials lose at most some 43 dB/s, stopped notes
/// mostly more than 211.
const FALL_FRAMES: usize = 4;
/// Fallen this much, the fall has begun: more than a ringing chord loses in that time.
const BEGUN_DB: f32 = 5.0;
/// The attack itself, after the last onset, in seconds: its noise falls as fast.
const ATTACK_S: f64 = 0.1;

/// Tells when a strum stopped sounding, in seconds from the start of the recording: where the hand stopped
/// it, or where the take ends.
pub fn end_s(strum: &Take) -> f64 {
    let rate_hz = f64::from(strum.rate_hz);
    let frame = ((FRAME_S * rate_hz) as usize).max(1);
    let last = strum.onsets.last().copied().unwrap_or(0);
    let from = (last + (ATTACK_S * rate_hz) as usize).min(strum.samples.len());
    let levels: Vec<f32> = strum.samples[from..]
        .chunks_exact(frame)
        .map(|frame| {
            let power = frame.iter().map(|s| s * s).sum::<f32>() / frame.len() as f32;
            decibels::level(power)
        })
        .collect();
    // The loudest that is still to come, from each frame on.
    let mut later = vec![f32::MIN; levels.len() + 1];
    for i in (0..levels.len()).rev() {
        later[i] = later[i + 1].max(levels[i]);
    }
    let stopped = (0..levels.len().saturating_sub(FALL_FRAMES))
        .find(|&i| later[i + FALL_FRAMES] <= levels[i] - FALL_DB);
    let end = match stopped {
        Some(i) => {
            let under = |j: &usize| levels[*j] <= levels[i] - BEGUN_DB;
            let begun = (i..i + FALL_FRAMES).find(under);
            from + begun.unwrap_or(i + FALL_FRAMES) * frame
        }
        None => strum.samples.len(),
    };
    (strum.first + end as u64) as f64 / rate_hz
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::take::Manner;

    /// A tone from 0.25 s on that loses 20 dB a second until the hand stops it at `stop_s`.
    fn strum(seconds: f64, stop_s: f64) -> Take {
        let rate_hz = 22_050u32;
        let samples = (0..(seconds * f64::from(rate_hz)) as usize)
            .map(|i| {
                let t = i as f64 / f64::from(rate_hz);
                let slow_db = 20.0 * (t - 0.25).max(0.0);
                let fast_db = 400.0 * (t - stop_s).max(0.0);
                let level = 0.3 * decibels::to_amplitude(-(slow_db + fast_db.min(60.0)));
                let tone = (std::f64::consts::TAU * 196.0 * t).sin();
                (if t < 0.25 { 0.0 } else { level * tone }) as f32
            })
            .collect();
        Take {
            samples,
            rate_hz,
            first: u64::from(rate_hz) * 10,
            onsets: vec![(0.25 * f64::from(rate_hz)) as usize],
            manner: Manner::Strummed,
            middle: None,
            cut_by_next: false,
        }
    }

    #[test]
    fn a_chord_ends_where_the_hand_stops_it() {
        for stop_s in [0.6, 0.9, 1.37] {
            let heard_s = end_s(&strum(2.5, stop_s)) - 10.0;
            assert!((heard_s - stop_s).abs() < 0.05, "{stop_s}: {heard_s}");
        }
    }

    #[test]
    fn a_chord_that_rings_on_ends_with_its_take() {
        assert!((end_s(&strum(2.0, 9.0)) - 12.0).abs() < 1e-6);
    }
}
