//! The band's sounds, made from sines and noise, and their loudness.

use std::f64::consts::TAU;

use ebur128::{EbuR128, Mode};
use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};

use super::backing::{Hit, Plan, Voice};
use super::grid::Grid;
use crate::fretboard::pitch::midi_to_hz;

/// Integrated loudness of a backing, in LUFS, and the highest true peak, in dBTP (EBU R 128).
pub const LOUDNESS_LUFS: f64 = -23.0;
/// Highest true peak of a backing, in dBTP.
pub const HIGHEST_PEAK_DBTP: f64 = -1.0;
/// Kept below the highest true peak, which one meter reads a little otherwise than the next.
const PEAK_ROOM_DB: f64 = 0.3;
/// Sound after the last bar, in seconds.
const TAIL_S: f64 = 1.0;
/// A bass note comes in and goes out over this long, in seconds: short enough to be on the beat, long
/// enough not to click.
const BASS_ATTACK_S: f64 = 0.004;
const BASS_RELEASE_S: f64 = 0.04;
/// The bass loses 60 dB in this time, in seconds.
const BASS_T60_S: f64 = 3.5;
/// Its partials: number and level in dB. The even ones are soft, since they lie on the guitar's
/// octaves; small loudspeakers make the bass heard by the third and fifth.
const BASS_PARTIALS: [(f64, f64); 4] = [(1.0, 0.0), (2.0, -24.0), (3.0, -16.0), (5.0, -28.0)];

/// Plays everything, as mono samples from the start of the count-in to a second after the last bar.
/// Not levelled yet: see [`levelled`].
pub fn render(hits: &[Hit], grid: &Grid, rate_hz: u32) -> Vec<f32> {
    let rate = f64::from(rate_hz);
    let length = grid.sample(grid.length_beats(), rate_hz) as usize + (TAIL_S * rate) as usize;
    let mut samples = vec![0f32; length];
    let strokes = Strokes::new(rate);
    let mut note = Vec::new();
    for hit in hits {
        let at = grid.sample(hit.beat, rate_hz) as usize;
        let sound = match hit.voice {
            Voice::Count { first: true } => &strokes.count_first,
            Voice::Count { first: false } => &strokes.count,
            Voice::Pulse { first: true } => &strokes.pulse_first,
            Voice::Pulse { first: false } => &strokes.pulse,
            Voice::Kick => &strokes.kick,
            Voice::Rim => &strokes.rim,
            Voice::Hat => &strokes.hat,
            Voice::Bass(midi) => {
                let seconds = grid.seconds(hit.beat + hit.beats) - grid.seconds(hit.beat);
                bass(midi, seconds, rate, &mut note);
                &note
            }
        };
        let gain = 10f32.powf(hit.level_db as f32 / 20.0);
        for (sample, s) in samples[at.min(length)..].iter_mut().zip(sound) {
            *sample += gain * s;
        }
    }
    samples
}

/// Each stroke's sound, made once.
struct Strokes {
    count_first: Vec<f32>,
    count: Vec<f32>,
    pulse_first: Vec<f32>,
    pulse: Vec<f32>,
    kick: Vec<f32>,
    rim: Vec<f32>,
    hat: Vec<f32>,
}

impl Strokes {
    fn new(rate: f64) -> Self {
        Strokes {
            count_first: knock(1760.0, 0.050, 0.32, rate),
            count: knock(1175.0, 0.050, 0.26, rate),
            pulse_first: knock(1480.0, 0.030, 0.10, rate),
            pulse: knock(988.0, 0.030, 0.08, rate),
            kick: kick(rate),
            rim: noise(1800.0, 0.060, 0.11, rate),
            hat: noise(7000.0, 0.040, 0.06, rate),
        }
    }
}

/// An envelope that falls by 60 dB in `t60_s`, from its first sample on at full level.
fn falling(t60_s: f64, rate: f64) -> impl Iterator<Item = f64> {
    let count = (t60_s * rate) as usize;
    (0..count).map(move |i| 10f64.powf(-3.0 * i as f64 / count as f64))
}

