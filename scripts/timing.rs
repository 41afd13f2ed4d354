//! Measures how well time is kept track of, and what a backing in the microphone does, on composed
//! playing whose truth is known: timing design|report FOLDER [SESSIONS], sessions for each guitar. FOLDER holds the
//! networks for first strings that never heard two guitars each, first-string.01, .23 and .45 (`scripts/train first-string
//! leave 0,1 FOLDER/first-string.01` and so on).
//! timing table OUT SESSIONS SEED DRAWN_GUITARS: what the network for first strings is fitted on, a table of f32, a
//! row a strum: guitar, the moment its first string is struck in seconds after the onset that the finder gave (NaN
//! where none is near), the sounds that are heard of it.
//!
//! Thresholds are chosen on `design`. `report` is other playing, and other drawn guitars: what is
//! published comes from there and nothing is chosen by it.

#[path = "../tests/common/playing.rs"]
mod playing;

use std::io::Write;
use std::path::Path;

use playing::{Manner, Strike, mix_in, play, trimmed};
use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use rayon::prelude::*;
use ringtrue::fretboard::{Frets, Tuning};
use ringtrue::progression::backing::arrangement;
use ringtrue::progression::band::sound;
use ringtrue::progression::first_string::Network;
use ringtrue::progression::session::{Beginning, Part, Session, heard, judge_by};
use ringtrue::progression::start::Found;
use ringtrue::progression::timing::{Spread, Strums, beats};
use ringtrue::progression::{Feel, Limits, Plan, Progression, Style, Timing, Weights};
use ringtrue::synth::compose::Sound;
use ringtrue::synth::modal;
use ringtrue::synth::notes::{self, Guitar, NOTE_RATE_HZ};
use ringtrue::synth::random::gauss;
use ringtrue::synth::voicings;
use ringtrue::verdict::Verdict;

/// Seeds of the two sets of sessions, and of the guitars drawn for them beside the recorded ones.
const DESIGN: (u64, [u64; 2]) = (0x71_4E00, [71, 72]);
const REPORT: (u64, [u64; 2]) = (0x75_4E00, [12_871, 12_872]);
/// A strum found so near to where it was played is that strum, in ms.
const SAME_MS: f64 = 60.0;

/// What is played along with.
struct Song {
    part: Part,
    backing: Vec<f32>,
    /// Seconds from chord to chord.
    apart_s: f64,
}

/// A session as it was played, and its recording.
struct Played {
    samples: Vec<f32>,
    strikes: Vec<Strike>,
    song: Song,
    truth: Truth,
}

/// What was really played: for each beat its strike's time after the beat in ms and the sounds, and
/// the second strike of each chord struck twice, in seconds of the recording.
struct Truth {
    offs_ms: Vec<Option<f64>>,
    sounds: Vec<[Sound; 6]>,
    extra_s: Vec<f64>,
    start_s: f64,
    /// Whether each chord still rang when the next was struck.
    legato: bool,
    guitar: String,
}

fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words[..] {
        ["table", out, sessions, seed, drawn] => {
            table(out, sessions.parse()?, seed.parse()?, drawn.parse()?)
        }
        ["design", folder, ref more @ ..] => measure(DESIGN, folder, more),
        ["report", folder, ref more @ ..] => measure(REPORT, folder, more),
        _ => anyhow::bail!("table, design or report expected, and what scripts/timing.rs says"),
    }
}

