//! Composed takes that strums are found in.

use rand::Rng;
use rand::rngs::SmallRng;
use ringtrue::fretboard::{Frets, STRINGS, Tuning};
use ringtrue::synth::compose::{Composed, Conditions, StringSound, compose};
use ringtrue::synth::notes::{Guitar, NOTE_RATE_HZ};
use ringtrue::synth::{random::gauss, voicings};
use ringtrue::take::Manner;

use crate::Case;

/// What a composed row is made of.
#[derive(Clone, Copy)]
pub struct Composing {
    /// Of the guitar's own chords where empty.
    pub frets: &'static [&'static str],
    /// How many strings are at fault (dead or choked), and of how many nothing but a thud is left: from, to.
    pub faults: usize,
    pub dead: (usize, usize),
    /// From the first to the last string, in seconds; a usual step where `None`.
    pub spread_s: Option<(f64, f64)>,
    pub manner: Manner,
    /// The file begins this long before the first stroke, in seconds: from, to.
    pub lead_s: (f64, f64),
}

pub const STRUMMED: Composing = Composing {
    frets: &[],
    faults: 0,
    dead: (0, 0),
    spread_s: None,
    manner: Manner::Strummed,
    lead_s: (0.3, 0.3),
};

/// Draws what is played, and what its strings do.
pub fn drawn(row: &Composing, rng: &mut SmallRng) -> (Frets, [StringSound; STRINGS]) {
    let frets: Frets = match row.frets {
        [] => voicings::draw(rng, false).0,
        frets => {
            let base: Frets = frets[rng.random_range(0..frets.len())]
                .parse()
                .expect("frets");
            let up = rng.random_range(0..6);
            Frets(base.0.map(|f| f.map(|f| f + up)))
        }
    };
    let mut sounds = frets
        .0
        .map(|f| f.map_or(StringSound::Nothing, StringSound::Rings));
    let mut strings: Vec<usize> = frets.sounding().map(|(s, _)| s).collect();
    let dead = rng.random_range(row.dead.0..=row.dead.1).min(strings.len());
    for _ in 0..dead {
        let s = strings.swap_remove(rng.random_range(0..strings.len()));
        sounds[s] = StringSound::Thud(frets.0[s].unwrap_or(0));
    }
    for _ in 0..row.faults.min(strings.len()) {
        let s = strings.swap_remove(rng.random_range(0..strings.len()));
        let fret = frets.0[s].unwrap_or(0);
        sounds[s] = match rng.random_range(0..3) {
            0 => StringSound::Choked(fret),
            1 => StringSound::Thud(fret),
            _ => StringSound::Rings(fret + 1),
        };
    }
    (frets, sounds)
}

pub fn one(row: &Composing, guitar: &Guitar, rng: &mut SmallRng) -> (Frets, Composed) {
    let (frets, sounds) = drawn(row, rng);
    let struck = sounds
        .iter()
        .filter(|s| **s != StringSound::Nothing)
        .count();
    let mut conditions = Conditions {
        manner: row.manner,
        ..Conditions::measuring()
    };
    if let Some((from, to)) = row.spread_s {
        let step = rng.random_range(from..to) / (struck.max(2) - 1) as f64;
        conditions.step_s = (step, step);
    }
    let made = compose(guitar, &Tuning::default(), &sounds, &conditions, rng);
    (frets, made)
}

/// A composed take cut so that it begins `lead_s` before its first stroke.
pub fn composed(row: &Composing, guitar: &Guitar, rng: &mut SmallRng) -> Case {
    let (frets, made) = one(row, guitar, rng);
    let mut onsets: Vec<usize> = made.onsets.iter().flatten().copied().collect();
    onsets.sort_unstable();
    let lead = (rng.random_range(row.lead_s.0..=row.lead_s.1) * f64::from(NOTE_RATE_HZ)) as usize;
    let from = onsets[0].saturating_sub(lead);
    let strokes = onsets
        .iter()
        .map(|o| (o - from) as f64 / f64::from(NOTE_RATE_HZ));
    let pass = row.manner == Manner::Picked;
    Case {
        name: format!("{} {frets}", guitar.name),
        strokes_s: strokes.take(if pass { STRINGS } else { 1 }).collect(),
        samples: made.samples[from..made.end].to_vec(),
        rate_hz: NOTE_RATE_HZ,
        meant: Some(frets),
        pass,
    }
}

/// A strum that a hand stops so soon after its first stroke, in seconds.
const STOPPED_S: (f64, f64) = (0.12, 0.3);
/// What is left then falls by 60 dB within so long, in seconds: finger-stopped strings of GuitarSet lose 211 to 454 dB/s.
const STOPPED_T60_S: (f64, f64) = (0.13, 0.28);

