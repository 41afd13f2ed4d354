//! Access to the sound system's library, shared by microphone and loudspeaker.

#[cfg(target_os = "linux")]
use std::io::BufReader;
#[cfg(target_os = "linux")]
use std::os::unix::net::UnixStream;
use std::time::Duration;

use cpal::{BufferSize, ErrorKind, StreamConfig, SupportedStreamConfig};

use super::device::{DeviceError, Direction};

/// The sound system may take this long to open a stream.
pub(super) const OPENING: Duration = Duration::from_secs(3);

/// The sound system, once it answers: to be asked for on a thread that may wait for ever.
pub(super) fn host() -> cpal::Host {
    // The library gives up a sound server that hangs, but leaves a thread and a connection behind each time.
    #[cfg(target_os = "linux")]
    let _ = answered();
    cpal::default_host()
}

/// Waits until PulseAudio, where there is one, answers a question.
#[cfg(target_os = "linux")]
fn answered() -> Option<()> {
    use pulseaudio::protocol::{
        AuthParams, AuthReply, Command, MAX_VERSION, read_reply_message, write_command_message,
    };
    let path = pulseaudio::socket_path_from_env()?;
    let mut socket = BufReader::new(UnixStream::connect(path).ok()?);
    let question = Command::Auth(AuthParams {
        version: MAX_VERSION,
        supports_shm: false,
        supports_memfd: false,
        cookie: Vec::new(),
    });
    write_command_message(socket.get_mut(), 0, &question, MAX_VERSION).ok()?;
    // No is an answer too.
    let _ = read_reply_message::<AuthReply>(&mut socket, MAX_VERSION);
    Some(())
}

/// Keeps signals from this thread and from those that it starts. The library takes any signal that wakes its thread for
/// the end of the stream, even the end of a program that another crate ran.
pub(super) fn undisturbed() {
    #[cfg(target_os = "linux")]
    if let Err(error) = nix::sys::signal::SigSet::all().thread_block() {
        log::warn!("signals may end the sound: {error}");
    }
}

/// Opens a stream in the device's usual form, with blocks of about so many seconds where it takes a
/// wish.
pub(super) fn opened<T>(
    usual: &SupportedStreamConfig,
    block_s: f64,
    mut open: impl FnMut(StreamConfig) -> Result<T, DeviceError>,
) -> Result<T, DeviceError> {
    let mut with = |buffer_size| {
        open(StreamConfig {
            buffer_size,
            ..usual.config()
        })
    };
    let frames = (block_s * f64::from(usual.sample_rate())) as u32;
    match with(BufferSize::Fixed(frames)) {
        Err(DeviceError::Unsupported { .. }) => with(BufferSize::Default),
        opened => opened,
    }
}

/// The sound system's error as one of ours.
pub(super) fn told(kind: Direction, error: &cpal::Error) -> DeviceError {
    match error.kind() {
        ErrorKind::PermissionDenied => DeviceError::Refused(kind),
        ErrorKind::DeviceBusy => DeviceError::Busy(kind),
        ErrorKind::DeviceNotAvailable | ErrorKind::HostUnavailable => DeviceError::None(kind),
        ErrorKind::StreamInvalidated => DeviceError::Gone(kind),
        ErrorKind::UnsupportedConfig | ErrorKind::UnsupportedOperation => {
            DeviceError::Unsupported {
                kind,
                found: error.to_string(),
            }
        }
        _ => DeviceError::Failed {
            kind,
            message: error.to_string(),
        },
    }
}

/// While this lives, ALSA's own complaints about devices that it tries are kept off the screen.
pub(super) struct QuietAlsa {
    #[cfg(target_os = "linux")]
    _lines: Option<std::rc::Rc<std::cell::RefCell<alsa::Output>>>,
}

impl QuietAlsa {
    pub(super) fn new() -> Self {
        QuietAlsa {
            #[cfg(target_os = "linux")]
            _lines: alsa::Output::local_error_handler().ok(),
        }
    }
}
