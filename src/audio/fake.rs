//! A sound card that is not there: plays samples into the microphone's callback, in any form, and fails
//! as real ones do.

use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use cpal::traits::{DeviceTrait, StreamTrait};
use cpal::{
    Data, DeviceDescription, DeviceDescriptionBuilder, DeviceId, Error, ErrorKind, FrameCount,
    InputCallbackInfo, InputStreamTimestamp, OutputCallbackInfo, SampleFormat, StreamConfig,
    StreamInstant, SupportedBufferSize, SupportedStreamConfig, SupportedStreamConfigRange,
};

use super::capture::{Microphone, RING_S};
use super::device::{Came, DeviceError, Direction, Source};

/// What happens when the samples are through.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum End {
    /// Not a word: as when a sound server dies.
    Silence,
    /// The device says so.
    Reports(ErrorKind),
}

#[derive(Clone, Debug, PartialEq, Eq, Hash)]
struct Fake {
    rate_hz: u32,
    channels: u16,
    format: SampleFormat,
    /// Interleaved samples as the device has them, in its own form, as bytes.
    bytes: Vec<u8>,
    /// Frames of one callback after another, over and over.
    blocks: Vec<usize>,
    /// Halts once after so many frames, for so long.
    halts: Option<(usize, Duration)>,
    /// Refuses to be asked for a block length.
    picky: bool,
    /// Refuses altogether.
    refuses: Option<ErrorKind>,
    end: End,
}

impl Fake {
    fn new(rate_hz: u32, channels: u16, format: SampleFormat, bytes: Vec<u8>) -> Self {
        Fake {
            rate_hz,
            channels,
            format,
            bytes,
            blocks: vec![341, 512, 7],
            halts: None,
            picky: false,
            refuses: None,
            end: End::Silence,
        }
    }

    fn floats(rate_hz: u32, channels: u16, samples: &[f32]) -> Self {
        let bytes = samples.iter().flat_map(|s| s.to_ne_bytes()).collect();
        Self::new(rate_hz, channels, SampleFormat::F32, bytes)
    }

    fn open(self) -> Result<Microphone, DeviceError> {
        let device = cpal::platform::CustomDevice::from_device(self);
        Microphone::on(&device.into())
    }
}

impl fmt::Display for Fake {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("fake")
    }
}

struct FakeStream {
    plays: Arc<AtomicBool>,
}

impl StreamTrait for FakeStream {
    fn play(&self) -> Result<(), Error> {
        self.plays.store(true, Ordering::Release);
        Ok(())
    }
    fn pause(&self) -> Result<(), Error> {
        Ok(())
    }
    fn now(&self) -> StreamInstant {
        StreamInstant::new(0, 0)
    }
    fn buffer_size(&self) -> Result<FrameCount, Error> {
        Err(ErrorKind::UnsupportedOperation.into())
    }
}

impl DeviceTrait for Fake {
    type SupportedInputConfigs = std::iter::Empty<SupportedStreamConfigRange>;
    type SupportedOutputConfigs = std::iter::Empty<SupportedStreamConfigRange>;
    type Stream = FakeStream;

    fn description(&self) -> Result<DeviceDescription, Error> {
        Ok(DeviceDescriptionBuilder::new("fake").build())
    }
    fn id(&self) -> Result<DeviceId, Error> {
        Err(ErrorKind::UnsupportedOperation.into())
    }
    fn supported_input_configs(&self) -> Result<Self::SupportedInputConfigs, Error> {
        Ok(std::iter::empty())
    }
    fn supported_output_configs(&self) -> Result<Self::SupportedOutputConfigs, Error> {
        Ok(std::iter::empty())
    }
    fn default_input_config(&self) -> Result<SupportedStreamConfig, Error> {
        match self.refuses {
            Some(kind) => Err(kind.into()),
            None => Ok(SupportedStreamConfig::new(
                self.channels,
                self.rate_hz,
                SupportedBufferSize::Unknown,
                self.format,
            )),
        }
    }
    fn default_output_config(&self) -> Result<SupportedStreamConfig, Error> {
        Err(ErrorKind::UnsupportedOperation.into())
    }

