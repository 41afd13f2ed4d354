//! Composed takes: strums put together from recorded notes, so that what each string did is known.

use std::cell::RefCell;

use rand::Rng;
use rand::rngs::SmallRng;
use rustfft::{FftDirection, FftPlanner, num_complex::Complex32};

use super::disguise::{Disguise, sound_along};
use super::distractor::Distractor;
use super::notes::{Guitar, NOTE_RATE_HZ};
use crate::fretboard::{STRINGS, Tuning};
use crate::take::Manner;

/// What one string does in a composed take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sound {
    /// Rings on at this fret.
    Rings(u8),
    /// A dead thud of the note at this fret.
    Thud(u8),
    /// Sounds at this fret but dies within a few tenths of a second.
    Choked(u8),
    /// Not touched at all.
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
    /// How far the whole guitar may be moved in pitch, in semitones: a way to more guitars.
    pub transpose: f64,
    /// Range of the background below the strum's peak, in dB.
    pub noise_db: (f64, f64),
    /// Probability that the chord ends early because the next one comes.
    pub ends_early: f64,
    /// Probability that another chord was ringing before.
    pub after_another: f64,
    /// Probability of a phone's band limits.
    pub phone: f64,
    /// Probability that the notes are made into another guitar's, and that open strings sound along.
    pub disguised: f64,
    pub along: f64,
    /// Strummed or picked.
    pub manner: Manner,
}

impl Conditions {
    /// For measuring: moderate levels and equaliser, nothing moved.
    pub fn measuring() -> Self {
        Conditions {
            level_db: 2.5,
            detune_cents: 3.0,
            tuning_cents: 15.0,
            step_s: (0.005, 0.025),
            equaliser_db: 0.0,
            transpose: 0.0,
            noise_db: (30.0, 55.0),
            ends_early: 0.0,
            after_another: 0.0,
            phone: 0.2,
            disguised: 0.0,
            along: 0.0,
            manner: Manner::Strummed,
        }
    }

