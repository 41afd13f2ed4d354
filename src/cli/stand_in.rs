//! STAND-IN for what is being written beside this: remove at merge.

use crate::fretboard::{ChordName, Frets, Tuning, string_number};
use crate::take::{Manner, Strum};
use crate::verdict::{Reason, StringVerdict, Take, Verdict};

pub struct Finder {
    rate_hz: u32,
    samples: Vec<f32>,
}

impl Finder {
    pub fn new(rate_hz: u32) -> Self {
        Finder {
            rate_hz,
            samples: vec![],
        }
    }
    pub fn push(&mut self, block: &[f32], _: &mut Vec<Strum>) {
        self.samples.extend(block);
    }
    pub fn finish(&mut self, strums: &mut Vec<Strum>) {
        if let Some(onset) = self.samples.iter().position(|s| s.abs() > 0.1) {
            strums.push(Strum {
                samples: std::mem::take(&mut self.samples),
                rate_hz: self.rate_hz,
                first: 0,
                onsets: vec![onset],
                manner: Manner::Strummed,
                cut_by_next: false,
            });
        }
    }
}

pub struct Analyser;

impl Analyser {
    pub fn new(_: Tuning, _: u32) -> Self {
        Analyser
    }
    pub fn analyse(&mut self, strum: &Strum, expected: &Frets) -> Take {
        Take {
            start_s: strum.start_s(),
            manner: strum.manner,
            chord: None,
            frets: *expected,
            tuning_cents: 0.0,
            warnings: vec![],
            strings: std::array::from_fn(|i| StringVerdict {
                string: string_number(i),
                expected_fret: expected.0[i],
                verdict: Verdict::Unsure,
                heard_fret: None,
                rings: 0.5,
                confidence: 0.5,
                cents: None,
                reason: Some(Reason::Balanced),
            }),
        }
    }
    pub fn best_voicing(&mut self, _: &Strum, _: &[Frets]) -> Option<(usize, f32)> {
        Some((0, 0.7))
    }
}

pub fn voicing(_: &ChordName, _: Option<&str>, _: Option<u8>) -> anyhow::Result<Frets> {
    Ok("x13331".parse()?)
}

pub fn library() -> Vec<(Frets, String)> {
    vec![("x13331".parse().unwrap(), "Bb".to_owned())]
}

pub fn name(_: &Frets, _: &Tuning) -> Option<String> {
    None
}
