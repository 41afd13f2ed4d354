//! Shares of a sound that lie on the twelve pitch classes.

use super::LineSpectrum;
use crate::decibels;
use crate::spectrum::partials::shifted_hz;

/// Pitch classes: 0 is C, 11 is B.
pub const PITCH_CLASSES: usize = 12;
/// Range whose lines count, in Hz: fundamentals and the partials next to them, which octave folding
/// still puts on a note of the chord.
const RANGE_HZ: (f32, f32) = (75.0, 2_000.0);
/// A line counts from this far above its surroundings on, in dB, and down to this far under the
/// strongest. Both are choices; two strings of nearly the same pitch leave no deeper dip between their lines.
const LINE_DB: f32 = 4.0;
const BELOW_STRONGEST_DB: f32 = 45.0;

/// Amplitude of the lines on each pitch class, the largest 1; all 0 where no line stands out. `a4_hz`
/// is the frequency of A4 in Hz, `tuning_cents` how far the whole sound lies above it.
pub fn heard(spectrum: &LineSpectrum, a4_hz: f64, tuning_cents: f64) -> [f32; PITCH_CLASSES] {
    let lines = spectrum.lines(RANGE_HZ, LINE_DB, BELOW_STRONGEST_DB);
    folded(
        lines.iter().map(|&(hz, _)| {
            let amplitude = decibels::to_amplitude(spectrum.at_db(hz));
            (f64::from(hz), amplitude)
        }),
        shifted_hz(a4_hz, tuning_cents),
    )
}

/// Gives what notes with these fundamentals in Hz would give, were they all equally loud and their n-th
/// partial 1/n as strong: the same range, the same folding.
pub fn expected(fundamentals_hz: &[f64], a4_hz: f64) -> [f32; PITCH_CLASSES] {
    let partials = fundamentals_hz.iter().flat_map(|&f1| {
        (1..)
            .map(move |n| (f1 * f64::from(n), 1.0 / n as f32))
            .take_while(|&(hz, _)| hz < f64::from(RANGE_HZ.1))
    });
    folded(partials, a4_hz)
}

fn folded(lines: impl Iterator<Item = (f64, f32)>, a4_hz: f64) -> [f32; PITCH_CLASSES] {
    let mut sums = [0f32; PITCH_CLASSES];
    for (hz, amplitude) in lines {
        // A is pitch class 9.
        let semitones = (12.0 * (hz / a4_hz).log2()).round() as i32 + 9;
        sums[semitones.rem_euclid(PITCH_CLASSES as i32) as usize] += amplitude;
    }
    let most = sums.iter().copied().fold(0f32, f32::max);
    if most > 0.0 {
        sums.iter_mut().for_each(|s| *s /= most);
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spectrum::LinePlan;

    const RATE_HZ: f64 = 11_025.0;

    fn tones(hz: &[f64]) -> LineSpectrum {
        let samples: Vec<f32> = (0..11_025)
            .map(|i| {
                let t = f64::from(i) / RATE_HZ;
                hz.iter()
                    .map(|hz| 0.1 * (std::f64::consts::TAU * hz * t).sin() as f32)
                    .sum()
            })
            .collect();
        let mut plan = LinePlan::new(RATE_HZ);
        let mut spectrum = plan.spectrum();
        plan.fill(&samples, &mut spectrum);
        spectrum
    }

    #[test]
    fn a_tone_counts_for_its_pitch_class_in_every_octave() {
        // ISO 16: A4 = 440 Hz; C is three semitones over A.
        let spectrum = tones(&[110.0, 261.63, 523.25]);
        let chroma = heard(&spectrum, 440.0, 0.0);
        assert_eq!(chroma[0], 1.0, "two Cs");
        assert!((chroma[9] - 0.5).abs() < 0.1, "one A: {chroma:?}");
        let others: f32 = (0..12)
            .filter(|c| ![0, 9].contains(c))
            .map(|c| chroma[c])
            .sum();
        assert!(others < 0.05, "{chroma:?}");
    }

    #[test]
    fn a_low_guitar_is_read_in_its_own_tuning() {
        let low = shifted_hz(440.0, -70.0);
        let spectrum = tones(&[low]);
        assert_eq!(heard(&spectrum, 440.0, 0.0)[8], 1.0, "nearer to G sharp");
        assert_eq!(heard(&spectrum, 440.0, -70.0)[9], 1.0);
    }

    #[test]
    fn silence_has_no_pitch_class() {
        assert_eq!(heard(&tones(&[]), 440.0, 0.0), [0.0; PITCH_CLASSES]);
    }

    #[test]
    fn the_third_partial_is_a_fifth() {
        let chroma = expected(&[110.0], 440.0);
        assert_eq!(chroma[9], 1.0);
        assert!(chroma[4] > 0.1, "E by the third partial: {chroma:?}");
    }
}
