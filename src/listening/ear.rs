//! A source and a listener together: what a session at the guitar stands on.

use std::time::Instant;

use super::{Listener, Message};
use crate::audio::Meter;
use crate::audio::live::{Came, DeviceError, Reopening, Source};
use crate::fretboard::Tuning;
use crate::strings::Learnt;
use crate::verdict::{AnalyserSettings, Expected};

/// Events of the sound itself.
#[derive(Debug, Clone, Default, PartialEq)]
pub enum Stream {
    /// Sound that comes, or nothing that happened.
    #[default]
    Flows,
    /// Loss of sound, in seconds.
    Lost(f64),
    /// The microphone has gone; it is waited for.
    Gone(DeviceError),
    /// Sound that is there again.
    Back,
    /// End of the sound.
    Ended,
}

/// Listens to a source, and waits for a microphone that has gone away.
pub struct Ear {
    /// `None` while waiting.
    source: Option<Box<dyn Source>>,
    reopening: Option<Reopening>,
    /// Name of the input to wait for; `None`: the usual one.
    input: Option<String>,
    listener: Listener,
    meter: Meter,
    block: Vec<f32>,
    came: Instant,
}

impl Ear {
    /// Listens to `source`, which was opened as `input`.
    pub fn new(
        source: Box<dyn Source>,
        input: Option<String>,
        tuning: Tuning,
        expected: Expected,
    ) -> Self {
        let rate_hz = source.rate_hz();
        Ear {
            source: Some(source),
            reopening: None,
            input,
            listener: Listener::new(AnalyserSettings { tuning, rate_hz }, expected),
            meter: Meter::new(rate_hz),
            block: Vec::new(),
            came: Instant::now(),
        }
    }

    /// The same, which judges by what was learnt of the guitar too.
    pub fn refined(mut self, learnt: Learnt) -> Self {
        self.listener.refine(learnt);
        self
    }

    /// The same, where music is heard beside the strings.
    pub fn beside_music(mut self) -> Self {
        self.listener.beside_music(true);
        self
    }

    /// Takes what has come, waiting up to about 50 ms where nothing has, and adds what it tells to
    /// `heard`. To be called again and again, at least once a second.
    pub fn hear(&mut self, heard: &mut Vec<Message>) -> Stream {
        let Some(source) = &mut self.source else {
            return self.wait();
        };
        self.block.clear();
        match source.read(&mut self.block) {
            Ok(Came::Sound) => {
                self.came = Instant::now();
                self.meter.push(&self.block);
                self.listener.push(&self.block, heard);
                Stream::Flows
            }
            Ok(Came::Lost(samples)) => {
                self.listener.lost(samples, heard);
                Stream::Lost(samples as f64 / f64::from(self.rate_hz()))
            }
            Ok(Came::End) => {
                self.listener.finish(heard);
                Stream::Ended
            }
            Err(error) => {
                self.listener.finish(heard);
                self.source = None;
                self.reopening = Some(Reopening::of(self.input.as_deref()));
                Stream::Gone(error)
            }
        }
    }

    fn wait(&mut self) -> Stream {
        match self.reopening.as_ref().and_then(Reopening::get) {
            Some(source) => {
                self.listener.go_on(source.rate_hz());
                self.meter = Meter::new(source.rate_hz());
                self.source = Some(source);
                self.reopening = None;
                Stream::Back
            }
            None => Stream::Flows,
        }
    }

    /// Ends listening: gives the takes still sounding.
    pub fn finish(&mut self, heard: &mut Vec<Message>) {
        self.listener.finish(heard);
    }

    /// The listener, to mean another chord or to be deaf for a while.
    pub fn listener(&mut self) -> &mut Listener {
        &mut self.listener
    }

    /// Samples a second, Hz.
    pub fn rate_hz(&self) -> u32 {
        self.listener.settings().rate_hz
    }

    /// Seconds of sound since the beginning.
    pub fn now_s(&self) -> f64 {
        self.listener.now_s()
    }

    /// The source, while it is there.
    pub fn source(&self) -> Option<&dyn Source> {
        self.source.as_deref()
    }

    /// Seconds since the last sound came.
    pub fn since_s(&self) -> f64 {
        self.came.elapsed().as_secs_f64()
    }

    /// The samples that came just now, mono; none where none did.
    pub fn block(&self) -> &[f32] {
        &self.block
    }

    /// Tells how loud it is.
    pub fn meter(&self) -> &Meter {
        &self.meter
    }

    /// Tells whether sound comes.
    pub fn has_microphone(&self) -> bool {
        self.source.is_some()
    }
}
