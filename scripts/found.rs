//! Measures which strums the finder finds in one piece and what it makes up: found develop|publish [TAKES [SEED]].
//! What is developed on and what is published are other recordings, other guitars and other seeds. FOUND_ERRORS=1 lists
//! every case that is wrong, FOUND_ONLY=WORD measures the rows whose name holds a word.

use std::collections::BTreeMap;
use std::path::Path;

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use rayon::prelude::*;
use ringtrue::audio::{Recording, read_all};
use ringtrue::fretboard::{Frets, STRINGS, Tuning};
use ringtrue::strings::SHORTEST_S;
use ringtrue::synth::compose::{Composed, Conditions, Sound, compose};
use ringtrue::synth::notes::{self, Guitar, NOTE_RATE_HZ};
use ringtrue::synth::{random::gauss, voicings};
use ringtrue::take::{Manner, Strum, strums, strums_of};

/// A stroke this far from both neighbours is one that has to be found, in seconds.
const APART_S: f64 = 0.35;
/// A take begins at a stroke where it lies this near to it (the usual tolerance of onsets), in seconds.
const NEAR_S: f64 = 0.05;
/// A cut strum is followed by the next stroke no sooner than this, in seconds, so that it can be judged at all.
const CUT_S: f64 = 0.5;
/// A cut ends this long before the next stroke, in seconds.
const BEFORE_NEXT_S: f64 = 0.03;
/// Silence after a cut that has some, in seconds.
const SILENCE_S: f64 = 0.7;
/// Files are cut so long after the first string (before it where negative), in seconds.
const CUTS_S: [f64; 6] = [-0.02, -0.01, 0.0, 0.01, 0.02, 0.03];
/// No recording lasts longer, in seconds.
const LONGEST_S: f64 = 120.0;

/// Recordings, guitars, seeds.
struct Half {
    runs: &'static [&'static str],
    comped: &'static str,
    guitars: &'static [&'static str],
    talking: &'static str,
    /// Every other recording of a kind, from the first or from the second on.
    odd: bool,
    seed: u64,
}

const DEVELOP: Half = Half {
    runs: &["1", "2"],
    comped: "00_BN1-129-Eb_comp",
    guitars: &[
        "archtop",
        "nylon",
        "solid-electric",
        "bank-steel",
        "bank-clean",
        "bank-electric",
    ],
    talking: "talking-low",
    odd: false,
    seed: 1,
};
const PUBLISH: Half = Half {
    runs: &["0", "4", "6", "8"],
    comped: "03_Jazz2-110-Bb_comp",
    guitars: &[
        "classical",
        "steel-acoustic",
        "steel-dreadnought",
        "bank-nylon",
        "bank-jazz",
    ],
    talking: "talking-high",
    odd: true,
    seed: 2,
};

