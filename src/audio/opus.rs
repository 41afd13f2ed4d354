//! Opus sound, as voice notes of messengers hold it: what the decoding library lacks, from a crate of its own.

use crate::decibels;
use crate::words;
use opus_decoder::OpusDecoder;
use symphonia::core::audio::{
    AsGenericAudioBufferRef, Audio, AudioBuffer, AudioMut, AudioSpec, Channels,
    GenericAudioBufferRef,
};
use symphonia::core::codecs::CodecInfo;
use symphonia::core::codecs::audio::well_known::CODEC_ID_OPUS;
use symphonia::core::codecs::audio::{
    AudioCodecParameters, AudioDecoder, AudioDecoderOptions, FinalizeResult,
};
use symphonia::core::codecs::registry::{RegisterableAudioDecoder, SupportedAudioCodec};
use symphonia::core::errors::{Error, Result};
use symphonia::core::packet::PacketRef;

/// Opus is decoded at this rate, in Hz, whatever was recorded (RFC 6716).
const RATE_HZ: u32 = 48_000;
/// Where the header says how far to turn the sound up, in 1/256 dB (RFC 7845, section 5.1).
const GAIN_AT: usize = 16;

/// ... and how many frames at its beginning are the encoder's own.
const SKIP_AT: usize = 10;

/// Decodes packets of one stream of one or two channels.
pub(super) struct Opus {
    params: AudioCodecParameters,
    decoder: OpusDecoder,
    gain: f32,
    /// Frames that are the encoder's own and still to come: not every kind of file says so of its packets.
    skip: usize,
    interleaved: Vec<f32>,
    buffer: AudioBuffer<f32>,
}

impl RegisterableAudioDecoder for Opus {
    fn try_registry_new(
        params: &AudioCodecParameters,
        _: &AudioDecoderOptions,
    ) -> Result<Box<dyn AudioDecoder>> {
        let header = params.extra_data.as_deref().unwrap_or_default();
        let channels = params.channels.as_ref().map_or(1, Channels::count);
        let unsupported = Error::Unsupported(words::recording::OPUS_CHANNELS);
        let decoder = OpusDecoder::new(RATE_HZ, channels).map_err(|_| unsupported)?;
        let spec = AudioSpec::new(
            RATE_HZ,
            (params.channels.clone()).unwrap_or(Channels::Discrete(1)),
        );
        let most = OpusDecoder::MAX_FRAME_SIZE_48K;
        Ok(Box::new(Opus {
            params: params.clone(),
            decoder,
            gain: gain(header),
            skip: skip(header),
            interleaved: vec![0.0; most * channels],
            buffer: AudioBuffer::new(spec, most),
        }))
    }

    fn supported_codecs() -> &'static [SupportedAudioCodec] {
        const OPUS: SupportedAudioCodec = SupportedAudioCodec {
            id: CODEC_ID_OPUS,
            info: CodecInfo {
                short_name: "opus",
                long_name: "Opus",
                profiles: &[],
            },
        };
        &[OPUS]
    }
}

/// The factor that a stream's header asks for.
fn gain(header: &[u8]) -> f32 {
    let db = f32::from(i16::from_le_bytes(two_bytes(header, GAIN_AT))) / 256.0;
    decibels::to_amplitude(db)
}

/// The frames at a stream's beginning that its header says are no sound.
fn skip(header: &[u8]) -> usize {
    usize::from(u16::from_le_bytes(two_bytes(header, SKIP_AT)))
}

/// Two bytes of a header; nought where it ends before.
fn two_bytes(header: &[u8], at: usize) -> [u8; 2] {
    let bytes = header.get(at..at + 2);
    bytes.map_or([0; 2], |bytes| [bytes[0], bytes[1]])
}

impl AudioDecoder for Opus {
    fn reset(&mut self) {
        self.decoder.reset();
    }

    fn codec_info(&self) -> &CodecInfo {
        &Self::supported_codecs()[0].info
    }

    fn codec_params(&self) -> &AudioCodecParameters {
        &self.params
    }

    fn decode_ref(&mut self, packet: &PacketRef<'_>) -> Result<GenericAudioBufferRef<'_>> {
        self.buffer.clear();
        let decoded = self
            .decoder
            .decode_float(packet.data, &mut self.interleaved, false);
        let frames = decoded.map_err(|_| Error::DecodeError(words::recording::OPUS_PACKET))?;
        let channels = self.buffer.spec().channels().count();
        let samples = &mut self.interleaved[..frames * channels];
        samples.iter_mut().for_each(|sample| *sample *= self.gain);
        self.buffer.render_uninit(Some(frames));
        self.buffer.copy_from_slice_interleaved(&samples);
        let skip = self.skip.min(frames);
        self.skip -= skip;
        let start = skip.max(packet.trim_start.get() as usize);
        self.buffer.trim(start, packet.trim_end.get() as usize);
        Ok(self.buffer.as_generic_audio_buffer_ref())
    }

    fn finalize(&mut self) -> FinalizeResult {
        FinalizeResult::default()
    }

    fn last_decoded(&self) -> GenericAudioBufferRef<'_> {
        self.buffer.as_generic_audio_buffer_ref()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_header_may_ask_for_more_or_less_and_for_a_later_beginning() {
        let mut header = [0; 19];
        assert_eq!(gain(&header), 1.0);
        header[GAIN_AT..GAIN_AT + 2].copy_from_slice(&(-1541i16).to_le_bytes());
        assert!((gain(&header) - 0.5).abs() < 1e-3, "-6.02 dB");
        assert_eq!(gain(&[]), 1.0);
        header[SKIP_AT] = 56;
        header[SKIP_AT + 1] = 1;
        assert_eq!((skip(&header), skip(&[])), (312, 0));
    }
}
