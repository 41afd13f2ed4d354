//! Stop of a strum's strings by a hand: the level falls steeply after it has hardly fallen.

use crate::decibels;

/// Level is read in pieces of this length, in seconds, and smoothed over so many, so that the swing of a low string is no fall.
const PIECE_S: f64 = 0.005;
const SMOOTHED: usize = 4;
/// A hand that lets go stops the sound by so much within so long: 200 dB/s. Ringing strings lose 10 to 40 dB/s,
/// finger-stopped ones 211 to 454 (tenth of all and middle one, measured on two takes of GuitarSet: Xi, Bittner, Pauwels, Ye,
/// Bello, ISMIR 2018).
const DROP_DB: f64 = 8.0;
const DROP_S: f64 = 0.04;
/// ... and half of it is not back within so long, in seconds.
const GONE_S: f64 = 0.1;
/// The attack is over so long after the last string is struck, in seconds: its own fall is no letting go. Dead strings have
/// fallen by 0.09 s (of 120 takes of scripts/found.rs in which all strings are dead).
pub(super) const SOONEST_S: f64 = 0.09;
/// What has fallen by more before, in dB, was dying anyway.
const MOST_LOST_DB: f64 = 12.0;
/// The loudest moment before lies so long after the last string is struck at least, in seconds.
const STRUCK_S: f64 = 0.02;

/// The first sample at which a hand stops the strings, of which the last is struck at `last`; `None` where they ring to the end
/// of `samples`.
pub(super) fn stopped(samples: &[f32], last: usize, rate_hz: f64) -> Option<usize> {
    let piece = ((PIECE_S * rate_hz) as usize).max(1);
    let powers: Vec<f64> = samples
        .get(last..)?
        .chunks_exact(piece)
        .map(|part| part.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / piece as f64)
        .collect();
    let levels_db: Vec<f64> = powers
        .windows(SMOOTHED)
        .map(|w| decibels::level(w.iter().sum::<f64>() / SMOOTHED as f64))
        .collect();
    let pieces = |seconds: f64| (seconds / PIECE_S).round() as usize;
    let (reach, gone) = (pieces(DROP_S), pieces(GONE_S));
    let loudest = |part: &[f64]| part.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let falls = |&i: &usize| {
        let after = &levels_db[i + reach..levels_db.len().min(i + reach + gone)];
        levels_db[i] - after[0] > DROP_DB && loudest(after) < levels_db[i] - DROP_DB / 2.0
    };
    let from = pieces(STRUCK_S);
    let mut at = (from..levels_db.len().saturating_sub(reach)).find(falls)?;
    // Back to where the fall begins.
    let steep = DROP_DB * PIECE_S / DROP_S;
    while at > from && levels_db[at - 1] - levels_db[at] > steep {
        at -= 1;
    }
    let lost_db = loudest(&levels_db[from..=at]) - levels_db[at];
    (at >= pieces(SOONEST_S) && lost_db <= MOST_LOST_DB).then_some(last + at * piece)
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 44_100.0;

    /// A chord from its last string on, which loses so much a second, in dB, and from `at_s` on so much.
    fn chord(falls_db_s: f64, at_s: f64, then_db_s: f64) -> Vec<f32> {
        (0..44_100)
            .map(|i| {
                let t = f64::from(i) / RATE_HZ;
                let lost_db = falls_db_s * t.min(at_s) + then_db_s * (t - at_s).max(0.0);
                let turn = std::f64::consts::TAU * t;
                let sound = (110.0 * turn).sin() + (165.3 * turn).sin() + (221.0 * turn).sin();
                (0.2 * decibels::to_amplitude(-lost_db) * sound) as f32
            })
            .collect()
    }

    #[test]
    fn a_hand_stops_a_chord_and_no_chord_stops_itself() {
        for at_s in [0.12, 0.3, 0.7] {
            let stop = stopped(&chord(12.0, at_s, 300.0), 0, RATE_HZ).unwrap();
            let off_s = stop as f64 / RATE_HZ - at_s;
            assert!(off_s.abs() < 0.03, "{off_s} s from {at_s} s");
        }
        for falls_db_s in [10.0, 60.0, 150.0] {
            assert_eq!(stopped(&chord(falls_db_s, 1.0, 0.0), 0, RATE_HZ), None);
        }
    }

    #[test]
    fn what_falls_at_once_was_dead_and_was_not_stopped() {
        assert_eq!(stopped(&chord(0.0, 0.05, 400.0), 0, RATE_HZ), None);
        assert_eq!(stopped(&chord(300.0, 1.0, 0.0), 0, RATE_HZ), None);
    }

    #[test]
    fn a_gap_after_which_the_sound_is_back_is_no_stop() {
        let mut samples = chord(20.0, 1.0, 0.0);
        samples[13_230..15_435].fill(0.0);
        assert_eq!(stopped(&samples, 0, RATE_HZ), None);
    }

    #[test]
    fn too_little_sound_has_no_stop() {
        assert_eq!(stopped(&[], 0, RATE_HZ), None);
        assert_eq!(stopped(&[0.1; 100], 200, RATE_HZ), None);
        assert_eq!(stopped(&[0.1; 1_000], 0, RATE_HZ), None);
    }
}
