//! The sound of a take as a page can carry it: small, and of a kind that every browser plays.

use crate::audio::{at_rate, wav_file};

/// Rate of the sound in a page, in Hz: what strings say about ringing lies below 5 kHz.
const RATE_HZ: u32 = 16_000;
/// Sound kept from before the first stroke and after it, in seconds.
const BEFORE_S: f64 = 0.1;
const AFTER_S: f64 = 3.0;
/// The end fades out over this long, in seconds.
const FADE_S: f64 = 0.1;
/// Loudest sample: a quiet take is brought up to it, so that takes can be compared by ear.
const PEAK: f32 = 0.9;

/// A WAV file (16 bit, mono, at most 16 kHz) of a take, from shortly before its first stroke.
/// `first` is that string's onset in `samples` at `rate_hz`.
pub fn wav(samples: &[f32], rate_hz: u32, first: usize) -> Vec<u8> {
    let at = |seconds: f64| (seconds * f64::from(rate_hz)) as usize;
    let from = first.saturating_sub(at(BEFORE_S)).min(samples.len());
    let to = (first + at(AFTER_S)).min(samples.len());
    let rate = rate_hz.min(RATE_HZ);
    let mut sound = at_rate(&samples[from..to], rate_hz, rate);
    let peak = sound.iter().fold(1e-6f32, |p, s| p.max(s.abs()));
    let fade = ((FADE_S * f64::from(rate)) as usize)
        .min(sound.len())
        .max(1);
    for (left, sample) in sound.iter_mut().rev().enumerate() {
        *sample *= PEAK / peak * (left as f32 / fade as f32).min(1.0);
    }
    wav_file(rate, &sound)
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use super::*;

    #[test]
    fn a_take_becomes_three_seconds_at_full_level() {
        let tone = |i: usize| 0.01 * (std::f64::consts::TAU * 440.0 * i as f64 / 44_100.0).sin();
        let samples: Vec<f32> = (0..44_100 * 5).map(|i| tone(i) as f32).collect();
        let bytes = wav(&samples, 44_100, 22_050);
        let mut reader = hound::WavReader::new(Cursor::new(bytes)).unwrap();
        assert_eq!(reader.spec().sample_rate, 16_000);
        let read: Vec<i16> = reader.samples().map(Result::unwrap).collect();
        assert_eq!(read.len(), 49_600);
        let peak = read.iter().map(|s| s.unsigned_abs()).max().unwrap();
        assert!((28_000..=32_767).contains(&peak), "{peak}");
        assert!(read[read.len() - 1].abs() < 200, "it fades out");
    }

    #[test]
    fn a_low_rate_and_the_shortest_sound_stay_as_they_are() {
        for samples in [&[][..], &[0.5]] {
            let bytes = wav(samples, 8_000, 0);
            let reader = hound::WavReader::new(Cursor::new(bytes)).unwrap();
            assert_eq!(reader.spec().sample_rate, 8_000);
            assert_eq!(reader.len() as usize, samples.len());
        }
    }
}
