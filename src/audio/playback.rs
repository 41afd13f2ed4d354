//! The loudspeaker.
//!
//! Blocks are 100 ms, of which the sound system holds two; a busy computer left holes with 20 ms. Delays are
//! counted as if blocks still were 20 ms ([`COUNTED_BLOCK_S`]), so that what soundchecks kept stays true. The
//! loudspeaker is opened when there is something to play and let go a second after. While it is open, PulseAudio
//! works in pieces of 0.5 ms: the library asks for a buffer of exactly two blocks, which leaves the server no delay
//! of its own.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, Ordering};
use std::thread;

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, ErrorKind, FromSample, SampleFormat, SizedSample, StreamConfig};
use rtrb::{Consumer, Producer, RingBuffer};

use super::clock::{Clock, Ticks, now_s};
use super::device::{DeviceError, Direction, Sink};
use super::host::{OPENING, QuietAlsa, host, opened, told};
use crate::words;

/// Sound that can wait to be played, in seconds.
const RING_S: f64 = 10.0;
/// Length wished for blocks, in seconds. The sound system holds two, and what it is not given within one is a hole in
/// the backing.
const BLOCK_S: f64 = 0.1;
/// Of a block that is taken it holds one more to play first. Delays are counted as if both were so long, in seconds,
/// which they once were: what soundchecks keep does not depend on the length wished for.
const COUNTED_BLOCK_S: f64 = 0.02;

#[derive(Default)]
struct Shared {
    /// Samples up to this position of all that was queued are to be forgotten.
    forget: AtomicU64,
    /// Samples played or forgotten so far.
    played: AtomicU64,
    /// How many frames of the stream come before the sample played last, against the samples before it:
    /// silence, less what was forgotten.
    silent: AtomicI64,
    gone: AtomicBool,
    /// When a frame was taken from us.
    clock: Arc<Clock>,
}

/// An open loudspeaker.
pub struct Speaker {
    stream: Option<cpal::Stream>,
    ring: Producer<f32>,
    shared: Arc<Shared>,
    rate_hz: u32,
    queued: u64,
    /// The first sample of what plays now, counted among all that was queued.
    first: u64,
}

impl Speaker {
    /// Opens the usual output.
    ///
    /// # Errors
    /// Any [`DeviceError`] but `NotBuilt`, `Unknown` and `Gone`.
    pub fn open() -> Result<Self, DeviceError> {
        let _quiet = QuietAlsa::new();
        let none = DeviceError::None(Direction::Loudspeaker);
        let device = host().default_output_device().ok_or(none.clone())?;
        Self::on(&device)
    }

    fn on(device: &cpal::Device) -> Result<Self, DeviceError> {
        let usual = device
            .default_output_config()
            .map_err(|_| DeviceError::None(Direction::Loudspeaker))?;
        opened(&usual, BLOCK_S, |config| {
            Self::started(device, config, usual.sample_format())
        })
    }

    fn started(
        device: &cpal::Device,
        config: StreamConfig,
        format: SampleFormat,
    ) -> Result<Self, DeviceError> {
        let rate_hz = config.sample_rate;
        let shared = Arc::new(Shared::default());
        let (ring, consumer) = RingBuffer::new((RING_S * f64::from(rate_hz)) as usize);
        let mouth = OutputCallback {
            ahead_s: match config.buffer_size {
                BufferSize::Fixed(frames) => {
                    f64::from(frames) / f64::from(rate_hz) - COUNTED_BLOCK_S
                }
                BufferSize::Default => 0.0,
            },
            ring: consumer,
            channels: usize::from(config.channels).max(1),
            played: 0,
            frames: 0,
            ticks: Ticks::new(shared.clock.clone(), rate_hz),
            shared: shared.clone(),
        };
        let stream = match format {
            SampleFormat::F32 => build::<f32>(device, config, mouth),
            SampleFormat::F64 => build::<f64>(device, config, mouth),
            SampleFormat::I32 => build::<i32>(device, config, mouth),
            SampleFormat::I24 => build::<cpal::I24>(device, config, mouth),
            SampleFormat::I16 => build::<i16>(device, config, mouth),
            SampleFormat::U16 => build::<u16>(device, config, mouth),
            SampleFormat::U8 => build::<u8>(device, config, mouth),
            other => Err(DeviceError::Unsupported {
                kind: Direction::Loudspeaker,
                found: words::devices::samples_of_form(other),
            }),
        }?;
        stream
            .play()
            .map_err(|e| told(Direction::Loudspeaker, &e))?;
        Ok(Speaker {
            stream: Some(stream),
            ring,
            shared,
            rate_hz,
            queued: 0,
            first: 0,
        })
    }
}

impl Sink for Speaker {
    fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    fn queue(&mut self, samples: &[f32]) -> usize {
        if self.waiting() == 0 && !samples.is_empty() {
            self.first = self.queued;
        }
        let free = self.ring.slots().min(samples.len());
        if let Ok(chunk) = self.ring.write_chunk_uninit(free) {
            chunk.fill_from_iter(samples[..free].iter().copied());
        }
        self.queued += free as u64;
        free
    }

    fn waiting(&self) -> usize {
        self.ring.buffer().capacity() - self.ring.slots()
    }

    fn stop(&mut self) {
        self.shared.forget.store(self.queued, Ordering::Release);
        self.first = self.queued;
    }

