//! Measures the program on takes whose truth is known, and prints the tables of fixtures/measured.
//! accuracy FOLDER TAKES: FOLDER holds networks that never heard some guitar, as scripts/accuracy has them trained. For each
//! guitar TAKES composed strums are found and judged as in use, then fewer in other tunings, with a capo, and with another
//! chord expected than is played. Then the real strums, cut where their labels say, with the built-in networks, which never
//! heard them. accuracy real: these alone. `ringtrue trial score` has them as the program finds them.

use std::path::Path;

use rand::SeedableRng;
use rand::rngs::SmallRng;
use rayon::prelude::*;
use ringtrue::fretboard::{Frets, STRINGS, Tuning};
use ringtrue::strings::Networks;
use ringtrue::synth::compose::{Composed, Conditions, StringSound, compose};
use ringtrue::synth::labelled::{self, LabelledStrum};
use ringtrue::synth::notes::{self, Guitar};
use ringtrue::synth::voicings;
use ringtrue::verdict::{Analyser, AnalyserSettings, StringVerdict, Verdict};

/// One string of one take: what it did and what was said.
#[derive(Clone, Copy)]
struct JudgedString {
    truth: Option<u8>,
    sound: StringSound,
    verdict: StringVerdict,
    group: &'static str,
}

/// A take as judged; `None` when it was not found.
type JudgedStrings = Option<[JudgedString; STRINGS]>;

/// Seeds of the first take of the first guitar, and of the same tuned otherwise, and from guitar to guitar.
const SEED: u64 = 0x5EED_0002;
const RETUNED_SEED: u64 = 0x5EED_2001;
const RECORDED_SEED: u64 = 0x5EED_3001;
/// Tunings and capos other than usual, and takes of each for a guitar.
const OTHERWISE: [(&str, u8); 10] = [
    ("standard", 0),
    ("drop D", 0),
    ("D A D G A D", 0),
    ("open G", 0),
    ("E2 A2 D3 G3 C4 F4", 0),
    ("half step down", 0),
    ("B1 E2 A2 D3 F#3 B3", 0),
    ("standard", 2),
    ("standard", 5),
    ("standard", 7),
];
const OTHERWISE_TAKES: usize = 50;
const ANOTHER_SEED: u64 = 0x5EED_4001;
const ANOTHER_TAKES: usize = 100;
const SEEDS_APART: usize = 1_000_000;

const COLUMNS: &str = "strings ringing / missing / choked / wrong fret | ringing vs missing | missing found at 0.5 / 1 / 2 % | choked found at 1 % | wrong fret found / named | unwanted string found | clean takes with a false alarm | takes all right / told truly | not found |";

fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if arguments == ["real"] {
        return real_strums();
    }
    anyhow::ensure!(
        arguments.len() == 2,
        "two arguments expected: FOLDER TAKES, or one: real"
    );
    let takes: usize = arguments[1].parse()?;
    let guitars = notes::all(Path::new("fixtures"))?;
    let mut all: Vec<JudgedStrings> = Vec::new();
    println!("| guitar left out | {COLUMNS}\n|{}", " --- |".repeat(10));
    let networks: Vec<Networks> = (0..guitars.len())
        .map(|which| Networks::without(which, Path::new(&arguments[0])))
        .collect::<Result<_, _>>()?;
    for (which, (guitar, networks)) in guitars.iter().zip(&networks).enumerate() {
        let seed = SEED + (which * SEEDS_APART) as u64;
        let as_in = (Tuning::default(), &Conditions::measuring());
        let judged = judge(guitar, networks, as_in, seed, takes);
        println!("{}", row(&guitar.name, &judged));
        all.extend(judged);
    }
    println!("{}", row("all", &all));
    println!("\n| shape | {COLUMNS}\n|{}", " --- |".repeat(10));
    for name in ["root on string 6", "root on string 5", "open chord"] {
        let part: Vec<JudgedStrings> = all
            .iter()
            .filter(|t| t.is_some_and(|t| t[0].group == name))
            .copied()
            .collect();
        println!("{}", row(name, &part));
    }
    confusion(&all);
    reliability(&all);
    recorded(&guitars, &networks);
    retuned(&guitars, &networks)?;
    another_chord(&guitars, &networks);
    real_strums()
}

/// A strum as composed: the voicing with its barre, what the strings did, and the sound.
struct Drawn {
    frets: Frets,
    barre: Option<u8>,
    sounds: [StringSound; STRINGS],
    made: Composed,
}

