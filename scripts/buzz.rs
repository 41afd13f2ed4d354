//! Makes the material that the network for buzz is fitted on, and measures it.
//! buzz table OUT train|measure TAKES_PER_GUITAR SEED [DRAWN_GUITARS TAKES_PER_DRAWN_GUITAR MIXED_TAKES]: a table of
//! f32, a row a take, and one for the same take without the fret where a string was made to strike one.
//! buzz measure FOLDER TAKES_PER_GUITAR: prints the table of fixtures/measured/buzz.md; FOLDER holds networks that never heard some guitar, as
//! scripts/accuracy has them trained.
//! buzz thresholds FOLDER TAKES_PER_GUITAR: what thresholds give with these networks, on other takes.
//!
//! A row: guitar (of a mixed take: `synth::mixed::number`), take, whether it is the one without the fret, whether it
//! was made under training conditions, seconds after the last onset and from the first to the last, the truth as
//! [`put_truth`] says, what is seen as [`put_seen`] says.

use std::io::Write;
use std::path::Path;

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use rayon::prelude::*;
use ringtrue::fretboard::{Frets, STRINGS, Tuning};
use ringtrue::strings::buzz;
use ringtrue::strings::buzz::treble::{PULSE_WIDTH, PULSES, ROW_WIDTH, ROWS, SeenTreble, Treble};
use ringtrue::strings::{self, Moments, Networks, Notes, Spectra};
use ringtrue::synth::buzz::{BuzzTake, Subject, Truth, draw};
use ringtrue::synth::compose::{Composed, Conditions, Sound, compose};
use ringtrue::synth::distractor::Distractor;
use ringtrue::synth::notes::{self, Guitar};
use ringtrue::synth::random::gauss;
use ringtrue::synth::{labelled, mixed, modal, voicings};
use ringtrue::verdict::{Analyser, Settings, Verdict, Warning};

/// Sees the treble of composed takes.
struct Eyes {
    spectra: Spectra,
    treble: Treble,
}

impl Eyes {
    fn new() -> Self {
        Eyes {
            spectra: Spectra::new(notes::NOTE_RATE_HZ),
            treble: Treble::new(notes::NOTE_RATE_HZ),
        }
    }

    /// What is seen of a composed take, whose strings are known to be struck at `moments`.
    fn see(&mut self, made: &Composed, frets: &Frets, moments: Moments) -> SeenTreble {
        self.spectra.fill(&made.samples, moments);
        let notes = Notes::fit(&self.spectra, &Tuning::default(), frets);
        self.treble.see(&made.samples, moments, &notes).expect(RATE)
    }
}

/// What the program itself goes through, from a recording to what is said of buzz.
struct Ears<'a> {
    eyes: Eyes,
    networks: &'a Networks,
    room: strings::Scratch,
    buzz_room: buzz::Scratch,
}

impl<'a> Ears<'a> {
    fn new(networks: &'a Networks) -> Self {
        Ears {
            eyes: Eyes::new(),
            networks,
            room: strings::Scratch::default(),
            buzz_room: buzz::Scratch::default(),
        }
    }

    /// What is said of the take as it is found; nothing where it is not.
    fn hear(&mut self, made: &Composed, frets: &Frets) -> Option<buzz::Said> {
        let strum = made.found(&Tuning::default(), frets)?;
        let found = Moments::of(&strum);
        let Eyes { spectra, treble } = &mut self.eyes;
        spectra.fill(&strum.samples, found);
        let heard = strings::hear(
            &self.networks.strums,
            spectra,
            &Tuning::default(),
            frets,
            &mut self.room,
        );
        let moments = heard.moments(found, f64::from(notes::NOTE_RATE_HZ));
        let seen = treble
            .see(&strum.samples, moments, &heard.notes)
            .expect(RATE);
        Some(self.networks.buzz.hear(&seen, &mut self.buzz_room))
    }
}

const RATE: &str = "the notes' rate is high enough";

/// How far off the moments of the first and of the last string are in use, in seconds (standard deviations): the
/// finder puts the one, the network for the strings the other (off by 6 to 12 ms in the middle).
const FIRST_OFF_S: f64 = 0.005;
const LAST_OFF_S: f64 = 0.012;

