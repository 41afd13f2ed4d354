//! Sound as it comes, and sound to be played now. The devices themselves are behind [`open_input`] and
//! [`open_output`].

use std::sync::{Arc, mpsc};
use std::thread;
use std::time::Duration;

#[cfg(feature = "mic")]
use super::tries::Tries;
#[cfg(feature = "mic")]
use super::{capture, playback};

pub use super::device::{Came, Device, DeviceError, Direction, Sink, Source, began_at_s};

#[cfg(feature = "mic")]
static MICROPHONE: Tries = Tries::of(Direction::Microphone);
#[cfg(feature = "mic")]
static LOUDSPEAKER: Tries = Tries::of(Direction::Loudspeaker);
/// A sound system that hangs is given up after this long.
#[cfg(feature = "mic")]
const PATIENCE: Duration = Duration::from_secs(5);

/// The names of the inputs, the usual one first.
///
/// # Errors
/// [`DeviceError::NotBuilt`], [`DeviceError::None`], [`DeviceError::Failed`].
pub fn inputs() -> Result<Vec<Device>, DeviceError> {
    #[cfg(feature = "mic")]
    return MICROPHONE.run(PATIENCE, capture::inputs);
    #[cfg(not(feature = "mic"))]
    Err(DeviceError::NotBuilt)
}

/// Opens the microphone named (or a part of its name that no other has; the usual one where none
/// is named) and starts listening.
///
/// # Errors
/// Any [`DeviceError`], within about five seconds.
pub fn open_input(name: Option<&str>) -> Result<Box<dyn Source>, DeviceError> {
    let name = name.map(str::to_owned);
    #[cfg(feature = "mic")]
    return MICROPHONE.run(PATIENCE, move || {
        let microphone = capture::Microphone::open(name.as_deref())?;
        Ok(Box::new(microphone) as Box<dyn Source>)
    });
    #[cfg(not(feature = "mic"))]
    {
        let _ = name;
        Err(DeviceError::NotBuilt)
    }
}

/// Opens the usual loudspeaker, which then plays silence until it is given something.
///
/// # Errors
/// Any [`DeviceError`], within about five seconds.
pub fn open_output() -> Result<Box<dyn Sink>, DeviceError> {
    #[cfg(feature = "mic")]
    return LOUDSPEAKER.run(PATIENCE, || {
        let speaker = playback::Speaker::open()?;
        Ok(Box::new(speaker) as Box<dyn Sink>)
    });
    #[cfg(not(feature = "mic"))]
    Err(DeviceError::NotBuilt)
}

/// Waits beside us until an input can be opened again.
pub struct Reopening {
    receiver: mpsc::Receiver<Box<dyn Source>>,
    /// Tried for as long as this is held.
    _wanted: Arc<()>,
}

/// Time between two tries.
const RETRY: Duration = Duration::from_millis(400);

impl Reopening {
    /// Begins to try; stops when this is dropped.
    pub fn of(name: Option<&str>) -> Self {
        let name = name.map(str::to_owned);
        Reopening::by(RETRY, move || open_input(name.as_deref()))
    }

    /// Tries `open` until it gives something, so long after the try before.
    fn by(
        retry: Duration,
        mut open: impl FnMut() -> Result<Box<dyn Source>, DeviceError> + Send + 'static,
    ) -> Self {
        let (sender, receiver) = mpsc::sync_channel(0);
        let wanted = Arc::new(());
        let still = Arc::downgrade(&wanted);
        thread::spawn(move || {
            while still.strong_count() > 0 {
                match open() {
                    Ok(source) => {
                        // Where nobody waits any longer, the source goes as well.
                        let _ = sender.send(source);
                        return;
                    }
                    Err(error) => log::info!("not yet: {error}"),
                }
                thread::sleep(retry);
            }
        });
        Reopening {
            receiver,
            _wanted: wanted,
        }
    }

    /// The input, once it is there; waits a little.
    pub fn get(&self) -> Option<Box<dyn Source>> {
        self.receiver.recv_timeout(Duration::from_millis(20)).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};

    #[test]
    fn nothing_is_tried_any_longer_once_nobody_waits() {
        let tries = Arc::new(AtomicUsize::new(0));
        let (counted, none) = (tries.clone(), DeviceError::None(Direction::Microphone));
        let reopening = Reopening::by(Duration::ZERO, move || {
            counted.fetch_add(1, Ordering::SeqCst);
            Err(none.clone())
        });
        while tries.load(Ordering::SeqCst) < 10 {
            assert!(reopening.get().is_none());
        }
        drop(reopening);
        // The thread holds the counter until it ends.
        while Arc::strong_count(&tries) > 1 {
            thread::yield_now();
        }
    }
}