/// Composes strums of a guitar and asks `of` about each, with networks that never heard it; what `of` draws comes after all
/// that the strum was drawn from.
fn each<T: Send>(
    guitar: &Guitar,
    networks: &Networks,
    (tuning, conditions): (Tuning, &Conditions),
    seed: u64,
    takes: usize,
    of: impl Fn(&mut Analyser, Drawn, &mut SmallRng) -> T + Sync,
) -> Vec<T> {
    let settings = AnalyserSettings {
        tuning,
        rate_hz: notes::NOTE_RATE_HZ,
    };
    (0..takes)
        .into_par_iter()
        .map_init(
            || Analyser::with_networks(settings, networks.clone()),
            |analyser, take| {
                let mut rng = SmallRng::seed_from_u64(seed + take as u64);
                let (frets, barre) = voicings::draw(&mut rng, false);
                let sounds = voicings::faults(&frets, barre, &mut rng, false);
                let made = compose(guitar, &tuning, &sounds, conditions, &mut rng);
                let drawn = Drawn {
                    frets,
                    barre,
                    sounds,
                    made,
                };
                of(analyser, drawn, &mut rng)
            },
        )
        .collect()
}

/// Composes strums of a guitar, finds and judges them as in use.
fn judge(
    guitar: &Guitar,
    networks: &Networks,
    as_in: (Tuning, &Conditions),
    seed: u64,
    takes: usize,
) -> Vec<JudgedStrings> {
    let tuning = as_in.0;
    each(guitar, networks, as_in, seed, takes, |analyser, of, _| {
        let said = analyser.analyse(&of.made.found(&tuning, &of.frets)?, &of.frets);
        let group = group(&of.frets, of.barre);
        Some(std::array::from_fn(|s| JudgedString {
            truth: of.frets.0[s],
            sound: of.sounds[s],
            verdict: said.strings[s],
            group,
        }))
    })
}

/// As [`judge`], so many of each guitar as is done otherwise than usual.
fn judge_each(
    guitars: &[Guitar],
    networks: &[Networks],
    as_in: (Tuning, &Conditions),
    seed: u64,
) -> Vec<JudgedStrings> {
    let each = guitars.iter().zip(networks).enumerate();
    each.flat_map(|(which, (guitar, networks))| {
        let seed = seed + (which * SEEDS_APART) as u64;
        judge(guitar, networks, as_in, seed, OTHERWISE_TAKES)
    })
    .collect()
}

/// The same guitars recorded under harder conditions.
fn recorded(guitars: &[Guitar], networks: &[Networks]) {
    println!("\n| recorded | {COLUMNS}\n|{}", " --- |".repeat(10));
    let tuning = Tuning::default();
    for (name, conditions) in [
        ("as above", Conditions::measuring()),
        ("in a bare room", Conditions::bare_room()),
        ("compressed", Conditions::compressing()),
    ] {
        let all = judge_each(guitars, networks, (tuning, &conditions), RECORDED_SEED);
        println!("{}", row(name, &all));
    }
}

/// The same guitars tuned otherwise and with a capo.
fn retuned(guitars: &[Guitar], networks: &[Networks]) -> anyhow::Result<()> {
    println!("\n| tuned to | capo | {COLUMNS}\n|{}", " --- |".repeat(11));
    for (name, capo) in OTHERWISE {
        let tuning = name.parse::<Tuning>()?.with_capo(capo)?;
        let as_in = (tuning, &Conditions::measuring());
        let all = judge_each(guitars, networks, as_in, RETUNED_SEED);
        println!("{}", row(&format!("{name} | {capo}"), &all));
    }
    Ok(())
}

/// How often another chord is said to sound: over the chord that is played, and over one of which no string stands at the
/// fret at which it sounds.
fn another_chord(guitars: &[Guitar], networks: &[Networks]) {
    let tuning = Tuning::default();
    let as_in = (tuning, &Conditions::measuring());
    let said: Vec<[bool; 2]> = (guitars.iter().zip(networks).enumerate())
        .flat_map(|(which, (guitar, networks))| {
            let seed = ANOTHER_SEED + (which * SEEDS_APART) as u64;
            let takes = ANOTHER_TAKES;
            each(guitar, networks, as_in, seed, takes, |analyser, of, rng| {
                [of.frets, voicings::another(&of.sounds, rng)].map(|expected| {
                    let strum = of.made.found(&tuning, &expected);
                    strum.is_some_and(|strum| {
                        let take = analyser.analyse(&strum, &expected);
                        take.is_another_chord()
                    })
                })
            })
        })
        .collect();
    let [wrongly, rightly] = [0, 1].map(|of| said.iter().filter(|said| said[of]).count());
    println!(
        "\nAnother chord is said to sound in {wrongly} of {count} strums of the expected one, in {rightly} of {count} where no string \
         stands at the expected fret.",
        count = said.len()
    );
}

