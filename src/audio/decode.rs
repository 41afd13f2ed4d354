//! Packets of samples from every kind of file; the decoding library stands behind this file alone.

use std::fs::File;
use std::io::{self, Cursor, ErrorKind};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::well_known::*;
use symphonia::core::codecs::audio::{
    AudioCodecParameters, AudioDecoder, AudioDecoderOptions, CODEC_ID_NULL_AUDIO,
};
use symphonia::core::codecs::registry::CodecRegistry;
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, Track, TrackType};
use symphonia::core::io::{MediaSource, MediaSourceStream, ReadOnlySource};
use symphonia::core::meta::MetadataOptions;

use super::AudioError;
use super::kind::{self, FileKind};
use super::opus::Opus;
use super::rate::check_rate;
use super::wav::Layout;
use crate::words;

/// So many bad packets in a row and nothing more is expected of a file: about 2 s of MP3.
const MAX_BAD_PACKETS: usize = 100;

/// A file that ends so many frames before its stated length is whole: two packets of MP3, of which
/// some writers count one too many, for the tag.
const LENGTH_TOLERANCE: i64 = 2304;

/// Samples from one file, packet by packet.
pub(super) struct Decoder {
    path: PathBuf,
    format: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    track_id: u32,
    /// Of the first packet; packets that differ are noise in a damaged file.
    pub(super) rate_hz: u32,
    pub(super) channels: usize,
    /// Length by the header in ticks, where it is stated.
    promised_ticks: Option<u64>,
    promise_binds: bool,
    /// Frames after which there is no more, whatever the library still gives.
    ends_after: Option<u64>,
    /// Frames to a tick of the track's clock: 1 in nearly all files.
    frames_per_tick: f64,
    /// Where the next packet should begin, in ticks.
    position: Option<i64>,
    pub(super) lost_frames: u64,
    pub(super) cut_off: bool,
    /// What the decoder could not do in the last packet that it refused.
    refused: Option<&'static str>,
    /// The first packet, decoded to learn what the file holds.
    first: Option<Vec<f32>>,
    ended: bool,
}

impl Decoder {
    /// Opens a file and decodes its first packet.
    pub(super) fn open(path: &Path) -> Result<Self, AudioError> {
        let reading = |error| AudioError::reading(path, error);
        // Before opening: a pipe would wait for a writer.
        let about = std::fs::metadata(path).map_err(reading)?;
        if about.is_dir() {
            return Err(AudioError::Folder { path: path.into() });
        }
        if !about.is_file() {
            return Err(AudioError::unsupported(
                path,
                words::recording::PIPE_OR_DEVICE,
            ));
        }
        if about.len() == 0 {
            return Err(AudioError::Empty { path: path.into() });
        }
        let file = File::open(path).map_err(reading)?;
        Self::of(path, file, about.len(), || File::open(path))
    }

    /// As [`open`](Self::open), of a file that is in memory; `name` is what errors call it.
    pub(super) fn of_bytes(name: &Path, bytes: Arc<[u8]>) -> Result<Self, AudioError> {
        if bytes.is_empty() {
            return Err(AudioError::Empty { path: name.into() });
        }
        let length = bytes.len() as u64;
        let again = Arc::clone(&bytes);
        Self::of(name, Cursor::new(bytes), length, || Ok(Cursor::new(again)))
    }

