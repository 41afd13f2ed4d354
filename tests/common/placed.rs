//! Where known sound lies in a recording of it: what was played went through a sound server that changes no
//! sample, but may leave some out or put silence between.

use std::ops::Range;

use rustfft::FftPlanner;
use rustfft::num_complex::Complex64;

/// A piece is there whole where it correlates with the recording this well. Left alone it does so to rounding; of a
/// piece that was torn the torn-off part, a thousandth of its energy or more, is missing.
const WHOLE: f64 = 0.999;

/// Where `piece` begins in `recording`, whatever its level: in samples, the first such place in `range`. `None` where
/// it is not there whole, or is silence.
pub fn place(recording: &[f32], piece: &[f32], range: Range<usize>) -> Option<usize> {
    let end = (range.end + piece.len()).min(recording.len());
    let sound = recording.get(range.start..end)?;
    let energy = |samples: &[f32]| samples.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>();
    let wanted = energy(piece);
    if wanted <= 0.0 || sound.len() < piece.len() {
        return None;
    }
    let size = (sound.len() + piece.len()).next_power_of_two();
    let mut planner = FftPlanner::new();
    let forward = planner.plan_fft_forward(size);
    let spectrum = |samples: &[f32]| {
        let mut buffer: Vec<Complex64> = samples
            .iter()
            .map(|s| Complex64::new(f64::from(*s), 0.0))
            .collect();
        buffer.resize(size, Complex64::default());
        forward.process(&mut buffer);
        buffer
    };
    let mut agreement = spectrum(sound);
    for (a, b) in agreement.iter_mut().zip(spectrum(piece)) {
        *a *= b.conj() / size as f64;
    }
    planner.plan_fft_inverse(size).process(&mut agreement);
    let mut energies = vec![0.0];
    for sample in sound {
        energies.push(energies[energies.len() - 1] + f64::from(*sample).powi(2));
    }
    let alike = |at: usize| {
        let heard = energies[at + piece.len()] - energies[at];
        agreement[at].re / (heard * wanted).sqrt().max(1e-12)
    };
    (0..=sound.len() - piece.len())
        .find(|at| alike(*at) >= WHOLE)
        .map(|at| {
            // The place itself is the best of its neighbours.
            let near = at..=(at + NEAR).min(sound.len() - piece.len());
            range.start
                + near
                    .max_by(|a, b| alike(*a).total_cmp(&alike(*b)))
                    .unwrap_or(at)
        })
}

/// Low tones agree this many samples before they agree best.
const NEAR: usize = 200;