/// A short tone with a partial of wood (2.76 times the first, as of a free bar: from memory).
fn knock(hz: f64, t60_s: f64, level: f64, rate: f64) -> Vec<f32> {
    let tone = |i: usize, hz: f64| (TAU * hz * (i as f64 + 0.5) / rate).sin();
    falling(t60_s, rate)
        .enumerate()
        .map(|(i, e)| (level * e * (tone(i, hz) + 0.3 * tone(i, 2.76 * hz))) as f32)
        .collect()
}

/// A falling tone: 110 to 48 Hz within some hundredths of a second.
fn kick(rate: f64) -> Vec<f32> {
    let mut phase = 0.0;
    falling(0.20, rate)
        .enumerate()
        .map(|(i, e)| {
            let hz = 48.0 + 62.0 * (-(i as f64) / (0.02 * rate)).exp();
            phase += TAU * hz / rate;
            (0.28 * e * phase.sin()) as f32
        })
        .collect()
}

/// Noise above a frequency: always the same noise.
fn noise(above_hz: f64, t60_s: f64, level: f64, rate: f64) -> Vec<f32> {
    let mut rng = SmallRng::seed_from_u64(above_hz as u64);
    let pole = (-TAU * above_hz.min(0.4 * rate) / rate).exp();
    let (mut low, mut lower) = (0.0, 0.0);
    falling(t60_s, rate)
        .map(|e| {
            let white: f64 = rng.random_range(-1.0..1.0);
            low += (1.0 - pole) * (white - low);
            let high = white - low;
            lower += (1.0 - pole) * (high - lower);
            (level * e * (high - lower)) as f32
        })
        .collect()
}

/// A bass note of so many seconds.
fn bass(midi: u8, seconds: f64, rate: f64, note: &mut Vec<f32>) {
    let hz = midi_to_hz(f64::from(midi), 440.0);
    let length = (seconds * rate) as usize;
    let (attack, release) = (BASS_ATTACK_S * rate, BASS_RELEASE_S * rate);
    let levels = BASS_PARTIALS.map(|(n, db)| (n, 10f64.powf(db / 20.0)));
    note.clear();
    note.extend((0..length).map(|i| {
        let t = i as f64 / rate;
        let come = ((i as f64 + 1.0) / attack).min(1.0);
        let go = ((length - i) as f64 / release).min(1.0);
        let fall = 10f64.powf(-3.0 * t / BASS_T60_S);
        // From a quarter of the way round, so that the first sample is not zero.
        let tone: f64 = levels
            .iter()
            .map(|(n, level)| level * (TAU * hz * n * t).cos())
            .sum();
        (0.30 * come * go * fall * tone) as f32
    }));
}

/// Loudness and peak by BS.1770.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loudness {
    /// Integrated loudness, in LUFS.
    pub lufs: f64,
    /// True peak, in dBTP.
    pub peak_dbtp: f64,
}

/// Measures mono samples. `None` where the meter does not work at that rate.
pub fn loudness(samples: &[f32], rate_hz: u32) -> Option<Loudness> {
    let mut meter = EbuR128::new(1, rate_hz, Mode::I | Mode::TRUE_PEAK).ok()?;
    meter.add_frames_f32(samples).ok()?;
    Some(Loudness {
        lufs: meter.loudness_global().ok()?,
        peak_dbtp: 20.0 * meter.true_peak(0).ok()?.max(1e-12).log10(),
    })
}

/// Brings samples to [`LOUDNESS_LUFS`], or less where the highest peak asks for it.
pub fn levelled(samples: &mut [f32], rate_hz: u32) {
    let Some(found) = loudness(samples, rate_hz).filter(|l| l.lufs.is_finite()) else {
        return;
    };
    let room_db = HIGHEST_PEAK_DBTP - PEAK_ROOM_DB - found.peak_dbtp;
    let gain = 10f32.powf((LOUDNESS_LUFS - found.lufs).min(room_db) as f32 / 20.0);
    samples.iter_mut().for_each(|s| *s *= gain);
}

