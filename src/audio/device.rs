//! Things that a microphone, a loudspeaker and their stand-ins in tests have in common.

use thiserror::Error;

use crate::words;

/// Faults of a microphone or a loudspeaker. Each kind asks for a different step.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum DeviceError {
    /// The program was built without the feature `mic`.
    #[error("{}", words::devices::NOT_BUILT)]
    NotBuilt,

    /// The computer has none, or its sound system is not running.
    #[error("{}", words::devices::none_found(.0))]
    None(Direction),

    /// None has the name that was asked for.
    #[error("{}", words::devices::no_such_device(kind, wanted, listed(known)))]
    Unknown {
        /// Microphone or loudspeaker.
        kind: Direction,
        /// The name that was asked for.
        wanted: String,
        /// The names that there are.
        known: Vec<String>,
    },

    /// The system does not let this program use it.
    #[error("{}", words::devices::refused(.0))]
    Refused(Direction),

    /// Another program has it for itself.
    #[error("{}", words::devices::busy(.0))]
    Busy(Direction),

    /// Device that was there, and no longer is: unplugged, or the sound system has stopped. Differs from
    /// [`DeviceError::None`]: waiting for it makes sense.
    #[error("{}", words::devices::gone(.0))]
    Gone(Direction),

    /// Device that gives or takes sound in a form that is not known here.
    #[error("{}", words::devices::unknown_form(kind, found))]
    Unsupported {
        /// Microphone or loudspeaker.
        kind: Direction,
        /// The form of sound that it works with, in words.
        found: String,
    },

    /// Whatever else the sound system said.
    #[error("{}", words::devices::does_not_work(kind, message))]
    Failed {
        /// Microphone or loudspeaker.
        kind: Direction,
        /// Message of the sound system.
        message: String,
    },
}

/// Direction of the sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Sound comes in.
    Microphone,
    /// Sound goes out.
    Loudspeaker,
}

impl std::fmt::Display for Direction {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Direction::Microphone => words::devices::MICROPHONE,
            Direction::Loudspeaker => words::devices::LOUDSPEAKER,
        })
    }
}

fn listed(names: &[String]) -> String {
    match names {
        [] => words::devices::NONE_AT_ALL.to_owned(),
        names => names.join(", "),
    }
}

/// Sound or silence that a [`Source`] had to give.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Came {
    /// Samples are in the block; none where nothing came while waiting.
    Sound,
    /// Samples that are missing before those of the next block.
    Lost(u64),
    /// End of the sound.
    End,
}

/// Mono sound, full scale ±1, as it comes.
pub trait Source: Send {
    /// Samples a second, Hz.
    fn rate_hz(&self) -> u32;

    /// Replaces `block` by what has come since the last call, and waits a little (10 to 50 ms)
    /// where nothing has.
    ///
    /// # Errors
    /// [`DeviceError::Gone`] within a second after sound has stopped coming (later where the computer
    /// wakes its programs late); others as the sound system says.
    fn read(&mut self, block: &mut Vec<f32>) -> Result<Came, DeviceError>;

    /// Gives when the next sample of [`read`](Self::read) comes from the sound system, in seconds of a
    /// clock that it shares with every [`Sink`]; `None` where nobody knows.
    fn next_s(&self) -> Option<f64> {
        None
    }
}

/// Somewhere to play mono sound, full scale ±1.
pub trait Sink: Send {
    /// Samples a second, Hz.
    fn rate_hz(&self) -> u32;

    /// Takes samples to be played after those that wait already; gives how many it took.
    fn queue(&mut self, samples: &[f32]) -> usize;

    /// Samples that wait to be played.
    fn waiting(&self) -> usize;

    /// Forgets what waits.
    fn stop(&mut self);

    /// Tells whether it still plays; false once the loudspeaker is gone.
    fn works(&self) -> bool;

    /// Gives when the sound system took the first sample of what plays now, or played last: of what was queued
    /// since nothing waited or all was forgotten. In seconds of the clock of [`Source::next_s`]; `None`
    /// before that and where nobody knows.
    fn began_s(&self) -> Option<f64> {
        None
    }
}

/// Tells where among the last `samples` that a source gave what the sink plays now began, in seconds from the
/// first of them; how long sound then takes to be heard is not in it. `None` where nobody knows.
pub fn began_at_s(source: &dyn Source, sink: &dyn Sink, samples: usize) -> Option<f64> {
    let first_s = source.next_s()? - samples as f64 / f64::from(source.rate_hz());
    Some(sink.began_s()? - first_s)
}

/// An input that the computer offers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Device {
    /// The sound system's name for it.
    pub name: String,
    /// The one that is taken where none is named.
    pub usual: bool,
}
