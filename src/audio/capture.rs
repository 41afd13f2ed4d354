//! The microphone. This file, `playback` and `host` alone name the library that reaches the sound system.
//!
//! The callback picks the loudest channel, pushes into a ring and counts what finds it full; nothing in it waits or
//! allocates. Blocks are 60 ms: PulseAudio keeps one and drops what comes while it is busy. What a sound server
//! drops before it reaches the program is not seen.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU8, AtomicU64, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{ErrorKind, FromSample, Sample, SampleFormat, SizedSample, StreamConfig};
use rtrb::{Consumer, Producer, RingBuffer};

use super::clock::{Clock, Ticks, now_s};
use super::device::{Came, Device, DeviceError, Direction, Source};
use super::host::{OPENING, QuietAlsa, host, opened, told};
use super::resample::Downsampler;
use super::{MAX_RATE_HZ, MIN_RATE_HZ};
use crate::words;

/// Sound that the ring holds while the program is busy, in seconds. Two were too few on a computer
/// with ten times more to do than it could: a late verdict is better than a lost one.
pub(super) const RING_S: f64 = 8.0;
/// Length wished for blocks, in seconds. Devices give what they like. PulseAudio keeps no more than one while it is busy
/// and drops the rest: of 30 ms some was lost every few seconds on a computer with ten times more to do than it could.
const BLOCK_S: f64 = 0.06;
/// A microphone that gives no frame while it is waited for this long is gone; sound servers die
/// without a word.
const WATCHDOG: Duration = Duration::from_millis(800);
/// The first frames may take longer: some devices power up.
const FIRST_FRAMES: Duration = Duration::from_secs(3);
/// How long [`Source::read`] sleeps at a time, and at most, while nothing comes.
const NAP: Duration = Duration::from_millis(10);
const MOST_NAPS: u32 = 2;
/// A nap counts as waiting for this long at most: who is woken later is on a computer with more to do
/// than it can, which holds the sound up as well.
const LONGEST_NAP: Duration = Duration::from_millis(20);
/// Most channels of a device that are told apart.
const MOST_CHANNELS: usize = 32;
/// Another channel is listened to once it has been this much louder, in power (6 dB) ...
const LOUDER: f32 = 4.0;
/// ... averaged over about this many seconds.
const LOUDNESS_S: f32 = 0.5;
/// What the device reports as dropped without saying how much counts as this long, in seconds.
const UNTOLD_LOSS_S: f64 = 0.02;

/// The names of the inputs, the usual one first.
pub fn inputs() -> Result<Vec<Device>, DeviceError> {
    let _quiet = QuietAlsa::new();
    let host = host();
    let usual = host.default_input_device().map(|d| d.to_string());
    let mut devices: Vec<Device> = host
        .input_devices()
        .map_err(|e| told(Direction::Microphone, &e))?
        .map(|d| d.to_string())
        .map(|name| Device {
            usual: usual.as_deref() == Some(&name),
            name,
        })
        .collect();
    devices.sort_by_key(|d| !d.usual);
    if devices.is_empty() {
        return Err(DeviceError::None(Direction::Microphone));
    }
    Ok(devices)
}

/// What callbacks leave for the reader. Atomics only: a callback may neither wait nor allocate.
#[derive(Default)]
struct Shared {
    /// Frames that found the ring full.
    lost: AtomicU64,
    /// Times that the device said it dropped something.
    dropped: AtomicU64,
    /// The last error's kind, as `code` gives it; 0: none.
    error: AtomicU8,
    started: AtomicBool,
    /// When a frame was given to us.
    clock: Arc<Clock>,
}

/// An open microphone: mono samples of one channel, the loudest where there are several (a mean
/// would cancel partials that reach two microphones at different times).
pub struct Microphone {
    stream: Option<cpal::Stream>,
    ring: Consumer<f32>,
    shared: Arc<Shared>,
    device_hz: u32,
    rate_hz: u32,
    downsampler: Option<Downsampler>,
    raw: Vec<f32>,
    /// Frames taken from the ring or told as lost.
    taken: u64,
    /// Frames lost that are still to be told, at the device's rate.
    lost: u64,
    /// How many of those the callback was given.
    overflown: u64,
    lost_told: u64,
    dropped_told: u64,
    /// How long it has been waited for frames.
    waited: Duration,
}

impl Microphone {
    /// Opens the input of that name, or the usual one, and starts it.
    ///
    /// # Errors
    /// Any [`DeviceError`] but `NotBuilt` and `Gone`.
    pub fn open(name: Option<&str>) -> Result<Self, DeviceError> {
        let _quiet = QuietAlsa::new();
        let host = host();
        let none = DeviceError::None(Direction::Microphone);
        let device = match name {
            None => host.default_input_device().ok_or(none)?,
            Some(wanted) => {
                let devices: Vec<cpal::Device> = host
                    .input_devices()
                    .map_err(|e| told(Direction::Microphone, &e))?
                    .collect();
                let names: Vec<String> = devices.iter().map(ToString::to_string).collect();
                let at = chosen(&names, wanted)?;
                devices.into_iter().nth(at).ok_or(none)?
            }
        };
        Self::on(&device)
    }

