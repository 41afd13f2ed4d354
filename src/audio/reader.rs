use std::path::Path;
use std::sync::Arc;

use super::decode::Decoder;
use super::health::Examiner;
use super::mix::Mixer;
use super::rate::check_rate;
use super::resample::Downsampler;
use super::{AudioError, Health};

/// Frames in every block but the last: 85 ms at 48 kHz.
pub const BLOCK_FRAMES: usize = 4096;

/// A recording, block by block, as mono samples. Memory use does not depend on its length: at most
/// one packet, one second of all channels and one second of mono are held, in memory that is used
/// again for every block.
///
/// ```no_run
/// # fn main() -> Result<(), ringtrue::audio::AudioError> {
/// let mut reader = ringtrue::audio::Reader::open("take.m4a".as_ref())?;
/// let mut block = Vec::new();
/// let mut loudest = 0.0f32;
/// while reader.read(&mut block)? {
///     loudest = block.iter().fold(loudest, |peak, x| peak.max(x.abs()));
/// }
/// println!("{} samples a second, peak {loudest}", reader.rate_hz());
/// # Ok(())
/// # }
/// ```
pub struct Reader {
    decoder: Decoder,
    examiner: Examiner,
    mixer: Mixer,
    downsampler: Option<Downsampler>,
    rate_hz: u32,
    packet: Vec<f32>,
    mixed: Vec<f32>,
    ready: Vec<f32>,
    /// How much of `ready` has been given out.
    given: usize,
    ended: bool,
}

impl Reader {
    /// Opens a recording. The kind of file is told from its content, not from its name.
    ///
    /// # Errors
    /// [`AudioError::Missing`], [`AudioError::Folder`], [`AudioError::Io`]: no such file, a folder,
    /// or no access. [`AudioError::Empty`], [`AudioError::NoSound`]: no bytes, no samples.
    /// [`AudioError::NotAudio`], [`AudioError::Unsupported`], [`AudioError::Damaged`]: what is in
    /// it is no sound, a kind of sound that is not read, or broken before the first sound.
    /// [`AudioError::Rate`]: under 8 or over 192 kHz.
    pub fn open(path: &Path) -> Result<Self, AudioError> {
        Self::of(path, Decoder::open(path)?)
    }

    /// Opens a recording whose file is in memory, where there is no file system; `name` is what errors call it.
    ///
    /// # Errors
    /// As [`Reader::open`], but what comes from the disk.
    pub fn from_bytes(name: &Path, bytes: Arc<[u8]>) -> Result<Self, AudioError> {
        Self::of(name, Decoder::of_bytes(name, bytes)?)
    }

    fn of(path: &Path, decoder: Decoder) -> Result<Self, AudioError> {
        check_rate(path, decoder.rate_hz)?;
        let (file_hz, channels) = (decoder.rate_hz, decoder.channels);
        let (rate_hz, downsampler) = Downsampler::given_at(file_hz);
        Ok(Self {
            examiner: Examiner::new(channels),
            mixer: Mixer::new(channels, file_hz),
            downsampler,
            rate_hz,
            packet: Vec::new(),
            mixed: Vec::new(),
            ready: Vec::new(),
            given: 0,
            ended: false,
            decoder,
        })
    }

    /// Samples a second of what [`read`](Self::read) gives, Hz; the file's own up to 50 kHz.
    pub fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    /// Samples a second as the file states them, Hz.
    pub fn file_rate_hz(&self) -> u32 {
        self.decoder.rate_hz
    }

    /// Length in seconds as the file states it, where it does; a damaged header may claim anything,
    /// so this is for progress, not for reserving memory.
    pub fn duration_s(&self) -> Option<f64> {
        Some(self.decoder.promised_frames()? / f64::from(self.decoder.rate_hz))
    }

    /// Channels of the file.
    pub fn channels(&self) -> usize {
        self.decoder.channels
    }

    /// Gives what is known of the recording's state so far; complete after the last block.
    pub fn health(&self) -> Health {
        Health {
            lost_frames: self.decoder.lost_frames,
            cut_off: self.decoder.cut_off,
            ..self.examiner.health.clone()
        }
    }

    /// Replaces `block` by the next [`BLOCK_FRAMES`] mono samples, fewer only at the end; false,
    /// with an empty block, after it. A file that breaks off gives what is there and says so in
    /// [`health`](Self::health).
    ///
    /// # Errors
    /// [`AudioError::Io`] when the disk fails.
    pub fn read(&mut self, block: &mut Vec<f32>) -> Result<bool, AudioError> {
        block.clear();
        while !self.ended && self.ready.len() - self.given < BLOCK_FRAMES {
            self.ready.drain(..self.given);
            self.given = 0;
            self.fill()?;
        }
        let end = self.ready.len().min(self.given + BLOCK_FRAMES);
        block.extend_from_slice(&self.ready[self.given..end]);
        self.given = end;
        Ok(!block.is_empty())
    }

    /// Takes one packet through examination, mixing and resampling.
    fn fill(&mut self) -> Result<(), AudioError> {
        self.ended = !self.decoder.next(&mut self.packet)?;
        let mixed = match self.downsampler {
            Some(_) => &mut self.mixed,
            None => &mut self.ready,
        };
        if self.ended {
            self.mixer.finish(mixed);
        } else {
            self.examiner.examine(&mut self.packet);
            self.mixer.push(&self.packet, mixed);
        }
        if let Some(downsampler) = &mut self.downsampler {
            downsampler.push(&self.mixed, &mut self.ready);
            self.mixed.clear();
            if self.ended {
                downsampler.finish(&mut self.ready);
            }
        }
        Ok(())
    }
}

/// A whole recording in memory.
#[derive(Clone, Debug)]
pub struct Recording {
    /// Samples a second, Hz.
    pub rate_hz: u32,
    /// Mono, full scale ±1.
    pub samples: Vec<f32>,
    /// Findings of the reading about the file.
    pub health: Health,
}

/// Reads a whole recording of at most `limit_s` seconds.
///
/// # Errors
/// As [`Reader::open`] and [`Reader::read`]; [`AudioError::TooLong`] as soon as the limit is passed.
pub fn read_all(path: &Path, limit_s: f64) -> Result<Recording, AudioError> {
    let mut reader = Reader::open(path)?;
    let most = (limit_s * f64::from(reader.rate_hz())) as usize;
    let (mut samples, mut block) = (Vec::new(), Vec::new());
    while reader.read(&mut block)? {
        if samples.len() + block.len() > most {
            let path = path.to_owned();
            return Err(AudioError::TooLong { path, limit_s });
        }
        samples.extend_from_slice(&block);
    }
    Ok(Recording {
        rate_hz: reader.rate_hz(),
        samples,
        health: reader.health(),
    })
}