    /// `again` opens the same file from its start.
    fn of<S: MediaSource + 'static>(
        path: &Path,
        mut file: S,
        length: u64,
        again: impl FnOnce() -> io::Result<S>,
    ) -> Result<Self, AudioError> {
        let reading = |error| AudioError::reading(path, error);
        let kind = kind::of(&mut file).map_err(reading)?;
        match kind {
            FileKind::Other(found) => {
                let path = path.to_owned();
                Err(AudioError::NotAudio { path, found })
            }
            FileKind::Unsupported(found) => Err(AudioError::unsupported(path, found)),
            FileKind::Wav => Self::open_wav(path, file, length, Layout::MOST_BYTES),
            FileKind::Ogg => {
                let cut_off = kind::ogg_is_cut(&mut file).map_err(reading)?;
                let mut decoder = Self::start(path, Box::new(file), None)?;
                decoder.cut_off |= cut_off;
                Ok(decoder)
            }
            FileKind::Mpeg => {
                let mut decoder = Self::start(path, Box::new(file), None)?;
                // Without the encoder's tag the length is a guess from the bit rate.
                let delay = sound_track(decoder.format.as_ref()).and_then(|(track, _)| track.delay);
                decoder.promise_binds = delay.is_some();
                Ok(decoder)
            }
            FileKind::Flac | FileKind::Matroska => Self::start(path, Box::new(file), None),
            // One whose end is missing is given up at once where the end can be looked for, yet its
            // start can be read if the index stands there.
            FileKind::Mp4 => Self::start(path, Box::new(file), None).or_else(|error| {
                let file = again().map_err(reading)?;
                Self::start(path, Box::new(ReadOnlySource::new(file)), None).map_err(|_| error)
            }),
        }
    }

    /// `most`: bytes of samples that the library is told of, see [`Layout::canonical`].
    fn open_wav<S: MediaSource + 'static>(
        path: &Path,
        mut file: S,
        length: u64,
        most: u32,
    ) -> Result<Self, AudioError> {
        let layout = Layout::read(&mut file, length, path)?;
        check_rate(path, layout.rate_hz())?;
        if layout.frames == 0 {
            return Err(match layout.missing_frames {
                0 => AudioError::NoSound { path: path.into() },
                _ => AudioError::damaged(path, words::recording::ENDS_BEFORE_FIRST_SAMPLE),
            });
        }
        let source = layout
            .canonical(file, most)
            .map_err(|error| AudioError::reading(path, error))?;
        let source = Box::new(ReadOnlySource::new(source));
        let mut decoder = Self::start(path, source, Some(layout.frames))?;
        decoder.promised_ticks = Some(layout.frames);
        decoder.lost_frames += layout.missing_frames;
        decoder.cut_off |= layout.missing_frames > 0 || layout.unfinished;
        Ok(decoder)
    }

    fn start(
        path: &Path,
        source: Box<dyn MediaSource>,
        ends_after: Option<u64>,
    ) -> Result<Self, AudioError> {
        // The kind of file is known by now: what the library finds wrong is damage.
        let format = unpanicked(|| {
            symphonia::default::get_probe().probe(
                &Hint::new(),
                MediaSourceStream::new(source, Default::default()),
                FormatOptions::default(),
                MetadataOptions::default(),
            )
        })
        .map_err(|error| damage(path, error))?;
        let (track, params) = sound_track(format.as_ref())
            .ok_or_else(|| AudioError::unsupported(path, words::recording::NO_TRACK))?;
        if let Some(name) = unread_codec(params) {
            return Err(AudioError::unsupported(path, name));
        }
        let decoder =
            unpanicked(|| codecs().make_audio_decoder(params, &AudioDecoderOptions::default()))
                .map_err(|error| match error {
                    Error::Unsupported(what) => AudioError::unsupported(path, refusal(what)),
                    other => damage(path, other),
                })?;
        let mut started = Self {
            path: path.to_owned(),
            track_id: track.id,
            rate_hz: 0,
            channels: 0,
            promised_ticks: track.duration.map(|ticks| ticks.get()).or(track.num_frames),
            promise_binds: true,
            ends_after,
            frames_per_tick: 1.0,
            position: None,
            lost_frames: 0,
            cut_off: false,
            refused: None,
            first: None,
            ended: false,
            format,
            decoder,
        };
        started.begin()?;
        Ok(started)
    }

    /// Decodes ahead to the first packet with sound.
    fn begin(&mut self) -> Result<(), AudioError> {
        let mut first = Vec::new();
        if self.next(&mut first)? {
            self.first = Some(first);
            return Ok(());
        }
        let path = &self.path;
        Err(match self.refused {
            Some(what) => AudioError::unsupported(path, refusal(what)),
            None if self.cut_off || self.promised_ticks.is_some_and(|ticks| ticks > 0) => {
                AudioError::damaged(path, words::recording::NOTHING_DECODED)
            }
            None => AudioError::NoSound { path: path.clone() },
        })
    }

    /// Length as the file states it, in frames.
    pub(super) fn promised_frames(&self) -> Option<f64> {
        let ticks = self.promised_ticks?;
        Some(ticks as f64 * self.frames_per_tick)
    }

    /// Replaces `interleaved` by the next packet's samples; false at the end of the file. Packets
    /// that cannot be decoded are left out and counted.
    ///
    /// # Errors
    /// [`AudioError::Io`] when reading fails for another reason than the file's end.
    pub(super) fn next(&mut self, interleaved: &mut Vec<f32>) -> Result<bool, AudioError> {
        if let Some(first) = self.first.take() {
            *interleaved = first;
            return Ok(true);
        }
        let mut bad_in_a_row = 0;
        while !self.ended {
            match self.try_next(interleaved) {
                Ok(Packet::Sound) => return Ok(true),
                Ok(Packet::OfOtherTrack) => {}
                Ok(Packet::End) => self.ended = true,
                Ok(Packet::Unusable) | Err(Error::DecodeError(_)) => bad_in_a_row += 1,
                Err(Error::IoError(error)) if error.kind() != ErrorKind::UnexpectedEof => {
                    return Err(AudioError::reading(&self.path, error));
                }
                Err(_) => (self.ended, self.cut_off) = (true, true),
            }
            if bad_in_a_row == MAX_BAD_PACKETS {
                (self.ended, self.cut_off) = (true, true);
            }
            if self.ended {
                self.check_promise();
            }
        }
        Ok(false)
    }

    fn try_next(&mut self, interleaved: &mut Vec<f32>) -> Result<Packet, Error> {
        let here = self.position.map_or(0, |at| at.max(0) as u64);
        if self.ends_after.is_some_and(|end| here >= end) {
            return Ok(Packet::End);
        }
        let Some(packet) = unpanicked(|| self.format.next_packet())? else {
            return Ok(Packet::End);
        };
        if packet.track_id != self.track_id {
            return Ok(Packet::OfOtherTrack);
        }
        let (start, ticks) = (packet.pts.get(), packet.dur.get());
        let samples = match unpanicked(|| self.decoder.decode(&packet)) {
            Ok(samples) => samples,
            // The gap shows when the next good packet comes.
            Err(Error::DecodeError(_) | Error::IoError(_)) => return Ok(Packet::Unusable),
            Err(Error::Unsupported(what)) => {
                self.refused = Some(what);
                return Ok(Packet::Unusable);
            }
            Err(error) => return Err(error),
        };
        let (rate_hz, channels) = (samples.spec().rate(), samples.spec().channels().count());
        if samples.frames() == 0 || channels == 0 || rate_hz == 0 {
            return Ok(Packet::Unusable);
        }
        let is_first = self.channels == 0;
        if is_first {
            (self.rate_hz, self.channels) = (rate_hz, channels);
            let clock = sound_track(self.format.as_ref()).and_then(|(track, _)| track.time_base);
            if let Some(tick) = clock {
                let tick_s = f64::from(tick.numer.get()) / f64::from(tick.denom.get());
                self.frames_per_tick = tick_s * f64::from(rate_hz);
            }
        } else if (self.rate_hz, self.channels) != (rate_hz, channels) {
            return Ok(Packet::Unusable);
        }
        let frames = samples.frames();
        interleaved.resize(samples.samples_interleaved(), 0.0);
        samples.copy_to_slice_interleaved(&mut interleaved[..]);
        if let Some(end) = self.ends_after {
            let left = end.saturating_sub(start.max(0) as u64);
            interleaved.truncate((left as usize).saturating_mul(channels));
        }
        // WebM does not say how long its packets are, and of the first one a beginning was left out.
        let is_known = ticks > 0 || !is_first;
        let ticks = match ticks {
            0 => (frames as f64 / self.frames_per_tick).round() as u64,
            stated => stated,
        };
        let gap = self
            .position
            .map_or(0, |expected| start.saturating_sub(expected));
        // A clock that is slower than the samples rounds.
        let rounding = i64::from(self.frames_per_tick > 1.0);
        self.lose(if gap > rounding { gap } else { 0 });
        self.position = is_known.then(|| start.saturating_add_unsigned(ticks));
        Ok(Packet::Sound)
    }

    /// Counts what is missing at the end, where the stated length can be trusted.
    fn check_promise(&mut self) {
        let (Some(position), Some(promised)) = (self.position, self.promised_ticks) else {
            return;
        };
        let missing = i64::try_from(promised)
            .unwrap_or(i64::MAX)
            .saturating_sub(position);
        if self.promise_binds && missing > (LENGTH_TOLERANCE as f64 / self.frames_per_tick) as i64 {
            self.cut_off = true;
            self.lose(missing);
        }
    }

    fn lose(&mut self, ticks: i64) {
        let frames = (ticks.max(0) as f64 * self.frames_per_tick).round() as u64;
        self.lost_frames = self.lost_frames.saturating_add(frames);
    }
}