    /// Listens to this device.
    pub(super) fn on(device: &cpal::Device) -> Result<Self, DeviceError> {
        let unsupported = |found: String| DeviceError::Unsupported {
            kind: Direction::Microphone,
            found,
        };
        // A computer without any sound hardware may still name a default device: this is where it
        // turns out.
        let usual = device.default_input_config().map_err(|e| match e.kind() {
            ErrorKind::PermissionDenied => DeviceError::Refused(Direction::Microphone),
            ErrorKind::DeviceBusy => DeviceError::Busy(Direction::Microphone),
            _ => DeviceError::None(Direction::Microphone),
        })?;
        let device_hz = usual.sample_rate();
        if !(MIN_RATE_HZ..=MAX_RATE_HZ).contains(&device_hz) {
            return Err(unsupported(words::devices::samples_a_second(device_hz)));
        }
        let channels = usize::from(usual.channels());
        if channels == 0 || channels > MOST_CHANNELS {
            return Err(unsupported(words::devices::channels(channels)));
        }
        opened(&usual, BLOCK_S, |config| {
            Self::started(device, config, usual.sample_format())
        })
    }

    fn started(
        device: &cpal::Device,
        config: StreamConfig,
        format: SampleFormat,
    ) -> Result<Self, DeviceError> {
        let device_hz = config.sample_rate;
        let shared = Arc::new(Shared::default());
        let (producer, ring) = RingBuffer::new((RING_S * f64::from(device_hz)) as usize);
        let ear = InputCallback {
            ring: producer,
            channels: usize::from(config.channels),
            energies: [0.0; MOST_CHANNELS],
            heard: 0,
            frames: 0,
            ticks: Ticks::new(shared.clock.clone(), device_hz),
            memory: 1.0 / (LOUDNESS_S * device_hz as f32),
            shared: shared.clone(),
        };
        let stream = match format {
            SampleFormat::F32 => build::<f32>(device, config, ear),
            SampleFormat::F64 => build::<f64>(device, config, ear),
            SampleFormat::I32 => build::<i32>(device, config, ear),
            SampleFormat::I24 => build::<cpal::I24>(device, config, ear),
            SampleFormat::I16 => build::<i16>(device, config, ear),
            SampleFormat::I8 => build::<i8>(device, config, ear),
            SampleFormat::U16 => build::<u16>(device, config, ear),
            SampleFormat::U8 => build::<u8>(device, config, ear),
            other => Err(DeviceError::Unsupported {
                kind: Direction::Microphone,
                found: words::devices::samples_of_form(other),
            }),
        }?;
        // Streams start paused.
        stream.play().map_err(|e| told(Direction::Microphone, &e))?;
        let (rate_hz, downsampler) = Downsampler::given_at(device_hz);
        Ok(Microphone {
            stream: Some(stream),
            ring,
            shared,
            device_hz,
            rate_hz,
            downsampler,
            raw: Vec::new(),
            taken: 0,
            lost: 0,
            overflown: 0,
            lost_told: 0,
            dropped_told: 0,
            waited: Duration::ZERO,
        })
    }

    /// Frames lost since the last call, at the device's rate.
    fn newly_lost(&mut self) -> u64 {
        let lost = self.shared.lost.load(Ordering::Acquire);
        let dropped = self.shared.dropped.load(Ordering::Acquire);
        let untold = (UNTOLD_LOSS_S * f64::from(self.device_hz)) as u64;
        self.overflown = lost - self.lost_told;
        let new = self.overflown + (dropped - self.dropped_told) * untold;
        (self.lost_told, self.dropped_told) = (lost, dropped);
        new
    }
}

impl Source for Microphone {
    fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    fn read(&mut self, block: &mut Vec<f32>) -> Result<Came, DeviceError> {
        block.clear();
        for _ in 0..MOST_NAPS {
            if self.lost > 0 {
                let rates = f64::from(self.rate_hz) / f64::from(self.device_hz);
                let lost = std::mem::take(&mut self.lost);
                self.taken += std::mem::take(&mut self.overflown);
                return Ok(Came::Lost((lost as f64 * rates) as u64));
            }
            // What was lost found the ring full: it comes after what the ring holds.
            let there = self.ring.slots();
            self.lost = self.newly_lost();
            if there > 0 {
                self.waited = Duration::ZERO;
                self.take(there, block);
                return Ok(Came::Sound);
            }
            if let Some(error) = self.error() {
                return Err(error);
            }
            let asleep = Instant::now();
            thread::sleep(NAP);
            self.waited += asleep.elapsed().min(LONGEST_NAP);
        }
        Ok(Came::Sound)
    }

    fn next_s(&self) -> Option<f64> {
        self.shared.clock.at_s(self.taken as f64, self.device_hz)
    }
}

