//! Measures takes of a single string, and prints the tables of fixtures/measured/one-string.md.
//! one_string [SEED [GUITAR]]: every recorded note whose place is known is judged as a take of that string alone, at its own fret and
//! with the frets one and two off asked for; then composed and simulated faults of one string. The built-in networks judge,
//! which have heard these guitars. ONE_STRING_ERRORS=1 lists every note not judged rightly.

use std::collections::BTreeMap;
use std::path::Path;

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use rayon::prelude::*;
use ringtrue::fretboard::{Frets, STRINGS, Tuning, string_number};
use ringtrue::listening::Judge;
use ringtrue::synth::compose::{Conditions, StringSound, compose};
use ringtrue::synth::instrument::Instrument;
use ringtrue::synth::notes::{self, Guitar, NOTE_RATE_HZ};
use ringtrue::synth::strum::{Behaviour, Gesture, StringPart, strum};
use ringtrue::verdict::{Expected, ExpectedVoicing, JudgedTake, Verdict};

/// A quiet room before and after each recorded note, in seconds.
const ROOM_S: (f64, f64) = (0.3, 0.5);
/// Peak of the room's noise; the notes' peaks are about 0.4.
const ROOM_PEAK: f32 = 2e-4;
/// Highest fret asked for.
const HIGHEST: u8 = 19;
/// Composed takes of each fault and guitar.
const TAKES: usize = 40;
/// Simulated takes of each behaviour.
const SIMULATED: usize = 60;

fn main() -> anyhow::Result<()> {
    let seed: u64 = std::env::args().nth(1).map_or(Ok(1), |seed| seed.parse())?;
    let mut guitars = notes::all(Path::new("fixtures"))?;
    if let Some(name) = std::env::args().nth(2) {
        guitars.retain(|guitar| guitar.name == name);
    }
    println!("| takes | asked | number | told |");
    println!("|{}", " --- |".repeat(4));
    for guitar in &guitars {
        recorded(guitar);
    }
    for (which, guitar) in guitars.iter().enumerate() {
        composed(guitar, (seed << 40) + ((which as u64) << 32));
    }
    simulated(seed << 40);
    Ok(())
}

/// Frets of which only `string` (0 = string 6) sounds.
fn alone(string: usize, fret: u8) -> Frets {
    let mut frets = [None; STRINGS];
    frets[string] = Some(fret);
    Frets(frets)
}

fn judge() -> Judge {
    Judge::new(Tuning::default())
}

/// Takes of one string as they are judged in use.
fn judged(judge: &mut Judge, samples: &[f32], string: usize, fret: u8) -> Vec<JudgedTake> {
    let voicing = ExpectedVoicing::usual(alone(string, fret), None, &Tuning::default());
    let takes = judge.samples(samples, NOTE_RATE_HZ, &Expected::Named(voicing));
    takes.into_iter().map(|judged| judged.take).collect()
}

/// In a word or two, what became of a recording that holds one pluck; a wrong fret is named by its distance from `fret`.
fn told(takes: &[JudgedTake], string: usize, fret: u8) -> String {
    let [take] = takes else {
        return format!("{} takes", takes.len());
    };
    if let Some(warning) = take.warnings.iter().find(|_| !take.judged()) {
        let name = format!("{warning:?}");
        return name.split([' ', '(']).next().unwrap_or_default().to_owned();
    }
    let said = take.strings[string];
    let others = take
        .strings
        .iter()
        .filter(|s| s.verdict == Verdict::Ringing);
    let others = match others.count() {
        0 => String::new(),
        count => format!(" and {count} other ringing"),
    };
    match said.heard_fret {
        Some(heard) => format!("fret {:+}{others}", i16::from(heard) - i16::from(fret)),
        None => format!("{:?}{others}", said.verdict).to_lowercase(),
    }
}

/// Recorded notes, at their own fret and with others asked for.
fn recorded(guitar: &Guitar) {
    let placed: Vec<_> = (guitar.notes.iter())
        .filter_map(|note| note.place.map(|place| (place, &note.samples)))
        .collect();
    for off in [0i8, -2, -1, 1, 2] {
        let all: Vec<String> = (placed.par_iter().enumerate())
            .map_init(judge, |judge, (which, &((string, fret), samples))| {
                let asked = fret.checked_add_signed(off).filter(|f| *f <= HIGHEST)?;
                let mut rng = SmallRng::seed_from_u64(which as u64);
                let takes = judged(judge, &in_a_room(samples, &mut rng), string, asked);
                let told = told(&takes, string, fret);
                let right = if off == 0 { "clean" } else { "fret +0" };
                if told != right && std::env::var_os("ONE_STRING_ERRORS").is_some() {
                    let string = string_number(string);
                    eprintln!(
                        "{} string {string} fret {fret} asked {asked}: {told}",
                        guitar.name
                    );
                }
                Some(told)
            })
            .flatten()
            .collect();
        row(&guitar.name, &format!("{off:+} frets off"), &all);
    }
}