/// A recording and what the finder is to find in it.
struct Case {
    name: String,
    samples: Vec<f32>,
    rate_hz: u32,
    /// The chord that is meant, where it is known.
    meant: Option<Frets>,
    strokes_s: Vec<f64>,
    /// `None`: each stroke is a strum of its own.
    pass: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Outcome {
    Right,
    Nothing,
    Split,
    TooShort,
    Elsewhere,
    OtherManner,
}

fn takes(case: &Case, known: bool) -> Vec<Strum> {
    log::trace!(
        "case {} {} {known} {:?}",
        case.rate_hz,
        case.pass,
        case.strokes_s
    );
    match case.meant.filter(|_| known) {
        Some(frets) => strums_of(&case.samples, case.rate_hz, &Tuning::default(), &frets),
        None => strums(&case.samples, case.rate_hz),
    }
}

fn onsets_s(take: &Strum) -> Vec<f64> {
    let at = |o: &usize| (take.first + *o as u64) as f64 / f64::from(take.rate_hz);
    take.onsets.iter().map(at).collect()
}

/// What became of the one take of a case.
fn outcome(case: &Case, known: bool) -> Outcome {
    let found = takes(case, known);
    let Some(take) = found.first() else {
        return Outcome::Nothing;
    };
    if found.len()
        > case
            .strokes_s
            .len()
            .min(if case.pass { 1 } else { usize::MAX })
    {
        return Outcome::Split;
    }
    if case.pass {
        let onsets = onsets_s(take);
        let near = |a: &f64, all: &[f64]| all.iter().any(|b| (a - b).abs() < NEAR_S);
        let hit = case.strokes_s.iter().filter(|s| near(s, &onsets)).count();
        let made_up = onsets.iter().any(|o| !near(o, &case.strokes_s));
        return if take.manner != Manner::Picked {
            Outcome::OtherManner
        } else if made_up || hit < case.strokes_s.len().saturating_sub(1).max(2) {
            Outcome::Elsewhere
        } else {
            Outcome::Right
        };
    }
    if found.len() < case.strokes_s.len() {
        return Outcome::Nothing;
    }
    for (take, stroke) in found.iter().zip(&case.strokes_s) {
        let seconds =
            (take.judged_end() - take.onsets[take.onsets.len() - 1]) as f32 / take.rate_hz as f32;
        if take.manner != Manner::Strummed {
            return Outcome::OtherManner;
        } else if (take.start_s() - stroke).abs() > 2.0 * NEAR_S {
            return Outcome::Elsewhere;
        } else if seconds < SHORTEST_S {
            return Outcome::TooShort;
        }
    }
    Outcome::Right
}

/// Prints how many cases are right, with the chord known and not, and what the others are.
fn row(name: &str, cases: &[Case]) {
    let errors = std::env::var_os("FOUND_ERRORS").is_some();
    let told: Vec<[Outcome; 2]> = (cases.par_iter())
        .map(|case| [true, false].map(|known| outcome(case, known)))
        .collect();
    let column = |known: usize| {
        let mut counts = BTreeMap::new();
        told.iter()
            .for_each(|t| *counts.entry(t[known]).or_insert(0) += 1);
        let right = counts.remove(&Outcome::Right).unwrap_or(0);
        let rest: Vec<String> = counts.iter().map(|(o, n)| format!("{n} {o:?}")).collect();
        format!(
            "{:.3} ({})",
            f64::from(right) / cases.len() as f64,
            rest.join(", ")
        )
    };
    println!(
        "| {name} | {} | {} | {} |",
        cases.len(),
        column(0),
        column(1)
    );
    for (case, told) in cases.iter().zip(&told).filter(|_| errors) {
        if *told != [Outcome::Right; 2] {
            let found = takes(case, told[0] != Outcome::Right);
            let starts: Vec<_> = found.iter().map(|f| (f.manner, onsets_s(f))).collect();
            println!(
                "    {} {told:?}: {:.3?} found {starts:.3?}",
                case.name, case.strokes_s
            );
        }
    }
}

/// Prints how many takes are found where there are none.
fn made_up_row(name: &str, cases: &[Case]) {
    let count = |known| {
        cases
            .par_iter()
            .map(|case| takes(case, known).len())
            .sum::<usize>()
    };
    let seconds: f64 = cases
        .iter()
        .map(|c| c.samples.len() as f64 / f64::from(c.rate_hz))
        .sum();
    println!(
        "| {name} | {} sounds, {seconds:.0} s | {} made up | {} made up |",
        cases.len(),
        count(true),
        count(false)
    );
}

/// Prints how many strokes of running accompaniment are found, and how many are made up.
fn strokes_row(name: &str, cases: &[Case]) {
    let mut columns = Vec::new();
    let mut apart = 0;
    for known in [true, false] {
        let (mut hits, mut all, mut made_up) = (0, 0, 0);
        apart = 0;
        for case in cases {
            let found = takes(case, known);
            let strums = || {
                found
                    .iter()
                    .filter(|f| f.manner == Manner::Strummed)
                    .map(Strum::start_s)
            };
            let (mut missed, mut extra) = (Vec::new(), Vec::new());
            for (i, stroke) in case.strokes_s.iter().enumerate() {
                let before = i.checked_sub(1).map_or(f64::MIN, |i| case.strokes_s[i]);
                let after = case.strokes_s.get(i + 1).copied().unwrap_or(f64::MAX);
                if stroke - before >= APART_S && after - stroke >= APART_S {
                    apart += 1;
                    if strums().any(|s| (s - stroke).abs() < NEAR_S) {
                        hits += 1;
                    } else {
                        missed.push(*stroke);
                    }
                }
            }
            all += case.strokes_s.len();
            for take in &found {
                if !case
                    .strokes_s
                    .iter()
                    .any(|s| (take.start_s() - s).abs() < NEAR_S)
                {
                    made_up += 1;
                    extra.push((take.start_s(), take.manner));
                }
            }
            if std::env::var_os("FOUND_ERRORS").is_some() {
                println!(
                    "    {} known {known} missed {missed:.3?} made up {extra:.3?}",
                    case.name
                );
            }
        }
        let share = |n: usize, of: usize| n as f64 / of as f64;
        columns.push(format!(
            "{:.3}, made up {:.3}",
            share(hits, apart),
            share(made_up, all)
        ));
    }
    println!("| {name} | {apart} | {} | {} |", columns[0], columns[1]);
}

fn read(path: &Path) -> anyhow::Result<Recording> {
    Ok(read_all(path, LONGEST_S)?)
}

/// First column of a table, in seconds.
fn seconds_of(path: &Path) -> anyhow::Result<Vec<f64>> {
    let mut rows = csv::Reader::from_path(path)?;
    let seconds: Result<Vec<f64>, anyhow::Error> =
        rows.records().map(|r| Ok(r?[0].parse()?)).collect();
    let mut seconds = seconds?;
    seconds.sort_by(f64::total_cmp);
    Ok(seconds)
}

fn runs(half: &Half, through: &str) -> anyhow::Result<Vec<Case>> {
    let folder = Path::new("fixtures/strums/phone-strums");
    let mut cases = Vec::new();
    for run in half.runs {
        let sound = read(&folder.join(format!("run-{run}-{through}.flac")))?;
        cases.push(Case {
            name: format!("run {run} {through}"),
            samples: sound.samples,
            rate_hz: sound.rate_hz,
            meant: Some("x32010".parse()?),
            strokes_s: seconds_of(&folder.join(format!("run-{run}-strokes.csv")))?,
            pass: false,
        });
    }
    Ok(cases)
}

/// Files cut out of a recording, each with one strum in which it begins, with silence after it or not. `ends_s` gives the time
/// of the next stroke.
fn cut(whole: &Case, strokes_s: &[f64], all_s: &[f64]) -> Vec<Case> {
    let rate = f64::from(whole.rate_hz);
    let mut cases = Vec::new();
    for stroke in strokes_s {
        let next = all_s.iter().copied().find(|s| s > &(stroke + 0.06));
        let end_s = next.unwrap_or(whole.samples.len() as f64 / rate);
        let before = all_s
            .iter()
            .copied()
            .filter(|s| s < &(stroke - 0.001))
            .fold(f64::MIN, f64::max);
        if end_s - stroke < CUT_S || stroke - before < 0.15 {
            continue;
        }
        for from_s in CUTS_S {
            let at = |s: f64| ((s * rate).max(0.0) as usize).min(whole.samples.len());
            let (from, to) = (at(stroke + from_s), at(end_s - BEFORE_NEXT_S));
            for silence_s in [0.0, SILENCE_S] {
                let mut samples = whole.samples[from..to].to_vec();
                samples.resize(samples.len() + (silence_s * rate) as usize, 0.0);
                cases.push(Case {
                    name: format!(
                        "{} at {stroke:.2} from {from_s} silence {silence_s}",
                        whole.name
                    ),
                    samples,
                    rate_hz: whole.rate_hz,
                    meant: whole.meant,
                    strokes_s: vec![(-from_s).max(0.0)],
                    pass: false,
                });
            }
        }
    }
    cases
}

/// Chords of three strings or more of a labelled recording, the times at which they begin, and all notes.
fn comped(half: &Half) -> anyhow::Result<(Case, Vec<f64>, Vec<f64>)> {
    let folder = Path::new("fixtures/strums/guitarset");
    let sound = read(&folder.join(format!("{}_mic.flac", half.comped)))?;
    let notes = seconds_of(&folder.join(format!("{}_notes.csv", half.comped)))?;
    let mut groups: Vec<Vec<f64>> = Vec::new();
    for t in &notes {
        match groups.last_mut() {
            Some(g) if t - g[0] < 0.06 => g.push(*t),
            _ => groups.push(vec![*t]),
        }
    }
    let chords = groups
        .iter()
        .filter(|g| g.len() >= 3)
        .map(|g| g[0])
        .collect();
    let case = Case {
        name: half.comped.into(),
        samples: sound.samples,
        rate_hz: sound.rate_hz,
        meant: None,
        strokes_s: Vec::new(),
        pass: false,
    };
    Ok((case, chords, notes))
}

/// What a composed row is made of.
#[derive(Clone, Copy)]
struct Composing {
    /// Of the guitar's own chords where empty.
    frets: &'static [&'static str],
    /// How many strings are at fault (dead or choked), and of how many nothing but a thud is left: from, to.
    faults: usize,
    dead: (usize, usize),
    /// From the first to the last string, in seconds; a usual step where `None`.
    spread_s: Option<(f64, f64)>,
    manner: Manner,
    /// The file begins this long before the first string, in seconds: from, to.
    lead_s: (f64, f64),
}

