//! Time from playing to hearing: clicks out, clicks in.

use crate::audio::live::{Came, DeviceError, Sink, Source, began_at_s};

/// Clicks played, more while they disagree but no more than the second number; time from one to the next, and its
/// length, in seconds.
const CLICKS: usize = 7;
const MOST_CLICKS: usize = 28;
/// They agree where the middle half lies within this, in seconds: a choice, ten times what they do undisturbed. Where
/// sound is lost on the way its place changes by more.
const AGREE_S: f64 = 0.002;
const APART_S: f64 = 0.8;
const CLICK_S: f64 = 0.002;
/// Click level as a peak.
const PEAK: f32 = 0.5;
/// A click is heard where the sound exceeds the loudest of the quiet before it by this factor (12
/// dB). A choice.
const OVER_ROOM: f32 = 4.0;
/// Quiet that is listened to before each click, in seconds.
const QUIET_S: f64 = 0.1;
/// Sound that is let go before anything is played, in seconds: what waited in the ring is old.
const SETTLED_S: f64 = 0.3;
/// So many clicks must be heard.
const LEAST: usize = 5;

/// A measured delay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoundTrip {
    /// Time from the sound system's taking samples for the loudspeaker to its giving them as the
    /// microphone's, in seconds: the middle one of all clicks heard. Where nobody knows when it took them,
    /// from their being queued.
    pub delay_s: f64,
    /// Between the middle half of the clicks, in seconds.
    pub spread_s: f64,
}

/// Lets what waits in the microphone go and returns as a block has just come: delays are counted from
/// such a moment. Waits [`SETTLED_S`] of sound.
///
/// # Errors
/// As reading the source.
pub fn caught_up(source: &mut dyn Source) -> Result<(), DeviceError> {
    let enough = (SETTLED_S * f64::from(source.rate_hz())) as usize;
    listen(source, enough, &mut Vec::new())
}

/// Adds so many samples or a block more to `into`.
fn listen(source: &mut dyn Source, samples: usize, into: &mut Vec<f32>) -> Result<(), DeviceError> {
    let (end, mut block) = (into.len() + samples, Vec::new());
    while into.len() < end {
        match source.read(&mut block)? {
            Came::Sound => into.extend_from_slice(&block),
            Came::Lost(samples) => into.resize(into.len() + samples as usize, 0.0),
            Came::End => break,
        }
    }
    Ok(())
}

/// Plays clicks and hears them. `None` where too few were heard.
///
/// # Errors
/// As reading the source.
pub fn round_trip(
    source: &mut dyn Source,
    sink: &mut dyn Sink,
) -> Result<Option<RoundTrip>, DeviceError> {
    let rate = f64::from(source.rate_hz());
    let click: Vec<f32> = (0..(CLICK_S * f64::from(sink.rate_hz())) as usize)
        .map(|i| if i / 8 % 2 == 0 { PEAK } else { -PEAK })
        .collect();
    let count = |seconds: f64| (seconds * rate) as usize;
    caught_up(source)?;
    let (mut heard, mut delays) = (Vec::new(), Vec::new());
    let mut found = None;
    for number in 1..=MOST_CLICKS {
        heard.clear();
        listen(source, count(QUIET_S), &mut heard)?;
        let quiet = heard.len();
        sink.queue(&click);
        listen(source, count(APART_S - QUIET_S), &mut heard)?;
        let room = heard[..quiet].iter().fold(1e-4f32, |p, s| p.max(s.abs()));
        let at = heard[quiet..]
            .iter()
            .position(|s| s.abs() > OVER_ROOM * room);
        let queued_s = quiet as f64 / rate;
        let began_s = began_at_s(source, sink, heard.len()).unwrap_or(queued_s);
        delays.extend(at.map(|at| queued_s + at as f64 / rate - began_s));
        found = agreed(&mut delays);
        if number >= CLICKS && found.is_none_or(|found| found.spread_s <= AGREE_S) {
            break;
        }
    }
    Ok(found)
}

