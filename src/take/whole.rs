//! A short recording taken whole: whoever hands in one strum, cut tightly, need not have it found.

use super::{Manner, Strum};

/// Longest recording taken whole, in seconds: a strum and its ring.
pub const LONGEST_S: f64 = 5.0;
/// Energy is compared over this long before and after a moment, in seconds.
const STRETCH_S: f64 = 0.020;
/// A rise of at least this share of the loudest stretch is an attack; without one the recording begins
/// on it. A choice.
const SHARE: f32 = 0.3;
/// What must follow an attack, in seconds: less cannot be judged.
const LEAST_S: f64 = 0.3;

/// The whole recording as one strum that begins where it grows loudest at once; `None` when it is too
/// long, silent, or shorter than one stretch.
pub fn whole(samples: &[f32], rate_hz: u32) -> Option<Strum> {
    let rate = f64::from(rate_hz);
    let stretch = (STRETCH_S * rate) as usize;
    if samples.len() as f64 > LONGEST_S * rate || samples.len() < stretch {
        return None;
    }
    let energies: Vec<f32> = samples
        .chunks(stretch)
        .map(|c| c.iter().map(|s| s * s).sum())
        .collect();
    let top = energies.iter().copied().fold(0.0, f32::max);
    if !(top.is_finite() && top > 0.0) {
        return None;
    }
    let rise = |i: usize| energies[i] - energies[i - 1].max(energies[i.saturating_sub(2)]);
    let latest = energies
        .len()
        .saturating_sub((LEAST_S / STRETCH_S) as usize);
    let steepest = (1..latest).max_by(|&a, &b| rise(a).total_cmp(&rise(b)));
    // The attack may lie anywhere in the stretch before the full rise.
    let attack = steepest
        .filter(|&i| rise(i) >= SHARE * top)
        .map_or(0, |i| i - 1)
        * stretch;
    let first = attack.saturating_sub((Strum::PRE_ROLL_S * rate) as usize);
    Some(Strum {
        samples: samples[first..].to_vec(),
        rate_hz,
        first: first as u64,
        onsets: vec![attack - first],
        manner: Manner::Strummed,
        cut_by_next: false,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_strum_begins_where_the_sound_does() {
        let mut samples = vec![0.0f32; 44_100];
        samples[20_000..]
            .iter_mut()
            .enumerate()
            .for_each(|(i, s)| *s = (i as f32 * 0.1).sin());
        let strum = whole(&samples, 44_100).unwrap();
        let start = strum.first as usize + strum.onsets[0];
        assert!(start.abs_diff(20_000) <= 882, "{start}");
    }

    #[test]
    fn silence_and_long_recordings_are_no_strum() {
        assert_eq!(whole(&[0.0; 44_100], 44_100), None);
        assert_eq!(whole(&vec![0.5; 6 * 44_100], 44_100), None);
        assert_eq!(whole(&[], 44_100), None);
    }
}