impl Microphone {
    /// Moves samples from the ring to the block.
    fn take(&mut self, count: usize, block: &mut Vec<f32>) {
        let into = match self.downsampler {
            Some(_) => &mut self.raw,
            None => &mut *block,
        };
        into.clear();
        if let Ok(chunk) = self.ring.read_chunk(count) {
            let (one, two) = chunk.as_slices();
            into.extend_from_slice(one);
            into.extend_from_slice(two);
            self.taken += count as u64;
            chunk.commit_all();
        }
        if let Some(downsampler) = &mut self.downsampler {
            downsampler.push(&self.raw, block);
        }
    }

    /// Why no sound comes any more.
    fn error(&self) -> Option<DeviceError> {
        let kind = Direction::Microphone;
        let patience = match self.shared.started.load(Ordering::Acquire) {
            true => WATCHDOG,
            false => FIRST_FRAMES,
        };
        match self.shared.error.load(Ordering::Acquire) {
            REFUSED => Some(DeviceError::Refused(kind)),
            GONE => Some(DeviceError::Gone(kind)),
            _ if self.waited > patience => {
                log::warn!("no frame came while waiting for {patience:?}");
                Some(DeviceError::Gone(kind))
            }
            _ => None,
        }
    }
}

impl Drop for Microphone {
    fn drop(&mut self) {
        // Where the sound server has died, dropping the stream may block for ever.
        if let Some(stream) = self.stream.take() {
            thread::spawn(move || drop(stream));
        }
    }
}

/// What a callback owns.
struct InputCallback {
    ring: Producer<f32>,
    channels: usize,
    /// Smoothed power of each channel.
    energies: [f32; MOST_CHANNELS],
    /// The channel that is listened to.
    heard: usize,
    /// Frames given so far.
    frames: u64,
    ticks: Ticks,
    memory: f32,
    shared: Arc<Shared>,
}

impl InputCallback {
    /// One channel into the ring; what finds no place is counted. Nothing here waits or allocates.
    fn hear<T: SizedSample>(&mut self, samples: &[T])
    where
        f32: FromSample<T>,
    {
        let frames = samples.len() / self.channels;
        // They are given as soon as the last of them is there.
        self.frames += frames as u64;
        self.ticks.tick(self.frames, now_s());
        if self.channels > 1 {
            self.choose(samples);
        }
        let (heard, channels) = (self.heard, self.channels);
        let free = self.ring.slots().min(frames);
        if let Ok(chunk) = self.ring.write_chunk_uninit(free) {
            let frames = samples.chunks_exact(channels);
            chunk.fill_from_iter(frames.take(free).map(|f| f32::from_sample(f[heard])));
        }
        if free < frames {
            let lost = (frames - free) as u64;
            self.shared.lost.fetch_add(lost, Ordering::Release);
        }
        self.shared.started.store(true, Ordering::Release);
    }

    fn choose<T: SizedSample>(&mut self, samples: &[T])
    where
        f32: FromSample<T>,
    {
        for frame in samples.chunks_exact(self.channels) {
            for (energy, &sample) in self.energies.iter_mut().zip(frame) {
                let sample = f32::from_sample(sample);
                *energy += self.memory * (sample * sample - *energy);
            }
        }
        for channel in 0..self.channels {
            if self.energies[channel] > LOUDER * self.energies[self.heard] {
                self.heard = channel;
            }
        }
    }
}

fn build<T: SizedSample + Send + 'static>(
    device: &cpal::Device,
    config: StreamConfig,
    mut ear: InputCallback,
) -> Result<cpal::Stream, DeviceError>
where
    f32: FromSample<T>,
{
    let shared = ear.shared.clone();
    device
        .build_input_stream(
            config,
            move |samples: &[T], _: &cpal::InputCallbackInfo| ear.hear(samples),
            move |error| match error.kind() {
                ErrorKind::Xrun => {
                    shared.dropped.fetch_add(1, Ordering::Release);
                }
                ErrorKind::DeviceChanged | ErrorKind::RealtimeDenied => {}
                ErrorKind::PermissionDenied => shared.error.store(REFUSED, Ordering::Release),
                _ => {
                    log::warn!("the microphone's stream ends: {error}");
                    shared.error.store(GONE, Ordering::Release);
                }
            },
            Some(OPENING),
        )
        .map_err(|e| told(Direction::Microphone, &e))
}

// Errors that a running stream reports, as an atomic holds them.
const REFUSED: u8 = 1;
const GONE: u8 = 2;

/// Which of `names` is `wanted`: its number in the list, its name, or a part that no other has.
fn chosen(names: &[String], wanted: &str) -> Result<usize, DeviceError> {
    let lower = wanted.to_lowercase();
    let mut containing = (0..names.len()).filter(|&i| names[i].to_lowercase().contains(&lower));
    let exact = names.iter().position(|n| n.to_lowercase() == lower);
    match (exact, containing.next(), containing.next()) {
        (Some(at), ..) | (None, Some(at), None) => Ok(at),
        _ => Err(DeviceError::Unknown {
            kind: Direction::Microphone,
            wanted: wanted.to_owned(),
            known: names.to_vec(),
        }),
    }
}
