//! Beats and seconds: a count-in, then bars at a steady tempo or on a ramp.

use crate::words;

/// Tempos that a backing takes, in beats a minute.
pub const TEMPOS_BPM: std::ops::RangeInclusive<f64> = 40.0..=200.0;
/// Beats of a bar.
pub const BEATS: std::ops::RangeInclusive<u32> = 1..=12;
/// Longest that a backing may be, in seconds: practice wants a break long before (the British
/// Association for Performing Arts Medicine advises one every half hour).
pub const LONGEST_S: f64 = 1800.0;

/// Moments of the beats. Beat 0 is the first after the count-in, time 0 the start of the count-in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grid {
    /// Beats of a bar.
    pub beats: u32,
    /// Bars after the count-in.
    pub bars: usize,
    /// Beats of the count-in.
    pub count_in: u32,
    from_bpm: f64,
    to_bpm: f64,
}

/// Reason why there is no such grid.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum GridError {
    /// The tempo is outside [`TEMPOS_BPM`].
    #[error("{}", words::progression::tempo(bpm))]
    Tempo {
        /// The tempo asked for, in beats a minute.
        bpm: f64,
    },
    /// The beats of a bar are outside [`BEATS`].
    #[error("{}", words::progression::beats_of_a_bar(beats))]
    Beats {
        /// The beats of a bar asked for.
        beats: u32,
    },
    /// Longer than [`LONGEST_S`].
    #[error("{}", words::progression::lasts_too_long(minutes))]
    TooLong {
        /// Length that it would have, in minutes.
        minutes: f64,
    },
}

impl Grid {
    /// `bars` bars that go from one tempo to the other evenly over the beats; the count-in keeps
    /// the first.
    ///
    /// # Errors
    /// [`GridError`] for a tempo or a number of beats out of range, and where it lasts too long.
    pub fn new(
        beats: u32,
        bars: usize,
        count_in_bars: u32,
        from_bpm: f64,
        to_bpm: f64,
    ) -> Result<Grid, GridError> {
        for bpm in [from_bpm, to_bpm] {
            if !TEMPOS_BPM.contains(&bpm) {
                return Err(GridError::Tempo { bpm });
            }
        }
        if !BEATS.contains(&beats) {
            return Err(GridError::Beats { beats });
        }
        let grid = Grid {
            beats,
            bars,
            count_in: beats * count_in_bars,
            from_bpm,
            to_bpm,
        };
        match grid.end_s() {
            long if long > LONGEST_S => Err(GridError::TooLong {
                minutes: long / 60.0,
            }),
            _ => Ok(grid),
        }
    }

    /// Beats after the count-in.
    pub fn length_beats(&self) -> f64 {
        self.bars as f64 * f64::from(self.beats)
    }

    /// Tells when a beat comes, in seconds from the start of the count-in. On the ramp the tempo at beat x
    /// of n is T0 + (T1 - T0) x / n, so that the time to it is 60 n / (T1 - T0) ln(T / T0).
    pub fn seconds(&self, beat: f64) -> f64 {
        let start = 60.0 * f64::from(self.count_in) / self.from_bpm;
        let (length, rise) = (self.length_beats(), self.to_bpm - self.from_bpm);
        let on_ramp = beat.clamp(0.0, length);
        let ramp = match rise.abs() * length {
            flat if flat < 1e-9 => 60.0 * on_ramp / self.from_bpm,
            _ => 60.0 * length / rise * (rise * on_ramp / (length * self.from_bpm)).ln_1p(),
        };
        start
            + ramp
            + 60.0 * beat.min(0.0) / self.from_bpm
            + 60.0 * (beat - length).max(0.0) / self.to_bpm
    }

    /// The sample at which a beat comes.
    pub fn sample(&self, beat: f64, rate_hz: u32) -> u64 {
        (self.seconds(beat) * f64::from(rate_hz)).round().max(0.0) as u64
    }

    /// The beat at a time in seconds: the inverse of [`seconds`](Self::seconds).
    pub fn beat_at(&self, seconds: f64) -> f64 {
        let (length, rise) = (self.length_beats(), self.to_bpm - self.from_bpm);
        let into = seconds - self.seconds(0.0);
        let ramp_s = self.end_s() - self.seconds(0.0);
        if into <= 0.0 {
            return into * self.from_bpm / 60.0;
        }
        if into >= ramp_s {
            return length + (into - ramp_s) * self.to_bpm / 60.0;
        }
        match rise.abs() {
            flat if flat < 1e-9 => into * self.from_bpm / 60.0,
            _ => length * self.from_bpm / rise * (into * rise / (60.0 * length)).exp_m1(),
        }
    }

    /// The bar at a time in seconds; those of the count-in lie below 0.
    pub fn bar_at(&self, seconds: f64) -> i64 {
        (self.beat_at(seconds) / f64::from(self.beats)).floor() as i64
    }

    /// Tempo at a beat, in beats a minute.
    pub fn tempo_bpm(&self, beat: f64) -> f64 {
        let share = (beat / self.length_beats().max(1.0)).clamp(0.0, 1.0);
        self.from_bpm + (self.to_bpm - self.from_bpm) * share
    }

    /// Tells whether the tempo stays the same.
    pub fn is_steady(&self) -> bool {
        self.from_bpm == self.to_bpm
    }

    /// Tells when the last bar is over, in seconds.
    pub fn end_s(&self) -> f64 {
        self.seconds(self.length_beats())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn beats_come_evenly_after_the_count_in() {
        let grid = Grid::new(4, 8, 1, 60.0, 60.0).unwrap();
        assert_eq!(grid.seconds(0.0), 4.0);
        assert_eq!(grid.seconds(-4.0), 0.0);
        assert_eq!(grid.seconds(2.5), 6.5);
        assert_eq!(grid.end_s(), 36.0);
        assert_eq!(grid.sample(1.0, 44_100), 220_500);
    }

    #[test]
    fn a_ramp_takes_the_time_that_summing_small_steps_gives() {
        let grid = Grid::new(4, 4, 1, 60.0, 120.0).unwrap();
        let steps = 1_000_000;
        let step = 16.0 / f64::from(steps);
        let sum: f64 = (0..steps)
            .map(|i| 60.0 / (60.0 + 60.0 * (f64::from(i) + 0.5) / f64::from(steps)) * step)
            .sum();
        assert!((grid.end_s() - 4.0 - sum).abs() < 1e-6);
        assert_eq!(grid.tempo_bpm(8.0), 90.0);
        assert!((grid.seconds(17.0) - grid.end_s() - 0.5).abs() < 1e-9);
    }

    #[test]
    fn what_nobody_plays_is_refused_in_a_sentence() {
        let said =
            |beats, bars, from, to| Grid::new(beats, bars, 1, from, to).unwrap_err().to_string();
        assert!(said(4, 4, 39.0, 60.0).contains("39 is not"));
        assert!(said(4, 4, 60.0, f64::NAN).contains("NaN is not"));
        assert!(said(0, 4, 60.0, 60.0).contains("from 1 to 12 beats"));
        assert!(said(4, 2000, 60.0, 60.0).contains("half an hour"));
    }

    proptest! {
        #[test]
        fn beats_and_seconds_are_each_others_inverse(
            from in 40.0f64..200.0, to in 40.0f64..200.0, beat in -4.0f64..80.0,
        ) {
            let grid = Grid::new(4, 16, 1, from, to).unwrap();
            let back = grid.beat_at(grid.seconds(beat));
            prop_assert!((back - beat).abs() < 1e-6, "{} {}", back, beat);
        }
    }
}