    fn build_input_stream_raw<D, E>(
        &self,
        config: StreamConfig,
        format: SampleFormat,
        mut data_callback: D,
        mut error_callback: E,
        _timeout: Option<Duration>,
    ) -> Result<Self::Stream, Error>
    where
        D: FnMut(&Data, &InputCallbackInfo) + Send + 'static,
        E: FnMut(Error) + Send + 'static,
    {
        if self.picky && config.buffer_size != cpal::BufferSize::Default {
            return Err(ErrorKind::UnsupportedConfig.into());
        }
        let plays = Arc::new(AtomicBool::new(false));
        let started = plays.clone();
        let mut fake = self.clone();
        thread::spawn(move || {
            while !started.load(Ordering::Acquire) {
                thread::sleep(Duration::from_millis(1));
            }
            let frame = usize::from(fake.channels) * format.sample_size();
            let mut rest = &fake.bytes[..];
            for frames in fake.blocks.clone().into_iter().cycle() {
                let (now, later) = rest.split_at(rest.len().min(frames * frame));
                if now.is_empty() {
                    break;
                }
                rest = later;
                let given = (fake.bytes.len() - rest.len()) / frame;
                if let Some((_, halt)) = fake.halts.take_if(|(after, _)| given > *after) {
                    thread::sleep(halt);
                }
                let count = now.len() / format.sample_size();
                // Vec<u8> need not be aligned as samples are.
                let mut aligned = vec![0u64; now.len().div_ceil(8)];
                let pointer = aligned.as_mut_ptr().cast::<u8>();
                // SAFETY: `aligned` holds at least as many bytes as `now`, and `count` whole samples
                // of that form; it outlives the callback.
                let data = unsafe {
                    std::ptr::copy_nonoverlapping(now.as_ptr(), pointer, now.len());
                    Data::from_parts(pointer.cast(), count, format)
                };
                let instant = StreamInstant::new(0, 0);
                let timestamp = InputStreamTimestamp {
                    callback: instant,
                    capture: instant,
                };
                data_callback(&data, &InputCallbackInfo::new(timestamp));
            }
            if let End::Reports(kind) = fake.end {
                error_callback(kind.into());
            }
        });
        Ok(FakeStream { plays })
    }

    fn build_output_stream_raw<D, E>(
        &self,
        _config: StreamConfig,
        _format: SampleFormat,
        _data_callback: D,
        _error_callback: E,
        _timeout: Option<Duration>,
    ) -> Result<Self::Stream, Error>
    where
        D: FnMut(&mut Data, &OutputCallbackInfo) + Send + 'static,
        E: FnMut(Error) + Send + 'static,
    {
        Err(ErrorKind::UnsupportedOperation.into())
    }
}

/// Everything until the microphone fails: samples, frames lost, why it ended.
fn heard(mut microphone: Microphone) -> (Vec<f32>, u64, DeviceError) {
    let (mut all, mut lost, mut block) = (Vec::new(), 0, Vec::new());
    loop {
        match microphone.read(&mut block) {
            Ok(Came::Sound) => all.extend_from_slice(&block),
            Ok(Came::Lost(frames)) => lost += frames,
            Ok(Came::End) => unreachable!("a microphone does not end"),
            Err(error) => return (all, lost, error),
        }
    }
}

fn ramp(length: usize) -> Vec<f32> {
    (0..length)
        .map(|i| (i % 1000) as f32 / 1000.0 - 0.5)
        .collect()
}

#[test]
fn samples_arrive_whole_and_in_order_whatever_the_length_of_blocks() {
    let samples = ramp(30_000);
    for blocks in [vec![480], vec![1], vec![341, 512, 7], vec![10_000]] {
        let mut fake = Fake::floats(48_000, 1, &samples);
        fake.blocks = blocks;
        fake.picky = true;
        let (all, lost, error) = heard(fake.open().unwrap());
        assert_eq!((all == samples, lost), (true, 0));
        assert_eq!(error, DeviceError::Gone(Direction::Microphone));
    }
}

#[test]
fn integers_become_fractions_of_full_scale() {
    let values = [0.0f32, 0.5, -0.5, 0.25, -1.0];
    let of = |bytes: Vec<u8>, format| {
        let fake = Fake::new(44_100, 1, format, bytes);
        heard(fake.open().unwrap()).0
    };
    let shorts = values.map(|v| (v * 32_768.0) as i16);
    let longs = values.map(|v| (f64::from(v) * 2_147_483_648.0) as i32);
    let short = shorts.iter().flat_map(|v| v.to_ne_bytes()).collect();
    let long = longs.iter().flat_map(|v| v.to_ne_bytes()).collect();
    assert_eq!(of(short, SampleFormat::I16), values);
    assert_eq!(of(long, SampleFormat::I32), values);
}