fn group(frets: &Frets, barre: Option<u8>) -> &'static str {
    match (barre, frets.0[0]) {
        (None, _) => "open chord",
        (_, Some(_)) => "root on string 6",
        _ => "root on string 5",
    }
}

fn row(name: &str, takes: &[JudgedStrings]) -> String {
    let strings: Vec<JudgedString> = takes.iter().flatten().flatten().copied().collect();
    let expected = |want: fn(&JudgedString) -> bool| -> Vec<f32> {
        strings
            .iter()
            .filter(|s| s.truth.is_some() && want(s))
            .map(|s| s.verdict.rings)
            .collect()
    };
    let rings = expected(|s| matches!(s.sound, StringSound::Rings(f) if Some(f) == s.truth));
    let missing = expected(|s| matches!(s.sound, StringSound::Thud(_) | StringSound::Nothing));
    let choked = expected(|s| matches!(s.sound, StringSound::Choked(_)));
    let wrong: Vec<&JudgedString> = strings
        .iter()
        .filter(|s| {
            s.truth.is_some() && matches!(s.sound, StringSound::Rings(f) if Some(f) != s.truth)
        })
        .collect();
    let share = |part: usize, of: usize| part as f32 / of.max(1) as f32;
    let wrong_found = wrong
        .iter()
        .filter(|s| s.verdict.verdict == Verdict::WrongFret)
        .count();
    let wrong_named = wrong
        .iter()
        .filter(|s| matches!(s.sound, StringSound::Rings(f) if s.verdict.heard_fret == Some(f)))
        .count();
    let unwanted: Vec<&JudgedString> = strings
        .iter()
        .filter(|s| s.truth.is_none() && matches!(s.sound, StringSound::Rings(_)))
        .collect();
    let unwanted_found = unwanted
        .iter()
        .filter(|s| s.verdict.verdict == Verdict::Ringing)
        .count();
    let found: Vec<&[JudgedString; STRINGS]> = takes.iter().flatten().collect();
    let clean: Vec<_> = found
        .iter()
        .filter(|t| {
            t.iter().all(|s| {
                right_verdict(s)
                    == if s.truth.is_some() {
                        Verdict::Clean
                    } else {
                        Verdict::Silent
                    }
            })
        })
        .collect();
    let alarmed = clean
        .iter()
        .filter(|t| t.iter().any(|s| s.verdict.verdict.is_fault()))
        .count();
    let all =
        |holds: fn(&JudgedString) -> bool| found.iter().filter(|t| t.iter().all(holds)).count();
    let right = all(|s| s.verdict.verdict == right_verdict(s));
    let truly = all(|s| s.verdict.is_true_of(right_verdict(s)));
    let at = |fa: f32| found_at(&rings, &missing, fa);
    format!(
        "| {name} | {} / {} / {} / {} | {:.4} | {:.3} / {:.3} / {:.3} | {:.3} | {:.3} / {:.3} | {} | {:.3} | {:.3} / {:.3} | {:.3} |",
        rings.len(),
        missing.len(),
        choked.len(),
        wrong.len(),
        area(&rings, &missing),
        at(0.005),
        at(0.01),
        at(0.02),
        found_at(&rings, &choked, 0.01),
        share(wrong_found, wrong.len()),
        share(wrong_named, wrong.len()),
        if unwanted.is_empty() {
            "none there".to_owned()
        } else {
            format!("{:.3}", share(unwanted_found, unwanted.len()))
        },
        share(alarmed, clean.len()),
        share(right, takes.len()),
        share(truly, takes.len()),
        share(takes.len() - found.len(), takes.len())
    )
}

fn right_verdict(said: &JudgedString) -> Verdict {
    match (said.truth, said.sound) {
        (Some(fret), StringSound::Rings(f)) if f == fret => Verdict::Clean,
        (Some(_), StringSound::Rings(_)) => Verdict::WrongFret,
        (Some(_), StringSound::Choked(_)) => Verdict::Choked,
        (Some(_), _) => Verdict::Muted,
        (None, StringSound::Rings(_)) => Verdict::Ringing,
        (None, _) => Verdict::Silent,
    }
}

/// Area under the curve: how often a ringing string scores above one that does not ring.
fn area(rings: &[f32], others: &[f32]) -> f64 {
    let wins: f64 = others
        .iter()
        .map(|o| {
            rings
                .iter()
                .map(|r| {
                    if r > o {
                        1.0
                    } else if r == o {
                        0.5
                    } else {
                        0.0
                    }
                })
                .sum::<f64>()
        })
        .sum();
    wins / (rings.len() * others.len()).max(1) as f64
}

