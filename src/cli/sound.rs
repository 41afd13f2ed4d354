//! Source that a command listens to: a microphone, or a recording in its place.

use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::{Arc, Mutex, PoisonError};

use anyhow::bail;

use super::{AS_IT_SHOULD_BE, Console, NOT_JUDGED};
use crate::audio::live::{Source, open_input, open_output};
use crate::audio::recorded::{RecordedSource, State};
use crate::fretboard::Tuning;
use crate::listening::{self, Sounds};
use crate::words;

/// A source, and what is known of the recording where it is one.
pub struct SoundInput {
    pub source: Box<dyn Source>,
    pub recording: Option<InputRecording>,
}

/// A recording that is listened to.
pub struct InputRecording {
    path: PathBuf,
    rate_hz: u32,
    state: Arc<Mutex<State>>,
    /// Its length in seconds, where the file says so.
    pub length_s: Option<f64>,
}

impl SoundInput {
    /// The recording `from`, or the input of that name, or the usual one.
    ///
    /// # Errors
    /// Both named, a recording that cannot be opened, a [`DeviceError`](crate::audio::live::DeviceError).
    pub fn open(from: Option<&Path>, input: Option<&str>) -> anyhow::Result<SoundInput> {
        let Some(path) = from else {
            let source = open_input(input)?;
            return Ok(SoundInput {
                source,
                recording: None,
            });
        };
        if input.is_some() {
            bail!(words::commands::FROM_OR_INPUT);
        }
        let recorded = RecordedSource::open(path)?;
        Ok(SoundInput {
            recording: Some(InputRecording {
                path: path.to_owned(),
                rate_hz: recorded.rate_hz(),
                state: recorded.state(),
                length_s: recorded.duration_s(),
            }),
            source: Box::new(recorded),
        })
    }
}

/// Tells how a command that has listened ends: what was wrong with the recording is said.
pub fn ended(recording: Option<InputRecording>, takes: usize, console: &mut Console) -> ExitCode {
    match recording.and_then(|recording| recording.problem(takes)) {
        Some(problem) => {
            console.complain(&problem);
            NOT_JUDGED.into()
        }
        None => AS_IT_SHOULD_BE.into(),
    }
}

/// The loudspeaker. Without one `what` goes on all the same, which is said where sounds were asked for.
pub fn loudspeaker(
    tuning: Tuning,
    asked: bool,
    what: &str,
    console: &mut Console,
) -> Option<Sounds> {
    Sounds::new(open_output, tuning)
        .inspect_err(|error| {
            if asked {
                console.complain(&words::commands::without_sounds(error, what));
            }
        })
        .ok()
}

impl InputRecording {
    fn state(&self) -> State {
        let state = self.state.lock();
        state.unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Tells why reading stopped before the end, if it did.
    pub fn error(&self) -> Option<String> {
        self.state().error
    }

    /// Gives what was wrong with it, where that is worth a word; to be asked at the end.
    pub fn problem(&self, takes: usize) -> Option<String> {
        let state = self.state();
        listening::problem(&self.path, state.error, &state.health, self.rate_hz, takes)
    }
}
