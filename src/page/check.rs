//! Recordings on the page.

use std::path::PathBuf;
use std::sync::Arc;

use wasm_bindgen::prelude::*;

use super::meant::Meant;
use super::{PageResult, json, told, view};
use crate::audio::{Health, Reader};
use crate::fretboard::Tuning;
use crate::listening::{InTurn, problem};
use crate::report::Form;
use crate::report::json::Json;
use crate::report::page::{PlayedTake, wav};
use crate::report::plot::{self, PictureKind, PlottedTake};
use crate::strings::view::Viewer;
use crate::take::Take;
use crate::verdict::{AnalyserSettings, JudgedTake};

/// Blocks that are judged in one step: half a second of sound, so that a microphone's sound does not wait.
const BLOCKS: usize = 6;
/// Takes whose sound is kept, for pictures and for playing: 4 s each at 48 kHz are some 40 MB.
const KEPT: usize = 50;

/// A recording under judgement.
#[wasm_bindgen]
pub struct Check {
    name: PathBuf,
    tuning: Tuning,
    rate_hz: u32,
    /// Until all has been judged.
    reading: Option<Reading>,
    health: Health,
    form: Json,
    /// The takes so far, and the sound of the first [`KEPT`].
    takes: Vec<JudgedTake>,
    strums: Vec<Take>,
    samples: u64,
    error: Option<String>,
}

/// The file and who listens to it.
struct Reading {
    reader: Reader,
    judge: InTurn,
}

#[wasm_bindgen]
impl Check {
    /// Opens a recording: the bytes of a WAV, FLAC, MP3, M4A, OGG or WebM file.
    ///
    /// # Errors
    /// What is wrong with `meant` or the file, as a sentence.
    #[wasm_bindgen(constructor)]
    pub fn new(meant: &str, name: &str, bytes: Vec<u8>) -> PageResult<Check> {
        let meant = Meant::read(meant)?;
        let (tuning, expected) = (meant.tuning()?, meant.expected()?);
        let name = PathBuf::from(name);
        let reader = Reader::from_bytes(&name, Arc::from(bytes)).map_err(told)?;
        let settings = AnalyserSettings {
            tuning,
            rate_hz: reader.rate_hz(),
        };
        let mut form = Json::default();
        form.begin(&name);
        Ok(Check {
            name,
            tuning,
            rate_hz: reader.rate_hz(),
            reading: Some(Reading {
                reader,
                judge: InTurn::new(settings, expected),
            }),
            health: Health::default(),
            form,
            takes: Vec::new(),
            strums: Vec::new(),
            samples: 0,
            error: None,
        })
    }

    /// Length in seconds as the file states it; NaN where it does not. To be asked before the end.
    pub fn duration_s(&self) -> f64 {
        let stated = self.reading.as_ref().and_then(|r| r.reader.duration_s());
        stated.unwrap_or(f64::NAN)
    }

    /// Tells how far the recording has been listened to, in seconds.
    pub fn position_s(&self) -> f64 {
        self.samples as f64 / f64::from(self.rate_hz)
    }

    /// Tells whether all has been judged.
    pub fn ended(&self) -> bool {
        self.reading.is_none()
    }

    /// Judges the next half second; gives the takes that are certain now, as a list in JSON.
    pub fn step(&mut self) -> String {
        let (mut judged, mut block) = (Vec::new(), Vec::new());
        for _ in 0..BLOCKS {
            let Some(Reading { reader, judge }) = &mut self.reading else {
                break;
            };
            match reader.read(&mut block) {
                Ok(true) => {
                    self.samples += block.len() as u64;
                    judge.push(&block, &mut judged);
                }
                other => {
                    self.error = other.err().map(|error| error.to_string());
                    judge.finish(&mut judged);
                    self.health = reader.health();
                    self.reading = None;
                }
            }
        }
        let views: Vec<view::TakeView> = judged
            .iter()
            .map(|judged| view::take(&judged.take, &self.tuning))
            .collect();
        for judged in judged {
            let kept = self.form.take(&mut std::io::sink(), judged.take.clone());
            debug_assert!(kept.is_ok(), "nothing is written before the end");
            if self.strums.len() < KEPT {
                self.strums.push(judged.sound);
            }
            self.takes.push(judged.take);
        }
        json(&views)
    }

    /// Gives what is wrong with the recording, where that is worth a word; to be asked at the end.
    pub fn problem(&self) -> Option<String> {
        let (error, count) = (self.error.clone(), self.takes.len());
        problem(&self.name, error, &self.health, self.rate_hz, count)
    }

    /// Gives what `ringtrue check --json` prints of the recording; to be asked at the end.
    pub fn report(&mut self) -> String {
        let (mut out, problem) = (Vec::new(), self.problem());
        let written = self.form.end(&mut out, problem.as_deref());
        debug_assert!(written.is_ok(), "into memory");
        String::from_utf8(out).unwrap_or_default()
    }

    /// The pictures of a take (from 0) as SVG, `width` pixels wide; none where its sound is not kept.
    pub fn picture(&self, take: usize, width: u32) -> Option<String> {
        let (strum, take) = (self.strum(take)?, self.takes.get(take)?.clone());
        let mut viewer = Viewer::new(strum.rate_hz, self.tuning);
        let shown = PlottedTake::new(&mut viewer, strum, take, self.tuning, self.file_name());
        let kinds = [
            PictureKind::Ringdown,
            PictureKind::Spectrum,
            PictureKind::Chroma,
        ];
        Some(plot::draw(&kinds, &[shown], width).bare_svg())
    }

    /// The sound of a take (from 0) as a WAV file; none where it is not kept.
    pub fn sound(&self, take: usize) -> Option<Vec<u8>> {
        let strum = self.strums.get(take)?;
        Some(wav(&strum.samples, strum.rate_hz, strum.onsets[0]))
    }

    /// Tells of how many takes the sound is held.
    pub fn sounds(&self) -> usize {
        self.strums.len()
    }

    /// Lets the sound of all takes go. What was said of them stays.
    pub fn forget_sounds(&mut self) {
        self.strums = Vec::new();
    }
}

impl Check {
    /// Name of the recording.
    pub(super) fn file_name(&self) -> String {
        self.name.to_string_lossy().into_owned()
    }

    /// Tuning that the takes were judged in.
    pub(super) fn tuning(&self) -> Tuning {
        self.tuning
    }

    /// The takes so far, for a report.
    pub(super) fn played(&self) -> impl Iterator<Item = PlayedTake> {
        let takes = self.takes.iter().cloned();
        takes.map(|take| PlayedTake::of_judged(take, self.file_name()))
    }

    /// The sound of a take (from 0); none where it is not kept.
    pub(super) fn strum(&self, take: usize) -> Option<Take> {
        self.strums.get(take).cloned()
    }
}
