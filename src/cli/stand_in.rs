//! STAND-IN for what is being written beside this: remove at merge.

use crate::fretboard::{Frets, Tuning, string_number};
use crate::take::Strum;
use crate::verdict::{Reason, StringVerdict, Take, Verdict};

#[allow(dead_code)]
pub struct Settings {
    pub tuning: Tuning,
    pub rate_hz: u32,
}

pub struct Analyser;

impl Analyser {
    pub fn new(_: Settings) -> Self {
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
