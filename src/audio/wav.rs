//! WAV files: headers as they really occur, and writing.
//!
//! Samples are decoded by the library, but the header is read here and handed on in its plainest
//! form: recorders that were cut off leave sizes of zero, long recordings come as RF64, writers
//! forget padding bytes, and headers may contradict themselves in ways that deserve a sentence.

use std::fs::File;
use std::io::{self, BufReader, Read, Seek, SeekFrom};
use std::path::Path;

use super::AudioError;
use crate::disk::{self, DiskError};

/// As many channels as WAVE_FORMAT_EXTENSIBLE has places for; the decoder takes no more.
const MAX_CHANNELS: u16 = 18;

// Format codes of the WAVE format chunk (Microsoft, mmreg.h).
const PCM: u16 = 1;
const FLOAT: u16 = 3;
const A_LAW: u16 = 6;
const MU_LAW: u16 = 7;
const EXTENSIBLE: u16 = 0xfffe;

/// A size that says "not known yet": a writer that cannot go back leaves it so.
const UNKNOWN: u32 = u32::MAX;

/// Where the samples of a WAV file lie, and what they are.
#[derive(Debug, PartialEq)]
pub(super) struct Layout {
    format: Format,
    data_start: u64,
    /// Whole frames that are there.
    pub(super) frames: u64,
    /// Whole frames that the header promises beyond those.
    pub(super) missing_frames: u64,
    /// The recorder never wrote the sizes: it was cut off, though nothing says by how much.
    pub(super) unfinished: bool,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Format {
    code: u16,
    channels: u16,
    rate_hz: u32,
    bytes_per_sample: u16,
}

impl Format {
    fn frame_bytes(self) -> u16 {
        self.channels * self.bytes_per_sample
    }
}

impl Layout {
    /// Reads the header of `file`, which is `length` bytes long.
    ///
    /// # Errors
    /// [`AudioError::Damaged`] for a header that contradicts itself or ends before the samples,
    /// [`AudioError::Unsupported`] for compressed samples and more than 18 channels,
    /// [`AudioError::Io`] when reading fails.
    pub(super) fn read(file: &mut File, length: u64, path: &Path) -> Result<Self, AudioError> {
        let mut chunks = Chunks {
            file: BufReader::new(file),
            length,
            next: 12,
        };
        let riff_end = match chunks.read_at::<4>(4) {
            Ok(size) => u64::from(u32::from_le_bytes(size)) + 8,
            Err(error) => return Err(AudioError::reading(path, error)),
        };
        let mut format = None;
        let mut long_data_bytes = None;
        let fault = |error: io::Error| match error.kind() {
            io::ErrorKind::UnexpectedEof => {
                AudioError::damaged(path, "it ends before the first sample")
            }
            _ => AudioError::reading(path, error),
        };
        loop {
            let chunk = chunks.next().map_err(fault)?;
            match &chunk.id {
                b"fmt " => format = Some(chunks.format(&chunk, path, fault)?),
                b"ds64" => {
                    let size = chunks.read_at::<8>(chunk.start + 8).map_err(fault)?;
                    long_data_bytes = Some(u64::from_le_bytes(size));
                }
                b"data" => {
                    let Some(format) = format else {
                        return Err(AudioError::damaged(
                            path,
                            "its samples come before the description of their format",
                        ));
                    };
                    let there = length - chunk.start;
                    let never_sized = chunk.bytes == 0 && there > 0 && riff_end <= chunk.start;
                    let promised = match chunk.bytes {
                        UNKNOWN => long_data_bytes.unwrap_or(there),
                        0 if never_sized => there,
                        bytes => u64::from(bytes),
                    };
                    let frame_bytes = u64::from(format.frame_bytes());
                    let frames = promised.min(there) / frame_bytes;
                    return Ok(Self {
                        format,
                        data_start: chunk.start,
                        frames,
                        missing_frames: promised / frame_bytes - frames,
                        unfinished: never_sized,
                    });
                }
                _ => {}
            }
        }
    }

    pub(super) fn rate_hz(&self) -> u32 {
        self.format.rate_hz
    }

