//! Composed takes: strums put together from recorded notes, so that what each string did is known.

use rand::Rng;
use rand::rngs::SmallRng;

use super::disguise::{Disguise, sound_along};
use super::distractor::Distractor;
use super::effects::{
    add, add_background, band_limit, compress, damp, equalise, overdrive, stretch, tear,
};
use super::notes::{Guitar, NOTE_RATE_HZ};
use super::random::gauss;
use super::room::{SMALL_ROOM_DB, SMALL_ROOM_S, room};
use crate::fretboard::{Frets, STRINGS, Tuning};
use crate::take::{Manner, Strum, strum_near, strums_of};

/// Behaviour of one string in a composed take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sound {
    /// Rings on at this fret.
    Rings(u8),
    /// A dead thud of the note at this fret.
    Thud(u8),
    /// Sounds at this fret but dies within a few tenths of a second.
    Choked(u8),
    /// No sound: not touched at all.
    Nothing,
}

/// The conditions under which takes are made.
#[derive(Debug, Clone)]
pub struct Conditions {
    /// Standard deviation of a string's own level, in dB.
    pub level_db: f64,
    /// Standard deviation of a string's own detuning, in cents.
    pub detune_cents: f64,
    /// Range of the guitar's common offset, in cents.
    pub tuning_cents: f64,
    /// Range of the step from string to string in a strum, in seconds.
    pub step_s: (f64, f64),
    /// Depth of a random smooth equaliser, in dB.
    pub equaliser_db: f64,
    /// Range by which the whole guitar may be moved in pitch, in semitones: a way to more guitars.
    pub transpose: f64,
    /// Ranges of the room's T60 in seconds, and of how far its sound is below the direct one, in dB.
    pub room_t60_s: (f64, f64),
    /// Range of how far the room's sound is below the direct one, in dB.
    pub room_db: (f32, f32),
    /// Range of the background below the strum's peak, in dB.
    pub noise_db: (f64, f64),
    /// Probability that the chord ends early because the next one comes.
    pub ends_early: f64,
    /// Probability that another chord was ringing before.
    pub after_another: f64,
    /// Probability of a phone's band limits.
    pub phone: f64,
    /// Probability that what records evens out loud and soft.
    pub compressed: f64,
    /// Probability that what records is overdriven.
    pub clipped: f64,
    /// Probability that sound is lost on its way, or something knocks.
    pub torn: f64,
    /// Probability that the notes are made into another guitar's, and that open strings sound along.
    pub disguised: f64,
    /// Probability that open strings sound along.
    pub along: f64,
    /// Strummed or picked.
    pub manner: Manner,
}

impl Conditions {
    /// Conditions for measuring: moderate levels and equaliser, nothing moved.
    pub fn measuring() -> Self {
        Conditions {
            level_db: 2.5,
            detune_cents: 3.0,
            tuning_cents: 15.0,
            step_s: (0.005, 0.025),
            equaliser_db: 0.0,
            transpose: 0.0,
            room_t60_s: SMALL_ROOM_S,
            room_db: SMALL_ROOM_DB,
            noise_db: (30.0, 55.0),
            ends_early: 0.0,
            after_another: 0.0,
            phone: 0.2,
            compressed: 0.0,
            clipped: 0.0,
            torn: 0.0,
            disguised: 0.0,
            along: 0.0,
            manner: Manner::Strummed,
        }
    }

    /// Conditions for measuring: a room that rings long and loud, as a bare one does a metre or two from the guitar.
    pub fn bare_room() -> Self {
        Conditions {
            room_t60_s: (0.4, 0.8),
            room_db: (0.0, 8.0),
            ..Self::measuring()
        }
    }

    /// Conditions for measuring: through what evens out loud and soft, as phones do.
    pub fn compressing() -> Self {
        Conditions {
            compressed: 1.0,
            ..Self::measuring()
        }
    }

