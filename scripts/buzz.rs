//! Makes the material that the buzz forest is fitted on, and measures it.
//! buzz gather OUT TAKES_PER_GUITAR SEED: a table of f32, a row a string; OUT.features holds their number.
//! buzz table OUT train|measure TAKES_PER_GUITAR SEED [DRAWN_GUITARS TAKES_PER_DRAWN_GUITAR]: a table of f32 for a
//! network, a row a take, and one for the same take without the fret where a string was made to strike one.
//! buzz measure FOREST_PREFIX TAKES_PER_GUITAR: FOREST_PREFIX.g is a forest that never heard guitar number g.

use std::io::Write;
use std::path::Path;

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use rayon::prelude::*;
use ringtrue::fretboard::{Frets, STRINGS, Tuning};
use ringtrue::strings::buzz::bursts::{Bursts, FEATURES};
use ringtrue::strings::buzz::treble::{
    BAND_WIDTH, BANDS, PULSE_WIDTH, PULSES, ROW_WIDTH, ROWS, SeenTreble, Treble,
};
use ringtrue::strings::buzz::{self, Forest};
use ringtrue::strings::{Moments, Notes, Spectra};
use ringtrue::synth::buzz::{BuzzTake, Subject, Truth, draw};
use ringtrue::synth::compose::{Composed, Conditions, Sound, compose};
use ringtrue::synth::distractor::Distractor;
use ringtrue::synth::notes::{self, Guitar};
use ringtrue::synth::random::gauss;
use ringtrue::synth::{labelled, modal, voicings};
use ringtrue::verdict::{Analyser, Settings, Verdict, Warning};

type Rows = [Option<Vec<f32>>; STRINGS];

struct Ears {
    spectra: Spectra,
    bursts: Bursts,
}

impl Ears {
    fn new() -> Self {
        Ears {
            spectra: Spectra::new(notes::NOTE_RATE_HZ),
            bursts: Bursts::new(notes::NOTE_RATE_HZ),
        }
    }

    fn hear(&mut self, take: &BuzzTake, rng: &mut SmallRng) -> Option<Rows> {
        self.listen(&take.made, &take.frets, rng)
    }

    fn listen(&mut self, made: &Composed, frets: &Frets, rng: &mut SmallRng) -> Option<Rows> {
        let moments = heard_moments(made, rng)?;
        let notes = self.fill(made, frets, moments);
        Some(self.bursts.evidence(&self.spectra, &notes))
    }

    fn fill(&mut self, made: &Composed, frets: &Frets, moments: Moments) -> Notes {
        self.spectra.fill(&made.samples, moments);
        self.bursts.fill(&made.samples, moments);
        Notes::fit(&self.spectra, &Tuning::default(), frets)
    }
}

/// When the strum is heard to begin and to end: not quite when it does, as in use.
fn heard_moments(made: &Composed, rng: &mut SmallRng) -> Option<Moments> {
    let rate = f64::from(notes::NOTE_RATE_HZ);
    let struck = || made.onsets.iter().flatten().copied();
    let (first, last) = (struck().min()?, struck().max()?);
    let mut jitter = |s: f64| (gauss(rng) * s * rate) as isize;
    let first = first.saturating_add_signed(jitter(0.003));
    let last = last.saturating_add_signed(jitter(0.006)).max(first);
    Some(Moments {
        first,
        last,
        end: made.end,
    })
}

fn take(guitar: &Guitar, seed: u64, wide: bool) -> (BuzzTake, SmallRng) {
    let mut rng = SmallRng::seed_from_u64(seed);
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
    // What rings over from another chord, and the next one, are learnt from the other model's takes.
    conditions.after_another *= 0.5;
    conditions.transpose *= 0.5;
    // Nor was it learnt from disguised notes.
    (conditions.disguised, conditions.along) = (0.0, 0.0);
    let take = draw(
        guitar,
        &Tuning::default(),
        subject,
        &conditions,
        wide,
        &mut rng,
    );
    (take, rng)
}

fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let guitars = notes::load(Path::new("fixtures/notes"))?;
    match arguments[0].as_str() {
        "gather" => gather(
            &guitars,
            &arguments[1],
            arguments[2].parse()?,
            arguments[3].parse()?,
        ),
        "table" => {
            let number = |at: usize| arguments.get(at).map_or(Ok(0), |a| a.parse::<usize>());
            table(
                guitars,
                &arguments[1],
                arguments[2] == "train",
                [number(3)?, number(5)?, number(6)?],
                arguments[4].parse()?,
            )
        }
        "measure" => measure(&guitars, &arguments[1], arguments[2].parse()?),
        other => anyhow::bail!("gather, table or measure expected, not {other:?}"),
    }
}