/// What clicks say together, if they are enough.
fn agreed(delays: &mut [f64]) -> Option<RoundTrip> {
    delays.sort_by(f64::total_cmp);
    let quarter = delays.len() / 4;
    (delays.len() >= LEAST).then(|| RoundTrip {
        delay_s: delays[delays.len() / 2],
        spread_s: delays[delays.len() - 1 - quarter] - delays[quarter],
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::{Arc, Mutex};

    /// What is played comes back so many samples later, weaker and with noise.
    struct Echo {
        air: Arc<Mutex<Vec<f32>>>,
        now: usize,
        delay: usize,
    }

    /// A loudspeaker that takes blocks; of one sample and without a clock unless said otherwise.
    struct Mouth {
        air: Arc<Mutex<Vec<f32>>>,
        block: usize,
        phase: usize,
        began: Option<usize>,
    }

    impl Source for Echo {
        fn rate_hz(&self) -> u32 {
            48_000
        }
        fn read(&mut self, block: &mut Vec<f32>) -> Result<Came, DeviceError> {
            let mut air = self.air.lock().unwrap();
            let needed = air.len().max(self.now + 480);
            air.resize(needed, 0.0);
            block.clear();
            block.extend((self.now..self.now + 480).map(|i| {
                let noise = 1e-3 * ((i * 7919 % 101) as f32 / 101.0 - 0.5);
                let played = i.checked_sub(self.delay).map_or(0.0, |j| air[j]);
                0.1 * played + noise
            }));
            self.now += 480;
            Ok(Came::Sound)
        }
        fn next_s(&self) -> Option<f64> {
            Some(self.now as f64 / 48_000.0)
        }
    }

    impl Sink for Mouth {
        fn rate_hz(&self) -> u32 {
            48_000
        }
        fn queue(&mut self, samples: &[f32]) -> usize {
            let mut air = self.air.lock().unwrap();
            let blocks = (air.len().saturating_sub(self.phase)).div_ceil(self.block);
            let at = self.phase + blocks * self.block;
            air.resize(at, 0.0);
            air.extend_from_slice(samples);
            self.began = Some(at);
            samples.len()
        }
        fn waiting(&self) -> usize {
            0
        }
        fn stop(&mut self) {}
        fn works(&self) -> bool {
            true
        }
        fn began_s(&self) -> Option<f64> {
            let began = self.began.filter(|_| self.block > 1)?;
            Some(began as f64 / 48_000.0)
        }
    }

    /// Through a loudspeaker with blocks of so many samples, of which one begins at `phase`.
    fn measured(delay: usize, sink_works: bool, block: usize, phase: usize) -> Option<RoundTrip> {
        let air = Arc::new(Mutex::new(Vec::new()));
        let mut echo = Echo {
            air: air.clone(),
            now: 0,
            delay,
        };
        let into = match sink_works {
            true => air,
            false => Arc::default(),
        };
        let mut mouth = Mouth {
            air: into,
            block,
            phase,
            began: None,
        };
        round_trip(&mut echo, &mut mouth).unwrap()
    }

    #[test]
    fn the_delay_of_a_room_is_measured_to_a_millisecond() {
        for delay in [480, 2_400, 9_600] {
            let found = measured(delay, true, 1, 0).unwrap();
            assert!((found.delay_s - delay as f64 / 48_000.0).abs() < 1e-3);
            assert!(found.spread_s < 1e-3);
        }
    }

    #[test]
    fn the_delay_is_the_same_whatever_the_phase_of_the_blocks() {
        for phase in [0, 17, 333, 600, 958] {
            let found = measured(2_400, true, 960, phase).unwrap();
            assert!((found.delay_s - 0.05).abs() < 1e-3, "{phase}: {found:?}");
            assert!(found.spread_s < 1e-3, "{phase}: {found:?}");
        }
    }

    #[test]
    fn clicks_that_nobody_hears_give_no_delay() {
        assert_eq!(measured(480, false, 1, 0), None);
    }
}
