//! Sounds of the strings: the nearest recording, moved to its pitch, and made to die where it is to.

use std::ops::Range;

use rand::Rng;
use rand::rngs::SmallRng;

use super::stroke::StrokePlaces;
use super::{Conditions, Given, StringSound, at};
use crate::decibels;
use crate::fretboard::{STRINGS, Tuning};
use crate::synth::disguise::Disguise;
use crate::synth::effects::{add, damp, stretch};
use crate::synth::notes::{Guitar, RecordedNote};
use crate::synth::random::gauss;

/// Silence at the end of a recorded note that belongs to its fade, in seconds.
const FADE_S: f64 = 0.06;

/// T60 of a muted string, in seconds, and how much faster its higher partials die, as a factor. A choice: a finger that
/// touches a string damps it to 0.04 to 0.14 s.
const MUTED_T60_S: Range<f64> = 0.040..0.140;
const MUTED_UPPER: Range<f64> = 0.3..0.8;
/// The same of a choked string: between a muted one and one that rings for seconds. A choice.
const CHOKED_T60_S: Range<f64> = 0.2..0.4;
const CHOKED_UPPER: Range<f64> = 0.5..0.9;

/// Share of muted strings that are a recorded strike over damped strings, where the guitar has some, and by how many
/// semitones these are moved. A choice.
const REAL_STRIKE: f64 = 0.3;
const STRIKE_MOVED: Range<f64> = -4.0..4.0;

/// What a note that was recorded on another string, and at another fret, counts as further away, in semitones a string and a
/// fret: only where two are as near in pitch.
const OFF_STRING: f64 = 0.01;
const OFF_FRET: f64 = 0.001;
/// Notes this little further away than the nearest one are as good, in semitones.
const AS_NEAR: f64 = 0.0005;

/// How a guitar is tuned, and moved in pitch.
#[derive(Clone, Copy)]
pub(in crate::synth) struct Pitch<'a> {
    pub tuning: &'a Tuning,
    /// Semitones by which the whole guitar is moved: it plays its note for the pitch so much higher, slowed down.
    pub transpose: f64,
    /// Cents by which the whole guitar is off.
    pub cents: f64,
}

impl<'a> Pitch<'a> {
    pub(super) fn draw(
        tuning: &'a Tuning,
        transpose: Option<f64>,
        conditions: &Conditions,
        rng: &mut SmallRng,
    ) -> Self {
        let drawn = rng.random_range(-1.0..=1.0) * conditions.transpose;
        Pitch {
            tuning,
            transpose: transpose.unwrap_or(drawn),
            cents: rng.random_range(-1.0..=1.0) * conditions.tuning_cents,
        }
    }
}

/// What came of the strings.
pub(super) struct ComposedStrings {
    /// End of the take: no recording ends before it.
    pub end: usize,
    /// T60 in seconds with which each string was made to die, where it was.
    pub dies_s: [Option<f64>; STRINGS],
    /// Level of each string, in dB.
    pub level_db: [f64; STRINGS],
}

/// Adds the sound of each string to samples of a take that is to end at `end`.
#[allow(clippy::too_many_arguments)]
pub(super) fn strike(
    samples: &mut [f32],
    (guitar, given): (&Guitar, &Given<'_>),
    pitch: &Pitch<'_>,
    sounds: &[StringSound; STRINGS],
    stroke: &StrokePlaces,
    end: usize,
    conditions: &Conditions,
    rng: &mut SmallRng,
) -> ComposedStrings {
    let mut struck = ComposedStrings {
        end,
        dies_s: [None; STRINGS],
        level_db: [0.0; STRINGS],
    };
    let disguise = (conditions.disguised > 0.0 && rng.random_bool(conditions.disguised))
        .then(|| Disguise::draw(rng));
    for (string, &sound) in sounds.iter().enumerate() {
        let (Some(onset), Some(fret)) = (stroke.onsets[string], fret_of(sound)) else {
            continue;
        };
        let level_db = gauss(rng) * conditions.level_db - given.softer_db[string];
        let cents = pitch.cents + gauss(rng) * conditions.detune_cents;
        let mut voice = match &given.voices[string] {
            Some(voice) => stretch(voice, 2f64.powf(cents / 1200.0)),
            None => {
                let guitar = given.guitars[string].unwrap_or(guitar);
                voice(
                    guitar,
                    &Pitch { cents, ..*pitch },
                    (string, fret),
                    sound,
                    rng,
                )
            }
        };
        struck.level_db[string] = level_db;
        if let Some(disguise) = disguise {
            disguise.put_on(&mut voice, pitch.tuning.hz(string, fret), fret);
        }
        // A recording that ends early would look like a choked string: the take ends with it. Of a
        // picked pass only the last string is still to be heard then.
        let counts = !stroke.picked || onset == stroke.last;
        if counts && matches!(sound, StringSound::Rings(_)) {
            struck.end = struck
                .end
                .min(onset + voice.len().saturating_sub(at(FADE_S)));
        }
        let dies = match sound {
            StringSound::Thud(_) => Some((MUTED_T60_S, MUTED_UPPER)),
            StringSound::Choked(_) => Some((CHOKED_T60_S, CHOKED_UPPER)),
            StringSound::Rings(_) | StringSound::Nothing => None,
        };
        if let Some((t60_s, upper)) = dies {
            let t60_s = rng.random_range(t60_s);
            struck.dies_s[string] = Some(t60_s);
            damp(&mut voice, t60_s, rng.random_range(upper));
        }
        let level = decibels::to_amplitude(level_db as f32);
        add(&mut samples[onset..], &voice, level);
    }
    struck
}

fn fret_of(sound: StringSound) -> Option<u8> {
    match sound {
        StringSound::Rings(f) | StringSound::Thud(f) | StringSound::Choked(f) => Some(f),
        StringSound::Nothing => None,
    }
}

/// One string's sound at a fret: the nearest recording, moved to the wanted pitch.
pub(in crate::synth) fn voice(
    guitar: &Guitar,
    pitch: &Pitch<'_>,
    (string, fret): (usize, u8),
    sound: StringSound,
    rng: &mut SmallRng,
) -> Vec<f32> {
    let strikes = &guitar.dead_strikes;
    if matches!(sound, StringSound::Thud(_)) && !strikes.is_empty() && rng.random_bool(REAL_STRIKE)
    {
        let strike = &strikes[rng.random_range(0..strikes.len())];
        return stretch(strike, 2f64.powf(rng.random_range(STRIKE_MOVED) / 12.0));
    }
    let midi = pitch.tuning.midi(string, fret);
    let wanted = f64::from(midi) + pitch.transpose;
    let distance = |n: &RecordedNote| {
        let off_place = match n.place {
            Some((s, f)) => {
                OFF_STRING * (s as f64 - string as f64).abs()
                    + OFF_FRET * (f64::from(f) - f64::from(fret)).abs()
            }
            None => 0.0,
        };
        (f64::from(n.midi) - wanted).abs() + off_place
    };
    let nearest = guitar.notes.iter().map(distance).fold(f64::MAX, f64::min);
    let near: Vec<&RecordedNote> = (guitar.notes.iter())
        .filter(|n| distance(n) <= nearest + AS_NEAR)
        .collect();
    let note = near[rng.random_range(0..near.len())];
    let semitones = f64::from(midi) - f64::from(note.midi) + pitch.cents / 100.0;
    stretch(&note.samples, 2f64.powf(semitones / 12.0))
}
