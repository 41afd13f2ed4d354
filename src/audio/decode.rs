//! Packets of samples from every kind of file; the decoding library stands behind this file alone.

use std::fs::File;
use std::io::{ErrorKind, Seek, SeekFrom};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::well_known::*;
use symphonia::core::codecs::audio::{
    AudioCodecParameters, AudioDecoder, AudioDecoderOptions, CODEC_ID_NULL_AUDIO,
};
use symphonia::core::errors::{Error, Result};
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, Track, TrackType};
use symphonia::core::io::{MediaSource, MediaSourceStream, ReadOnlySource};
use symphonia::core::meta::MetadataOptions;

use super::AudioError;
use super::kind::{self, Kind};
use super::wav::Layout;

/// So many bad packets in a row and nothing more is expected of a file: about 2 s of MP3.
const MAX_BAD_PACKETS: usize = 100;

/// A file that ends this much earlier than it says is whole: encoders round up to their packets,
/// of up to 4608 frames in the kinds whose length is trusted.
const LENGTH_TOLERANCE: u64 = 4608;

/// Samples from one file, packet by packet.
pub(super) struct Decoder {
    path: PathBuf,
    format: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    track_id: u32,
    /// Of the first packet; packets that differ are noise in a damaged file.
    pub(super) rate_hz: u32,
    pub(super) channels: usize,
    /// Length by the header, where it is stated.
    pub(super) promised_frames: Option<u64>,
    promise_binds: bool,
    frames: u64,
    pub(super) lost_frames: u64,
    pub(super) cut_off: bool,
    /// The first packet, decoded to learn what the file holds.
    first: Option<Vec<f32>>,
    ended: bool,
}

impl Decoder {
    /// Opens a file and decodes its first packet.
    pub(super) fn open(path: &Path) -> std::result::Result<Self, AudioError> {
        let reading = |error| AudioError::reading(path, error);
        // Before opening: a pipe would wait for a writer.
        let about = std::fs::metadata(path).map_err(reading)?;
        if about.is_dir() {
            return Err(AudioError::Folder { path: path.into() });
        }
        if !about.is_file() {
            return Err(AudioError::unsupported(path, "a pipe or device"));
        }
        if about.len() == 0 {
            return Err(AudioError::Empty { path: path.into() });
        }
        let mut file = File::open(path).map_err(reading)?;
        let mut cut_off = false;
        let mut layout = None;
        let kind = kind::of(&mut file).map_err(reading)?;
        match kind {
            Kind::Other(found) => {
                let path = path.to_owned();
                return Err(AudioError::NotAudio { path, found });
            }
            Kind::Unsupported(found) => return Err(AudioError::unsupported(path, found)),
            Kind::Wav => layout = Some(Layout::read(&mut file, about.len(), path)?),
            Kind::Ogg => cut_off = kind::ogg_is_cut(&mut file).map_err(reading)?,
            Kind::Flac | Kind::Mpeg | Kind::Mp4 => {}
        }
        let source: Box<dyn MediaSource> = match &layout {
            Some(layout) => {
                super::reader::check_rate(path, layout.rate_hz())?;
                if layout.frames == 0 && layout.missing_frames == 0 {
                    return Err(AudioError::NoSound { path: path.into() });
                }
                Box::new(ReadOnlySource::new(
                    layout.canonical(file).map_err(reading)?,
                ))
            }
            None => {
                file.seek(SeekFrom::Start(0)).map_err(reading)?;
                Box::new(file)
            }
        };
        let explain = |error| explained(path, error);
        let format = unpanicked(|| {
            symphonia::default::get_probe().probe(
                &Hint::new(),
                MediaSourceStream::new(source, Default::default()),
                FormatOptions::default(),
                MetadataOptions::default(),
            )
        })
        .map_err(explain)?;
        let (track, params) = sound_track(format.as_ref())
            .ok_or_else(|| AudioError::unsupported(path, "a file without a track of sound"))?;
        if let Some(name) = unread_codec(params) {
            return Err(AudioError::unsupported(path, name));
        }
        let decoder = unpanicked(|| {
            symphonia::default::get_codecs()
                .make_audio_decoder(params, &AudioDecoderOptions::default())
        })
        .map_err(explain)?;
        let promised_frames = match &layout {
            Some(layout) => Some(layout.frames),
            None => track.num_frames,
        };
        let mut opened = Self {
            path: path.to_owned(),
            track_id: track.id,
            rate_hz: 0,
            channels: 0,
            promised_frames,
            // MP3 lengths may be guesses from the bit rate; what WAV lacks is known already.
            promise_binds: matches!(kind, Kind::Flac | Kind::Mp4),
            frames: 0,
            lost_frames: layout.as_ref().map_or(0, |layout| layout.missing_frames),
            cut_off: cut_off
                || layout.is_some_and(|layout| layout.missing_frames > 0 || layout.unfinished),
            first: None,
            ended: false,
            format,
            decoder,
        };
        let mut first = Vec::new();
        if !opened.next(&mut first)? {
            return Err(match opened.lost_frames {
                0 if !opened.cut_off => AudioError::NoSound { path: path.into() },
                _ => AudioError::damaged(path, "no sound in it can be decoded"),
            });
        }
        opened.first = Some(first);
        Ok(opened)
    }