    /// For training: varied much more widely than any measurement, since variety is what carries
    /// over to guitars and hands never heard.
    pub fn training() -> Self {
        Conditions {
            level_db: 5.0,
            detune_cents: 4.0,
            tuning_cents: 25.0,
            step_s: (0.002, 0.04),
            equaliser_db: 5.0,
            transpose: 3.0,
            noise_db: (25.0, 60.0),
            ends_early: 0.35,
            after_another: 0.25,
            phone: 0.25,
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
    /// Where each string is struck, in samples, strings 6 to 1; `None` where it is not.
    pub onsets: [Option<usize>; STRINGS],
    /// Where the take ends, in samples: the next chord's start or the end of the samples.
    pub end: usize,
    /// What the samples were multiplied by at last, to reach a level of recording.
    pub gain: f32,
    /// By what T60 in seconds each string was made to die, where it was.
    pub dies_s: [Option<f64>; STRINGS],
    /// Level that each string was given, in dB.
    pub level_db: [f64; STRINGS],
}

/// Silence kept before the first onset, in seconds.
const LEAD_S: f64 = 0.3;
/// Length of a take after the last onset, in seconds.
const TAIL_S: f64 = 1.5;
/// Silence at the end of a recorded note that belongs to its fade, in seconds.
const FADE_S: f64 = 0.06;

/// What a take is given from elsewhere than the guitar's recordings.
#[derive(Debug, Clone, Default)]
pub struct Given<'a> {
    /// Sounds of strings that ring, at the right pitch and scaled like notes.
    pub voices: [Option<Vec<f32>>; STRINGS],
    /// Guitars that single strings are taken from.
    pub guitars: [Option<&'a Guitar>; STRINGS],
    /// A sound that no string makes.
    pub distractor: Option<Distractor>,
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

/// As [`compose`], with sounds from elsewhere.
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
    let mut length = last + (TAIL_S * rate) as usize;
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
        distractor.add(&mut samples, first, rng);
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
    room(&mut samples, rng);
    add_background(&mut samples, conditions, rng);
    if rng.random_bool(conditions.phone) {
        let low_hz = rng.random_range(70.0..220.0);
        let high_hz = rng.random_range(4000.0..12000.0);
        band_limit(&mut samples, low_hz, high_hz);
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

/// Standard normal deviate (Box-Muller).
pub fn gauss(rng: &mut SmallRng) -> f64 {
    let u: f64 = rng.random_range(1e-12..1.0);
    let v: f64 = rng.random_range(0.0..std::f64::consts::TAU);
    (-2.0 * u.ln()).sqrt() * v.cos()
}

/// One string's sound: the nearest recording, moved to the wanted pitch.
#[allow(clippy::too_many_arguments)]
fn voice(
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

/// Resamples so that the pitch rises by `ratio` (band-limited enough for ratios near 1: 16-point
/// windowed sinc).
fn stretch(samples: &[f32], ratio: f64) -> Vec<f32> {
    const HALF: isize = 8;
    const STEPS: usize = 256;
    thread_local! {
        static TABLE: Vec<[f32; 16]> = (0..=STEPS).map(|step| {
            let fraction = step as f64 / STEPS as f64;
            std::array::from_fn(|i| {
                let x = i as f64 - (HALF - 1) as f64 - fraction;
                let sinc = if x.abs() < 1e-9 { 1.0 } else { (std::f64::consts::PI * x).sin() / (std::f64::consts::PI * x) };
                let window = (std::f64::consts::FRAC_PI_2 * x / HALF as f64).cos().powi(2);
                (sinc * window) as f32
            })
        }).collect();
    }
    TABLE.with(|table| {
        let length = (samples.len() as f64 / ratio) as usize;
        (0..length)
            .map(|i| {
                let at = i as f64 * ratio;
                let whole = at.floor() as isize;
                let taps = &table[((at - whole as f64) * STEPS as f64).round() as usize];
                let first = whole - (HALF - 1);
                if first >= 0 && (first + 16) as usize <= samples.len() {
                    let part = &samples[first as usize..first as usize + 16];
                    part.iter().zip(taps).map(|(s, t)| s * t).sum()
                } else {
                    (0..16)
                        .filter_map(|k| {
                            samples
                                .get((first + k as isize) as usize)
                                .map(|s| s * taps[k])
                        })
                        .sum()
                }
            })
            .collect()
    })
}

/// Lets a note die with the given T60, its higher partials faster: two bands split at 800 Hz, the
/// upper one's T60 times `upper`.
fn damp(samples: &mut Vec<f32>, t60_s: f64, upper: f64) {
    let rate = f64::from(NOTE_RATE_HZ);
    let pole = (-std::f64::consts::TAU * 800.0 / rate).exp() as f32;
    let per_sample = |t60: f64| (-6.9078 / (t60 * rate)).exp();
    let (low_step, high_step) = (per_sample(t60_s), per_sample(t60_s * upper));
    let (mut low_gain, mut high_gain, mut low) = (1f64, 1f64, 0f32);
    let keep = ((t60_s * 1.5 * rate) as usize).min(samples.len());
    samples.truncate(keep);
    for s in samples.iter_mut() {
        low = (1.0 - pole) * *s + pole * low;
        *s = low * low_gain as f32 + (*s - low) * high_gain as f32;
        low_gain *= low_step;
        high_gain *= high_step;
    }
}

fn add(into: &mut [f32], from: &[f32], gain: f32) {
    into.iter_mut().zip(from).for_each(|(a, b)| *a += gain * b);
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

/// Transforms in place, planned once a thread and size.
fn fft(buffer: &mut [Complex32], direction: FftDirection) {
    thread_local! {
        static PLANNER: RefCell<FftPlanner<f32>> = RefCell::new(FftPlanner::new());
    }
    let plan = PLANNER.with_borrow_mut(|planner| planner.plan_fft(buffer.len(), direction));
    plan.process(buffer);
}

pub(super) fn filter_by(samples: &mut [f32], mut gain_at: impl FnMut(f64) -> f32) {
    let size = (samples.len() + 4096).next_power_of_two();
    let mut buffer: Vec<Complex32> = samples.iter().map(|&s| Complex32::new(s, 0.0)).collect();
    buffer.resize(size, Complex32::default());
    fft(&mut buffer, FftDirection::Forward);
    for i in 0..=size / 2 {
        let gain = gain_at(i as f64 * f64::from(NOTE_RATE_HZ) / size as f64) / size as f32;
        buffer[i] *= gain;
        if i > 0 && i < size / 2 {
            buffer[size - i] *= gain;
        }
    }
    fft(&mut buffer, FftDirection::Inverse);
    samples.iter_mut().zip(&buffer).for_each(|(s, b)| *s = b.re);
}

/// A random smooth equaliser: one gain per octave from 62 Hz, joined by straight lines in dB.
fn equalise(samples: &mut [f32], depth_db: f64, rng: &mut SmallRng) {
    let points: Vec<f64> = (0..10)
        .map(|_| gauss(rng).clamp(-2.0, 2.0) * depth_db)
        .collect();
    filter_by(samples, |hz| {
        let at = (hz.max(62.0) / 62.0).log2().min(8.999);
        let (i, t) = (at as usize, at.fract());
        10f64.powf((points[i] * (1.0 - t) + points[i + 1] * t) / 20.0) as f32
    });
}

fn band_limit(samples: &mut [f32], low_hz: f64, high_hz: f64) {
    filter_by(samples, |hz| {
        let high_pass = 1.0 / (1.0 + (low_hz / hz.max(1.0)).powi(4)).sqrt();
        let low_pass = 1.0 / (1.0 + (hz / high_hz).powi(8)).sqrt();
        (high_pass * low_pass) as f32
    });
}

/// A small room: a tail of noise that dies within 0.15 to 0.45 s, 6 to 20 dB below the direct sound.
pub(super) fn room(samples: &mut [f32], rng: &mut SmallRng) {
    let rate = f64::from(NOTE_RATE_HZ);
    let t60_s = rng.random_range(0.15..0.45);
    let taps = (t60_s * rate) as usize;
    let mut response: Vec<f32> = vec![0.0; taps];
    let pre_delay = (0.003 * rate) as usize;
    let mut energy = 0.0;
    for (i, tap) in response.iter_mut().enumerate().skip(pre_delay) {
        *tap = (gauss(rng) * (-6.9078 * i as f64 / taps as f64).exp()) as f32;
        energy += *tap * *tap;
    }
    let level = 10f32.powf(-rng.random_range(6.0f32..20.0) / 20.0) / energy.sqrt();
    let size = (samples.len() + taps).next_power_of_two();
    let mut sound: Vec<Complex32> = samples.iter().map(|&s| Complex32::new(s, 0.0)).collect();
    sound.resize(size, Complex32::default());
    let mut echo: Vec<Complex32> = response
        .iter()
        .map(|&s| Complex32::new(s * level, 0.0))
        .collect();
    echo[0].re += 1.0;
    echo.resize(size, Complex32::default());
    fft(&mut sound, FftDirection::Forward);
    fft(&mut echo, FftDirection::Forward);
    sound
        .iter_mut()
        .zip(&echo)
        .for_each(|(s, e)| *s *= e / size as f32);
    fft(&mut sound, FftDirection::Inverse);
    samples.iter_mut().zip(&sound).for_each(|(s, b)| *s = b.re);
}

/// Background: white, pink-like or low rumble, with mains hum in some.
fn add_background(samples: &mut [f32], conditions: &Conditions, rng: &mut SmallRng) {
    let peak = samples.iter().fold(1e-9f32, |p, s| p.max(s.abs()));
    let below_db = rng.random_range(conditions.noise_db.0..=conditions.noise_db.1);
    let pole: f32 = [0.0, 0.9, 0.98][rng.random_range(0..3)];
    let mut state = 0f32;
    let mut noise: Vec<f32> = (0..samples.len())
        .map(|_| {
            state = pole * state + gauss(rng) as f32;
            state
        })
        .collect();
    if rng.random_bool(0.2) {
        let hz = [50.0, 60.0][rng.random_range(0..2)];
        for harmonic in 1..6 {
            let level = rng.random_range(0.2..3.0) / harmonic as f32;
            let phase: f32 = rng.random_range(0.0..std::f32::consts::TAU);
            let step = std::f32::consts::TAU * hz * harmonic as f32 / NOTE_RATE_HZ as f32;
            noise
                .iter_mut()
                .enumerate()
                .for_each(|(i, n)| *n += level * (step * i as f32 + phase).sin());
        }
    }
    // Noise is stated by its RMS below the strum's peak.
    let rms = (noise.iter().map(|n| n * n).sum::<f32>() / noise.len() as f32).sqrt();
    let gain = peak * 10f32.powf(-below_db as f32 / 20.0) / rms.max(1e-9);
    add(samples, &noise, gain);
}
