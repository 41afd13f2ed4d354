//! The loudspeaker.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread;

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{ErrorKind, FromSample, SampleFormat, SizedSample, StreamConfig};
use rtrb::{Consumer, Producer, RingBuffer};

use super::host::{OPENING, Quiet, opened, told};
use super::live::{DeviceError, Kind, Sink};

/// Sound that can wait to be played, in seconds.
const RING_S: f64 = 10.0;
/// Length wished for blocks, in seconds.
const BLOCK_S: f64 = 0.02;

#[derive(Default)]
struct Shared {
    /// Samples up to this position of all that was queued are to be forgotten.
    forget: AtomicU64,
    gone: AtomicBool,
}

/// An open loudspeaker.
pub struct Speaker {
    stream: Option<cpal::Stream>,
    ring: Producer<f32>,
    shared: Arc<Shared>,
    rate_hz: u32,
    queued: u64,
}

impl Speaker {
    /// Opens the usual output.
    ///
    /// # Errors
    /// Any [`DeviceError`] but `NotBuilt`, `Unknown` and `Gone`.
    pub fn open() -> Result<Self, DeviceError> {
        let _quiet = Quiet::new();
        let none = DeviceError::None(Kind::Loudspeaker);
        let device = cpal::default_host()
            .default_output_device()
            .ok_or(none.clone())?;
        Self::on(&device)
    }

    fn on(device: &cpal::Device) -> Result<Self, DeviceError> {
        let usual = device
            .default_output_config()
            .map_err(|_| DeviceError::None(Kind::Loudspeaker))?;
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
        let mouth = Mouth {
            ring: consumer,
            channels: usize::from(config.channels).max(1),
            played: 0,
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
                kind: Kind::Loudspeaker,
                found: format!("samples of the form {other}"),
            }),
        }?;
        stream.play().map_err(|e| told(Kind::Loudspeaker, &e))?;
        Ok(Speaker {
            stream: Some(stream),
            ring,
            shared,
            rate_hz,
            queued: 0,
        })
    }
}

impl Sink for Speaker {
    fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    fn queue(&mut self, samples: &[f32]) -> usize {
        let room = self.ring.slots().min(samples.len());
        if let Ok(chunk) = self.ring.write_chunk_uninit(room) {
            chunk.fill_from_iter(samples[..room].iter().copied());
        }
        self.queued += room as u64;
        room
    }

    fn waiting(&self) -> usize {
        self.ring.buffer().capacity() - self.ring.slots()
    }

    fn stop(&mut self) {
        self.shared.forget.store(self.queued, Ordering::Release);
    }

    fn works(&self) -> bool {
        !self.shared.gone.load(Ordering::Acquire)
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
struct Mouth {
    ring: Consumer<f32>,
    channels: usize,
    played: u64,
    shared: Arc<Shared>,
}

impl Mouth {
    /// The same on all channels; silence where nothing waits. Nothing here waits or allocates.
    fn speak<T: SizedSample + FromSample<f32>>(&mut self, out: &mut [T]) {
        let forget = self.shared.forget.load(Ordering::Acquire);
        if self.played < forget {
            let stale = self.ring.slots().min((forget - self.played) as usize);
            if let Ok(chunk) = self.ring.read_chunk(stale) {
                chunk.commit_all();
                self.played += stale as u64;
            }
        }
        for frame in out.chunks_mut(self.channels) {
            let sample = self.ring.pop().ok();
            self.played += u64::from(sample.is_some());
            frame.fill(sample.map_or(T::EQUILIBRIUM, T::from_sample));
        }
    }
}

fn build<T: SizedSample + FromSample<f32> + Send + 'static>(
    device: &cpal::Device,
    config: StreamConfig,
    mut mouth: Mouth,
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
        .map_err(|e| told(Kind::Loudspeaker, &e))
}