/// The note with a quiet room around it.
fn in_a_room(samples: &[f32], rng: &mut SmallRng) -> Vec<f32> {
    let room = |seconds: f64| (seconds * f64::from(NOTE_RATE_HZ)) as usize;
    let before = vec![0.0; room(ROOM_S.0)];
    let after = vec![0.0; room(ROOM_S.1)];
    let sound = before.iter().chain(samples).chain(&after);
    sound
        .map(|s| s + rng.random_range(-ROOM_PEAK..ROOM_PEAK))
        .collect()
}

/// Dead, choked, clean and wrongly fretted strings alone, composed as strums are.
fn composed(guitar: &Guitar, seed: u64) {
    type Struck = fn(u8) -> StringSound;
    let kinds: [(&str, Struck); 5] = [
        ("clean", StringSound::Rings),
        ("dead", StringSound::Thud),
        ("choked", StringSound::Choked),
        ("fret +1", |fret| StringSound::Rings(fret + 1)),
        ("fret -1", |fret| StringSound::Rings(fret - 1)),
    ];
    let takes = format!("{}, composed", guitar.name);
    rows(&takes, TAKES, seed, kinds, |sound, string, fret, rng| {
        let mut sounds = [StringSound::Nothing; STRINGS];
        sounds[string] = sound(fret);
        let conditions = Conditions::measuring();
        compose(guitar, &Tuning::default(), &sounds, &conditions, rng).samples
    });
}

/// Strings of the physical model.
fn simulated(seed: u64) {
    let behaviours = [
        ("rings", Behaviour::Rings),
        ("buzzes, 0.6", Behaviour::Buzzes { strength: 0.6 }),
        ("buzzes, 0.9", Behaviour::Buzzes { strength: 0.9 }),
        ("choked, 0.3 s", Behaviour::Choked { t60_s: 0.3 }),
        ("muted", Behaviour::Muted),
    ];
    let guitar = Instrument::usual(&Tuning::default());
    rows(
        "simulated",
        SIMULATED,
        seed,
        behaviours,
        |behaviour, string, fret, rng| {
            let mut parts = [None; STRINGS];
            parts[string] = Some(StringPart { fret, behaviour });
            let made = strum(&guitar, &parts, &Gesture::usual(), 1.8, rng);
            let peak = made.samples.iter().fold(1e-9f32, |p, s| p.max(s.abs()));
            let scaled: Vec<f32> = made.samples.iter().map(|s| 0.4 * s / peak).collect();
            in_a_room(&scaled, rng)
        },
    );
}

/// A row for each of some kinds: so many plucks, which `made` makes, of strings and frets that are drawn.
fn rows<Kind: Copy + Sync, const KINDS: usize>(
    takes: &str,
    count: usize,
    seed: u64,
    kinds: [(&str, Kind); KINDS],
    made: impl Fn(Kind, usize, u8, &mut SmallRng) -> Vec<f32> + Sync,
) {
    for (index, (name, kind)) in kinds.into_iter().enumerate() {
        let all: Vec<String> = (0..count)
            .into_par_iter()
            .map_init(judge, |judge, take| {
                let mut rng = SmallRng::seed_from_u64(seed + ((index as u64) << 16) + take as u64);
                let (string, fret) = (rng.random_range(0..STRINGS), rng.random_range(1..=9));
                let samples = made(kind, string, fret, &mut rng);
                told(&judged(judge, &samples, string, fret), string, fret)
            })
            .collect();
        row(takes, name, &all);
    }
}

/// One row: how often each was told, the most frequent first.
fn row(takes: &str, asked: &str, all: &[String]) {
    if all.is_empty() {
        return;
    }
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for told in all {
        *counts.entry(told).or_default() += 1;
    }
    let mut counts: Vec<_> = counts.into_iter().collect();
    counts.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let told: Vec<String> = counts
        .iter()
        .map(|(what, n)| format!("{n} {what}"))
        .collect();
    println!(
        "| {takes} | {asked} | {} | {} |",
        all.len(),
        told.join(", ")
    );
}
