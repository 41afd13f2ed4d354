//! Whole recorded notes of real contact as strings of a chord: for measuring alone.
//!
//! The twin is the same note with its contact taken out. Octave by octave its treble is lowered to where it would have
//! been, had it fallen since the attack as a clean note of the same instrument falls. So the twin differs from the note
//! by the contact alone, and the lift is known.

use rand::Rng;
use rand::rngs::SmallRng;

use super::contact::RattlingNote;
use super::twins::{Attempt, OCTAVES_HZ, Twins, at, level_db};
use super::{Aim, Make};
use crate::fretboard::Tuning;
use crate::synth::effects::{filter_by, stretch};

/// Whole notes.
pub(super) struct Whole<'a> {
    pub contact: &'a [RattlingNote],
    pub tuning: &'a Tuning,
}

/// Most that a note is moved by, in semitones: about as far as recorded notes of guitars are.
const MOST_MOVED: i32 = 4;
/// How fast each octave of the treble falls in a clean note of the bass (C4, softly), in dB per second.
const FALLS_DB_S: [f64; OCTAVES_HZ.len()] = [35.0, 70.0, 90.0];
/// An octave falls so steeply no further than this under where it was at first, in dB.
const FALLS_DB: f64 = 45.0;
/// Levels are followed in blocks of this, in seconds.
const BLOCK_S: f64 = 0.025;

impl Whole<'_> {
    fn near(&self, string: usize, fret: u8) -> Vec<&RattlingNote> {
        let midi = i32::from(self.tuning.midi(string, fret));
        let off = |note: &&RattlingNote| (i32::from(note.midi) - midi).abs();
        let near = self.contact.iter().filter(|note| off(note) <= MOST_MOVED);
        near.collect()
    }
}

impl Make for Whole<'_> {
    fn can(&self, string: usize, fret: u8) -> bool {
        !self.near(string, fret).is_empty()
    }

    fn twins(&self, (string, fret): (usize, u8), aim: Aim, rng: &mut SmallRng) -> Twins {
        let near = self.near(string, fret);
        let note = near[rng.random_range(0..near.len())];
        let moved = self.tuning.hz(string, fret) / note.hz();
        let free = stretch(&without_contact(note), moved);
        let attempt = (aim == Aim::Buzz).then(|| Attempt {
            samples: stretch(&note.samples, moved),
            hits_s: contact_s(note) / moved,
        });
        Twins::judged(free, attempt)
    }
}

/// How long the treble stands over where it would have fallen, in seconds.
fn contact_s(note: &RattlingNote) -> f64 {
    let octave = octave(&note.samples, OCTAVES_HZ[1]);
    let over = lowering_db(&octave, FALLS_DB_S[1]);
    let blocks = over.iter().filter(|down| **down < -6.0).count();
    blocks as f64 * BLOCK_S
}

fn octave(samples: &[f32], low_hz: f64) -> Vec<f32> {
    let mut octave = samples.to_vec();
    let top = low_hz >= OCTAVES_HZ[OCTAVES_HZ.len() - 1];
    filter_by(&mut octave, |hz| {
        f32::from(u8::from(hz >= low_hz && (top || hz < 2.0 * low_hz)))
    });
    octave
}

/// By how much each block has to be lowered, in dB, so that the octave never rises and falls at least this fast.
fn lowering_db(octave: &[f32], falls_db_s: f64) -> Vec<f64> {
    let levels: Vec<f64> = octave.chunks(at(BLOCK_S)).map(level_db).collect();
    // The attack's own level: its loudest block.
    let attack = levels.iter().take(3).copied().fold(-200.0, f64::max);
    let mut least = f64::INFINITY;
    levels
        .iter()
        .enumerate()
        .map(|(block, level)| {
            let since = block.saturating_sub(2) as f64 * BLOCK_S;
            let course = attack - (falls_db_s * since).min(FALLS_DB);
            least = least.min(*level);
            course.min(least) - level
        })
        .map(|down| down.min(0.0))
        .collect()
}

/// The note with its treble lowered to where it would have fallen without contact.
fn without_contact(note: &RattlingNote) -> Vec<f32> {
    let mut samples = note.samples.clone();
    for (low_hz, falls_db_s) in OCTAVES_HZ.into_iter().zip(FALLS_DB_S) {
        let octave = octave(&note.samples, low_hz);
        let lowering = lowering_db(&octave, falls_db_s);
        let block = at(BLOCK_S) as f64;
        for (i, (s, treble)) in samples.iter_mut().zip(&octave).enumerate() {
            let place = (i as f64 / block - 0.5).max(0.0);
            let (k, t) = (place as usize, place.fract());
            let of = |k: usize| lowering[k.min(lowering.len() - 1)];
            let gain = 10f64.powf(((1.0 - t) * of(k) + t * of(k + 1)) / 20.0);
            *s -= treble * (1.0 - gain) as f32;
        }
    }
    samples
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::synth::buzz::tests::CONTACT;

    #[test]
    fn a_twin_has_its_contact_taken_out_and_its_low_partials_left() {
        let (mut plain, mut all) = (0, 0);
        for note in CONTACT.iter().filter(|note| [36, 63].contains(&note.midi)) {
            let twin = without_contact(note);
            let around = note.peak().saturating_sub(at(0.05))..note.peak() + at(0.05);
            let treble =
                |samples: &[f32]| level_db(&octave(samples, OCTAVES_HZ[1])[around.clone()]);
            let lift_db = treble(&note.samples) - treble(&twin);
            assert!(lift_db > -0.1, "MIDI {}: {lift_db} dB", note.midi);
            plain += usize::from(lift_db > 6.0);
            all += 1;
            let low = |samples: &[f32]| {
                let mut low = samples.to_vec();
                filter_by(&mut low, |hz| f32::from(u8::from(hz < 1_000.0)));
                level_db(&low[around.clone()])
            };
            assert!((low(&note.samples) - low(&twin)).abs() < 0.2);
        }
        assert!(2 * plain > all, "{plain} of {all}");
    }
}