    /// Replaces `interleaved` by the next packet's samples; false at the end of the file. Packets
    /// that cannot be decoded are counted and left out.
    ///
    /// # Errors
    /// [`AudioError::Io`] when reading fails for another reason than the file's end.
    pub(super) fn next(
        &mut self,
        interleaved: &mut Vec<f32>,
    ) -> std::result::Result<bool, AudioError> {
        if let Some(first) = self.first.take() {
            interleaved.clone_from(&first);
            return Ok(true);
        }
        let mut bad_in_a_row = 0;
        while !self.ended && bad_in_a_row < MAX_BAD_PACKETS {
            match self.try_next(interleaved) {
                Ok(Some(0)) => bad_in_a_row += 1,
                Ok(Some(frames)) => {
                    self.frames += frames as u64;
                    return Ok(true);
                }
                Ok(None) => self.ended = true,
                Err(Error::IoError(error)) if error.kind() != ErrorKind::UnexpectedEof => {
                    return Err(AudioError::reading(&self.path, error));
                }
                Err(Error::DecodeError(_)) => bad_in_a_row += 1,
                Err(_) => {
                    self.cut_off = true;
                    self.ended = true;
                }
            }
        }
        if !self.ended {
            self.cut_off = true;
            self.ended = true;
        }
        if let (true, Some(promised)) = (self.promise_binds, self.promised_frames) {
            self.promise_binds = false;
            let missing = promised.saturating_sub(self.frames + self.lost_frames);
            if missing > LENGTH_TOLERANCE {
                self.cut_off = true;
                self.lost_frames += missing;
            }
        }
        Ok(false)
    }

    /// Frames in the next packet: 0 for one that could not be used, None at the end.
    fn try_next(&mut self, interleaved: &mut Vec<f32>) -> Result<Option<usize>> {
        let Some(packet) = unpanicked(|| self.format.next_packet())? else {
            return Ok(None);
        };
        if packet.track_id != self.track_id {
            return Ok(Some(0));
        }
        let duration = packet.dur.get();
        let decoded = unpanicked(|| self.decoder.decode(&packet));
        let samples = match decoded {
            Ok(samples) => samples,
            Err(Error::DecodeError(_) | Error::IoError(_)) => {
                // Ticks of the track are frames in all kinds that are read.
                self.lost_frames += duration;
                return Ok(Some(0));
            }
            Err(error) => return Err(error),
        };
        let (rate_hz, channels) = (samples.spec().rate(), samples.spec().channels().count());
        let frames = samples.frames();
        if frames == 0 || channels == 0 {
            return Ok(Some(0));
        }
        if self.channels == 0 {
            (self.rate_hz, self.channels) = (rate_hz, channels);
        } else if (self.rate_hz, self.channels) != (rate_hz, channels) {
            self.lost_frames += frames as u64;
            return Ok(Some(0));
        }
        interleaved.resize(samples.samples_interleaved(), 0.0);
        samples.copy_to_slice_interleaved(&mut interleaved[..]);
        Ok(Some(frames))
    }
}

/// Runs library code on untrusted bytes: should it panic, the file is damaged, and others are still
/// read. The state behind is not used again after an error that is not a decode error.
fn unpanicked<T>(work: impl FnOnce() -> Result<T>) -> Result<T> {
    catch_unwind(AssertUnwindSafe(work)).unwrap_or(Err(Error::Unsupported(
        "content that the decoder chokes on",
    )))
}

fn sound_track(format: &dyn FormatReader) -> Option<(&Track, &AudioCodecParameters)> {
    let track = format.default_track(TrackType::Audio)?;
    match &track.codec_params {
        Some(CodecParameters::Audio(params)) => Some((track, params)),
        _ => None,
    }
}

/// Codecs that the containers may hold but that are not decoded, as the start of a sentence.
fn unread_codec(params: &AudioCodecParameters) -> Option<&'static str> {
    match params.codec {
        CODEC_ID_OPUS => Some("Opus sound"),
        CODEC_ID_SPEEX => Some("Speex sound"),
        CODEC_ID_AC3 | CODEC_ID_EAC3 | CODEC_ID_AC4 => Some("AC-3 or AC-4 sound"),
        CODEC_ID_DCA => Some("DTS sound"),
        CODEC_ID_MP1 | CODEC_ID_MP2 => Some("MPEG sound of layer 1 or 2"),
        CODEC_ID_NULL_AUDIO => Some("sound of an unknown kind"),
        _ => None,
    }
}

fn explained(path: &Path, error: Error) -> AudioError {
    match error {
        Error::IoError(error) if error.kind() == ErrorKind::UnexpectedEof => {
            AudioError::damaged(path, "it breaks off before the first sound")
        }
        Error::IoError(error) => AudioError::reading(path, error),
        Error::Unsupported(what) => AudioError::unsupported(path, format!("this sound ({what})")),
        other => AudioError::damaged(path, other.to_string()),
    }
}
