//! Moments at which the frames of a stream pass between program and sound system: frames are counted, callbacks say
//! when.
//!
//! A device moves frames evenly, but callbacks come in blocks, and late where the computer is busy. So
//! one callback tells a frame's moment to a block; many together tell it to a part of a millisecond. Loudspeaker
//! and microphone share the clock: what is played is found among what is heard whatever the phase of
//! their blocks.
//!
//! The earliest quarter of the last 32 callbacks tells when frame 0 passed. The soundcheck counts its delay in the
//! same way. In simulated streams the delay is the same within 1 ms at five phases of 20 ms blocks. Half of the
//! callbacks up to 15 ms late move a frame's moment by less than one. The sound library's own timestamps are not
//! used: under PulseAudio they jump by a block where a question crosses the block on its way (read in its source,
//! not measured).

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, OnceLock};
use std::time::Instant;

/// Callbacks that are remembered: two or three seconds of them.
const REMEMBERED: usize = 32;
/// Callbacks are late or in time, hardly ever early: the earliest quarter counts.
const EARLIEST: usize = 4;

/// Seconds since the first call.
pub(super) fn now_s() -> f64 {
    static FIRST: OnceLock<Instant> = OnceLock::new();
    FIRST.get_or_init(Instant::now).elapsed().as_secs_f64()
}

/// Time of a stream as far as it is known; written by its callback, read by anybody.
pub(super) struct Clock {
    /// When frame 0 passed, as the bits of seconds; not a number while that is not known.
    origin_s: AtomicU64,
}

impl Default for Clock {
    fn default() -> Self {
        Clock {
            origin_s: AtomicU64::new(f64::NAN.to_bits()),
        }
    }
}

impl Clock {
    /// Tells when the frame at `position` (it may be before the first) passes, in seconds as [`now_s`] counts,
    /// at so many frames a second.
    pub(super) fn at_s(&self, position: f64, rate_hz: u32) -> Option<f64> {
        let origin_s = f64::from_bits(self.origin_s.load(Ordering::Acquire));
        (!origin_s.is_nan()).then(|| origin_s + position / f64::from(rate_hz))
    }
}

/// The callback's end of a [`Clock`]. Nothing in it waits or allocates.
pub(super) struct Ticks {
    clock: Arc<Clock>,
    rate_hz: u32,
    /// When frame 0 passed, as each of the last callbacks has it.
    origins_s: [f64; REMEMBERED],
    count: usize,
}

impl Ticks {
    /// For a stream of so many frames a second.
    pub(super) fn new(clock: Arc<Clock>, rate_hz: u32) -> Self {
        Ticks {
            clock,
            rate_hz,
            origins_s: [0.0; REMEMBERED],
            count: 0,
        }
    }

    /// The frame at `position` passes at `at_s`, or passed a little before.
    pub(super) fn tick(&mut self, position: u64, at_s: f64) {
        self.origins_s[self.count % REMEMBERED] = at_s - position as f64 / f64::from(self.rate_hz);
        self.count += 1;
        let known = self.count.min(REMEMBERED);
        let mut sorted = self.origins_s;
        let (_, origin_s, _) =
            sorted[..known].select_nth_unstable_by(known / EARLIEST, f64::total_cmp);
        self.clock
            .origin_s
            .store(origin_s.to_bits(), Ordering::Release);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const RATE_HZ: u32 = 48_000;
    const BLOCK: u64 = 960;

    proptest! {
        /// Blocks of 20 ms begin whenever they like; half of the callbacks are late.
        #[test]
        fn a_frame_has_its_moment_whatever_the_phase_and_however_late_callbacks_come(
            begun_s in 0.0f64..0.02,
            late_ms in prop::collection::vec(0.0f64..15.0, 100),
        ) {
            let clock = Arc::new(Clock::default());
            let mut ticks = Ticks::new(clock.clone(), RATE_HZ);
            prop_assert_eq!(clock.at_s(0.0, RATE_HZ), None);
            for (index, late_ms) in late_ms.iter().enumerate() {
                let position = index as u64 * BLOCK;
                let late_ms = if index % 2 == 0 { 0.2 } else { *late_ms };
                let due_s = begun_s + position as f64 / f64::from(RATE_HZ);
                ticks.tick(position, due_s + late_ms / 1e3);
            }
            let second_s = clock.at_s(f64::from(RATE_HZ), RATE_HZ).unwrap();
            prop_assert!((second_s - begun_s - 1.0).abs() < 1e-3, "{} {}", second_s, begun_s);
        }
    }

    #[test]
    fn a_device_that_stood_still_is_followed() {
        let clock = Arc::new(Clock::default());
        let mut ticks = Ticks::new(clock.clone(), RATE_HZ);
        for index in 0..200u64 {
            let stood_s = if index < 100 { 0.0 } else { 0.5 };
            ticks.tick(index * BLOCK, index as f64 * 0.02 + stood_s);
        }
        let origin_s = clock.at_s(0.0, RATE_HZ).unwrap();
        assert!((origin_s - 0.5).abs() < 1e-6, "{origin_s}");
    }
}
