//! Silence between the old chord and the new one: the time that the change took the hand.

use super::span::Span;
use crate::audio::Mono;
use crate::decibels;

/// Power is read in pieces of this length, in seconds, so many at a time.
const PIECE_S: f64 = 0.005;
const AT_A_TIME: usize = 200;
/// A hand that lets go stops the sound by so much within so long: 200 dB/s. Ringing strings lose 10 to
/// 40 dB/s, finger-stopped ones 211 to 454 (tenth of all and middle one, measured on two takes of
/// GuitarSet: Xi, Bittner, Pauwels, Ye, Bello, ISMIR 2018).
const DROP_DB: f64 = 8.0;
const DROP_S: f64 = 0.04;
/// The attack is over after this, in seconds: its own fall is no letting go.
const ATTACK_S: f64 = 0.15;

/// Seconds of silence at the end of a strum of `sound` that the next one cut off; 0 where it rang until then,
/// `None` where nothing follows right after.
pub fn silence_before_next(strum: &Span, sound: &dyn Mono, rate_hz: u32) -> Option<f64> {
    if !strum.cut_by_next {
        return None;
    }
    let rate = f64::from(rate_hz);
    let piece = ((PIECE_S * rate) as usize).max(1);
    let begin = strum.onsets.last()? + (ATTACK_S * rate) as usize;
    if begin > strum.length {
        return None;
    }
    let mut levels_db = Vec::new();
    let range = strum.first + begin..strum.end();
    sound.pieces(range, AT_A_TIME * piece, &mut |samples| {
        levels_db.extend(samples.chunks_exact(piece).map(|part| {
            let power: f64 = part.iter().map(|s| f64::from(*s).powi(2)).sum();
            decibels::level(power / piece as f64)
        }));
    });
    // Smoothed over three pieces, so that the swing of a low string is no fall.
    let smooth: Vec<f64> = levels_db
        .windows(3)
        .map(|w| w.iter().sum::<f64>() / 3.0)
        .collect();
    let reach = (DROP_S / PIECE_S) as usize;
    let loudest_after = |from: usize| {
        smooth[from..]
            .iter()
            .copied()
            .fold(f64::NEG_INFINITY, f64::max)
    };
    // The last place from which it falls steeply and does not come back.
    let fell = (0..smooth.len().saturating_sub(reach)).rev().find(|&i| {
        smooth[i] - smooth[i + reach] > DROP_DB
            && loudest_after(i + reach) < smooth[i] - DROP_DB / 2.0
    });
    let Some(mut at) = fell else { return Some(0.0) };
    // Back to where the fall begins.
    while at > 0 && smooth[at - 1] - smooth[at] > DROP_DB * PIECE_S / DROP_S {
        at -= 1;
    }
    Some((smooth.len() - at) as f64 * PIECE_S)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::take::Manner;

    /// The silence found in a second of sound that ends with `gap_s` of it.
    fn found(gap_s: f64, cut_by_next: bool) -> Option<f64> {
        const RATE_HZ: u32 = 44_100;
        let samples: Vec<f32> = (0..RATE_HZ)
            .map(|i| {
                let t = f64::from(i) / f64::from(RATE_HZ);
                let late = (t - (1.0 - gap_s)).max(0.0);
                let level_db = -15.0 * t - 600.0 * late;
                (0.3 * decibels::to_amplitude(level_db.max(-70.0)) * (t * 900.0).sin()) as f32
            })
            .collect();
        let strum = Span {
            first: 0,
            length: samples.len(),
            onsets: vec![4410],
            manner: Manner::Strummed,
            cut_by_next,
        };
        silence_before_next(&strum, &samples, RATE_HZ)
    }

    #[test]
    fn the_silence_between_two_chords_is_measured() {
        for gap_s in [0.08, 0.15, 0.3] {
            let found = found(gap_s, true).unwrap();
            assert!((found - gap_s).abs() < 0.03, "{gap_s}: {found}");
        }
        assert_eq!(found(0.0, true), Some(0.0));
        assert_eq!(found(0.2, false), None);
    }
}
