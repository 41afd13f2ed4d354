//! Composed sessions of playing along, whose truth is known.

#[path = "../../tests/common/playing.rs"]
mod playing;

pub use playing::trimmed;

use playing::{PlayingStyle, Strike, mix_in, play};
use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use ringtrue::fretboard::{Frets, Tuning};
use ringtrue::progression::backing::arrangement;
use ringtrue::progression::band::sound;
use ringtrue::progression::performance::Part;
use ringtrue::progression::timing::{StrumPlaces, beats};
use ringtrue::progression::{Feel, HandWeights, Limits, Plan, Progression, Style, Timing};
use ringtrue::synth::compose::StringSound;
use ringtrue::synth::notes::{Guitar, NOTE_RATE_HZ};
use ringtrue::synth::random::gauss;
use ringtrue::synth::voicings;

/// A chord that is struck twice is so no sooner than after so many seconds, or after two fifths of its time.
const AGAIN_S: f64 = 0.25;

/// What is played along with.
pub struct Song {
    pub part: Part,
    pub backing: Vec<f32>,
    /// Seconds from chord to chord.
    apart_s: f64,
}

/// A session as it was played, and its recording.
pub struct Played {
    pub samples: Vec<f32>,
    pub strikes: Vec<Strike>,
    pub song: Song,
    pub truth: Truth,
}

/// What was really played: for each beat its strike's time after the beat in ms and the sounds, and
/// the second strike of each chord struck twice, in seconds of the recording.
pub struct Truth {
    pub offs_ms: Vec<Option<f64>>,
    pub sounds: Vec<[StringSound; 6]>,
    pub extra_s: Vec<f64>,
    pub start_s: f64,
    /// Whether each chord still rang when the next was struck.
    pub legato: bool,
    pub guitar: String,
}

/// Eight chords in bars of so many beats, three times, at a tempo drawn: with two a strum every 0.9 to 1.7 s.
fn song(beats_each: u32, rng: &mut SmallRng) -> anyhow::Result<Song> {
    let progression = Progression::read("F Bb C Dm Gm C7 F C")?;
    let bpm = f64::from(rng.random_range(70..=130));
    let timing = Timing {
        from_bpm: bpm,
        to_bpm: bpm,
        beats: beats_each,
        bars_each: 1,
        loops: 3,
        count_in_bars: 2,
    };
    let style = Style {
        feel: Feel::Eighths,
        swing: 50.0,
    };
    let tuning = Tuning::default();
    let plan = Plan::new(&progression, &timing)?;
    let backing = sound(
        &arrangement(&plan, &style, &tuning),
        &plan,
        1.0,
        NOTE_RATE_HZ,
    );
    let beats = beats(&plan, &style, StrumPlaces::Chord);
    let (limits, weights) = (Limits::default(), HandWeights::default());
    Ok(Song {
        part: Part::new(plan, beats, &limits, &weights, true, tuning)?,
        backing,
        apart_s: 60.0 * f64::from(beats_each) / bpm,
    })
}

/// A hand: quick, usual or slow over the strings; the chords held until the next or let go before.
fn manner(rng: &mut SmallRng) -> PlayingStyle {
    let step_s = [(0.001, 0.006), (0.005, 0.025), (0.02, 0.04)][rng.random_range(0..3)];
    let gap_s = [(0.0, 0.0), (0.03, 0.25)][rng.random_range(0..2)];
    PlayingStyle {
        step_s,
        gap_s,
        noise_db: rng.random_range(40.0..60.0),
        ..PlayingStyle::usual()
    }
}

/// One session: a tenth of the beats missed, a tenth late by a sixth to three eighths of the time to
/// the next, a tenth struck twice within half of it, the others late or early by the player's own
/// habit and spread; recorded with the backing so many dB under the playing.
pub fn played(
    guitar: &Guitar,
    beats_each: u32,
    backing_db: Option<f64>,
    seed: u64,
) -> anyhow::Result<Played> {
    // The same playing at every level of the backing.
    let mut rng = SmallRng::seed_from_u64(seed);
    let song = song(beats_each, &mut rng)?;
    let manner = manner(&mut rng);
    let start_s = rng.random_range(0.4..2.0);
    let (habit_s, spread_s) = (
        rng.random_range(-0.02..0.03),
        rng.random_range(0.008..0.035),
    );
    let mut strikes = Vec::new();
    let (mut offs_ms, mut sounds_of, mut extra_s) = (Vec::new(), Vec::new(), Vec::new());
    for beat in &song.part.beats {
        let frets = song.part.voicings[beat.placed].unwrap_or(Frets([None; 6]));
        let barre = frets.lowest_held();
        let sounds = voicings::faults(&frets, barre, &mut rng, false);
        let kind = rng.random_range(0..10);
        let off_s = match kind {
            0 => song.apart_s * rng.random_range(0.167..0.375),
            _ => habit_s + spread_s * gauss(&mut rng),
        };
        sounds_of.push(sounds);
        if kind == 1 {
            offs_ms.push(None);
            continue;
        }
        offs_ms.push(Some(off_s * 1e3));
        let at_s = start_s + beat.at_s + off_s;
        strikes.push(Strike {
            at_s,
            sounds,
            again: false,
        });
        if kind == 2 {
            let again_s =
                at_s + rng.random_range(AGAIN_S.min(0.4 * song.apart_s)..0.5 * song.apart_s);
            strikes.push(Strike {
                at_s: again_s,
                sounds,
                again: true,
            });
            extra_s.push(again_s);
        }
    }
    let length_s = start_s + song.backing.len() as f64 / f64::from(NOTE_RATE_HZ);
    let (mut samples, _) = play(guitar, &strikes, &manner, length_s, &mut rng);
    if let Some(db) = backing_db {
        mix_in(&mut samples, &song.backing, db as f32, start_s);
    }
    Ok(Played {
        samples,
        strikes,
        song,
        truth: Truth {
            offs_ms,
            sounds: sounds_of,
            extra_s,
            start_s,
            legato: manner.gap_s.1 == 0.0,
            guitar: guitar.name.clone(),
        },
    })
}
