//! Composed takes: strums put together from recorded notes, so that what each string did is known.
//!
//! A take is made in stages, each of which draws from the same source: how the guitar is tuned and moved in pitch, when
//! each string is struck, where the take ends, what each string does, what sounds beside it, how it is recorded. The order
//! of draws is part of what is published: a draw more or less makes another take of every seed.

mod beside;
mod conditions;
mod recording;
mod strings;
mod stroke;

use std::ops::Range;

use rand::Rng;
use rand::rngs::SmallRng;

use super::coupled::resonate;
use super::distractor::Distractor;
use super::notes::{Guitar, NOTE_RATE_HZ};
use crate::fretboard::{Frets, STRINGS, Tuning};
use crate::take::{Take, strum_near, strums_of};

pub use conditions::Conditions;
use strings::ComposedStrings;
pub(super) use strings::{Pitch, voice};
use stroke::StrokePlaces;

/// Behaviour of one string in a composed take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StringSound {
    /// Rings on at this fret.
    Rings(u8),
    /// A dead thud of the note at this fret.
    Thud(u8),
    /// Sounds at this fret but dies within a few tenths of a second.
    Choked(u8),
    /// No sound: not touched at all.
    Nothing,
}

/// A composed take.
#[derive(Debug, Clone)]
pub struct Composed {
    /// Mono samples at [`NOTE_RATE_HZ`].
    pub samples: Vec<f32>,
    /// Place where each string is struck, in samples, strings 6 to 1; `None` where it is not.
    pub onsets: [Option<usize>; STRINGS],
    /// Place where the take ends, in samples: the next chord's start or the end of the samples.
    pub end: usize,
    /// Factor that the samples were multiplied by at last, to reach a level of recording.
    pub gain: f32,
    /// T60 in seconds with which each string was made to die, where it was.
    pub dies_s: [Option<f64>; STRINGS],
    /// Level that each string was given, in dB.
    pub level_db: [f64; STRINGS],
}

impl Composed {
    /// The strum as the program itself finds it; nothing where no string is struck, or none is found.
    pub fn found(&self, tuning: &Tuning, frets: &Frets) -> Option<Take> {
        let first = self.onsets.iter().flatten().min()?;
        let all = strums_of(&self.samples, NOTE_RATE_HZ, tuning, frets);
        strum_near(all, *first)
    }

    /// Finds the take with most strokes as the program does: a picked pass, where it is found.
    pub fn found_longest(&self, tuning: &Tuning, frets: &Frets) -> Option<Take> {
        let found = strums_of(&self.samples, NOTE_RATE_HZ, tuning, frets);
        found.into_iter().max_by_key(|strum| strum.onsets.len())
    }
}

/// Length of a take after the last onset, in seconds. A choice: what is judged, and a little more.
const TAIL_S: f64 = 1.5;
/// A chord that ends early does so after its last onset, in seconds. A choice: from hardly enough to judge to nearly all.
const EARLY_END_S: Range<f64> = 0.25..1.2;
/// Sound kept after a take's end, in seconds: the beginning of what comes next.
const AFTER_END_S: f64 = 0.2;

/// Sounds that a take is given from elsewhere than the guitar's recordings.
#[derive(Debug, Clone, Default)]
pub struct Given<'a> {
    /// Sounds of strings that ring, at the right pitch and scaled like notes.
    pub voices: [Option<Vec<f32>>; STRINGS],
    /// Guitars that single strings are taken from.
    pub guitars: [Option<&'a Guitar>; STRINGS],
    /// Frets at which strings are free to resonate, 0 for open ones, where nothing strikes or damps them.
    pub free: [Option<u8>; STRINGS],
    /// Softness of each string: by how many dB it is struck less than the others.
    pub softer_db: [f64; STRINGS],
    /// A sound that no string makes.
    pub distractor: Option<Distractor>,
    /// True where that sound is drawn and then left out: the same take but for it.
    pub without_distractor: bool,
    /// Semitones by which the guitars are moved, where that is settled already.
    pub transpose: Option<f64>,
    /// Length of the take after its last onset in seconds, where it is not the usual one.
    pub tail_s: Option<f64>,
}

/// Puts a take together. Draws everything that `conditions` leaves open from `rng`.
pub fn compose(
    guitar: &Guitar,
    tuning: &Tuning,
    sounds: &[StringSound; STRINGS],
    conditions: &Conditions,
    rng: &mut SmallRng,
) -> Composed {
    compose_with(guitar, tuning, sounds, &Given::default(), conditions, rng)
}

/// Does [`compose`] with sounds from elsewhere.
pub fn compose_with(
    guitar: &Guitar,
    tuning: &Tuning,
    sounds: &[StringSound; STRINGS],
    given: &Given<'_>,
    conditions: &Conditions,
    rng: &mut SmallRng,
) -> Composed {
    let pitch = Pitch::draw(tuning, given.transpose, conditions, rng);
    let stroke = StrokePlaces::draw(sounds, conditions, rng);
    let length = stroke.last + at(given.tail_s.unwrap_or(TAIL_S));
    let early = rng.random_bool(conditions.ends_early);
    let end = match early {
        true => stroke.last + at(rng.random_range(EARLY_END_S)),
        false => length,
    };
    let mut samples = vec![0f32; length];
    let ComposedStrings {
        mut end,
        dies_s,
        level_db,
    } = strings::strike(
        &mut samples,
        (guitar, given),
        &pitch,
        sounds,
        &stroke,
        end,
        conditions,
        rng,
    );
    if let Some(distractor) = given.distractor {
        let before = given.without_distractor.then(|| samples.clone());
        distractor.add(&mut samples, stroke.first, rng);
        samples = before.unwrap_or(samples);
    }
    if conditions.along > 0.0 && rng.random_bool(conditions.along) {
        let untouched = |string: usize| sounds[string] == StringSound::Nothing;
        let free = std::array::from_fn(|s| given.free[s].filter(|_| untouched(s)));
        let tuned = (tuning, pitch.cents);
        resonate(
            &mut samples,
            stroke.onsets.iter().flatten(),
            &free,
            tuned,
            rng,
        );
    }
    if rng.random_bool(conditions.after_another) {
        beside::add_previous_chord(&mut samples, guitar, &pitch, &stroke, rng);
    }
    if end < length {
        beside::add_next_chord(&mut samples, guitar, &pitch, end, rng);
    }
    samples.truncate(length.min(end + at(AFTER_END_S)));
    end = end.min(samples.len());
    let gain = recording::record(&mut samples, stroke.first, conditions, rng);
    Composed {
        samples,
        onsets: stroke.onsets,
        end,
        gain,
        dies_s,
        level_db,
    }
}

/// A moment as a place among samples.
fn at(seconds: f64) -> usize {
    (seconds * f64::from(NOTE_RATE_HZ)) as usize
}