fn gather(guitars: &[Guitar], out: &str, takes: usize, seed: u64) -> anyhow::Result<()> {
    let rows: Vec<Vec<f32>> = (0..guitars.len() * takes)
        .into_par_iter()
        .map_init(Ears::new, |ears, index| {
            let which = index / takes;
            let seed = seed ^ (index as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
            let (take, mut rng) = take(&guitars[which], seed, !seed.is_multiple_of(3));
            let mut out = Vec::new();
            let Some(rows) = ears.hear(&take, &mut rng) else {
                return out;
            };
            let rattles = take.distractor == Some(Distractor::Rattle);
            for (string, row) in rows.iter().enumerate() {
                let Some(row) = row else { continue };
                let (label, excess_db) = match take.truth[string] {
                    Truth::Buzzes { excess_db } => (1.0, excess_db),
                    Truth::Between => (-1.0, 0.0),
                    Truth::Clean => (if rattles { 2.0 } else { 0.0 }, 0.0),
                };
                out.extend([
                    which as f32,
                    (index % takes) as f32,
                    string as f32,
                    label,
                    excess_db as f32,
                    f32::from(u8::from(take.computed[string]))
                        + 2.0 * f32::from(u8::from(take.met_a_fret)),
                ]);
                assert_eq!(row.len(), FEATURES);
                out.extend(row);
            }
            out
        })
        .collect();
    let mut file = std::io::BufWriter::new(std::fs::File::create(out)?);
    for value in rows.into_iter().flatten() {
        file.write_all(&value.to_le_bytes())?;
    }
    std::fs::write(format!("{out}.features"), FEATURES.to_string())?;
    Ok(())
}

/// Seed of the first guitar that nobody built.
const DRAWN_SEED: u64 = 5000;
/// Takes that are composed before they are written.
const AT_ONCE: usize = 2048;

fn table(
    mut guitars: Vec<Guitar>,
    out: &str,
    train: bool,
    [takes, drawn, drawn_takes]: [usize; 3],
    seed: u64,
) -> anyhow::Result<()> {
    let recorded = guitars.len();
    guitars.par_extend(
        (0..drawn as u64)
            .into_par_iter()
            .map(|n| modal::guitar(DRAWN_SEED + n)),
    );
    let jobs: Vec<(usize, usize)> = (0..guitars.len())
        .flat_map(|which| {
            let takes = if which < recorded { takes } else { drawn_takes };
            (0..takes).map(move |take| (which, take))
        })
        .collect();
    let widths = [
        FEATURES,
        ROWS,
        ROW_WIDTH,
        PULSES,
        PULSE_WIDTH,
        BANDS,
        BAND_WIDTH,
    ];
    std::fs::write(
        format!("{out}.widths"),
        widths.map(|w| w.to_string()).join(" "),
    )?;
    let mut file = std::io::BufWriter::new(std::fs::File::create(out)?);
    for (part, jobs) in jobs.chunks(AT_ONCE).enumerate() {
        let rows: Vec<Vec<f32>> = jobs
            .par_iter()
            .enumerate()
            .map_init(
                || (Ears::new(), Treble::new(notes::NOTE_RATE_HZ)),
                |(ears, treble), (i, &(which, number))| {
                    let index = (part * AT_ONCE + i) as u64;
                    let seed = seed ^ (index + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
                    let wide = train && !seed.is_multiple_of(3);
                    let (take, mut rng) = take(&guitars[which], seed, wide);
                    let mut rows = Vec::new();
                    let Some(moments) = heard_moments(&take.made, &mut rng) else {
                        return rows;
                    };
                    let free = take.free.as_ref().map(|free| (true, free));
                    for (free, made) in [(false, &take.made)].into_iter().chain(free) {
                        let notes = ears.fill(made, &take.frets, moments);
                        let evidence = ears.bursts.evidence(&ears.spectra, &notes);
                        let seen = treble.see(&made.samples, moments, &ears.bursts, &notes);
                        rows.extend([which as f32, number as f32]);
                        rows.extend([free, wide].map(|b| f32::from(u8::from(b))));
                        rows.extend([ears.spectra.available_s, ears.spectra.spread_s]);
                        put_truth(&mut rows, &take, free);
                        put_seen(&mut rows, &evidence, &seen);
                    }
                    rows
                },
            )
            .collect();
        for value in rows.iter().flatten() {
            file.write_all(&value.to_le_bytes())?;
        }
        eprintln!("{} of takes written", part * AT_ONCE + jobs.len());
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

/// The forest's numbers of each string; its lines as frequency (0: none) and numbers; its pulses; the bands.
fn put_seen(row: &mut Vec<f32>, evidence: &Rows, seen: &SeenTreble) {
    for string in evidence {
        match string {
            Some(numbers) => row.extend(numbers),
            None => row.extend([0.0; FEATURES]),
        }
    }
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

/// What was said of a take, and what is true of it.
struct Said {
    guitar: usize,
    subject: Truly,
    found: buzz::Found,
    /// The string that is said to buzz most.
    named: Option<usize>,
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

fn measure(guitars: &[Guitar], prefix: &str, takes: usize) -> anyhow::Result<()> {
    let mut all = Vec::new();
    for (which, guitar) in guitars.iter().enumerate() {
        let forest = Forest::read(&std::fs::read(format!("{prefix}.{which}"))?)?;
        let said: Vec<Said> = (0..takes)
            .into_par_iter()
            .map_init(Ears::new, |ears, index| {
                // Other seeds than any that trained: other strings, strokes and bodies too.
                let seed = 0xB077_0000_0000
                    ^ ((which * takes + index) as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
                let (take, mut rng) = take(guitar, seed, false);
                let rows = ears.hear(&take, &mut rng)?;
                let kinds = buzz::kinds(&forest, &rows);
                let found = buzz::found(&kinds);
                let named =
                    (0..STRINGS)
                        .filter(|&s| found.strings[s].is_some())
                        .max_by(|&a, &b| {
                            found.strings[a]
                                .partial_cmp(&found.strings[b])
                                .expect("no NaN")
                        });
                Some(Said {
                    guitar: which,
                    subject: truly(&take),
                    found,
                    named,
                })
            })
            .flatten()
            .collect();
        all.extend(said);
    }
    println!(
        "| guitar left out | takes buzzing / hard clean / clean / with a rattle | buzz found | right string of those | found at 1-6 / 6-10 / 10-15 / over 15 dB | hard clean called buzzing | clean called buzzing | rattle called buzzing | rattle told | clean called a rattle |"
    );
    println!("|{}", " --- |".repeat(10));
    for (which, guitar) in guitars.iter().enumerate() {
        let part: Vec<&Said> = all.iter().filter(|s| s.guitar == which).collect();
        println!("{}", row(&guitar.name, &part));
    }
    println!("{}", row("all", &all.iter().collect::<Vec<_>>()));
    recorded_only(guitars, prefix, takes)?;
    real_strums()
}

/// Takes of recorded notes alone, clean and with faults, as scripts/accuracy composes them: none buzzes.
fn recorded_only(guitars: &[Guitar], prefix: &str, takes: usize) -> anyhow::Result<()> {
    let tuning = Tuning::default();
    let (mut clean, mut faulty) = ((0, 0), (0, 0));
    for (which, guitar) in guitars.iter().enumerate() {
        let forest = Forest::read(&std::fs::read(format!("{prefix}.{which}"))?)?;
        let said: Vec<(bool, bool)> = (0..takes)
            .into_par_iter()
            .map_init(Ears::new, |ears, index| {
                let mut rng =
                    SmallRng::seed_from_u64(0x5EED_0B77 + (which * 1_000_000 + index) as u64);
                let (frets, barre) = voicings::draw(&mut rng, false);
                let sounds = voicings::faults(&frets, barre, &mut rng, false);
                let made = compose(guitar, &tuning, &sounds, &Conditions::measuring(), &mut rng);
                let all_clean = (0..STRINGS).all(|s| match frets.0[s] {
                    Some(fret) => sounds[s] == Sound::Rings(fret),
                    None => !matches!(sounds[s], Sound::Rings(_)),
                });
                let rows = ears.listen(&made, &frets, &mut rng)?;
                let found = buzz::found(&buzz::kinds(&forest, &rows));
                Some((all_clean, found.strings.iter().any(Option::is_some)))
            })
            .flatten()
            .collect();
        for (all_clean, buzzing) in said {
            let into = if all_clean { &mut clean } else { &mut faulty };
            into.0 += usize::from(buzzing);
            into.1 += 1;
        }
    }
    println!(
        "\nRecorded notes alone: {} of {} clean takes and {} of {} takes with other faults called buzzing.",
        clean.0, clean.1, faulty.0, faulty.1
    );
    Ok(())
}

/// Real labelled strums, as README's other table has them, with the built-in model.
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

fn row(name: &str, takes: &[&Said]) -> String {
    let share = |of: &dyn Fn(&Said) -> bool, is: &dyn Fn(&Said) -> bool| {
        let all = takes.iter().filter(|s| of(s)).count();
        let part = takes.iter().filter(|s| of(s) && is(s)).count();
        if all == 0 {
            "-".to_owned()
        } else {
            format!("{:.3}", part as f64 / all as f64)
        }
    };
    let buzz = |s: &Said| matches!(s.subject, Truly::Buzz { .. });
    let excess = |s: &Said, low: f64, high: f64| matches!(s.subject, Truly::Buzz { excess_db, .. } if (low..high).contains(&excess_db));
    let told = |s: &Said| s.named.is_some();
    let right =
        |s: &Said| matches!(s.subject, Truly::Buzz { string, .. } if s.named == Some(string));
    let is = |subject: Truly| move |s: &Said| s.subject == subject;
    let count = |of: &dyn Fn(&Said) -> bool| takes.iter().filter(|s| of(s)).count();
    let rattle = |s: &Said| s.found.rattle.is_some();
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