    /// Conditions for training: varied much more widely than any measurement, since variety is what carries
    /// over to guitars and hands never heard.
    pub fn training() -> Self {
        Conditions {
            level_db: 5.0,
            detune_cents: 4.0,
            tuning_cents: 25.0,
            step_s: (0.002, 0.04),
            equaliser_db: 5.0,
            transpose: 3.0,
            room_t60_s: (0.1, 0.8),
            room_db: (0.0, 20.0),
            noise_db: (25.0, 60.0),
            ends_early: 0.35,
            after_another: 0.25,
            phone: 0.25,
            compressed: 0.15,
            clipped: 0.0,
            torn: 0.0,
            disguised: 0.5,
            along: 0.25,
            manner: Manner::Strummed,
        }
    }
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
    pub fn found(&self, tuning: &Tuning, frets: &Frets) -> Option<Strum> {
        let first = self.onsets.iter().flatten().min()?;
        let all = strums_of(&self.samples, NOTE_RATE_HZ, tuning, frets);
        strum_near(all, *first)
    }

    /// Finds the take with most strokes as the program does: a picked pass, where it is found.
    pub fn found_longest(&self, tuning: &Tuning, frets: &Frets) -> Option<Strum> {
        let found = strums_of(&self.samples, NOTE_RATE_HZ, tuning, frets);
        found.into_iter().max_by_key(|strum| strum.onsets.len())
    }
}

/// Silence kept before the first onset, in seconds.
const LEAD_S: f64 = 0.3;
/// Length of a take after the last onset, in seconds.
const TAIL_S: f64 = 1.5;
/// Silence at the end of a recorded note that belongs to its fade, in seconds.
const FADE_S: f64 = 0.06;

/// Sounds that a take is given from elsewhere than the guitar's recordings.
#[derive(Debug, Clone, Default)]
pub struct Given<'a> {
    /// Sounds of strings that ring, at the right pitch and scaled like notes.
    pub voices: [Option<Vec<f32>>; STRINGS],
    /// Guitars that single strings are taken from.
    pub guitars: [Option<&'a Guitar>; STRINGS],
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
    sounds: &[Sound; STRINGS],
    conditions: &Conditions,
    rng: &mut SmallRng,
) -> Composed {
    compose_with(guitar, tuning, sounds, &Given::default(), conditions, rng)
}