/// When the strings are heard to be struck: not quite when they are, as in use.
fn heard_moments(made: &Composed, rng: &mut SmallRng) -> Option<Moments> {
    let rate = f64::from(notes::NOTE_RATE_HZ);
    let struck = || made.onsets.iter().flatten().copied();
    let (first, last) = (struck().min()?, struck().max()?);
    let mut jitter = |s: f64| (gauss(rng) * s * rate) as isize;
    let first = first.saturating_add_signed(jitter(FIRST_OFF_S));
    let last = last.saturating_add_signed(jitter(LAST_OFF_S)).max(first);
    Some(Moments {
        first,
        last,
        end: made.end,
    })
}

/// Composes a take on the guitar of each string.
fn take(guitars: [&Guitar; STRINGS], wide: bool, rng: &mut SmallRng) -> BuzzTake {
    let subject = match rng.random_range(0..20) {
        0..9 => Subject::Buzz,
        9..12 => Subject::Rattle,
        _ => Subject::Clean,
    };
    let mut conditions = if wide {
        Conditions::training()
    } else {
        Conditions::measuring()
    };
    // What rings over from another chord, and the next one, are learnt from the other network's takes.
    conditions.after_another *= 0.5;
    conditions.transpose *= 0.5;
    let tuning = Tuning::default();
    draw(guitars, &tuning, subject, &conditions, wide, rng)
}

/// A number that takes are drawn by, from that of all and the take's own.
fn seed_of(seed: u64, take: usize) -> u64 {
    seed ^ (take as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15)
}

fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let guitars = notes::all(Path::new("fixtures"))?;
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words[..] {
        ["table", out, conditions, takes, seed, ref more @ ..] if more.len() < 4 => {
            let number = |at: usize| more.get(at).map_or(Ok(0), |a| a.parse::<usize>());
            let counts = Counts {
                takes: takes.parse()?,
                drawn: number(0)?,
                drawn_takes: number(1)?,
                mixed: number(2)?,
            };
            table(guitars, out, conditions == "train", counts, seed.parse()?)
        }
        ["measure", folder, takes] => measure(&guitars, Path::new(folder), takes.parse()?),
        ["thresholds", folder, takes] => thresholds(&guitars, Path::new(folder), takes.parse()?),
        _ => anyhow::bail!("table, measure or thresholds expected, and what scripts/buzz.rs says"),
    }
}

/// Seed of the first guitar that nobody built.
const DRAWN_SEED: u64 = 5000;
/// Takes that are composed before they are written.
const AT_ONCE: usize = 2048;

/// How many takes, of each recorded guitar, of so many drawn ones each, and of several guitars' strings.
struct Counts {
    takes: usize,
    drawn: usize,
    drawn_takes: usize,
    mixed: usize,
}

fn table(
    mut guitars: Vec<Guitar>,
    out: &str,
    train: bool,
    counts: Counts,
    seed: u64,
) -> anyhow::Result<()> {
    let recorded = guitars.len();
    guitars.par_extend(
        (0..counts.drawn as u64)
            .into_par_iter()
            .map(|n| modal::guitar(DRAWN_SEED + n)),
    );
    let jobs: Vec<(Option<usize>, usize)> = (0..guitars.len())
        .flat_map(|which| {
            let takes = match which < recorded {
                true => counts.takes,
                false => counts.drawn_takes,
            };
            (0..takes).map(move |take| (Some(which), take))
        })
        .chain((0..counts.mixed).map(|take| (None, take)))
        .collect();
    let all = jobs.len();
    let mut file = std::io::BufWriter::new(std::fs::File::create(out)?);
    for (part, jobs) in jobs.chunks(AT_ONCE).enumerate() {
        let rows: Vec<Vec<f32>> = jobs
            .par_iter()
            .enumerate()
            .map_init(Eyes::new, |eyes, (i, &(which, number))| {
                let seed = seed_of(seed, part * AT_ONCE + i);
                let mut rng = SmallRng::seed_from_u64(seed);
                let of = match which {
                    Some(which) => [which; STRINGS],
                    None => mixed::draw(recorded, &mut rng),
                };
                let label = which.map_or(mixed::number(&of), |which| which as f32);
                let wide = train && !seed.is_multiple_of(3);
                let take = take(of.map(|g| &guitars[g]), wide, &mut rng);
                let mut rows = Vec::new();
                let Some(moments) = heard_moments(&take.made, &mut rng) else {
                    return rows;
                };
                let free = take.free.as_ref().map(|free| (true, free));
                for (free, made) in [(false, &take.made)].into_iter().chain(free) {
                    let seen = eyes.see(made, &take.frets, moments);
                    rows.extend([label, number as f32]);
                    rows.extend([free, wide].map(|b| f32::from(u8::from(b))));
                    rows.extend([seen.available_s, seen.spread_s]);
                    put_truth(&mut rows, &take, free);
                    put_seen(&mut rows, &seen);
                }
                rows
            })
            .collect();
        for value in rows.iter().flatten() {
            file.write_all(&value.to_le_bytes())?;
        }
        eprintln!("{} of {} takes written", part * AT_ONCE + jobs.len(), all);
    }
    Ok(())
}