    fn works(&self) -> bool {
        !self.shared.gone.load(Ordering::Acquire)
    }

    fn began_s(&self) -> Option<f64> {
        let shared = &self.shared;
        if shared.played.load(Ordering::Acquire) <= self.first {
            return None;
        }
        let frame = self.first as f64 + shared.silent.load(Ordering::Acquire) as f64;
        shared.clock.at_s(frame, self.rate_hz)
    }
}

impl Drop for Speaker {
    fn drop(&mut self) {
        // As with the microphone: this may block for ever.
        if let Some(stream) = self.stream.take() {
            thread::spawn(move || drop(stream));
        }
    }
}

/// What the callback owns.
struct OutputCallback {
    ring: Consumer<f32>,
    channels: usize,
    played: u64,
    /// Frames taken so far.
    frames: u64,
    /// So much later they count as taken, in seconds.
    ahead_s: f64,
    ticks: Ticks,
    shared: Arc<Shared>,
}

impl OutputCallback {
    /// The same on all channels; silence where nothing waits. Nothing here waits or allocates.
    fn speak<T: SizedSample + FromSample<f32>>(&mut self, out: &mut [T]) {
        self.ticks.tick(self.frames, now_s() + self.ahead_s);
        let forget = self.shared.forget.load(Ordering::Acquire);
        if self.played < forget {
            let stale = self.ring.slots().min((forget - self.played) as usize);
            if let Ok(chunk) = self.ring.read_chunk(stale) {
                chunk.commit_all();
                self.played += stale as u64;
            }
        }
        if self.ring.slots() > 0 {
            let silent = self.frames as i64 - self.played as i64;
            self.shared.silent.store(silent, Ordering::Release);
        }
        for frame in out.chunks_mut(self.channels) {
            self.frames += 1;
            let sample = self.ring.pop().ok();
            self.played += u64::from(sample.is_some());
            frame.fill(sample.map_or(T::EQUILIBRIUM, T::from_sample));
        }
        self.shared.played.store(self.played, Ordering::Release);
    }
}

fn build<T: SizedSample + FromSample<f32> + Send + 'static>(
    device: &cpal::Device,
    config: StreamConfig,
    mut mouth: OutputCallback,
) -> Result<cpal::Stream, DeviceError> {
    let shared = mouth.shared.clone();
    device
        .build_output_stream(
            config,
            move |out: &mut [T], _: &cpal::OutputCallbackInfo| mouth.speak(out),
            move |error| {
                let harmless = [
                    ErrorKind::Xrun,
                    ErrorKind::DeviceChanged,
                    ErrorKind::RealtimeDenied,
                ];
                if !harmless.contains(&error.kind()) {
                    shared.gone.store(true, Ordering::Release);
                }
            },
            Some(OPENING),
        )
        .map_err(|e| told(Direction::Loudspeaker, &e))
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: u32 = 48_000;
    const BLOCK: usize = 960;

    /// A loudspeaker whose callback is called by hand.
    fn speaker() -> (Speaker, OutputCallback) {
        let shared = Arc::new(Shared::default());
        let (ring, consumer) = RingBuffer::new(RATE_HZ as usize);
        let mouth = OutputCallback {
            ahead_s: 0.0,
            ring: consumer,
            channels: 1,
            played: 0,
            frames: 0,
            ticks: Ticks::new(shared.clock.clone(), RATE_HZ),
            shared: shared.clone(),
        };
        let speaker = Speaker {
            stream: None,
            ring,
            shared,
            rate_hz: RATE_HZ,
            queued: 0,
            first: 0,
        };
        (speaker, mouth)
    }

    /// So many blocks are played; the frames that sounded, of these.
    fn played(mouth: &mut OutputCallback, blocks: usize) -> usize {
        let mut out = vec![0f32; BLOCK * blocks];
        out.chunks_mut(BLOCK).for_each(|block| mouth.speak(block));
        out.iter().filter(|sample| **sample != 0.0).count()
    }

    #[test]
    fn what_plays_began_with_the_frame_that_took_its_first_sample() {
        let (mut speaker, mut mouth) = speaker();
        assert_eq!(played(&mut mouth, 3), 0);
        assert_eq!(speaker.began_s(), None);
        speaker.queue(&[0.5; 1_500]);
        assert_eq!(speaker.began_s(), None, "it waits");
        assert_eq!(played(&mut mouth, 1), BLOCK);
        // More of the same changes nothing.
        speaker.queue(&[0.5; 500]);
        assert_eq!(played(&mut mouth, 2), 2_000 - BLOCK);
        let at_s = |frame: usize| speaker.shared.clock.at_s(frame as f64, RATE_HZ);
        assert_eq!(speaker.began_s(), at_s(3 * BLOCK));
        // Something else, which waits behind what is forgotten.
        speaker.queue(&[0.5; 5_000]);
        assert_eq!(played(&mut mouth, 1), BLOCK);
        speaker.stop();
        speaker.queue(&[0.5; 100]);
        assert_eq!(speaker.began_s(), None);
        assert_eq!(played(&mut mouth, 1), 100);
        let at_s = |frame: usize| speaker.shared.clock.at_s(frame as f64, RATE_HZ);
        assert_eq!(speaker.began_s(), at_s(7 * BLOCK));
    }
}