/// Does [`compose`] with sounds from elsewhere.
pub fn compose_with(
    guitar: &Guitar,
    tuning: &Tuning,
    sounds: &[Sound; STRINGS],
    given: &Given<'_>,
    conditions: &Conditions,
    rng: &mut SmallRng,
) -> Composed {
    let rate = f64::from(NOTE_RATE_HZ);
    let transpose = rng.random_range(-1.0..=1.0) * conditions.transpose;
    let transpose = given.transpose.unwrap_or(transpose);
    let tuning_cents = rng.random_range(-1.0..=1.0) * conditions.tuning_cents;
    let picked = conditions.manner == Manner::Picked;
    let step_s = if picked {
        rng.random_range(0.45..0.7)
    } else {
        rng.random_range(conditions.step_s.0..=conditions.step_s.1)
    };
    let down = rng.random_bool(0.7);
    // Struck strings lie within the outermost ones that do anything.
    let mut onsets = [None; STRINGS];
    let mut at_s = LEAD_S;
    for i in 0..STRINGS {
        let string = if down { i } else { STRINGS - 1 - i };
        if sounds[string] != Sound::Nothing {
            onsets[string] = Some((at_s * rate) as usize);
            let jitter = if picked {
                rng.random_range(0.9..1.1)
            } else {
                rng.random_range(0.5..1.5)
            };
            at_s += step_s * jitter;
        }
    }
    let last = onsets
        .iter()
        .flatten()
        .max()
        .copied()
        .unwrap_or((LEAD_S * rate) as usize);
    let mut length = last + (given.tail_s.unwrap_or(TAIL_S) * rate) as usize;
    let mut end = length;
    if rng.random_bool(conditions.ends_early) {
        end = last + (rng.random_range(0.25..1.2) * rate) as usize;
    }
    let mut samples = vec![0f32; length];
    let disguise = (conditions.disguised > 0.0 && rng.random_bool(conditions.disguised))
        .then(|| Disguise::draw(rng));
    let mut dies_s = [None; STRINGS];
    let mut levels = [0.0; STRINGS];
    for string in 0..STRINGS {
        let (Some(onset), Some(fret)) = (onsets[string], fret_of(sounds[string])) else {
            continue;
        };
        let level_db = gauss(rng) * conditions.level_db;
        let detune = tuning_cents + gauss(rng) * conditions.detune_cents;
        let mut voice = match &given.voices[string] {
            Some(voice) => stretch(voice, 2f64.powf(detune / 1200.0)),
            None => voice(
                given.guitars[string].unwrap_or(guitar),
                tuning,
                string,
                fret,
                transpose,
                detune,
                sounds[string],
                rng,
            ),
        };
        levels[string] = level_db;
        if let Some(disguise) = disguise {
            disguise.put_on(&mut voice, tuning.hz(string, fret), fret);
        }
        // A recording that ends early would look like a choked string: the take ends with it. Of a
        // picked pass only the last string is still to be heard then.
        let counts = !picked || onset == last;
        if counts && matches!(sounds[string], Sound::Rings(_)) {
            end = end.min(onset + voice.len().saturating_sub((FADE_S * rate) as usize));
        }
        if let Sound::Thud(_) = sounds[string] {
            let t60_s = rng.random_range(0.040..0.140);
            dies_s[string] = Some(t60_s);
            damp(&mut voice, t60_s, rng.random_range(0.3..0.8));
        } else if let Sound::Choked(_) = sounds[string] {
            let t60_s = rng.random_range(0.2..0.4);
            dies_s[string] = Some(t60_s);
            damp(&mut voice, t60_s, rng.random_range(0.5..0.9));
        }
        add(
            &mut samples[onset..],
            &voice,
            10f32.powf(level_db as f32 / 20.0),
        );
    }
    if let Some(distractor) = given.distractor {
        let first = onsets.iter().flatten().min().copied().unwrap_or(0);
        let before = given.without_distractor.then(|| samples.clone());
        distractor.add(&mut samples, first, rng);
        samples = before.unwrap_or(samples);
    }
    if conditions.along > 0.0 && rng.random_bool(conditions.along) {
        let first = onsets.iter().flatten().min().copied().unwrap_or(0);
        sound_along(&mut samples, tuning, tuning_cents, first, rng);
    }
    if rng.random_bool(conditions.after_another) {
        add_previous_chord(
            guitar,
            tuning,
            &mut samples,
            &onsets,
            transpose,
            tuning_cents,
            rng,
        );
    }
    if end < length {
        add_next_chord(guitar, tuning, &mut samples, end, rng);
    }
    length = length.min(end + (0.2 * rate) as usize);
    samples.truncate(length);
    end = end.min(length);
    if conditions.equaliser_db > 0.0 {
        equalise(&mut samples, conditions.equaliser_db, rng);
    }
    room(&mut samples, conditions.room_t60_s, conditions.room_db, rng);
    add_background(&mut samples, conditions.noise_db, rng);
    if rng.random_bool(conditions.phone) {
        let low_hz = rng.random_range(70.0..220.0);
        let high_hz = rng.random_range(4000.0..12000.0);
        band_limit(&mut samples, low_hz, high_hz);
    }
    if conditions.compressed > 0.0 && rng.random_bool(conditions.compressed) {
        compress(&mut samples, rng);
    }
    if conditions.clipped > 0.0 && rng.random_bool(conditions.clipped) {
        overdrive(&mut samples, rng);
    }
    if conditions.torn > 0.0 && rng.random_bool(conditions.torn) {
        let first = onsets.iter().flatten().min().copied().unwrap_or(0);
        tear(&mut samples[first..], rng);
    }
    let peak = samples.iter().fold(1e-9f32, |p, s| p.max(s.abs()));
    let level_dbfs: f32 = rng.random_range(-16.0..-2.0);
    let gain = 10f32.powf(level_dbfs / 20.0) / peak;
    samples.iter_mut().for_each(|s| *s *= gain);
    Composed {
        samples,
        onsets,
        end,
        gain,
        dies_s,
        level_db: levels,
    }
}

fn fret_of(sound: Sound) -> Option<u8> {
    match sound {
        Sound::Rings(f) | Sound::Thud(f) | Sound::Choked(f) => Some(f),
        Sound::Nothing => None,
    }
}