fn measure((seed, drawn): (u64, [u64; 2]), folder: &str, more: &[&str]) -> anyhow::Result<()> {
    let sessions: usize = more.first().map_or(Ok(2), |n| n.parse())?;
    let mut guitars = notes::load(Path::new("fixtures/notes"))?;
    let networks: Vec<Network> = (0..guitars.len() + drawn.len())
        .map(|which| match which < guitars.len() {
            true => {
                let two = which / 2 * 2;
                let file = Path::new(folder).join(format!("first-string.{two}{}", two + 1));
                Ok(Network::read(&std::fs::read(file)?)?)
            }
            false => Ok(Network::built_in()),
        })
        .collect::<anyhow::Result<_>>()?;
    guitars.extend(drawn.map(modal::guitar));
    let guitars = trimmed(guitars);
    for backing_db in [None, Some(-20.0), Some(-14.0)] {
        let all: Vec<(Truth, Option<Session>)> = (0..guitars.len() * sessions)
            .into_par_iter()
            .map(|i| {
                let which = i / sessions;
                let seed = seed + i as u64;
                one(&guitars[which], &networks[which], backing_db, seed)
            })
            .collect::<anyhow::Result<_>>()?;
        println!("{}", line(backing_db, &all));
    }
    Ok(())
}

/// Backings that the sessions of a table are played to, one after the other, in dB under the playing.
const LEARNED_DB: [Option<f64>; 4] = [None, Some(-20.0), Some(-14.0), Some(-8.0)];
/// Beats that a chord of theirs takes, likewise: what rings over differs with how soon strums follow each other.
const LEARNED_BEATS: [u32; 2] = [1, 2];
/// A chord that is struck twice is so no sooner than after so many seconds, or after two fifths of its time.
const AGAIN_S: f64 = 0.25;
/// Beats that a chord takes where time is measured.
const MEASURED_BEATS: u32 = 2;
/// Sessions that are played before what is heard of them is written.
const AT_ONCE: usize = 64;
/// A strum that is found is the one struck so many seconds before it at most, or after it.
const LEARNED_NEAR_S: (f64, f64) = (0.25, 0.08);

fn table(out: &str, sessions: usize, seed: u64, drawn: u64) -> anyhow::Result<()> {
    let mut guitars = notes::load(Path::new("fixtures/notes"))?;
    guitars.extend((0..drawn).map(|n| modal::guitar(seed + n)));
    let guitars = trimmed(guitars);
    let mut file = std::io::BufWriter::new(std::fs::File::create(out)?);
    let all: Vec<usize> = (0..guitars.len() * sessions).collect();
    for part in all.chunks(AT_ONCE) {
        let rows: Vec<Vec<f32>> = (part.par_iter())
            .map(|&i| {
                let which = i / sessions;
                rows(which, &guitars[which], i, seed)
            })
            .collect::<anyhow::Result<_>>()?;
        for value in rows.iter().flatten() {
            file.write_all(&value.to_le_bytes())?;
        }
    }
    Ok(())
}

/// The rows of session number `i` of a table, of guitar number `which`.
fn rows(which: usize, guitar: &Guitar, i: usize, seed: u64) -> anyhow::Result<Vec<f32>> {
    let db = LEARNED_DB[i % LEARNED_DB.len()];
    let beats_each = LEARNED_BEATS[i / LEARNED_DB.len() % LEARNED_BEATS.len()];
    let played = played(guitar, beats_each, db, seed + i as u64)?;
    let backing = db.map(|_| (&played.song.backing as _, played.truth.start_s));
    let closest_s = played.song.part.closest_s();
    let mut rows: Vec<f32> = Vec::new();
    for (found_s, sounds) in heard(&played.samples, NOTE_RATE_HZ, backing, closest_s) {
        let after = |s: &f64| s - found_s;
        let near = played.strikes.iter().map(|s| after(&s.at_s));
        let near = near.min_by(|a, b| a.abs().total_cmp(&b.abs()));
        let near = near.filter(|s| (-LEARNED_NEAR_S.0..LEARNED_NEAR_S.1).contains(s));
        rows.extend([which as f32, near.map_or(f32::NAN, |s| s as f32)]);
        sounds.iter().for_each(|sound| rows.extend(sound));
    }
    Ok(rows)
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
    let beats = beats(&plan, &style, Strums::Chord);
    let (limits, weights) = (Limits::default(), Weights::default());
    Ok(Song {
        part: Part::new(plan, beats, &limits, &weights, true, tuning)?,
        backing,
        apart_s: 60.0 * f64::from(beats_each) / bpm,
    })
}

