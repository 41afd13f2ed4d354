//! WAV files: headers as they really occur, and writing.
//!
//! Samples are decoded by the library, but the header is read here and handed on in its plainest
//! form: recorders that were cut off leave sizes of zero, long recordings come as RF64, writers
//! forget padding bytes, and headers may contradict themselves in ways that deserve a sentence.

use std::io::{self, BufReader, Cursor, Read, Seek, SeekFrom};
use std::path::Path;

use super::AudioError;
use crate::disk::{self, DiskError};
use crate::words;

/// As many channels as WAVE_FORMAT_EXTENSIBLE has places for; the decoder takes no more.
const MAX_CHANNELS: u16 = 18;

// Format codes of the WAVE format chunk (Microsoft, mmreg.h).
const PCM: u16 = 1;
const FLOAT: u16 = 3;
const A_LAW: u16 = 6;
const MU_LAW: u16 = 7;
const EXTENSIBLE: u16 = 0xfffe;

/// A size that says "not known yet" or "more than fits": a writer that cannot go back leaves it so, and one whose
/// sound passes 4 GiB.
const UNKNOWN: u32 = u32::MAX;

/// Sizes count on from 0 where they pass this.
const SIZE_WRAPS: u64 = 1 << 32;

/// Frames that the decoding library takes at a time, at the most.
const PACKET_FRAMES: u64 = 1152;

/// Place and form of the samples of a WAV file.
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
    /// Reads the header of `file`, which is `length` bytes long. A plain RIFF file may be longer than its sizes can
    /// say: they are then stuck at their largest, or have begun anew from 0.
    ///
    /// # Errors
    /// [`AudioError::Damaged`] for a header that contradicts itself or ends before the samples,
    /// [`AudioError::Unsupported`] for compressed samples and more than 18 channels,
    /// [`AudioError::Io`] when reading fails.
    pub(super) fn read(
        file: &mut (impl Read + Seek),
        length: u64,
        path: &Path,
    ) -> Result<Self, AudioError> {
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
                AudioError::damaged(path, words::recording::ENDS_BEFORE_FIRST_SAMPLE)
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
                            words::recording::SAMPLES_BEFORE_FORM,
                        ));
                    };
                    let there = length - chunk.start;
                    // Whole multiples of 4 GiB have a size of 0 as well.
                    let never_sized = chunk.bytes == 0
                        && riff_end <= chunk.start
                        && !there.is_multiple_of(SIZE_WRAPS);
                    let promised = match (chunk.bytes, long_data_bytes) {
                        (UNKNOWN, Some(bytes)) => bytes,
                        (_, Some(bytes)) if bytes >= SIZE_WRAPS => bytes,
                        (UNKNOWN, None) => there,
                        (0, _) if never_sized => there,
                        (bytes, _) if length < SIZE_WRAPS => bytes.into(),
                        _ => chunks.beyond_sizes(&chunk).map_err(fault)?,
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

    /// The most bytes of samples that a header can say.
    pub(super) const MOST_BYTES: u32 = UNKNOWN - 1;

    pub(super) fn rate_hz(&self) -> u32 {
        self.format.rate_hz
    }

    /// The same samples behind a header without surprises. Where they are more than a header can say (`most` bytes)
    /// it says that their number is not known, and zeros follow that make the last packet whole.
    pub(super) fn canonical<F: Read + Seek>(
        &self,
        mut file: F,
        most: u32,
    ) -> io::Result<impl Read + use<F>> {
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
        let (size, zeros) = match u32::try_from(data_bytes) {
            Ok(size) if size <= most => (size, 0),
            _ => (UNKNOWN, PACKET_FRAMES * u64::from(frame_bytes)),
        };
        header.extend_from_slice(&size.to_le_bytes());
        let samples = file.take(data_bytes).chain(io::repeat(0).take(zeros));
        Ok(io::Cursor::new(header).chain(samples))
    }
}

struct Chunk {
    id: [u8; 4],
    start: u64,
    bytes: u32,
}