/// Whether a string met a fret in a clean take; the distractor (0 none, 1 rattle, 2 squeak, 3 bright); of the
/// string made to strike a fret: octave by octave what it does to the take in dB, and for how long in
/// seconds; per string: fret (-1: no note), truth (0 clean, 1 buzzes, -1 between), computed or not, excess in dB.
fn put_truth(row: &mut Vec<f32>, take: &BuzzTake, free: bool) {
    row.push(f32::from(u8::from(take.met_a_fret && !free)));
    row.push(match take.distractor {
        None => 0.0,
        Some(Distractor::Rattle) => 1.0,
        Some(Distractor::Squeak) => 2.0,
        Some(Distractor::Bright) => 3.0,
    });
    let struck = if free { 0.0 } else { 1.0 };
    row.extend(take.lifts_db.map(|lift| struck * lift as f32));
    row.push(struck * take.hits_s as f32);
    for string in 0..STRINGS {
        let (truth, excess_db) = match take.truth[string] {
            _ if free => (0.0, 0.0),
            Truth::Buzzes { excess_db } => (1.0, excess_db),
            Truth::Between => (-1.0, 0.0),
            Truth::Clean => (0.0, 0.0),
        };
        row.extend([
            take.frets.0[string].map_or(-1.0, f32::from),
            truth,
            f32::from(u8::from(take.computed[string])),
            excess_db as f32,
        ]);
    }
}

/// Of each string its lines as frequency (0: none) and numbers; of each its pulses; the bands.
fn put_seen(row: &mut Vec<f32>, seen: &SeenTreble) {
    for string in &seen.strings {
        let end = row.len() + ROWS * (1 + ROW_WIDTH);
        for (hz, numbers) in string
            .iter()
            .flat_map(|s| s.hz.iter().zip(s.rows.chunks_exact(ROW_WIDTH)))
        {
            row.push(*hz);
            row.extend(numbers);
        }
        row.resize(end, 0.0);
    }
    for string in &seen.strings {
        match string {
            Some(string) => row.extend(&string.pulses),
            None => row.extend([0.0; PULSES * PULSE_WIDTH]),
        }
    }
    row.extend(&seen.bands);
}

