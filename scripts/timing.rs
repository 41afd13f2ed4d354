//! Measures how well time is kept track of, and what a backing in the microphone does, on composed
//! playing whose truth is known: timing design|report FOLDER [SESSIONS], sessions for each guitar. FOLDER holds the
//! networks for first strokes that never heard two guitars each, first-string.01.safetensors and so on
//! (`scripts/train first-string --leave 0,1 --out FOLDER/first-string.01.safetensors`).
//!
//! Thresholds are chosen on `design`. `report` is other playing, and other drawn guitars: what is
//! published comes from there and nothing is chosen by it.

#[path = "timing/sessions.rs"]
#[expect(
    dead_code,
    reason = "which strum was struck when is asked for by what is learnt from"
)]
mod sessions;

use std::path::Path;

use rayon::prelude::*;
use ringtrue::progression::first_stroke::Network;
use ringtrue::progression::performance::{Beginning, Performance, judge_by};
use ringtrue::progression::start::StartSource;
use ringtrue::progression::timing::Spread;
use ringtrue::synth::compose::StringSound;
use ringtrue::synth::modal;
use ringtrue::synth::notes::{self, Guitar, NOTE_RATE_HZ};
use ringtrue::verdict::Verdict;
use sessions::{Truth, played, trimmed};

/// Seeds of the two sets of sessions, and of the guitars drawn for them beside the recorded ones.
const DESIGN: (u64, [u64; 2]) = (0x71_4E00, [71, 72]);
const REPORT: (u64, [u64; 2]) = (0x75_4E00, [12_871, 12_872]);
/// A strum found so near to where it was played is that strum, in ms.
const SAME_MS: f64 = 60.0;

fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words[..] {
        ["design", folder, ref more @ ..] => measure(DESIGN, folder, more),
        ["report", folder, ref more @ ..] => measure(REPORT, folder, more),
        _ => anyhow::bail!("design or report expected, and what scripts/timing.rs says"),
    }
}

fn measure((seed, drawn): (u64, [u64; 2]), folder: &str, more: &[&str]) -> anyhow::Result<()> {
    let sessions: usize = more.first().map_or(Ok(2), |n| n.parse())?;
    let mut guitars = notes::load(Path::new("fixtures/notes"))?;
    let networks: Vec<Network> = (0..guitars.len() + drawn.len())
        .map(|which| match which < guitars.len() {
            true => {
                let two = which / 2 * 2;
                let file =
                    Path::new(folder).join(format!("first-string.{two}{}.safetensors", two + 1));
                Ok(Network::read(&std::fs::read(file)?)?)
            }
            false => Ok(Network::built_in()),
        })
        .collect::<anyhow::Result<_>>()?;
    guitars.extend(drawn.map(modal::guitar));
    let guitars = trimmed(guitars);
    for backing_db in [None, Some(-20.0), Some(-14.0)] {
        let all: Vec<(Truth, Option<Performance>)> = (0..guitars.len() * sessions)
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

/// Beats that a chord takes where time is measured.
const MEASURED_BEATS: u32 = 2;
/// A session, played and judged.
fn one(
    guitar: &Guitar,
    network: &Network,
    backing_db: Option<f64>,
    seed: u64,
) -> anyhow::Result<(Truth, Option<Performance>)> {
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

    fn add(&mut self, truth: &Truth, session: &Performance) {
        // The clock of a start found in the strums is theirs: only the match can be right.
        let shift_ms = (session.start.at_s - truth.start_s) * 1e3;
        self.starts += usize::from(shift_ms.abs() < SAME_MS);
        self.by_count_in += usize::from(session.start.found == StartSource::CountIn);
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

    fn add_strings(&mut self, truth: &Truth, session: &Performance, index: usize) {
        let Some(take) = &session.takes[index] else {
            return;
        };
        for (string, sound) in truth.sounds[index].iter().enumerate() {
            let said = take.strings[string].verdict;
            let should = match (take.frets.0[string], sound) {
                (Some(fret), StringSound::Rings(f)) if *f == fret => Verdict::Clean,
                (Some(_), StringSound::Rings(_)) => Verdict::WrongFret,
                (Some(_), StringSound::Choked(_)) => Verdict::Choked,
                (Some(_), _) => Verdict::Muted,
                (None, StringSound::Rings(_)) => Verdict::Ringing,
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

fn line(backing_db: Option<f64>, all: &[(Truth, Option<Performance>)]) -> String {
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