const STRUMMED: Composing = Composing {
    frets: &[],
    faults: 0,
    dead: (0, 0),
    spread_s: None,
    manner: Manner::Strummed,
    lead_s: (0.3, 0.3),
};

/// Draws what is played, and what its strings do.
fn drawn(row: &Composing, rng: &mut SmallRng) -> (Frets, [Sound; STRINGS]) {
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
    let mut sounds = frets.0.map(|f| f.map_or(Sound::Nothing, Sound::Rings));
    let mut strings: Vec<usize> = frets.sounding().map(|(s, _)| s).collect();
    let dead = rng.random_range(row.dead.0..=row.dead.1).min(strings.len());
    for _ in 0..dead {
        let s = strings.swap_remove(rng.random_range(0..strings.len()));
        sounds[s] = Sound::Thud(frets.0[s].unwrap_or(0));
    }
    for _ in 0..row.faults.min(strings.len()) {
        let s = strings.swap_remove(rng.random_range(0..strings.len()));
        let fret = frets.0[s].unwrap_or(0);
        sounds[s] = match rng.random_range(0..3) {
            0 => Sound::Choked(fret),
            1 => Sound::Thud(fret),
            _ => Sound::Rings(fret + 1),
        };
    }
    (frets, sounds)
}

fn one(row: &Composing, guitar: &Guitar, rng: &mut SmallRng) -> (Frets, Composed) {
    let (frets, sounds) = drawn(row, rng);
    let struck = sounds.iter().filter(|s| **s != Sound::Nothing).count();
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

/// A composed take cut so that it begins `lead_s` before its first string.
fn composed(row: &Composing, guitar: &Guitar, rng: &mut SmallRng) -> Case {
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

/// A chord struck twice: the strings still ring as they are struck again.
fn again(guitar: &Guitar, rng: &mut SmallRng) -> Case {
    let (frets, mut sounds) = drawn(&STRUMMED, rng);
    if rng.random_bool(0.5) {
        let s = rng.random_range(0..STRINGS);
        if let Some(fret) = frets.0[s] {
            sounds[s] = Sound::Thud(fret);
        }
    }
    let conditions = Conditions {
        phone: 0.0,
        ..Conditions::measuring()
    };
    let mut strike = || compose(guitar, &Tuning::default(), &sounds, &conditions, rng);
    let (first, second) = (strike(), strike());
    let rate = f64::from(NOTE_RATE_HZ);
    let start = |made: &Composed| made.onsets.iter().flatten().min().copied().unwrap_or(0);
    let gap = (rng.random_range(0.5..1.3) * rate) as usize;
    let level = 10f32.powf(gauss(rng) as f32 * 3.0 / 20.0) * first.gain / second.gain;
    let at = start(&first) + gap - start(&second);
    let mut samples = first.samples[..first.end].to_vec();
    // The hand stops a string where it strikes it.
    let t60_s = 0.05;
    for (i, s) in samples.iter_mut().enumerate().skip(at + start(&second)) {
        *s *= (-6.9078 * (i - at - start(&second)) as f64 / rate / t60_s).exp() as f32;
    }
    let sound = &second.samples[start(&second)..second.end];
    samples.resize(at + start(&second) + sound.len(), 0.0);
    for (s, new) in samples[at + start(&second)..].iter_mut().zip(sound) {
        *s += level * new;
    }
    let peak = samples.iter().fold(0f32, |p, s| p.max(s.abs())).max(1.0);
    samples.iter_mut().for_each(|s| *s /= peak);
    Case {
        name: format!(
            "{} {frets} again after {:.2}",
            guitar.name,
            gap as f64 / rate
        ),
        strokes_s: vec![
            start(&first) as f64 / rate,
            (at + start(&second)) as f64 / rate,
        ],
        samples,
        rate_hz: NOTE_RATE_HZ,
        meant: Some(frets),
        pass: false,
    }
}

/// Sounds one after another over some noise: at these times in seconds, with these gains.
fn scene(sounds: &[(f64, f32, &[f32])], seconds: f64, noise: f32, rng: &mut SmallRng) -> Vec<f32> {
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
fn chk(strikes: &[&[f32]], rng: &mut SmallRng) -> Case {
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

fn silent(name: &str, samples: Vec<f32>, rate_hz: u32, rng: &mut SmallRng) -> Case {
    Case {
        name: name.into(),
        samples,
        rate_hz,
        meant: Some(voicings::draw(rng, false).0),
        strokes_s: Vec::new(),
        pass: false,
    }
}

fn main() -> anyhow::Result<()> {
    env_logger::builder()
        .target(env_logger::Target::Stdout)
        .init();
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let half = match arguments.first().map(String::as_str) {
        Some("develop") => DEVELOP,
        Some("publish") => PUBLISH,
        _ => anyhow::bail!("one to three arguments expected: develop|publish [TAKES [SEED]]"),
    };
    let takes: u64 = arguments.get(1).map_or(Ok(200), |takes| takes.parse())?;
    let seed: u64 = arguments
        .get(2)
        .map_or(Ok(half.seed), |seed| seed.parse())?;
    let only = std::env::var("FOUND_ONLY").unwrap_or_default();
    let wanted = |name: &str| name.contains(&only);
    let mut guitars = notes::all(Path::new("fixtures"))?;
    let mut strikes = Vec::new();
    for guitar in &mut guitars {
        let mut at = 0;
        guitar.dead_strikes.retain(|_| {
            at += 1;
            (at % 2 == 0) == half.odd
        });
        strikes.extend(guitar.dead_strikes.iter().cloned());
    }
    let guitars: Vec<Guitar> = (guitars.into_iter())
        .filter(|g| half.guitars.contains(&g.name.as_str()))
        .collect();
    let strikes: Vec<&[f32]> = strikes.iter().map(Vec::as_slice).collect();
    println!("| | cases | chord known | not known |\n| --- | --- | --- | --- |");

    for through in ["line", "phone"] {
        let name = format!("strokes of running accompaniment, {through}");
        if wanted(&name) {
            strokes_row(&name, &runs(&half, through)?);
        }
    }
    for through in ["line", "phone"] {
        let name = format!("cut from running accompaniment, {through}");
        if wanted(&name) {
            let runs = runs(&half, through)?;
            let cuts: Vec<Case> = runs
                .iter()
                .flat_map(|r| cut(r, &r.strokes_s, &r.strokes_s))
                .collect();
            row(&name, &cuts);
        }
    }
    if wanted("cut from comping") {
        let (whole, chords, notes) = comped(&half)?;
        row("cut from comping", &cut(&whole, &chords, &notes));
    }
    let two_or_three: &'static [&'static str] = &["133xxx", "x133xx", "13xxxx", "x13xxx"];
    let power = Composing {
        frets: two_or_three,
        ..STRUMMED
    };
    let picked = Manner::Picked;
    let rows = [
        ("strum, whole", STRUMMED),
        (
            "strum, the file begins up to 20 ms before",
            Composing {
                lead_s: (0.0, 0.02),
                ..STRUMMED
            },
        ),
        (
            "strum, the file begins in it",
            Composing {
                lead_s: (-0.03, 0.0),
                ..STRUMMED
            },
        ),
        (
            "slow strum, 0.1 to 0.2 s",
            Composing {
                spread_s: Some((0.1, 0.2)),
                ..STRUMMED
            },
        ),
        (
            "slow strum, the file begins up to 20 ms before",
            Composing {
                spread_s: Some((0.1, 0.2)),
                lead_s: (0.0, 0.02),
                ..STRUMMED
            },
        ),
        ("power chord", power),
        (
            "power chord, the file begins up to 20 ms before",
            Composing {
                lead_s: (0.0, 0.02),
                ..power
            },
        ),
        (
            "power chord, one string at fault",
            Composing { faults: 1, ..power },
        ),
        (
            "power chord of three strings, picked",
            Composing {
                frets: &["133xxx", "x133xx"],
                manner: picked,
                ..STRUMMED
            },
        ),
        (
            "power chord of three strings, picked, one string at fault",
            Composing {
                frets: &["133xxx", "x133xx"],
                manner: picked,
                faults: 1,
                ..STRUMMED
            },
        ),
        (
            "power chord of two strings, picked",
            Composing {
                frets: &["13xxxx", "x13xxx"],
                manner: picked,
                ..STRUMMED
            },
        ),
        (
            "power chord of two strings, picked, one string at fault",
            Composing {
                frets: &["13xxxx", "x13xxx"],
                manner: picked,
                faults: 1,
                ..STRUMMED
            },
        ),
        (
            "chord picked",
            Composing {
                manner: picked,
                ..STRUMMED
            },
        ),
        (
            "two strings left ringing",
            Composing {
                frets: &["022100", "133211", "320003"],
                dead: (4, 4),
                ..STRUMMED
            },
        ),
        (
            "one string left ringing",
            Composing {
                frets: &["022100", "133211", "320003"],
                dead: (5, 5),
                ..STRUMMED
            },
        ),
        (
            "all strings dead",
            Composing {
                dead: (6, 6),
                ..STRUMMED
            },
        ),
    ];
    for (which, (name, composing)) in rows.into_iter().enumerate() {
        if wanted(name) {
            let cases = (0..takes).into_par_iter().map(|take| {
                let mut rng = SmallRng::seed_from_u64((seed << 40) + ((which as u64) << 32) + take);
                composed(
                    &composing,
                    &guitars[take as usize % guitars.len()],
                    &mut rng,
                )
            });
            row(name, &cases.collect::<Vec<_>>());
        }
    }
    let rng = |which: u64, take: u64| {
        SmallRng::seed_from_u64((seed << 40) + ((100 + which) << 32) + take)
    };
    if wanted("real dead strikes") {
        let cases = (0..takes).map(|take| chk(&strikes, &mut rng(0, take)));
        row("six real dead strikes", &cases.collect::<Vec<_>>());
    }
    if wanted("struck again") {
        let cases = (0..takes).into_par_iter();
        let cases =
            cases.map(|take| again(&guitars[take as usize % guitars.len()], &mut rng(1, take)));
        row("struck again while it rings", &cases.collect::<Vec<_>>());
    }
    if wanted("made up") {
        no_strums(&half, &strikes, takes, &rng)?;
    }
    Ok(())
}

/// Sounds in which no strum is.
fn no_strums(
    half: &Half,
    strikes: &[&[f32]],
    takes: u64,
    rng: &dyn Fn(u64, u64) -> SmallRng,
) -> anyhow::Result<()> {
    let mut knocks = Vec::new();
    for kind in 1..=4 {
        for time in 1..=4 {
            if (time % 2 == 0) == half.odd {
                knocks.push(
                    read(Path::new(&format!(
                        "fixtures/notes/archtop/perc-{kind}-rr{time}.flac"
                    )))?
                    .samples,
                );
            }
        }
    }
    let full = |samples: &mut [f32], rng: &mut SmallRng| {
        let peak = samples.iter().fold(1e-6f32, |p, s| p.max(s.abs()));
        let level = 10f32.powf(rng.random_range(-16.0..-2.0f32) / 20.0) / peak;
        samples.iter_mut().for_each(|s| *s *= level);
    };
    let cases: Vec<Case> = (0..takes)
        .map(|take| {
            let mut rng = rng(10, take);
            let knock = &knocks[rng.random_range(0..knocks.len())];
            let noise = 10f32.powf(rng.random_range(-70.0..-50.0f32) / 20.0);
            // Some begin at the knock or in it.
            let at_s = if take % 3 == 0 { 0.0 } else { 0.3 };
            let mut samples = scene(&[(at_s, 1.0, knock)], 1.5, noise, &mut rng);
            full(&mut samples, &mut rng);
            silent("knock", samples, NOTE_RATE_HZ, &mut rng)
        })
        .collect();
    made_up_row("knocks on the body", &cases);
    let cases: Vec<Case> = (0..takes)
        .map(|take| {
            let mut rng = rng(11, take);
            let level = 10f32.powf(rng.random_range(-30.0..-12.0f32) / 20.0);
            let noise = 10f32.powf(rng.random_range(-75.0..-60.0f32) / 20.0);
            let count = rng.random_range(1..=3);
            let touches: Vec<_> = (0..count)
                .map(|i| {
                    (
                        0.4 + 0.01 * f64::from(i),
                        level,
                        strikes[rng.random_range(0..strikes.len())],
                    )
                })
                .collect();
            let samples = scene(&touches, 1.5, noise, &mut rng);
            silent("touch", samples, NOTE_RATE_HZ, &mut rng)
        })
        .collect();
    made_up_row("a hand laid on the strings", &cases);
    let talking = read(Path::new(&format!(
        "fixtures/not-guitar/{}.flac",
        half.talking
    )))?;
    let cases: Vec<Case> = (0..takes)
        .map(|take| {
            let mut rng = rng(12, take);
            let rate = talking.rate_hz as usize;
            let from = rng.random_range(0..talking.samples.len().saturating_sub(2 * rate).max(1));
            let to = talking.samples.len().min(from + 3 * rate);
            silent(
                "talking",
                talking.samples[from..to].to_vec(),
                talking.rate_hz,
                &mut rng,
            )
        })
        .collect();
    made_up_row("files that begin in talking", &cases);
    let cases: Vec<Case> = (0..takes)
        .map(|take| {
            let mut rng = rng(13, take);
            let mains = if take % 2 == 0 { 50.0 } else { 60.0 };
            let (hum, noise) = (
                10f64.powf(rng.random_range(-50.0..-15.0) / 20.0),
                10f64.powf(rng.random_range(-70.0..-30.0) / 20.0),
            );
            let (phase, tilt) = (rng.random_range(0.0..6.0), rng.random_range(0.5..2.0));
            let samples = (0..2 * NOTE_RATE_HZ as usize).map(|i| {
                let t = i as f64 / f64::from(NOTE_RATE_HZ);
                let sum: f64 = (1..16)
                    .map(|n| {
                        let n = f64::from(n);
                        (std::f64::consts::TAU * mains * n * t + phase * n).sin() / n.powf(tilt)
                    })
                    .sum();
                (hum * sum + noise * gauss(&mut rng)) as f32
            });
            let samples = samples.collect();
            silent("hum", samples, NOTE_RATE_HZ, &mut rng)
        })
        .collect();
    made_up_row("files that begin in hum and noise", &cases);
    Ok(())
}