/// A composed strum that a hand stops.
pub fn stopped(guitar: &Guitar, rng: &mut SmallRng) -> Case {
    let mut case = composed(&STRUMMED, guitar, rng);
    let rate = f64::from(case.rate_hz);
    let after_s = rng.random_range(STOPPED_S.0..STOPPED_S.1);
    let t60_s = rng.random_range(STOPPED_T60_S.0..STOPPED_T60_S.1);
    let at = ((case.strokes_s[0] + after_s) * rate) as usize;
    for (i, s) in case.samples.iter_mut().enumerate().skip(at) {
        *s *= (-6.9078 * (i - at) as f64 / rate / t60_s).exp() as f32;
    }
    case.name = format!("{} stopped after {after_s:.2} within {t60_s:.2}", case.name);
    case
}

/// A chord struck so many times: the strings still ring as they are struck again.
pub fn again(row: &Composing, times: usize, guitar: &Guitar, rng: &mut SmallRng) -> Case {
    let (frets, mut sounds) = drawn(row, rng);
    if rng.random_bool(0.5) {
        let s = rng.random_range(0..STRINGS);
        if let Some(fret) = frets.0[s] {
            sounds[s] = StringSound::Thud(fret);
        }
    }
    let conditions = Conditions {
        phone: 0.0,
        ..Conditions::measuring()
    };
    let struck: Vec<Composed> = (0..times)
        .map(|_| compose(guitar, &Tuning::default(), &sounds, &conditions, rng))
        .collect();
    let rate = f64::from(NOTE_RATE_HZ);
    let start = |made: &Composed| made.onsets.iter().flatten().min().copied().unwrap_or(0);
    let mut samples = struck[0].samples[..struck[0].end].to_vec();
    let mut strokes = vec![start(&struck[0])];
    let mut name = format!("{} {frets} again after", guitar.name);
    for next in &struck[1..] {
        let gap = (rng.random_range(0.5..1.3) * rate) as usize;
        let level = 10f32.powf(gauss(rng) as f32 * 3.0 / 20.0) * struck[0].gain / next.gain;
        let at = strokes[strokes.len() - 1] + gap;
        // The hand stops a string where it strikes it.
        let t60_s = 0.05;
        for (i, s) in samples.iter_mut().enumerate().skip(at) {
            *s *= (-6.9078 * (i - at) as f64 / rate / t60_s).exp() as f32;
        }
        let sound = &next.samples[start(next)..next.end];
        samples.resize(at + sound.len(), 0.0);
        for (s, new) in samples[at..].iter_mut().zip(sound) {
            *s += level * new;
        }
        strokes.push(at);
        name += &format!(" {:.2}", gap as f64 / rate);
    }
    let peak = samples.iter().fold(0f32, |p, s| p.max(s.abs())).max(1.0);
    samples.iter_mut().for_each(|s| *s /= peak);
    Case {
        name,
        strokes_s: strokes.iter().map(|at| *at as f64 / rate).collect(),
        samples,
        rate_hz: NOTE_RATE_HZ,
        meant: Some(frets),
        pass: false,
    }
}

/// Sounds one after another over some noise: at these times in seconds, with these gains.
pub fn scene(
    sounds: &[(f64, f32, &[f32])],
    seconds: f64,
    noise: f32,
    rng: &mut SmallRng,
) -> Vec<f32> {
    let mut samples = vec![0f32; (seconds * f64::from(NOTE_RATE_HZ)) as usize];
    for s in &mut samples {
        *s = noise * gauss(rng) as f32;
    }
    for (at_s, gain, sound) in sounds {
        let at = ((at_s * f64::from(NOTE_RATE_HZ)) as usize).min(samples.len());
        samples[at..]
            .iter_mut()
            .zip(*sound)
            .for_each(|(s, new)| *s += gain * new);
    }
    samples
}

/// Six real dead strikes, as of one strum over damped strings.
pub fn chk(strikes: &[&[f32]], rng: &mut SmallRng) -> Case {
    let lead_s = 0.3;
    let mut sounds = Vec::new();
    let mut at_s = lead_s;
    for _ in 0..STRINGS {
        let level = 10f32.powf(gauss(rng) as f32 * 2.5 / 20.0);
        sounds.push((at_s, level, strikes[rng.random_range(0..strikes.len())]));
        at_s += rng.random_range(0.005..0.025);
    }
    let noise = 10f32.powf(rng.random_range(-70.0..-50.0f32) / 20.0);
    let mut samples = scene(&sounds, 1.8, noise, rng);
    let peak = samples.iter().fold(0f32, |p, s| p.max(s.abs()));
    let level = 10f32.powf(rng.random_range(-16.0..-2.0f32) / 20.0) / peak;
    samples.iter_mut().for_each(|s| *s *= level);
    Case {
        name: "six dead strikes".into(),
        samples,
        rate_hz: NOTE_RATE_HZ,
        meant: Some(voicings::draw(rng, false).0),
        strokes_s: vec![lead_s],
        pass: false,
    }
}

pub fn silent(name: &str, samples: Vec<f32>, rate_hz: u32, rng: &mut SmallRng) -> Case {
    Case {
        name: name.into(),
        samples,
        rate_hz,
        meant: Some(voicings::draw(rng, false).0),
        strokes_s: Vec::new(),
        pass: false,
    }
}
