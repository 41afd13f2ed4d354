//! A string that meets a fret beside the same string that does not, and how much louder the one is in the treble.

use std::ops::Range;

use rand::Rng;
use rand::rngs::SmallRng;

use super::BuzzTruth;
use crate::synth::effects::{add, filter_by};
use crate::synth::notes::{NOTE_RATE_HZ, NOTE_RMS};
use crate::synth::random::gauss;

/// Octaves of the treble, each from here to twice that, in Hz. Each is judged by itself: hearing does, and
/// the level of all treble is that of its lowest octave, where the string's own partials lie.
pub const OCTAVES_HZ: [f64; 3] = [1_500.0, 3_000.0, 6_000.0];
/// Where buzz is told from mild contact, by the level of an octave of the treble over half a second, against
/// the same string without the fret at the same loudness: from 6 dB up it buzzes, below 3 dB
/// it does not. No published limit is known; twice the amplitude is plainly heard, a tenth of that is not.
const BUZZES_DB: f64 = 6.0;
const CLEAN_DB: f64 = 3.0;
/// Buzz from the attack on also goes on for some time; contact over within some periods is the click of a hard
/// stroke.
const BUZZES_S: f64 = 0.15;
/// An octave with less than this against all the sound of the string is not heard, whatever the excess, in dB.
const HEARD_DB: f64 = -40.0;
/// What is judged begins so long after the stroke, when the attack's own treble is over, in seconds.
pub(super) const ATTACK_S: f64 = 0.1;
/// How long a part is judged, in seconds.
pub(super) const JUDGED_S: f64 = 0.5;
/// Nothing later than this after the stroke is judged, in seconds.
pub(super) const LATEST_S: f64 = 2.5;
/// Length of the blocks that a swell is looked for in, in seconds.
const BLOCK_S: f64 = 0.05;
/// A swell lasts while its treble lies within this of its peak, in dB.
const SWELL_DB: f64 = 10.0;

/// Stretch in which the treble of a string that meets a fret stands out most from its twin's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Swell {
    /// Moment at which it comes within 10 dB of its peak, in seconds after the stroke; 0.1 at the earliest.
    pub from_s: f64,
    /// Time for which it stays within 10 dB of its peak, in seconds.
    pub lasts_s: f64,
    /// Level of what the contact adds above 1.5 kHz at the peak, against all the sound of the string there, in dB.
    pub peak_db: f64,
}

/// A string that met a fret and its twin that did not, both scaled like notes.
pub(super) struct Twins {
    pub struck: Vec<f32>,
    pub free: Vec<f32>,
    pub truth: BuzzTruth,
    /// Time from the first to the last contact, in seconds.
    pub hits_s: f64,
    pub swell: Swell,
}

/// A sound with a fret in the string's way, and how long the string meets it, in seconds.
pub(super) struct Attempt {
    pub samples: Vec<f32>,
    pub hits_s: f64,
}

impl Twins {
    /// Judges attempts of rising strength until one buzzes; the last one stands where none does.
    pub fn judged(free: Vec<f32>, attempts: impl IntoIterator<Item = Attempt>) -> Self {
        let mut twins = Twins {
            struck: free.clone(),
            truth: BuzzTruth::Clean,
            hits_s: 0.0,
            swell: Swell::of(&free, &free),
            free,
        };
        for attempt in attempts {
            twins.truth = twins.judge(&attempt);
            twins.swell = Swell::of(&attempt.samples, &twins.free);
            twins.struck = attempt.samples;
            twins.hits_s = attempt.hits_s;
            if matches!(twins.truth, BuzzTruth::Buzzes { .. }) {
                break;
            }
        }
        twins
    }

    /// Does [`judged`](Self::judged) with `contact` laid onto `free` from `from` on, so loud as each of `levels_db` in turn.
    pub fn laid(
        free: Vec<f32>,
        (contact, from): (&[f32], usize),
        levels_db: Vec<f64>,
        hits_s: f64,
    ) -> Self {
        let attempts: Vec<Attempt> = levels_db
            .into_iter()
            .map(|level_db| Attempt {
                samples: add_contact(&free, contact, from, level_db),
                hits_s,
            })
            .collect();
        Twins::judged(free, attempts)
    }

    fn judge(&self, attempt: &Attempt) -> BuzzTruth {
        let swell = Swell::of(&attempt.samples, &self.free);
        let excess_db = swell
            .windows_s()
            .map(|from_s| excess_db(&attempt.samples, &self.free, from_s))
            .fold(0.0, f64::max);
        let lasts = swell.is_late() || attempt.hits_s >= BUZZES_S;
        if excess_db >= BUZZES_DB && lasts {
            BuzzTruth::Buzzes { excess_db }
        } else if excess_db < CLEAN_DB {
            BuzzTruth::Clean
        } else {
            BuzzTruth::Between
        }
    }
}

impl Swell {
    /// Finds it by blocks of 50 ms.
    pub(super) fn of(struck: &[f32], free: &[f32]) -> Self {
        let treble = |samples: &[f32]| {
            let mut treble = samples.to_vec();
            filter_by(&mut treble, |hz| f32::from(u8::from(hz >= OCTAVES_HZ[0])));
            treble.truncate(at(LATEST_S));
            blocks(&treble)
        };
        let added: Vec<f64> = std::iter::zip(treble(struck), treble(free))
            .map(|(struck, free)| (struck - free).max(0.0))
            .collect();
        let first = (ATTACK_S / BLOCK_S) as usize;
        let none = Swell {
            from_s: ATTACK_S,
            lasts_s: 0.0,
            peak_db: f64::NEG_INFINITY,
        };
        let Some((peak, power)) = added
            .iter()
            .copied()
            .enumerate()
            .skip(first)
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .filter(|(_, power)| *power > 0.0)
        else {
            return none;
        };
        let within = |block: &usize| added[*block] > power * 10f64.powf(-SWELL_DB / 10.0);
        let before = (first..peak).rev().take_while(within).count();
        let after = (peak + 1..added.len()).take_while(within).count();
        Swell {
            from_s: (peak - before) as f64 * BLOCK_S,
            lasts_s: (before + 1 + after) as f64 * BLOCK_S,
            peak_db: 10.0 * (power / (blocks(free)[peak] + 1e-20)).log10(),
        }
    }

