//! Loudness at the microphone, moment by moment.

use super::health::{RAIL, RAIL_RUN};
use crate::decibels;

/// A peak falls back this fast on the meter, in dB per second (common practice).
const FALL_DB_S: f32 = 20.0;
/// Stretch over which a level is read for the floor, in seconds.
const STRETCH_S: f64 = 0.1;
/// The floor is the quietest stretch of about the last ten seconds: two windows of this many
/// stretches, of which one is always whole.
const FLOOR_STRETCHES: u32 = 50;
/// This much exact digital silence is no room: no permission, or a switch, in seconds.
const DEAD_S: f64 = 1.0;
/// Lowest level told, in dBFS.
pub const LOWEST_DBFS: f32 = -120.0;

/// Peak, floor and faults of a stream of mono samples.
#[derive(Debug, Clone)]
pub struct Meter {
    rate_hz: u32,
    peak: f32,
    stretch: (usize, f64),
    /// Quietest mean power of this window of stretches and of the one before.
    quietest: [f64; 2],
    stretches: u32,
    zeros: u64,
    rails: u32,
    clipped: u64,
}

impl Meter {
    /// A meter for one rate, in Hz.
    pub fn new(rate_hz: u32) -> Self {
        Meter {
            rate_hz,
            peak: 0.0,
            stretch: (0, 0.0),
            quietest: [f64::INFINITY; 2],
            stretches: 0,
            zeros: 0,
            rails: 0,
            clipped: 0,
        }
    }

    /// Takes the next samples.
    pub fn push(&mut self, samples: &[f32]) {
        let seconds = samples.len() as f32 / self.rate_hz as f32;
        self.peak *= decibels::to_amplitude(-FALL_DB_S * seconds);
        let length = (STRETCH_S * f64::from(self.rate_hz)) as usize;
        for &sample in samples {
            let size = sample.abs();
            self.peak = self.peak.max(size);
            self.zeros = if sample == 0.0 { self.zeros + 1 } else { 0 };
            self.rails = if size >= RAIL { self.rails + 1 } else { 0 };
            self.clipped += u64::from(self.rails == RAIL_RUN);
            self.stretch.0 += 1;
            self.stretch.1 += f64::from(sample).powi(2);
            if self.stretch.0 == length {
                self.quietest[0] = self.quietest[0].min(self.stretch.1 / length as f64);
                self.stretch = (0, 0.0);
                self.stretches += 1;
                if self.stretches == FLOOR_STRETCHES {
                    self.quietest = [f64::INFINITY, self.quietest[0]];
                    self.stretches = 0;
                }
            }
        }
    }

    /// Peak, falling back slowly, in dBFS.
    pub fn peak_dbfs(&self) -> f32 {
        decibels::of_amplitude(self.peak).max(LOWEST_DBFS)
    }

    /// Level of the quietest tenth of a second of the last five to ten seconds, in dBFS (a
    /// full-scale square reads 0): the room. `None` before the first.
    pub fn floor_dbfs(&self) -> Option<f32> {
        let least = self.quietest[0].min(self.quietest[1]);
        least
            .is_finite()
            .then(|| decibels::of_power(least).max(f64::from(LOWEST_DBFS)) as f32)
    }

    /// Flat tops so far.
    pub fn clipped(&self) -> u64 {
        self.clipped
    }

    /// Nothing but exact zeros for a second: the system does not let the sound through, or the
    /// microphone is switched off.
    pub fn is_dead(&self) -> bool {
        self.zeros as f64 >= DEAD_S * f64::from(self.rate_hz)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_loud_moment_shows_at_once_and_falls_back_20_db_in_a_second() {
        let mut meter = Meter::new(8_000);
        meter.push(&[0.5, -0.25]);
        assert!((meter.peak_dbfs() + 6.02).abs() < 0.01);
        for _ in 0..100 {
            meter.push(&[1e-6; 80]);
        }
        assert!((meter.peak_dbfs() + 26.02).abs() < 0.1);
    }

    #[test]
    fn the_floor_is_the_quietest_stretch_and_is_forgotten_after_ten_seconds() {
        let mut meter = Meter::new(1_000);
        assert_eq!(meter.floor_dbfs(), None);
        meter.push(&[0.001; 200]);
        meter.push(&[0.1; 4_000]);
        assert!((meter.floor_dbfs().unwrap() + 60.0).abs() < 0.1);
        meter.push(&[0.1; 10_000]);
        assert!((meter.floor_dbfs().unwrap() + 20.0).abs() < 0.1);
    }

    #[test]
    fn exact_silence_is_told_after_a_second_and_a_quiet_room_is_not() {
        let mut meter = Meter::new(1_000);
        meter.push(&[0.0; 999]);
        assert!(!meter.is_dead());
        meter.push(&[0.0]);
        assert!(meter.is_dead());
        meter.push(&[1e-7]);
        assert!(!meter.is_dead());
    }

    #[test]
    fn a_lone_full_sample_is_no_flat_top() {
        let mut meter = Meter::new(1_000);
        meter.push(&[1.0, 1.0, 0.5, 1.0]);
        assert_eq!(meter.clipped(), 0);
        meter.push(&[1.0, 1.0, 1.0]);
        assert_eq!(meter.clipped(), 1);
    }
}
