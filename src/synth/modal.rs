//! Notes of guitars that nobody built: strings as sums of dying partials, drawn at random. They widen
//! the variety of stiffness, decay, pluck and body that the model learns from; nothing is measured on them.

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};

use super::instrument::{NYLON_B, PLAIN_THIRD_B};
use super::notes::{Guitar, NOTE_RATE_HZ, NOTE_RMS, RecordedNote};
use super::random::gauss;
use crate::decibels;
use crate::fretboard::{OPEN_B, Tuning};
use crate::spectrum::partials::{flexible_hz, partial_hz};

/// Frets given a note.
const FRETS: u8 = 14;
/// Length of a note in seconds.
const NOTE_S: f64 = 2.4;
/// Most partials of a note.
const MOST_PARTIALS: usize = 40;
/// Highest partial in Hz.
const HIGHEST_HZ: f64 = 9_000.0;

/// A guitar drawn from `seed`: steel or nylon, its strings, pluck and body.
pub fn guitar(seed: u64) -> Guitar {
    let mut rng = SmallRng::seed_from_u64(seed);
    let nylon = rng.random_bool(0.35);
    let mut open_b = if nylon { NYLON_B } else { OPEN_B };
    if !nylon && rng.random_bool(0.5) {
        open_b[3] = PLAIN_THIRD_B;
    }
    for b in &mut open_b {
        *b *= 10f64.powf(0.15 * gauss(&mut rng));
    }
    // Loss in dB per second: at 0 Hz and what each kHz adds. Ringing steel strings lose 9 to 39 dB/s
    // from the fundamental to the tenth partial (measured on two takes of GuitarSet); nylon from memory.
    let loss_db_s = if nylon {
        rng.random_range(10.0..25.0)
    } else {
        rng.random_range(5.0..12.0)
    };
    let loss_db_s_khz = if nylon {
        rng.random_range(15.0..50.0)
    } else {
        rng.random_range(6.0..20.0)
    };
    let body: Vec<(f64, f64, f64)> = (0..8)
        .map(|_| {
            (
                90.0 * 2f64.powf(rng.random_range(0.0..5.0)),
                rng.random_range(0.05..0.4),
                6.0 * gauss(&mut rng),
            )
        })
        .collect();
    let tuning = Tuning::default();
    let mut notes = Vec::new();
    for (string, open_b) in open_b.into_iter().enumerate() {
        for fret in 0..FRETS {
            let b = open_b * 2f64.powf(f64::from(fret) / 6.0) * 10f64.powf(0.02 * gauss(&mut rng));
            let hz = tuning.hz(string, fret) * 2f64.powf(gauss(&mut rng) * 2.0 / 1200.0);
            let samples = note(hz, b, (loss_db_s, loss_db_s_khz), &body, &mut rng);
            notes.push(RecordedNote {
                file: String::new(),
                midi: tuning.midi(string, fret),
                place: Some((string, fret)),
                samples,
            });
        }
    }
    Guitar {
        name: format!("modal-{seed}"),
        notes,
        dead_strikes: Vec::new(),
    }
}

fn note(
    f1_hz: f64,
    b: f64,
    loss: (f64, f64),
    body: &[(f64, f64, f64)],
    rng: &mut SmallRng,
) -> Vec<f32> {
    let rate = f64::from(NOTE_RATE_HZ);
    let length = (NOTE_S * rate) as usize;
    let mut samples = vec![0f64; length];
    let f0 = flexible_hz(f1_hz, b);
    let pluck = rng.random_range(0.07..0.35);
    let slope = rng.random_range(0.4..1.3);
    let bright_hz = rng.random_range(1200.0..6000.0);
    for n in 1..=MOST_PARTIALS {
        // Real partials lie a little off the law: body and fret give way.
        let hz = partial_hz(f0, b, n) * 2f64.powf(0.4 * gauss(rng) / 1200.0);
        if hz > HIGHEST_HZ {
            break;
        }
        let shape = (std::f64::consts::PI * n as f64 * pluck)
            .sin()
            .abs()
            .max(0.03)
            / (n as f64).powf(slope)
            * (-hz / bright_hz).exp();
        let body_db: f64 = body
            .iter()
            .map(|&(at, width, db)| db * (-0.5 * ((hz / at).log2() / width).powi(2)).exp())
            .sum();
        let level = shape * decibels::to_amplitude(body_db + 2.5 * gauss(rng));
        let loss_db_s = (loss.0 + loss.1 * hz / 1000.0) * 2f64.powf(0.35 * gauss(rng));
        // Two directions of motion, a little apart in pitch and decay.
        let second = decibels::to_amplitude(-rng.random_range(6.0..30.0));
        let apart_hz = 0.25 * gauss(rng) * (hz / 500.0).sqrt();
        for (share, hz, loss_db_s) in [
            (1.0, hz, loss_db_s),
            (
                second,
                hz + apart_hz,
                loss_db_s * rng.random_range(0.3..1.0),
            ),
        ] {
            let decay = 10f64.powf(-loss_db_s / 20.0 / rate);
            let (sin, cos) = (std::f64::consts::TAU * hz / rate).sin_cos();
            let (step_re, step_im) = (decay * cos, decay * sin);
            let (mut im, mut re) = rng.random_range(0.0..std::f64::consts::TAU).sin_cos();
            re *= level * share;
            im *= level * share;
            for s in &mut samples {
                *s += im;
                (re, im) = (re * step_re - im * step_im, re * step_im + im * step_re);
            }
        }
    }
    // The plectrum's or the finger's own noise.
    let touch =
        samples.iter().take(2000).fold(0f64, |p, s| p.max(s.abs())) * rng.random_range(0.02..0.3);
    let touch_s = rng.random_range(0.002..0.012);
    let rise = rng.random_range(0.0005..0.004) * rate;
    for (i, s) in samples.iter_mut().enumerate() {
        *s *= (i as f64 / rise).min(1.0);
        if i < 4000 {
            *s += touch * gauss(rng) * (-(i as f64) / (touch_s * rate)).exp();
        }
    }
    let head = &samples[..NOTE_RATE_HZ as usize / 2];
    let rms = (head.iter().map(|s| s * s).sum::<f64>() / head.len() as f64).sqrt();
    let gain = f64::from(NOTE_RMS) / rms.max(1e-9);
    let fade = (0.05 * rate) as usize;
    samples
        .iter()
        .enumerate()
        .map(|(i, s)| (s * gain * ((length - i) as f64 / fade as f64).min(1.0)) as f32)
        .collect()
}