    /// Tells whether it begins later than the part that is always judged.
    fn is_late(&self) -> bool {
        self.from_s > ATTACK_S + BLOCK_S
    }

    /// Where the parts that are judged begin, in seconds after the stroke: after the attack, and with the swell.
    pub(super) fn windows_s(&self) -> impl Iterator<Item = f64> + use<> {
        std::iter::once(ATTACK_S).chain(self.is_late().then_some(self.from_s))
    }
}

/// Power of each block of 50 ms.
fn blocks(samples: &[f32]) -> Vec<f64> {
    samples.chunks_exact(at(BLOCK_S)).map(power).collect()
}

fn power(samples: &[f32]) -> f64 {
    samples.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / samples.len().max(1) as f64
}

pub(super) fn level_db(samples: &[f32]) -> f64 {
    10.0 * (power(samples) + 1e-20).log10()
}

/// Number of samples in `seconds`.
pub(super) fn at(seconds: f64) -> usize {
    (seconds * f64::from(NOTE_RATE_HZ)).round() as usize
}

/// The part from `from_s` on that is judged, or what there is of it.
fn part(samples: &[f32], from_s: f64) -> Range<usize> {
    let from = at(from_s).min(samples.len());
    from..(from + at(JUDGED_S)).min(samples.len())
}

/// A part is faded in and out over this many samples beside it, before an octave is taken out: the step of a hard cut has a
/// treble of its own, as loud as that of a clean chord.
const BESIDE: usize = 1024;

/// Levels in dB of the octaves of the treble within a part.
pub(super) fn octaves_db(samples: &[f32], part: Range<usize>) -> [f64; OCTAVES_HZ.len()] {
    let from = part.start.saturating_sub(BESIDE);
    let to = (part.end + BESIDE).min(samples.len());
    let mut faded = samples[from..to].to_vec();
    let (before, after) = (part.start - from, to - part.end);
    let rise =
        |i: usize, count: usize| 0.5 - 0.5 * (std::f64::consts::PI * i as f64 / count as f64).cos();
    for (i, s) in faded[..before].iter_mut().enumerate() {
        *s *= rise(i, before) as f32;
    }
    for (i, s) in faded.iter_mut().rev().take(after).enumerate() {
        *s *= rise(i, after) as f32;
    }
    OCTAVES_HZ.map(|low| {
        let mut octave = faded.clone();
        filter_by(&mut octave, |hz| {
            f32::from(u8::from((low..2.0 * low).contains(&hz)))
        });
        level_db(&octave[before..before + part.len()])
    })
}

/// By how much the octave that gains most is louder in `struck`, of the octaves that are heard.
fn excess_db(struck: &[f32], free: &[f32], from_s: f64) -> f64 {
    let judged = part(struck, from_s);
    let all_db = level_db(&struck[judged.clone()]);
    let free_db = octaves_db(free, part(free, from_s));
    std::iter::zip(octaves_db(struck, judged), free_db)
        .filter(|(struck, _)| struck - all_db > HEARD_DB)
        .map(|(struck, free)| struck - free)
        .fold(0.0, f64::max)
}

/// Brings a computed string to the level of a recorded note.
pub(super) fn scale(samples: &mut [f32]) {
    let head = &samples[..at(0.5).min(samples.len())];
    let gain = NOTE_RMS / 10f32.powf(level_db(head) as f32 / 20.0);
    samples.iter_mut().for_each(|s| *s *= gain);
}

/// The noise of whoever recorded a note, this far below its first half second in dB: without it a computed string
/// would die into silence, and a recorded one never does. A choice.
const NOISE_DB: (f64, f64) = (50.0, 85.0);

/// Noise of a recording, for both twins of a computed string.
pub(super) fn noise(length: usize, rng: &mut SmallRng) -> Vec<f32> {
    let pole = rng.random_range(0.0..0.95f64);
    let gain = f64::from(NOTE_RMS) * 10f64.powf(-rng.random_range(NOISE_DB.0..NOISE_DB.1) / 20.0);
    let gain = gain * (1.0 - pole * pole).sqrt();
    let mut state = 0.0;
    (0..length)
        .map(|_| {
            state = pole * state + gauss(rng);
            (gain * state) as f32
        })
        .collect()
}

/// Adds `contact` to `note` from sample `onset` on, so loud that its treble peaks `peak_db` against the note there.
fn add_contact(note: &[f32], contact: &[f32], onset: usize, peak_db: f64) -> Vec<f32> {
    let mut struck = note.to_vec();
    let onset = onset.min(note.len());
    let mut treble = contact.to_vec();
    filter_by(&mut treble, |hz| f32::from(u8::from(hz >= OCTAVES_HZ[0])));
    let beside = blocks(&note[onset..]);
    let peak = blocks(&treble)
        .into_iter()
        .zip(beside)
        .max_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((power, beside)) = peak.filter(|(power, _)| *power > 0.0) {
        let gain = (beside / power).sqrt() * 10f64.powf(peak_db / 20.0);
        add(&mut struck[onset..], contact, gain as f32);
    }
    struck
}
