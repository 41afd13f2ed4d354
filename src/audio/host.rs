//! What microphone and loudspeaker share of the library that reaches the sound system.

use std::time::Duration;

use cpal::{BufferSize, ErrorKind, StreamConfig, SupportedStreamConfig};

use super::live::{DeviceError, Kind};

/// The sound system may take this long to open a stream.
pub(super) const OPENING: Duration = Duration::from_secs(3);

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
pub(super) fn told(kind: Kind, error: &cpal::Error) -> DeviceError {
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
pub(super) struct Quiet {
    #[cfg(target_os = "linux")]
    _lines: Option<std::rc::Rc<std::cell::RefCell<alsa::Output>>>,
}

impl Quiet {
    pub(super) fn new() -> Self {
        Quiet {
            #[cfg(target_os = "linux")]
            _lines: alsa::Output::local_error_handler().ok(),
        }
    }
}
