//! A recording, given as a microphone gives sound but as fast as it is asked for.

use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

use super::device::{Came, DeviceError, Source};
use super::{AudioError, Health, Reader};

/// What is given at a time, in seconds: about what a sound card does.
const PIECE_S: f64 = 0.01;

/// A recording as a [`Source`]. Never in memory as a whole.
pub struct RecordedSource {
    reader: Reader,
    block: Vec<f32>,
    given: usize,
    state: Arc<Mutex<State>>,
}

/// State of the reading.
#[derive(Debug, Clone, Default)]
pub struct State {
    /// Faults of the samples read so far.
    pub health: Health,
    /// Reason why it ended early, where it did.
    pub error: Option<String>,
}

impl RecordedSource {
    /// Opens a recording.
    ///
    /// # Errors
    /// As [`Reader::open`].
    pub fn open(path: &Path) -> Result<RecordedSource, AudioError> {
        Ok(RecordedSource {
            reader: Reader::open(path)?,
            block: Vec::new(),
            given: 0,
            state: Arc::default(),
        })
    }

    /// Its length in seconds, where the file says so.
    pub fn duration_s(&self) -> Option<f64> {
        self.reader.duration_s()
    }

    /// Tells how the reading goes, to be looked at when the source itself has been given away.
    pub fn state(&self) -> Arc<Mutex<State>> {
        Arc::clone(&self.state)
    }
}

impl Source for RecordedSource {
    fn rate_hz(&self) -> u32 {
        self.reader.rate_hz()
    }

    fn read(&mut self, block: &mut Vec<f32>) -> Result<Came, DeviceError> {
        block.clear();
        while self.given == self.block.len() {
            self.given = 0;
            let more = self.reader.read(&mut self.block);
            let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
            state.health = self.reader.health();
            match more {
                Ok(true) => {}
                Ok(false) => return Ok(Came::End),
                // What came before is used; the caller tells why there is no more.
                Err(error) => {
                    state.error = Some(error.to_string());
                    return Ok(Came::End);
                }
            }
        }
        let piece = ((PIECE_S * f64::from(self.rate_hz())) as usize).max(1);
        let end = self.block.len().min(self.given + piece);
        block.extend_from_slice(&self.block[self.given..end]);
        self.given = end;
        Ok(Came::Sound)
    }
}