enum Packet {
    Sound,
    /// Pictures of a film, for one.
    OfOtherTrack,
    Unusable,
    End,
}

/// Runs library code on untrusted bytes: should it panic, the file is damaged, and others are still
/// read. What is left of the decoder is not used again.
fn unpanicked<T>(work: impl FnOnce() -> Result<T, Error>) -> Result<T, Error> {
    let gave_up = Err(Error::LimitError(words::recording::GAVE_UP));
    catch_unwind(AssertUnwindSafe(work)).unwrap_or(gave_up)
}

fn sound_track(format: &dyn FormatReader) -> Option<(&Track, &AudioCodecParameters)> {
    let track = format.default_track(TrackType::Audio)?;
    match &track.codec_params {
        Some(CodecParameters::Audio(params)) => Some((track, params)),
        _ => None,
    }
}

/// The library's codecs, and Opus.
fn codecs() -> &'static CodecRegistry {
    static CODECS: OnceLock<CodecRegistry> = OnceLock::new();
    CODECS.get_or_init(|| {
        let mut codecs = CodecRegistry::new();
        symphonia::default::register_enabled_codecs(&mut codecs);
        codecs.register_audio_decoder::<Opus>();
        codecs
    })
}

/// Codecs that the containers may hold but that are not decoded, as the start of a sentence.
fn unread_codec(params: &AudioCodecParameters) -> Option<&'static str> {
    match params.codec {
        CODEC_ID_SPEEX => Some(words::recording::SPEEX),
        CODEC_ID_AC3 | CODEC_ID_EAC3 | CODEC_ID_AC4 => Some(words::recording::AC3),
        CODEC_ID_DCA => Some(words::recording::DTS),
        CODEC_ID_MP1 | CODEC_ID_MP2 => Some(words::recording::MPEG_LAYERS),
        CODEC_ID_NULL_AUDIO => Some(words::recording::UNKNOWN_SOUND),
        _ => None,
    }
}

