//! The band's sounds, made from sines and noise, and their loudness.

use std::cell::RefCell;
use std::collections::VecDeque;
use std::f64::consts::TAU;

use ebur128::{EbuR128, Mode};
use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};

use super::backing::{Hit, Plan, Voice};
use super::grid::Grid;
use crate::audio::{Mono, PIECE};
use crate::decibels;
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

/// The whole backing as a sound that is played where it is read, from the start of the count-in to a second after the
/// last bar.
pub struct Backing {
    rate_hz: u32,
    /// In order.
    hits: Vec<Struck>,
    /// Of the longest hit, in samples.
    longest: usize,
    length: usize,
    strokes: Strokes,
    notes: RefCell<BassNotes>,
    /// That bring it to its loudness, and to its volume.
    gains: [f32; 2],
}

/// A hit in samples.
struct Struck {
    at: usize,
    length: usize,
    voice: Voice,
    gain: f32,
}

impl Backing {
    /// Plays `hits` at a rate in Hz as loud as a file (see [`LOUDNESS_LUFS`]) times `volume`.
    pub fn new(hits: &[Hit], plan: &Plan, volume: f32, rate_hz: u32) -> Backing {
        let mut backing = Backing::not_levelled(hits, &plan.grid, rate_hz);
        let level = loudness(&backing, rate_hz).map_or(1.0, level);
        backing.gains = [level, volume];
        backing
    }

    fn not_levelled(hits: &[Hit], grid: &Grid, rate_hz: u32) -> Backing {
        let rate = f64::from(rate_hz);
        let length = grid.sample(grid.length_beats(), rate_hz) as usize + (TAIL_S * rate) as usize;
        let strokes = Strokes::new(rate);
        let mut struck: Vec<Struck> = (hits.iter())
            .map(|hit| Struck {
                at: grid.sample(hit.beat, rate_hz) as usize,
                length: match hit.voice {
                    Voice::Bass { .. } => {
                        let seconds = grid.seconds(hit.beat + hit.beats) - grid.seconds(hit.beat);
                        (seconds * rate) as usize
                    }
                    stroke => strokes.of(stroke).len(),
                },
                voice: hit.voice,
                gain: decibels::to_amplitude(hit.level_db as f32),
            })
            .collect();
        struck.sort_by_key(|hit| hit.at);
        Backing {
            rate_hz,
            longest: struck.iter().map(|hit| hit.length).max().unwrap_or(0),
            hits: struck,
            length,
            strokes,
            notes: RefCell::default(),
            gains: [1.0; 2],
        }
    }
}

impl Mono for Backing {
    fn len(&self) -> usize {
        self.length
    }

    fn read(&self, from: usize, into: &mut [f32]) {
        into.fill(0.0);
        let end = self.length.min(from + into.len()).max(from);
        let first = (self.hits).partition_point(|hit| hit.at + self.longest <= from);
        let heard = self.hits[first..].iter().take_while(|hit| hit.at < end);
        let mut notes = self.notes.borrow_mut();
        for hit in heard {
            let sound = match hit.voice {
                Voice::Bass { midi, a4_hz } => {
                    notes.bass(midi_to_hz(f64::from(midi), a4_hz), hit.length, self.rate_hz)
                }
                stroke => self.strokes.of(stroke),
            };
            let (gone, ahead) = (from.saturating_sub(hit.at), hit.at.saturating_sub(from));
            let sound = sound.get(gone..).unwrap_or_default();
            for (sample, s) in into[ahead..end - from].iter_mut().zip(sound) {
                *sample += hit.gain * s;
            }
        }
        for gain in self.gains {
            into.iter_mut().for_each(|s| *s *= gain);
        }
    }
}

/// Bass notes played last: most of them come again.
#[derive(Default)]
struct BassNotes(VecDeque<(f64, Vec<f32>)>);

/// Bass notes that are kept: a chord each for two lines of a song.
const MOST_NOTES: usize = 16;

impl BassNotes {
    /// A bass note of so many samples.
    fn bass(&mut self, hz: f64, length: usize, rate_hz: u32) -> &[f32] {
        let is_it = |note: &(f64, Vec<f32>)| note.0 == hz && note.1.len() == length;
        if let Some(at) = self.0.iter().position(is_it) {
            return &self.0[at].1;
        }
        let full = self.0.len() == MOST_NOTES;
        let mut note = full
            .then(|| self.0.pop_front())
            .flatten()
            .unwrap_or_default();
        note.0 = hz;
        bass(hz, length, f64::from(rate_hz), &mut note.1);
        self.0.push_back(note);
        &self.0[self.0.len() - 1].1
    }
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