/// One string's sound: the nearest recording, moved to the wanted pitch.
#[allow(clippy::too_many_arguments)]
pub(super) fn voice(
    guitar: &Guitar,
    tuning: &Tuning,
    string: usize,
    fret: u8,
    transpose: f64,
    cents: f64,
    sound: Sound,
    rng: &mut SmallRng,
) -> Vec<f32> {
    if matches!(sound, Sound::Thud(_)) && !guitar.dead_strikes.is_empty() && rng.random_bool(0.3) {
        let strike = &guitar.dead_strikes[rng.random_range(0..guitar.dead_strikes.len())];
        return stretch(strike, 2f64.powf(rng.random_range(-4.0..4.0) / 12.0));
    }
    let midi = tuning.midi(string, fret);
    // A guitar moved by `transpose` plays its note for midi + transpose slowed down to midi.
    let wanted = f64::from(midi) + transpose;
    let distance = |n: &super::notes::Note| {
        let off_place = match n.place {
            Some((s, f)) => {
                0.01 * (s as f64 - string as f64).abs()
                    + 0.001 * (f64::from(f) - f64::from(fret)).abs()
            }
            None => 0.0,
        };
        (f64::from(n.midi) - wanted).abs() + off_place
    };
    let nearest = guitar.notes.iter().map(distance).fold(f64::MAX, f64::min);
    let near: Vec<_> = guitar
        .notes
        .iter()
        .filter(|n| distance(n) <= nearest + 0.0005)
        .collect();
    let note = near[rng.random_range(0..near.len())];
    stretch(
        &note.samples,
        2f64.powf((f64::from(midi) - f64::from(note.midi) + cents / 100.0) / 12.0),
    )
}

/// Any chord that rang before and is stopped, or not quite, as this one begins.
fn add_previous_chord(
    guitar: &Guitar,
    tuning: &Tuning,
    samples: &mut [f32],
    onsets: &[Option<usize>; STRINGS],
    transpose: f64,
    cents: f64,
    rng: &mut SmallRng,
) {
    let rate = f64::from(NOTE_RATE_HZ);
    let first = onsets.iter().flatten().min().copied().unwrap_or(0);
    for (string, own_onset) in onsets.iter().enumerate() {
        if rng.random_bool(0.4) {
            continue;
        }
        let fret = rng.random_range(0..9);
        let mut tail = voice(
            guitar,
            tuning,
            string,
            fret,
            transpose,
            cents,
            Sound::Rings(fret),
            rng,
        );
        let begun = (rng.random_range(0.3..0.9) * rate) as usize;
        if tail.len() <= begun + first {
            continue;
        }
        tail.drain(..begun);
        // The string is let go a little before the new chord, or struck anew at its own onset.
        let stop = own_onset
            .unwrap_or(first)
            .saturating_sub((rng.random_range(0.0..0.12) * rate) as usize);
        if stop >= tail.len() {
            continue;
        }
        let step = (-6.9078 / (rng.random_range(0.03..0.2) * rate)).exp();
        let mut gain = 1f64;
        for s in &mut tail[stop..] {
            *s *= gain as f32;
            gain *= step;
        }
        let level = 10f32.powf((gauss(rng) * 4.0 - 2.0) as f32 / 20.0);
        let fade = (0.02 * rate) as usize;
        tail.iter_mut()
            .take(fade)
            .enumerate()
            .for_each(|(i, s)| *s *= i as f32 / fade as f32);
        add(samples, &tail, level);
    }
}

/// The next chord begins at `end`: what rings is stopped there and something else sounds.
fn add_next_chord(
    guitar: &Guitar,
    tuning: &Tuning,
    samples: &mut [f32],
    end: usize,
    rng: &mut SmallRng,
) {
    let step = (-6.9078 / (0.1 * f64::from(NOTE_RATE_HZ))).exp();
    let mut gain = 1f64;
    for s in &mut samples[end..] {
        *s *= gain as f32;
        gain *= step;
    }
    for string in 0..STRINGS {
        if rng.random_bool(0.6) {
            let fret = rng.random_range(0..9);
            let sound = voice(
                guitar,
                tuning,
                string,
                fret,
                0.0,
                0.0,
                Sound::Rings(fret),
                rng,
            );
            add(&mut samples[end..], &sound, 1.0);
        }
    }
}