/// The whole backing at a rate, as loud as a file times `volume`.
pub fn sound(hits: &[Hit], plan: &Plan, volume: f32, rate_hz: u32) -> Vec<f32> {
    let mut samples = render(hits, &plan.grid, rate_hz);
    levelled(&mut samples, rate_hz);
    samples.iter_mut().for_each(|s| *s *= volume);
    samples
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::Tuning;
    use crate::progression::backing::{EVEN, Feel, Plan, SHUFFLE, Style, Timing, arrangement};
    use crate::progression::parse::Progression;

    const RATE_HZ: u32 = 44_100;

    fn played(from_bpm: f64, to_bpm: f64, beats: u32, feel: Feel) -> (Vec<Hit>, Grid) {
        let timing = Timing {
            from_bpm,
            to_bpm,
            beats,
            bars_each: 1,
            loops: 1,
            count_in_bars: 1,
        };
        let plan = Plan::new(&Progression::read("F Bb C Dm").unwrap(), &timing).unwrap();
        let swing = if feel == Feel::Shuffle { SHUFFLE } else { EVEN };
        (
            arrangement(&plan, &Style { feel, swing }, &Tuning::default()),
            plan.grid,
        )
    }

    #[test]
    fn loudness_and_peak_are_as_broadcast_wants_them_at_every_tempo_and_feel() {
        // EBU R 128: -23 LUFS within 0.5, at most -1 dBTP.
        for feel in [Feel::Whole, Feel::Quarters, Feel::Eighths, Feel::Shuffle] {
            for (from, to) in [(40.0, 40.0), (72.0, 72.0), (90.0, 140.0), (200.0, 200.0)] {
                let (hits, grid) = played(from, to, 4, feel);
                let mut samples = render(&hits, &grid, RATE_HZ);
                levelled(&mut samples, RATE_HZ);
                let found = loudness(&samples, RATE_HZ).unwrap();
                assert!((found.lufs + 23.0).abs() < 0.5, "{feel:?} {from} {found:?}");
                assert!(found.peak_dbtp <= -1.0, "{feel:?} {from} {found:?}");
            }
        }
    }

    #[test]
    fn the_meter_reads_the_standards_sine() {
        // ITU-R BS.1770: a full-scale sine of 997 Hz in one channel reads -3.01 LKFS.
        let sine: Vec<f32> = (0..5 * RATE_HZ)
            .map(|i| (TAU * 997.0 * f64::from(i) / f64::from(RATE_HZ)).sin() as f32)
            .collect();
        let found = loudness(&sine, RATE_HZ).unwrap();
        assert!((found.lufs + 3.01).abs() < 0.1, "{found:?}");
    }

    #[test]
    fn every_hit_begins_on_the_sample_of_its_beat() {
        for (from, to, rate_hz) in [(72.0, 72.0, 44_100), (83.0, 131.0, 48_000)] {
            let (hits, grid) = played(from, to, 3, Feel::Shuffle);
            let whole = render(&hits, &grid, rate_hz);
            for index in 0..hits.len() {
                let mut others = hits.clone();
                let hit = others.remove(index);
                let without = render(&others, &grid, rate_hz);
                let first = whole.iter().zip(&without).position(|(a, b)| a != b);
                let wanted = grid.seconds(hit.beat) * f64::from(rate_hz);
                let off = first.unwrap() as f64 - wanted;
                assert!(off.abs() <= 0.5 + 1e-6, "{hit:?} begins {off} samples off");
            }
        }
    }

    #[test]
    fn the_same_backing_is_the_same_sound() {
        let (hits, grid) = played(72.0, 72.0, 4, Feel::Eighths);
        assert_eq!(render(&hits, &grid, RATE_HZ), render(&hits, &grid, RATE_HZ));
    }
}