    /// The same samples behind a header without surprises.
    pub(super) fn canonical(&self, mut file: File) -> io::Result<impl Read + Send + Sync + use<>> {
        file.seek(SeekFrom::Start(self.data_start))?;
        let Format {
            code,
            channels,
            rate_hz,
            bytes_per_sample,
        } = self.format;
        let frame_bytes = self.format.frame_bytes();
        let data_bytes = self.frames * u64::from(frame_bytes);
        let mut header = b"RIFF\xff\xff\xff\xffWAVEfmt \x12\0\0\0".to_vec();
        for word in [code, channels] {
            header.extend_from_slice(&word.to_le_bytes());
        }
        header.extend_from_slice(&rate_hz.to_le_bytes());
        header.extend_from_slice(&rate_hz.saturating_mul(frame_bytes.into()).to_le_bytes());
        for word in [frame_bytes, bytes_per_sample * 8, 0] {
            header.extend_from_slice(&word.to_le_bytes());
        }
        header.extend_from_slice(b"data");
        let size = u32::try_from(data_bytes).unwrap_or(UNKNOWN);
        header.extend_from_slice(&size.to_le_bytes());
        Ok(io::Cursor::new(header).chain(file.take(data_bytes)))
    }
}

struct Chunk {
    id: [u8; 4],
    start: u64,
    bytes: u32,
}

struct Chunks<'f> {
    file: BufReader<&'f mut File>,
    length: u64,
    next: u64,
}

impl Chunks<'_> {
    fn read_at<const N: usize>(&mut self, offset: u64) -> io::Result<[u8; N]> {
        let here = self.file.stream_position()?;
        // Relative, so that the buffer survives.
        self.file.seek_relative(offset as i64 - here as i64)?;
        let mut bytes = [0; N];
        self.file.read_exact(&mut bytes)?;
        Ok(bytes)
    }

    fn next(&mut self) -> io::Result<Chunk> {
        let head = self.read_at::<8>(self.next)?;
        let [i, d, e, n, size @ ..] = head;
        let chunk = Chunk {
            id: [i, d, e, n],
            start: self.next + 8,
            bytes: u32::from_le_bytes(size),
        };
        self.next = chunk.start + u64::from(chunk.bytes);
        // Chunks of odd size are followed by a zero, which some writers forget.
        if chunk.bytes % 2 == 1 && self.next < self.length && self.read_at::<1>(self.next)? == [0] {
            self.next += 1;
        }
        Ok(chunk)
    }

    fn format(
        &mut self,
        chunk: &Chunk,
        path: &Path,
        fault: impl Fn(io::Error) -> AudioError,
    ) -> Result<Format, AudioError> {
        let damaged = |what: String| Err(AudioError::damaged(path, what));
        if chunk.bytes < 16 {
            return damaged(format!(
                "the description of its format has {} bytes, expected 16 or more",
                chunk.bytes
            ));
        }
        let bytes = self.read_at::<16>(chunk.start).map_err(&fault)?;
        let word = |at: usize| u16::from_le_bytes([bytes[at], bytes[at + 1]]);
        let rate_hz = u32::from_le_bytes([bytes[4], bytes[5], bytes[6], bytes[7]]);
        let (mut code, channels, block_bytes, bits) = (word(0), word(2), word(12), word(14));
        if code == EXTENSIBLE && chunk.bytes >= 40 {
            // The first two bytes of the sub-format's identifier are its code.
            code = u16::from_le_bytes(self.read_at::<2>(chunk.start + 24).map_err(&fault)?);
        }
        if channels == 0 {
            return damaged("its header says 0 channels".to_owned());
        }
        if channels > MAX_CHANNELS {
            return Err(AudioError::unsupported(
                path,
                format!("a WAV file with {channels} channels (1 to {MAX_CHANNELS} are)"),
            ));
        }
        // Fewer bits than the container holds stand at its upper end, so only the container counts.
        let container = bits.div_ceil(8).max(block_bytes / channels);
        let bytes_per_sample = match (code, bits) {
            (PCM, 1..=32) => container.min(4),
            (FLOAT, 32 | 64) => bits / 8,
            (A_LAW | MU_LAW, 8) => 1,
            (PCM | FLOAT | A_LAW | MU_LAW, _) => {
                return damaged(format!("its header says {bits} bits a sample"));
            }
            _ => {
                return Err(AudioError::unsupported(
                    path,
                    format!("a WAV file with compressed samples (format {code:#06x})"),
                ));
            }
        };
        Ok(Format {
            code,
            channels,
            rate_hz,
            bytes_per_sample,
        })
    }
}

/// Writes mono samples (full scale ±1) as a WAV file of 32-bit floats: what is read back is equal
/// to the bit. An existing file is replaced by the whole new one.
///
/// # Errors
/// [`DiskError::Unwritable`] when the file cannot be created or written, or would exceed 4 GB; an existing
/// file is then as it was.
pub fn write_wav(path: &Path, rate_hz: u32, samples: &[f32]) -> Result<(), DiskError> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: rate_hz,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    disk::write(path, |out| {
        let write = || {
            let mut writer = hound::WavWriter::new(out, spec)?;
            for &sample in samples {
                writer.write_sample(sample)?;
            }
            writer.finalize()
        };
        write().map_err(|error: hound::Error| match error {
            hound::Error::IoError(why) => why,
            other => io::Error::other(other),
        })
    })
}
