//! How long the old chord was silent before the new one: the time that the change took the hand.

use crate::take::Strum;

/// Power is read in pieces of this length, in seconds.
const PIECE_S: f64 = 0.005;
/// A hand that lets go stops the sound by so much within so long: 200 dB/s. Ringing strings lose 10 to
/// 40 dB/s, finger-stopped ones 211 to 454 (tenth of all and middle one, measured on two takes of
/// GuitarSet: Xi, Bittner, Pauwels, Ye, Bello, ISMIR 2018).
const DROP_DB: f64 = 8.0;
const DROP_S: f64 = 0.04;
/// The attack is over after this, in seconds: its own fall is no letting go.
const ATTACK_S: f64 = 0.15;

/// Seconds of silence at the end of a strum that the next one cut off; 0 where it rang until then,
/// `None` where nothing follows right after.
pub fn silence_before_next(strum: &Strum) -> Option<f64> {
    if !strum.cut_by_next {
        return None;
    }
    let piece = (PIECE_S * f64::from(strum.rate_hz)) as usize;
    let last = *strum.onsets.last()?;
    let begin = last + (ATTACK_S * f64::from(strum.rate_hz)) as usize;
    let levels_db: Vec<f64> = (strum.samples.get(begin..)?.chunks_exact(piece.max(1)))
        .map(|part| {
            let power: f64 = part.iter().map(|s| f64::from(*s).powi(2)).sum();
            10.0 * (power / piece as f64 + 1e-12).log10()
        })
        .collect();
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

    fn strum(gap_s: f64, cut_by_next: bool) -> Strum {
        let rate_hz = 44_100;
        let samples = (0..rate_hz)
            .map(|i| {
                let t = f64::from(i) / f64::from(rate_hz);
                let late = (t - (1.0 - gap_s)).max(0.0);
                let level_db = -15.0 * t - 600.0 * late;
                (0.3 * 10f64.powf(level_db.max(-70.0) / 20.0) * (t * 900.0).sin()) as f32
            })
            .collect();
        Strum {
            samples,
            rate_hz: rate_hz as u32,
            first: 0,
            onsets: vec![4410],
            manner: Manner::Strummed,
            cut_by_next,
        }
    }

    #[test]
    fn the_silence_between_two_chords_is_measured() {
        for gap_s in [0.08, 0.15, 0.3] {
            let found = silence_before_next(&strum(gap_s, true)).unwrap();
            assert!((found - gap_s).abs() < 0.03, "{gap_s}: {found}");
        }
        assert_eq!(silence_before_next(&strum(0.0, true)), Some(0.0));
        assert_eq!(silence_before_next(&strum(0.2, false)), None);
    }
}
