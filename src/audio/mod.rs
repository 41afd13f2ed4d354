//! Files in and out, resampling. Knows no guitar.
//!
//! [`Reader`] streams any recording that a learner may hand in as mono blocks; [`read_all`] is the
//! one-call form for short ones, [`write_wav`] the way out.
//!
//! Sound as it comes is in [`live`].
//!
//! - Read: WAV (8 to 32 bit integer, 32 and 64 bit float, RF64), FLAC, MP3, M4A (AAC-LC, ALAC),
//!   Vorbis and Opus in OGG and WebM, the sound of MP4 and MOV films; 1 to 18 channels in WAV, two in
//!   Opus, what the format allows elsewhere; 8 to 192 kHz.
//! - Given: mono `f32`, full scale ±1, at the file's own rate up to 50 kHz; above that at 44.1 or
//!   48 kHz ([`Reader::rate_hz`]).
//! - An encoder's start delay is taken away where the file states it (MP3 with an encoder's tag,
//!   Vorbis, Opus). AAC files do not state it in a form that is read here: their sound starts about 23 ms
//!   (1024 samples at 44.1 kHz) late, up to 48 ms (2112) from some phones. Times within a file are
//!   not affected.

#[cfg(feature = "mic")]
mod capture;
#[cfg(feature = "mic")]
mod clock;
mod decode;
mod device;
mod error;
#[cfg(all(test, feature = "mic"))]
mod fake;
mod health;
#[cfg(feature = "mic")]
mod host;
mod kind;
pub mod live;
mod meter;
mod mix;
mod mono;
mod opus;
#[cfg(feature = "mic")]
mod playback;
mod rate;
mod reader;
pub mod recorded;
mod resample;
#[cfg(feature = "mic")]
mod tries;
mod wav;

pub use error::AudioError;
pub use health::Health;
pub use meter::{LOWEST_DBFS, Meter};
pub use mono::{Mono, PIECE};
pub use rate::{MAX_RATE_HZ, MIN_RATE_HZ};
pub use reader::{BLOCK_FRAMES, Reader, Recording, read_all};
pub(crate) use resample::Downsampler;
pub use resample::at_rate;
pub use wav::{wav_file, write_wav};
