//! A room that a guitar is heard in.

use std::cell::RefCell;

use fourier::{FftDirection, Planner, num_complex::Complex32};
use rand::Rng;
use rand::rngs::SmallRng;

use super::notes::NOTE_RATE_HZ;
use super::random::gauss;
use crate::decibels;

/// A small room: its T60 in seconds, and how far its sound is below the direct one, in dB. A choice.
pub(super) const SMALL_ROOM_S: (f64, f64) = (0.15, 0.45);
pub(super) const SMALL_ROOM_DB: (f32, f32) = (6.0, 20.0);

/// A room: a tail of noise with a T60 from `t60_s`, in seconds, as far below the direct sound as from `below_db`.
pub fn room(samples: &mut [f32], t60_s: (f64, f64), below_db: (f32, f32), rng: &mut SmallRng) {
    let rate = f64::from(NOTE_RATE_HZ);
    let t60_s = rng.random_range(t60_s.0..t60_s.1);
    let taps = (t60_s * rate) as usize;
    let mut response: Vec<f32> = vec![0.0; taps];
    let pre_delay = (0.003 * rate) as usize;
    let mut energy = 0.0;
    for (i, tap) in response.iter_mut().enumerate().skip(pre_delay) {
        *tap = (gauss(rng) * (-6.9078 * i as f64 / taps as f64).exp()) as f32;
        energy += *tap * *tap;
    }
    let level = decibels::to_amplitude(-rng.random_range(below_db.0..below_db.1)) / energy.sqrt();
    let size = (samples.len() + taps).next_power_of_two();
    let mut sound: Vec<Complex32> = samples.iter().map(|&s| Complex32::new(s, 0.0)).collect();
    sound.resize(size, Complex32::default());
    let mut echo: Vec<Complex32> = response
        .iter()
        .map(|&s| Complex32::new(s * level, 0.0))
        .collect();
    echo[0].re += 1.0;
    echo.resize(size, Complex32::default());
    fft(&mut sound, FftDirection::Forward);
    fft(&mut echo, FftDirection::Forward);
    sound
        .iter_mut()
        .zip(&echo)
        .for_each(|(s, e)| *s *= e / size as f32);
    fft(&mut sound, FftDirection::Inverse);
    samples.iter_mut().zip(&sound).for_each(|(s, b)| *s = b.re);
}

/// Transforms in place, planned once a thread and size.
pub(super) fn fft(buffer: &mut [Complex32], direction: FftDirection) {
    thread_local! {
        static PLANNER: RefCell<Planner> = RefCell::new(Planner::new());
    }
    let plan = PLANNER.with_borrow_mut(|planner| planner.plan(buffer.len(), direction));
    plan.process(buffer);
}