fn refusal(what: &str) -> String {
    words::recording::this_form(what)
}

fn damage(path: &Path, error: Error) -> AudioError {
    let what = match error {
        Error::IoError(error) if error.kind() == ErrorKind::UnexpectedEof => {
            words::recording::BREAKS_OFF_EARLY.to_owned()
        }
        Error::IoError(error) => return AudioError::reading(path, error),
        Error::DecodeError(what) | Error::Unsupported(what) | Error::LimitError(what) => {
            words::recording::parts_missing(what)
        }
        other => other.to_string(),
    };
    AudioError::damaged(path, what)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_decoder_that_panics_becomes_an_error() {
        let broken: Result<(), Error> = unpanicked(|| panic!("index out of bounds"));
        assert!(matches!(broken, Err(Error::LimitError(_))));
    }

    #[test]
    fn sound_of_more_bytes_than_a_header_can_say_is_read_to_its_last_frame() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("long.wav");
        // Whole packets, and one frame more or less.
        for frames in [1152, 11_519, 11_520, 11_521] {
            let samples: Vec<f32> = (1..=frames).map(|i| i as f32 / 20_000.0).collect();
            crate::audio::write_wav(&path, 44_100, &samples).unwrap();
            let file = File::open(&path).unwrap();
            let length = file.metadata().unwrap().len();
            // As if a header could say no more than this.
            let mut decoder = Decoder::open_wav(&path, file, length, 1000).unwrap();
            let (mut packet, mut read) = (Vec::new(), Vec::new());
            while decoder.next(&mut packet).unwrap() {
                read.extend_from_slice(&packet);
            }
            assert_eq!(read, samples);
            assert!(!decoder.cut_off);
            assert_eq!(decoder.lost_frames, 0);
        }
    }
}