/// The string that is most surely said to buzz, and how surely.
fn top(said: &buzz::Said) -> Option<(usize, f32)> {
    let strings = said.buzzes.iter().enumerate();
    strings
        .filter_map(|(s, p)| Some((s, (*p)?)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
}

/// How surely a string is said to buzz; 0 where none is asked.
fn sure(said: &buzz::Said) -> f32 {
    top(said).map_or(0.0, |(_, sure)| sure)
}

/// What was said of a take, and what is true of it.
struct Judged {
    guitar: usize,
    subject: Truly,
    said: buzz::Said,
}

impl Judged {
    /// How surely a string buzzes.
    fn buzzes(&self) -> f32 {
        sure(&self.said)
    }

    /// The string that is said to buzz, where that is told.
    fn named(&self) -> Option<usize> {
        let (string, _) = top(&self.said)?;
        buzz::found(&self.said).strings[string].map(|_| string)
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Truly {
    Buzz {
        string: usize,
        excess_db: f64,
    },
    /// Computed clean strings, struck so hard that one met a fret.
    HardClean,
    Clean,
    Rattle,
    Between,
}

fn truly(take: &BuzzTake) -> Truly {
    for (string, truth) in take.truth.iter().enumerate() {
        match *truth {
            Truth::Buzzes { excess_db } => return Truly::Buzz { string, excess_db },
            Truth::Between => return Truly::Between,
            Truth::Clean => {}
        }
    }
    match take.distractor {
        Some(Distractor::Rattle) => Truly::Rattle,
        _ if take.met_a_fret => Truly::HardClean,
        _ => Truly::Clean,
    }
}

/// Seeds of takes that are reported, and of those that thresholds are chosen by; none of them trains.
const REPORTED: u64 = 0xB077_0000_0000;
const CHOSEN_BY: u64 = 0xB077_1000_0000;

/// What `hear` makes of so many takes of each guitar, with ears that never heard it; it is given the guitar's and the
/// take's number.
fn of_each<T: Send>(
    guitars: &[Guitar],
    folder: &Path,
    takes: usize,
    hear: impl Fn(&mut Ears<'_>, usize, usize) -> Option<T> + Sync,
) -> anyhow::Result<Vec<T>> {
    let mut all = Vec::new();
    for which in 0..guitars.len() {
        let networks = Networks::without(which, folder)?;
        let heard = (0..takes).into_par_iter().map_init(
            || Ears::new(&networks),
            |ears, index| hear(ears, which, index),
        );
        all.extend(heard.flatten().collect::<Vec<_>>());
    }
    Ok(all)
}

/// Takes of each guitar, judged by the network that never heard it.
fn judge(
    guitars: &[Guitar],
    folder: &Path,
    takes: usize,
    seed: u64,
) -> anyhow::Result<Vec<Judged>> {
    of_each(guitars, folder, takes, |ears, which, index| {
        let mut rng = SmallRng::seed_from_u64(seed_of(seed, which * takes + index));
        let take = take([&guitars[which]; STRINGS], false, &mut rng);
        Some(Judged {
            guitar: which,
            subject: truly(&take),
            said: ears.hear(&take.made, &take.frets)?,
        })
    })
}

/// Shares of clean takes that may be called buzzing, and that something may be said to rattle in.
const BUZZING: [f32; 3] = [0.005, 0.01, 0.02];
const RATTLING: [f32; 3] = [0.002, 0.005, 0.01];

/// The least of `values` that no more than `share` of them are over.
fn limit(values: &[f32], share: f32) -> f32 {
    let mut sorted = values.to_vec();
    sorted.sort_by(|a, b| b.total_cmp(a));
    let at = (share * sorted.len() as f32) as usize;
    sorted.get(at).copied().unwrap_or(1.0)
}

/// What the constants of src/strings/buzz/mod.rs give, on takes that neither train nor are reported.
fn thresholds(guitars: &[Guitar], folder: &Path, takes: usize) -> anyhow::Result<()> {
    let all = judge(guitars, folder, takes, CHOSEN_BY)?;
    let alone = recorded_alone(guitars, folder, takes, CHOSEN_BY_ALONE)?.concat();
    let of = |is: &dyn Fn(&Judged) -> bool, how: &dyn Fn(&Judged) -> f32| -> Vec<f32> {
        all.iter().filter(|j| is(j)).map(how).collect()
    };
    let over = |values: &[f32], limit: f32| {
        let count = values.iter().filter(|v| **v >= limit).count();
        format!(
            "{:.3} of {}",
            count as f32 / values.len().max(1) as f32,
            values.len()
        )
    };
    let buzzes = Judged::buzzes;
    let alone: Vec<f32> = alone.iter().map(sure).collect();
    let calm = of(&|j| j.subject == Truly::Clean, &buzzes);
    let hard = of(&|j| j.subject == Truly::HardClean, &buzzes);
    let buzzing = of(&|j| matches!(j.subject, Truly::Buzz { .. }), &buzzes);
    let rattling = of(&|j| j.subject == Truly::Rattle, &buzzes);
    println!(
        "| told to buzz from | buzz found | clean so called | hard clean so called | rattle so called | recorded notes alone so called |"
    );
    println!("|{}", " --- |".repeat(6));
    let clean = [&calm[..], &hard].concat();
    let grid = (1..20).map(|part| part as f32 / 20.0);
    for from in BUZZING
        .map(|share| limit(&clean, share))
        .into_iter()
        .chain(grid)
    {
        let shares = [&buzzing, &calm, &hard, &rattling, &alone].map(|of| over(of, from));
        println!("| {from:.3} | {} |", shares.join(" | "));
    }
    let silent = |j: &Judged| j.named().is_none();
    let rattles = |j: &Judged| j.said.rattles * f32::from(u8::from(silent(j)));
    let rattling = of(&|j| j.subject == Truly::Rattle, &rattles);
    let clean = of(
        &|j| matches!(j.subject, Truly::Clean | Truly::HardClean),
        &rattles,
    );
    println!("\n| told to rattle from, where none buzzes | rattle found | clean so called |");
    println!("|{}", " --- |".repeat(3));
    let grid = (1..10).map(|tenth| tenth as f32 / 10.0);
    for from in RATTLING
        .map(|share| limit(&clean, share))
        .into_iter()
        .chain(grid)
    {
        println!(
            "| {from:.3} | {} | {} |",
            over(&rattling, from),
            over(&clean, from)
        );
    }
    Ok(())
}

fn measure(guitars: &[Guitar], folder: &Path, takes: usize) -> anyhow::Result<()> {
    let all = judge(guitars, folder, takes, REPORTED)?;
    println!(
        "| guitar left out | takes buzzing / hard clean / clean / with a rattle | buzz found | right string of those | found at 1-6 / 6-10 / 10-15 / over 15 dB | hard clean called buzzing | clean called buzzing | rattle called buzzing | rattle told | clean called a rattle |"
    );
    println!("|{}", " --- |".repeat(10));
    for (which, guitar) in guitars.iter().enumerate() {
        let part: Vec<&Judged> = all.iter().filter(|s| s.guitar == which).collect();
        println!("{}", row(&guitar.name, &part));
    }
    println!("{}", row("all", &all.iter().collect::<Vec<_>>()));
    let part = |is: fn(&Judged) -> bool| -> Vec<f32> {
        all.iter().filter(|j| is(j)).map(Judged::buzzes).collect()
    };
    let clean = part(|j| matches!(j.subject, Truly::Clean | Truly::HardClean));
    let buzzing = part(|j| matches!(j.subject, Truly::Buzz { .. }));
    let found = BUZZING.map(|share| {
        let from = limit(&clean, share);
        let found = buzzing.iter().filter(|sure| **sure > from).count();
        format!("{:.3}", found as f32 / buzzing.len().max(1) as f32)
    });
    println!(
        "\nWhere {} of all clean takes, calm and hard, may be called buzzing, {} are found.",
        BUZZING.map(|share| share.to_string()).join(" / "),
        found.join(" / ")
    );
    recorded_only(guitars, folder, takes)?;
    real_strums()
}

/// Seeds of takes of recorded notes alone: of those that are reported, and of those that thresholds are chosen by.
const REPORTED_ALONE: u64 = 0x5EED_0B77;
const CHOSEN_BY_ALONE: u64 = 0x5EED_1B77_0000;

/// What is said of takes of recorded notes alone, as scripts/accuracy composes them: none buzzes. First of clean ones,
/// then of those with other faults.
fn recorded_alone(
    guitars: &[Guitar],
    folder: &Path,
    takes: usize,
    seed: u64,
) -> anyhow::Result<[Vec<buzz::Said>; 2]> {
    let tuning = Tuning::default();
    let heard = of_each(guitars, folder, takes, |ears, which, index| {
        let mut rng = SmallRng::seed_from_u64(seed + (which * 1_000_000 + index) as u64);
        let (frets, barre) = voicings::draw(&mut rng, false);
        let sounds = voicings::faults(&frets, barre, &mut rng, false);
        let conditions = Conditions::measuring();
        let made = compose(&guitars[which], &tuning, &sounds, &conditions, &mut rng);
        let all_clean = (0..STRINGS).all(|s| match frets.0[s] {
            Some(fret) => sounds[s] == Sound::Rings(fret),
            None => !matches!(sounds[s], Sound::Rings(_)),
        });
        Some((all_clean, ears.hear(&made, &frets)?))
    })?;
    let (clean, faulty): (Vec<_>, Vec<_>) = heard.into_iter().partition(|(clean, _)| *clean);
    Ok([clean, faulty].map(|takes| takes.into_iter().map(|(_, said)| said).collect()))
}

/// Takes of recorded notes alone that are said to buzz.
fn recorded_only(guitars: &[Guitar], folder: &Path, takes: usize) -> anyhow::Result<()> {
    let of = recorded_alone(guitars, folder, takes, REPORTED_ALONE)?;
    let buzzes = |said: &&buzz::Said| buzz::found(said).strings.iter().any(Option::is_some);
    let [clean, faulty] = of.each_ref().map(|said| said.iter().filter(buzzes).count());
    println!(
        "\nRecorded notes alone: {clean} of {} clean takes and {faulty} of {} takes with other faults called buzzing.",
        of[0].len(),
        of[1].len()
    );
    Ok(())
}

/// Real labelled strums, as fixtures/measured/real-strums.md has them, with the built-in model.
fn real_strums() -> anyhow::Result<()> {
    let tuning = Tuning::default();
    let (mut chords, mut strings, mut rattles) = ((0, 0), (0, 0), 0);
    for name in ["00_BN1-129-Eb_comp", "03_Jazz2-110-Bb_comp"] {
        let file = |end: &str| Path::new("fixtures/strums/guitarset").join(format!("{name}_{end}"));
        for real in labelled::strums(&file("mic.flac"), &file("notes.csv"), 0.3, &tuning)? {
            let rate_hz = real.strum.rate_hz;
            let take =
                Analyser::new(Settings { tuning, rate_hz }).analyse(&real.strum, &real.frets);
            let buzzing = take
                .strings
                .iter()
                .filter(|s| s.verdict == Verdict::Buzzing)
                .count();
            chords = (chords.0 + usize::from(buzzing > 0), chords.1 + 1);
            strings = (
                strings.0 + buzzing,
                strings.1 + real.frets.sounding().count(),
            );
            rattles += usize::from(
                take.warnings
                    .iter()
                    .any(|w| matches!(w, Warning::Rattle { .. })),
            );
        }
    }
    println!(
        "Real strums: {} of {} chords and {} of {} strings called buzzing, {rattles} rattling.",
        chords.0, chords.1, strings.0, strings.1
    );
    Ok(())
}

fn row(name: &str, takes: &[&Judged]) -> String {
    let share = |of: &dyn Fn(&Judged) -> bool, is: &dyn Fn(&Judged) -> bool| {
        let all = takes.iter().filter(|s| of(s)).count();
        let part = takes.iter().filter(|s| of(s) && is(s)).count();
        if all == 0 {
            "-".to_owned()
        } else {
            format!("{:.3}", part as f64 / all as f64)
        }
    };
    let buzz = |s: &Judged| matches!(s.subject, Truly::Buzz { .. });
    let excess = |s: &Judged, low: f64, high: f64| matches!(s.subject, Truly::Buzz { excess_db, .. } if (low..high).contains(&excess_db));
    let told = |s: &Judged| s.named().is_some();
    let right =
        |s: &Judged| matches!(s.subject, Truly::Buzz { string, .. } if s.named() == Some(string));
    let is = |subject: Truly| move |s: &Judged| s.subject == subject;
    let count = |of: &dyn Fn(&Judged) -> bool| takes.iter().filter(|s| of(s)).count();
    let rattle = |s: &Judged| buzz::found(&s.said).rattle.is_some();
    format!(
        "| {name} | {} / {} / {} / {} | {} | {} | {} / {} / {} / {} | {} | {} | {} | {} | {} |",
        count(&buzz),
        count(&is(Truly::HardClean)),
        count(&is(Truly::Clean)),
        count(&is(Truly::Rattle)),
        share(&buzz, &told),
        share(&|s| buzz(s) && told(s), &right),
        share(&|s| excess(s, 1.0, 6.0), &told),
        share(&|s| excess(s, 6.0, 10.0), &told),
        share(&|s| excess(s, 10.0, 15.0), &told),
        share(&|s| excess(s, 15.0, 99.0), &told),
        share(&is(Truly::HardClean), &told),
        share(&is(Truly::Clean), &told),
        share(&is(Truly::Rattle), &told),
        share(&is(Truly::Rattle), &rattle),
        share(&is(Truly::Clean), &rattle),
    )
}