/// A hand: quick, usual or slow over the strings; the chords held until the next or let go before.
fn manner(rng: &mut SmallRng) -> Manner {
    let step_s = [(0.001, 0.006), (0.005, 0.025), (0.02, 0.04)][rng.random_range(0..3)];
    let gap_s = [(0.0, 0.0), (0.03, 0.25)][rng.random_range(0..2)];
    Manner {
        step_s,
        gap_s,
        noise_db: rng.random_range(40.0..60.0),
        ..Manner::usual()
    }
}

/// One session: a tenth of the beats missed, a tenth late by a sixth to three eighths of the time to
/// the next, a tenth struck twice within half of it, the others late or early by the player's own
/// habit and spread; recorded with the backing so many dB under the playing.
fn played(
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

/// A session, played and judged.
fn one(
    guitar: &Guitar,
    network: &Network,
    backing_db: Option<f64>,
    seed: u64,
) -> anyhow::Result<(Truth, Option<Session>)> {
    let played = played(guitar, MEASURED_BEATS, backing_db, seed)?;
    let found = judge_by(
        network,
        &played.samples,
        NOTE_RATE_HZ,
        &played.song.part,
        Beginning::UNKNOWN,
        Some(&played.song.backing),
    );
    Ok((played.truth, found))
}

/// Sums over sessions.
#[derive(Default)]
struct Tally {
    errors_ms: Vec<f64>,
    middles: Vec<f64>,
    means: Vec<f64>,
    spreads: Vec<f64>,
    deviations: Vec<f64>,
    beats: usize,
    matched: usize,
    doubled: usize,
    doubled_found: usize,
    /// Strums found beside the beat where none was played.
    made_up: usize,
    counted_right: usize,
    starts: usize,
    by_count_in: usize,
    bleeds: Vec<f64>,
    strings: usize,
    strings_right: usize,
    clean: usize,
    false_alarms: usize,
}

fn share(part: usize, of: usize) -> f64 {
    part as f64 / of.max(1) as f64
}

impl Tally {
    /// Share of the onsets found within so many ms.
    fn within(&self, ms: f64) -> f64 {
        let those = self.errors_ms.iter().filter(|e| e.abs() <= ms).count();
        share(those, self.errors_ms.len())
    }

    fn add(&mut self, truth: &Truth, session: &Session) {
        // The clock of a start found in the strums is theirs: only the match can be right.
        let shift_ms = (session.start.at_s - truth.start_s) * 1e3;
        self.starts += usize::from(shift_ms.abs() < SAME_MS);
        self.by_count_in += usize::from(session.start.found == Found::CountIn);
        self.bleeds.extend(session.bleed_db);
        let near = |a: f64, b: f64| (a - b).abs() * 1e3 < SAME_MS;
        let found = |at: &&f64| session.extra_s.iter().any(|e| near(*e, **at));
        let doubled_found = truth.extra_s.iter().filter(found).count();
        let made_up = session.extra_s.len().saturating_sub(doubled_found);
        self.doubled += truth.extra_s.len();
        self.doubled_found += doubled_found;
        self.made_up += made_up;
        self.counted_right += usize::from(doubled_found == truth.extra_s.len() && made_up == 0);
        let (mut wanted, mut got) = (vec![], vec![]);
        for (index, outcome) in session.outcomes.iter().enumerate() {
            self.beats += 1;
            match (truth.offs_ms[index], outcome.off_ms) {
                (None, None) => self.matched += 1,
                (Some(off), Some(found)) => {
                    let error = found + shift_ms - off;
                    if error.abs() < SAME_MS {
                        self.matched += 1;
                        self.errors_ms.push(error);
                        wanted.push(off);
                        got.push(found + shift_ms);
                    }
                }
                _ => {}
            }
            self.add_strings(truth, session, index);
        }
        if let (Some(a), Some(b)) = (Spread::of(&wanted), Spread::of(&got)) {
            self.middles.push((a.middle_ms - b.middle_ms).abs());
            self.means.push((a.mean_ms - b.mean_ms).abs());
            self.spreads.push((a.spread_ms - b.spread_ms).abs());
            self.deviations
                .push((deviation(&wanted) - deviation(&got)).abs());
        }
    }

    fn add_strings(&mut self, truth: &Truth, session: &Session, index: usize) {
        let Some(take) = &session.takes[index] else {
            return;
        };
        for (string, sound) in truth.sounds[index].iter().enumerate() {
            let said = take.strings[string].verdict;
            let should = match (take.frets.0[string], sound) {
                (Some(fret), Sound::Rings(f)) if *f == fret => Verdict::Clean,
                (Some(_), Sound::Rings(_)) => Verdict::WrongFret,
                (Some(_), Sound::Choked(_)) => Verdict::Choked,
                (Some(_), _) => Verdict::Muted,
                (None, Sound::Rings(_)) => Verdict::Ringing,
                (None, _) => Verdict::Silent,
            };
            self.strings += 1;
            self.strings_right += usize::from(said == should);
            if !should.is_fault() {
                self.clean += 1;
                self.false_alarms += usize::from(said.is_fault());
            }
        }
    }
}

/// Standard deviation.
fn deviation(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
    let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    (squares / values.len().max(1) as f64).sqrt()
}

fn line(backing_db: Option<f64>, all: &[(Truth, Option<Session>)]) -> String {
    let mut tally = Tally::default();
    for (truth, session) in all {
        if let Some(session) = session {
            tally.add(truth, session);
        }
    }
    let largest = |v: &[f64]| v.iter().copied().fold(0.0, f64::max);
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len().max(1) as f64;
    let both = |v: &[f64]| format!("{:.1} / {:.1}", mean(v), largest(v));
    let by = |which: &dyn Fn(&Truth) -> bool| {
        let mut part = Tally::default();
        for (truth, session) in all {
            if let Some(session) = session.as_ref().filter(|_| which(truth)) {
                part.add(truth, session);
            }
        }
        part.within(5.0)
    };
    let mut names: Vec<&String> = all.iter().map(|(truth, _)| &truth.guitar).collect();
    names.dedup();
    let guitars: Vec<String> = (names.iter())
        .map(|name| format!("{name} {:.3}", by(&|truth| truth.guitar == **name)))
        .collect();
    format!(
        "backing {}, {} sessions of {} with a strum found, {} beats\n\
         \x20 matched rightly {:.3}; of {} strums beside the beat found {:.3}, made up {}, sessions counted right {:.2}\n\
         \x20 onset within 5 ms {:.3}, 10 ms {:.3}; held chords {:.3}, let go {:.3}; {}\n\
         \x20 error of a session's statistics, mean / worst, ms: middle {}, mean {}, spread {}, standard deviation {}\n\
         \x20 start within 60 ms {:.2}, by count-in {:.2}, level measured {:.1} dB\n\
         \x20 strings {}, verdict right {:.4}, false alarms {:.4}",
        backing_db.map_or("none".into(), |d| format!("{d} dB")),
        all.iter().filter(|(_, s)| s.is_some()).count(),
        all.len(),
        tally.beats,
        share(tally.matched, tally.beats),
        tally.doubled,
        share(tally.doubled_found, tally.doubled),
        tally.made_up,
        share(tally.counted_right, all.len()),
        tally.within(5.0),
        tally.within(10.0),
        by(&|truth| truth.legato),
        by(&|truth| !truth.legato),
        guitars.join(", "),
        both(&tally.middles),
        both(&tally.means),
        both(&tally.spreads),
        both(&tally.deviations),
        share(tally.starts, all.len()),
        share(tally.by_count_in, all.len()),
        mean(&tally.bleeds),
        tally.strings,
        share(tally.strings_right, tally.strings),
        share(tally.false_alarms, tally.clean),
    )
}