struct Chunks<'f, F> {
    file: BufReader<&'f mut F>,
    length: u64,
    next: u64,
}

impl<F: Read + Seek> Chunks<'_, F> {
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

    /// How many bytes of samples the chunk of a file longer than sizes can say has, or had before it broke off.
    fn beyond_sizes(&mut self, data: &Chunk) -> io::Result<u64> {
        let there = self.length - data.start;
        // Stuck at the largest size that leaves space for the header.
        if u64::from(data.bytes) + data.start >= u64::from(UNKNOWN) {
            return Ok(there);
        }
        let bytes = u64::from(data.bytes);
        let whole = there.saturating_sub(bytes) / SIZE_WRAPS * SIZE_WRAPS + bytes;
        Ok(match self.lead_to_end(data.start + whole)? {
            true => whole,
            false => whole + SIZE_WRAPS,
        })
    }

    /// Whether nothing but whole chunks lies from here to the end.
    fn lead_to_end(&mut self, from: u64) -> io::Result<bool> {
        self.next = from;
        // Padding, where the samples have an odd number of bytes.
        if from % 2 == 1 && from < self.length && self.read_at::<1>(from)? == [0] {
            self.next += 1;
        }
        while self.next + 8 <= self.length {
            let chunk = self.next()?;
            if !chunk.id.iter().all(|byte| (b' '..=b'~').contains(byte)) {
                return Ok(false);
            }
        }
        Ok(self.next == self.length)
    }

    fn format(
        &mut self,
        chunk: &Chunk,
        path: &Path,
        fault: impl Fn(io::Error) -> AudioError,
    ) -> Result<Format, AudioError> {
        let damaged = |what: String| Err(AudioError::damaged(path, what));
        if chunk.bytes < 16 {
            return damaged(words::recording::form_too_short(chunk.bytes));
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
            return damaged(words::recording::NO_CHANNELS.to_owned());
        }
        if channels > MAX_CHANNELS {
            return Err(AudioError::unsupported(
                path,
                words::recording::too_many_channels(channels, MAX_CHANNELS),
            ));
        }
        // Fewer bits than the container holds stand at its upper end, so only the container counts.
        let container = bits.div_ceil(8).max(block_bytes / channels);
        let bytes_per_sample = match (code, bits) {
            (PCM, 1..=32) => container.min(4),
            (FLOAT, 32 | 64) => bits / 8,
            (A_LAW | MU_LAW, 8) => 1,
            (PCM | FLOAT | A_LAW | MU_LAW, _) => {
                return damaged(words::recording::no_bits(bits));
            }
            _ => {
                return Err(AudioError::unsupported(
                    path,
                    words::recording::compressed(code),
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

/// Mono samples (full scale ±1, what is beyond is cut off) as a WAV file of 16 bit, in memory.
///
/// # Panics
/// Where the file would exceed 4 GB.
pub fn wav_file(rate_hz: u32, samples: &[f32]) -> Vec<u8> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: rate_hz,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut file = Cursor::new(Vec::new());
    let written = hound::WavWriter::new(&mut file, spec).and_then(|mut wav| {
        for &sample in samples {
            wav.write_sample((sample * f32::from(i16::MAX)) as i16)?;
        }
        wav.finalize()
    });
    written.expect("a WAV file of less than 4 GB, into memory");
    file.into_inner()
}

#[cfg(test)]
mod tests {
    use super::*;

    const GIB: u64 = 1 << 30;

    /// The beginning of a file, zeros, and its end.
    struct Virtual {
        head: Vec<u8>,
        tail: Vec<u8>,
        length: u64,
        at: u64,
    }

    impl Read for Virtual {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            let count = into.len().min((self.length - self.at) as usize);
            let tail_start = self.length - self.tail.len() as u64;
            for byte in &mut into[..count] {
                let in_tail = self.at.checked_sub(tail_start);
                *byte = match in_tail {
                    Some(at) => self.tail[at as usize],
                    None => self.head.get(self.at as usize).copied().unwrap_or(0),
                };
                self.at += 1;
            }
            Ok(count)
        }
    }

    impl Seek for Virtual {
        fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
            self.at = match to {
                SeekFrom::Start(at) => at,
                SeekFrom::Current(by) => self.at.checked_add_signed(by).expect("within the file"),
                SeekFrom::End(by) => self.length.checked_add_signed(by).expect("within the file"),
            };
            Ok(self.at)
        }
    }

    /// Header of 16-bit stereo, 44 bytes long, or 80 with the sizes of RF64.
    fn header(magic: &[u8; 4], riff: u32, long: Option<[u64; 3]>, data: u32) -> Vec<u8> {
        let mut head = magic.to_vec();
        head.extend(riff.to_le_bytes());
        head.extend(b"WAVE");
        if let Some(sizes) = long {
            head.extend(b"ds64\x1c\0\0\0");
            head.extend(sizes.map(u64::to_le_bytes).concat());
            head.extend([0; 4]);
        }
        head.extend(b"fmt \x10\0\0\0\x01\0\x02\0\x44\xac\0\0\x10\xb1\x02\0\x04\0\x10\0data");
        head.extend(data.to_le_bytes());
        head
    }

    /// Frames there and frames missing of a file of so many bytes.
    fn frames(head: Vec<u8>, tail: &[u8], length: u64) -> (u64, u64) {
        let (tail, at) = (tail.to_vec(), 0);
        let mut file = Virtual {
            head,
            tail,
            length,
            at,
        };
        let layout = Layout::read(&mut file, length, Path::new("long.wav")).expect("a header");
        assert!(!layout.unfinished);
        (layout.frames, layout.missing_frames)
    }

    #[test]
    fn sizes_that_stick_or_begin_anew_are_of_a_whole_file() {
        for data in [4 * GIB, 5 * GIB, 8 * GIB, 13 * GIB + 4] {
            let length = data + 44;
            let wrapped = header(b"RIFF", (length - 8) as u32, None, data as u32);
            assert_eq!(frames(wrapped, b"", length), (data / 4, 0), "{data}");
            for stuck in [u32::MAX, u32::MAX - 36, u32::MAX - 44] {
                let head = header(b"RIFF", u32::MAX, None, stuck);
                assert_eq!(frames(head, b"", length), (data / 4, 0), "{data}, {stuck}");
            }
            // With words after the samples.
            let words = b"LIST\x04\0\0\0INFOid3 \x03\0\0\0abc\0";
            let length = length + words.len() as u64;
            let wrapped = header(b"RIFF", (length - 8) as u32, None, data as u32);
            assert_eq!(frames(wrapped, words, length), (data / 4, 0), "{data}");
        }
    }

    #[test]
    fn sizes_of_their_own_for_long_files_are_believed() {
        for magic in [b"RF64", b"BW64"] {
            for data in [3 * GIB, 5 * GIB] {
                let length = data + 80;
                let sizes = Some([length - 8, data, data / 4]);
                for in_chunk in [u32::MAX, data as u32] {
                    let head = header(magic, u32::MAX, sizes, in_chunk);
                    assert_eq!(frames(head.clone(), b"", length), (data / 4, 0));
                    let cut = length - GIB;
                    let left = (data - GIB) / 4;
                    assert_eq!(frames(head, b"", cut), (left, data / 4 - left));
                }
            }
        }
    }

    #[test]
    fn a_long_file_that_breaks_off_is_known_as_one() {
        // Of 6 GiB a copy has 5: the size says 2.
        let (data, there) = (6 * GIB, 5 * GIB);
        let head = header(b"RIFF", (data + 36) as u32, None, data as u32);
        assert_eq!(frames(head, b"", there + 44), (there / 4, GIB / 4));
        let head = header(b"RIFF", (3 * GIB + 36) as u32, None, (3 * GIB) as u32);
        assert_eq!(frames(head, b"", GIB + 44), (GIB / 4, GIB / 2));
    }
}
