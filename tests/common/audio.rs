//! Sound files made on the spot, and what is measured in sound that was read.

use std::f64::consts::TAU;
use std::path::{Path, PathBuf};

/// A file of `fixtures/`.
pub fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures")
        .join(name)
}

/// The plain 16-byte description of a WAV file's format; `code` 1 integer, 3 float.
pub fn wav_format(code: u16, channels: u16, rate_hz: u32, bits: u16) -> Vec<u8> {
    let frame_bytes = channels.wrapping_mul(bits.div_ceil(8));
    let mut format = Vec::new();
    format.extend_from_slice(&code.to_le_bytes());
    format.extend_from_slice(&channels.to_le_bytes());
    format.extend_from_slice(&rate_hz.to_le_bytes());
    format.extend_from_slice(&rate_hz.wrapping_mul(frame_bytes.into()).to_le_bytes());
    format.extend_from_slice(&frame_bytes.to_le_bytes());
    format.extend_from_slice(&bits.to_le_bytes());
    format
}

/// A WAV file around a format description and sample bytes.
pub fn wav_file(format: &[u8], samples: &[u8]) -> Vec<u8> {
    let mut file = b"RIFF".to_vec();
    file.extend_from_slice(&((20 + format.len() + samples.len()) as u32).to_le_bytes());
    file.extend_from_slice(b"WAVEfmt ");
    file.extend_from_slice(&(format.len() as u32).to_le_bytes());
    file.extend_from_slice(format);
    file.extend_from_slice(b"data");
    file.extend_from_slice(&(samples.len() as u32).to_le_bytes());
    file.extend_from_slice(samples);
    file
}

/// Magnitude of the sine at `hz` in samples under a Hann window: the amplitude of a lone tone.
pub fn amplitude_at(samples: &[f32], rate_hz: u32, hz: f64) -> f64 {
    let n = samples.len() as f64;
    let (mut re, mut im, mut weight) = (0.0, 0.0, 0.0);
    for (i, &sample) in samples.iter().enumerate() {
        let window = 0.5 - 0.5 * (TAU * (i as f64 + 0.5) / n).cos();
        let phase = TAU * hz * i as f64 / f64::from(rate_hz);
        re += window * f64::from(sample) * phase.cos();
        im += window * f64::from(sample) * phase.sin();
        weight += window;
    }
    2.0 * re.hypot(im) / weight
}

/// The frequency within 2 Hz of `near_hz` at which a sine is strongest: the least-squares fit of a
/// windowed tone.
pub fn frequency_near(samples: &[f32], rate_hz: u32, near_hz: f64) -> f64 {
    let (mut low, mut high) = (near_hz - 2.0, near_hz + 2.0);
    while high - low > 1e-4 {
        let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if amplitude_at(samples, rate_hz, a) < amplitude_at(samples, rate_hz, b) {
            low = a;
        } else {
            high = b;
        }
    }
    (low + high) / 2.0
}