/// Share of `others` below the score that `false_alarms` of the ringing strings stay under.
fn found_at(rings: &[f32], others: &[f32], false_alarms: f32) -> f32 {
    let mut sorted = rings.to_vec();
    sorted.sort_by(f32::total_cmp);
    let Some(limit) = sorted.get((sorted.len() as f32 * false_alarms) as usize) else {
        return f32::NAN;
    };
    others.iter().filter(|o| *o < limit).count() as f32 / others.len().max(1) as f32
}

fn confusion(takes: &[JudgedStrings]) {
    let name = |v: Verdict| {
        serde_json::to_value(v).map_or(String::new(), |v| v.as_str().unwrap_or_default().to_owned())
    };
    println!("\n| was \\ said | {} |", Verdict::ALL.map(name).join(" | "));
    println!("|{}", " --- |".repeat(1 + Verdict::ALL.len()));
    let strings: Vec<&JudgedString> = takes.iter().flatten().flatten().collect();
    for truth in Verdict::ALL {
        let part: Vec<_> = strings
            .iter()
            .filter(|s| right_verdict(s) == truth)
            .collect();
        if !part.is_empty() {
            let counts = Verdict::ALL.map(|v| {
                part.iter()
                    .filter(|s| s.verdict.verdict == v)
                    .count()
                    .to_string()
            });
            println!("| {} | {} |", name(truth), counts.join(" | "));
        }
    }
}

fn reliability(takes: &[JudgedStrings]) {
    println!("\n| rings said | strings | rang |\n| --- | --- | --- |");
    let strings: Vec<&JudgedString> = takes
        .iter()
        .flatten()
        .flatten()
        .filter(|s| s.truth.is_some())
        .collect();
    for (low, high) in [
        (0.0, 0.02),
        (0.02, 0.1),
        (0.1, 0.3),
        (0.3, 0.5),
        (0.5, 0.7),
        (0.7, 0.9),
        (0.9, 0.98),
        (0.98, 1.01),
    ] {
        let part: Vec<_> = strings
            .iter()
            .filter(|s| (low..high).contains(&s.verdict.rings))
            .collect();
        let rang = part
            .iter()
            .filter(|s| right_verdict(s) == Verdict::Clean)
            .count();
        println!(
            "| {low} to {} | {} | {:.3} |",
            high.min(1.0f32),
            part.len(),
            rang as f32 / part.len().max(1) as f32
        );
    }
}

/// Recordings of real playing, whose design and constants nothing here was chosen on but the first one's.
const REAL: [&str; 2] = ["00_BN1-129-Eb_comp", "03_Jazz2-110-Bb_comp"];

fn real_strums() -> anyhow::Result<()> {
    println!(
        "\n| real chords | that last | chords | refused | played strings clean | quiet strings quiet | wrongly expected ones caught |"
    );
    println!("|{}", " --- |".repeat(7));
    let tuning = Tuning::default();
    for name in REAL {
        let file = |end: &str| Path::new("fixtures/strums/guitarset").join(format!("{name}_{end}"));
        for length_s in [0.3, 0.4, 0.5] {
            let chords =
                labelled::strums(&file("mic.flac"), &file("notes.csv"), length_s, &tuning)?;
            real_row(name, length_s, &chords);
        }
    }
    Ok(())
}

/// One row: what is said of real chords, cut where the labels say. Strings of chords that are not judged count as wrong.
fn real_row(name: &str, length_s: f64, chords: &[LabelledStrum]) {
    let mut refused = 0;
    let (mut clean, mut quiet, mut caught) = ((0, 0), (0, 0), (0, 0));
    for real in chords {
        let strum = &real.strum;
        clean.1 += real.frets.sounding().count();
        quiet.1 += real.quiet.len();
        caught.1 += real.quiet.len();
        let mut analyser = Analyser::new(AnalyserSettings {
            tuning: Tuning::default(),
            rate_hz: strum.rate_hz,
        });
        let take = analyser.analyse(strum, &real.frets);
        refused += usize::from(!take.judged());
        let is = |string: usize, verdict| take.strings[string].verdict == verdict;
        let played = real.frets.sounding();
        clean.0 += played.filter(|(s, _)| is(*s, Verdict::Clean)).count();
        let hand = real.frets.lowest_held().unwrap_or(0);
        for &string in &real.quiet {
            quiet.0 += usize::from(is(string, Verdict::Silent));
            let mut more = real.frets;
            more.0[string] = Some(hand);
            let said = analyser.analyse(strum, &more).strings[string];
            caught.0 += usize::from(said.rings < 0.5);
        }
    }
    println!(
        "| {name} | {length_s} s | {} | {refused} | {} of {} | {} of {} | {} of {} |",
        chords.len(),
        clean.0,
        clean.1,
        quiet.0,
        quiet.1,
        caught.0,
        caught.1
    );
}
