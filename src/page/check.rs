//! Recordings on the page.

use std::path::PathBuf;
use std::sync::Arc;

use wasm_bindgen::prelude::*;

use super::meant::Meant;
use super::{Told, json, told, view};
use crate::audio::Reader;
use crate::fretboard::Tuning;
use crate::listening::{InTurn, Judged, problem};
use crate::report::Form;
use crate::report::json::Json;
use crate::report::page::wav;
use crate::report::plot::{self, Kind, Shown};
use crate::strings::view::Viewer;
use crate::verdict::Settings;

/// Blocks that are judged in one step: half a second of sound, so that a microphone's sound does not wait.
const BLOCKS: usize = 6;
/// Takes whose sound is kept, for pictures and for playing: 4 s each at 48 kHz are some 40 MB.
const KEPT: usize = 50;

/// A recording under judgement.
#[wasm_bindgen]
pub struct Check {
    name: PathBuf,
    reader: Reader,
    tuning: Tuning,
    judge: InTurn,
    form: Json,
    /// The takes so far; the sound of the first [`KEPT`].
    takes: Vec<Judged>,
    count: usize,
    samples: u64,
    error: Option<String>,
    ended: bool,
}

#[wasm_bindgen]
impl Check {
    /// Opens a recording: the bytes of a WAV, FLAC, MP3, M4A, OGG or WebM file.
    ///
    /// # Errors
    /// What is wrong with `meant` or the file, as a sentence.
    #[wasm_bindgen(constructor)]
    pub fn new(meant: &str, name: &str, bytes: Vec<u8>) -> Told<Check> {
        let meant = Meant::read(meant)?;
        let (tuning, expected) = (meant.tuning()?, meant.expected()?);
        let name = PathBuf::from(name);
        let reader = Reader::from_bytes(&name, Arc::from(bytes)).map_err(told)?;
        let settings = Settings {
            tuning,
            rate_hz: reader.rate_hz(),
        };
        let mut form = Json::default();
        form.begin(&name);
        Ok(Check {
            name,
            reader,
            tuning,
            judge: InTurn::new(settings, expected),
            form,
            takes: Vec::new(),
            count: 0,
            samples: 0,
            error: None,
            ended: false,
        })
    }

    /// Length in seconds as the file states it; NaN where it does not.
    pub fn duration_s(&self) -> f64 {
        self.reader.duration_s().unwrap_or(f64::NAN)
    }

    /// Tells how far the recording has been listened to, in seconds.
    pub fn position_s(&self) -> f64 {
        self.samples as f64 / f64::from(self.reader.rate_hz())
    }

    /// Tells whether all has been judged.
    pub fn ended(&self) -> bool {
        self.ended
    }

    /// Judges the next half second; gives the takes that are certain now, as a list in JSON.
    pub fn step(&mut self) -> String {
        let (mut judged, mut block) = (Vec::new(), Vec::new());
        for _ in 0..BLOCKS {
            if self.ended {
                break;
            }
            match self.reader.read(&mut block) {
                Ok(true) => {
                    self.samples += block.len() as u64;
                    self.judge.push(&block, &mut judged);
                }
                other => {
                    self.error = other.err().map(|error| error.to_string());
                    self.judge.finish(&mut judged);
                    self.ended = true;
                }
            }
        }
        let views: Vec<view::TakeView> = judged
            .iter()
            .map(|judged| view::take(&judged.take, &self.tuning))
            .collect();
        for judged in judged {
            self.count += 1;
            let kept = self.form.take(&mut std::io::sink(), judged.take.clone());
            debug_assert!(kept.is_ok(), "nothing is written before the end");
            if self.takes.len() < KEPT {
                self.takes.push(judged);
            }
        }
        json(&views)
    }

    /// Gives what is wrong with the recording, where that is worth a word; to be asked at the end.
    pub fn problem(&self) -> Option<String> {
        let (health, rate_hz) = (self.reader.health(), self.reader.rate_hz());
        problem(&self.name, self.error.clone(), &health, rate_hz, self.count)
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
        let Judged { strum, take } = self.takes.get(take)?.clone();
        let mut viewer = Viewer::new(strum.rate_hz, self.tuning);
        let name = self.name.to_string_lossy().into_owned();
        let shown = Shown::new(&mut viewer, strum, take, self.tuning, name);
        let kinds = [Kind::Ringdown, Kind::Spectrum, Kind::Chroma];
        Some(plot::draw(&kinds, &[shown], width).bare_svg())
    }

    /// The sound of a take (from 0) as a WAV file; none where it is not kept.
    pub fn sound(&self, take: usize) -> Option<Vec<u8>> {
        let strum = &self.takes.get(take)?.strum;
        Some(wav(&strum.samples, strum.rate_hz, strum.onsets[0]))
    }
}