    /// The sound of a stroke; none of a bass note, whose sound depends on its length.
    fn of(&self, voice: Voice) -> &[f32] {
        match voice {
            Voice::Count { first: true } => &self.count_first,
            Voice::Count { first: false } => &self.count,
            Voice::Pulse { first: true } => &self.pulse_first,
            Voice::Pulse { first: false } => &self.pulse,
            Voice::Kick => &self.kick,
            Voice::Rim => &self.rim,
            Voice::Hat => &self.hat,
            Voice::Bass { .. } => &[],
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

/// A bass note of so many samples, its fundamental at `hz`.
fn bass(hz: f64, length: usize, rate: f64, note: &mut Vec<f32>) {
    let (attack, release) = (BASS_ATTACK_S * rate, BASS_RELEASE_S * rate);
    let levels = BASS_PARTIALS.map(|(n, db)| (n, decibels::to_amplitude(db)));
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

/// Measures a sound. `None` where the meter does not work at that rate.
pub fn loudness(sound: &dyn Mono, rate_hz: u32) -> Option<Loudness> {
    let mut meter = EbuR128::new(1, rate_hz, Mode::I | Mode::TRUE_PEAK).ok()?;
    let mut taken = Ok(());
    sound.pieces(0..sound.len(), PIECE, &mut |piece| {
        taken = taken.and_then(|()| meter.add_frames_f32(piece));
    });
    taken.ok()?;
    Some(Loudness {
        lufs: meter.loudness_global().ok()?,
        peak_dbtp: decibels::of_amplitude(meter.true_peak(0).ok()?.max(decibels::SILENCE)),
    })
}

/// What brings a sound to [`LOUDNESS_LUFS`], or to less where the highest peak asks for it.
fn level(found: Loudness) -> f32 {
    if !found.lufs.is_finite() {
        return 1.0;
    }
    let room_db = HIGHEST_PEAK_DBTP - PEAK_ROOM_DB - found.peak_dbtp;
    decibels::to_amplitude((LOUDNESS_LUFS - found.lufs).min(room_db) as f32)
}

/// All samples of a [`Backing`].
pub fn sound(hits: &[Hit], plan: &Plan, volume: f32, rate_hz: u32) -> Vec<f32> {
    let backing = Backing::new(hits, plan, volume, rate_hz);
    backing.part(0..backing.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fretboard::Tuning;
    use crate::progression::backing::{EVEN, Feel, Plan, SHUFFLE, Style, Timing, arrangement};
    use crate::progression::parse::Progression;

    const RATE_HZ: u32 = 44_100;

    fn played(from_bpm: f64, to_bpm: f64, beats: u32, feel: Feel) -> (Vec<Hit>, Plan) {
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
        let hits = arrangement(&plan, &Style { feel, swing }, &Tuning::default());
        (hits, plan)
    }

    /// Not levelled.
    fn render(hits: &[Hit], plan: &Plan, rate_hz: u32) -> Vec<f32> {
        let backing = Backing::not_levelled(hits, &plan.grid, rate_hz);
        backing.part(0..backing.len())
    }

    #[test]
    fn loudness_and_peak_are_as_broadcast_wants_them_at_every_tempo_and_feel() {
        // EBU R 128: -23 LUFS within 0.5, at most -1 dBTP.
        for feel in [Feel::Whole, Feel::Quarters, Feel::Eighths, Feel::Shuffle] {
            for (from, to) in [(40.0, 40.0), (72.0, 72.0), (90.0, 140.0), (200.0, 200.0)] {
                let (hits, plan) = played(from, to, 4, feel);
                let backing = Backing::new(&hits, &plan, 1.0, RATE_HZ);
                let found = loudness(&backing, RATE_HZ).unwrap();
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
            let (hits, plan) = played(from, to, 3, Feel::Shuffle);
            let whole = render(&hits, &plan, rate_hz);
            for index in 0..hits.len() {
                let mut others = hits.clone();
                let hit = others.remove(index);
                let without = render(&others, &plan, rate_hz);
                let first = whole.iter().zip(&without).position(|(a, b)| a != b);
                let wanted = plan.grid.seconds(hit.beat) * f64::from(rate_hz);
                let off = first.unwrap() as f64 - wanted;
                assert!(off.abs() <= 0.5 + 1e-6, "{hit:?} begins {off} samples off");
            }
        }
    }

    #[test]
    fn a_backing_read_in_pieces_is_the_same_sound() {
        let (hits, plan) = played(83.0, 131.0, 4, Feel::Eighths);
        let whole = sound(&hits, &plan, 0.5, RATE_HZ);
        assert_eq!(whole, sound(&hits, &plan, 0.5, RATE_HZ));
        let backing = Backing::new(&hits, &plan, 0.5, RATE_HZ);
        for piece in [997, 30_011] {
            let mut read = Vec::new();
            backing.pieces(0..whole.len() + piece, piece, &mut |piece| {
                read.extend_from_slice(piece);
            });
            assert_eq!(read, whole, "pieces of {piece}");
        }
        // Backwards too, and beyond the end.
        for from in [whole.len() - 100, 50_000, 0] {
            let mut samples = [1.0; 200];
            backing.read(from, &mut samples);
            let there = 200.min(whole.len() - from);
            assert_eq!(samples[..there], whole[from..from + there]);
            assert!(samples[there..].iter().all(|s| *s == 0.0));
        }
    }
}