#[test]
fn of_several_channels_the_loudest_is_heard() {
    let frames: Vec<f32> = ramp(40_000)
        .iter()
        .flat_map(|s| [0.0, s * 0.01, *s, 0.0])
        .collect();
    let (all, lost, _) = heard(Fake::floats(48_000, 4, &frames).open().unwrap());
    assert_eq!((all.len(), lost), (40_000, 0));
    // The first block decides.
    assert_eq!(all[1_000..], ramp(40_000)[1_000..]);
}

#[test]
fn a_fast_device_is_brought_down_to_a_rate_that_files_have() {
    let microphone = Fake::floats(96_000, 1, &[0.1; 96_000]).open().unwrap();
    assert_eq!(microphone.rate_hz(), 48_000);
    let (all, ..) = heard(microphone);
    // What is still in the filter does not come.
    assert!((43_000..=48_000).contains(&all.len()), "{}", all.len());
    assert!((all[20_000] - 0.1).abs() < 1e-3);
}

#[test]
fn what_finds_the_ring_full_is_told_after_what_it_held() {
    let held = (RING_S * 48_000.0) as usize;
    let samples = ramp(held + 48_000);
    let mut fake = Fake::floats(48_000, 1, &samples);
    fake.blocks = vec![1_000];
    let mut microphone = fake.open().unwrap();
    // Nobody reads for a while.
    thread::sleep(Duration::from_millis(1_500));
    let mut block = Vec::new();
    assert_eq!(microphone.read(&mut block), Ok(Came::Sound));
    assert!(block == samples[..held]);
    assert_eq!(microphone.read(&mut block), Ok(Came::Lost(48_000)));
    let (rest, lost, _) = heard(microphone);
    assert_eq!((rest.len(), lost), (0, 0));
}

#[test]
fn dropped_sound_unplugging_and_refusal_are_told_apart() {
    let end = |kind| {
        let mut fake = Fake::floats(48_000, 1, &ramp(4_800));
        fake.end = End::Reports(kind);
        let (_, lost, error) = heard(fake.open().unwrap());
        (lost > 0, error)
    };
    let gone = DeviceError::Gone(Direction::Microphone);
    let refused = DeviceError::Refused(Direction::Microphone);
    assert_eq!(end(ErrorKind::DeviceNotAvailable), (false, gone.clone()));
    assert_eq!(end(ErrorKind::StreamInvalidated), (false, gone.clone()));
    assert_eq!(end(ErrorKind::PermissionDenied), (false, refused.clone()));
    assert_eq!(end(ErrorKind::Xrun), (true, gone));
    for (kind, error) in [
        (ErrorKind::PermissionDenied, refused),
        (
            ErrorKind::DeviceBusy,
            DeviceError::Busy(Direction::Microphone),
        ),
        (
            ErrorKind::DeviceNotAvailable,
            DeviceError::None(Direction::Microphone),
        ),
    ] {
        let mut fake = Fake::floats(48_000, 1, &[]);
        fake.refuses = Some(kind);
        assert_eq!(fake.open().err(), Some(error));
    }
}

#[test]
fn a_computer_that_stood_still_is_no_unplugged_microphone() {
    let samples = ramp(48_000);
    let mut fake = Fake::floats(48_000, 1, &samples);
    fake.halts = Some((4_800, Duration::from_millis(1_200)));
    let mut microphone = fake.open().unwrap();
    let (mut block, mut all) = (Vec::new(), Vec::new());
    while all.len() < 4_000 {
        assert_eq!(microphone.read(&mut block), Ok(Came::Sound));
        all.extend_from_slice(&block);
    }
    // Neither the reader nor the device runs for a second.
    thread::sleep(Duration::from_millis(1_000));
    let (rest, lost, error) = heard(microphone);
    all.extend(rest);
    assert!(all == samples);
    assert_eq!((lost, error), (0, DeviceError::Gone(Direction::Microphone)));
}

#[test]
fn a_rate_or_a_form_of_samples_that_is_not_known_is_named() {
    let of = |fake: Fake| fake.open().err().map(|e| e.to_string());
    let slow = of(Fake::floats(4_000, 1, &[])).unwrap();
    assert!(slow.contains("4000 samples a second"), "{slow}");
    let odd = of(Fake::new(48_000, 1, SampleFormat::DsdU8, Vec::new())).unwrap();
    assert!(odd.contains("samples of the form"), "{odd}");
}
