//! Measures which strums the finder finds in one piece and what it makes up: found develop|publish [TAKES [SEED]].
//! What is developed on and what is published are other recordings, other guitars and other seeds. FOUND_ERRORS=1 lists
//! every case that is wrong, FOUND_ONLY=WORD measures the rows whose name holds a word.

#[path = "found/composed.rs"]
mod composed;
#[path = "found/counts.rs"]
mod counts;
#[path = "found/judged.rs"]
mod judged;
#[path = "found/no_strums.rs"]
mod no_strums;
#[path = "found/recorded.rs"]
mod recorded;

use std::path::Path;

use composed::{Composing, STRUMMED, again, chk, composed, stopped};
use counts::{row, strokes_row};
use judged::{dead_row, judged_rows};
use no_strums::no_strums;
use rand::SeedableRng;
use rand::rngs::SmallRng;
use rayon::prelude::*;
use recorded::{CUTS_S, EARLY_CUTS_S, comped, cut, rung_before, runs};
use ringtrue::fretboard::Frets;
use ringtrue::synth::notes::{self, Guitar};
use ringtrue::take::{Manner, Take};

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

const ALL_DEAD: &str = "all strings dead";

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
            strokes_row(&name, &runs(&half, through)?, Take::start_s);
            let name = format!("{name}, by first strokes");
            strokes_row(&name, &runs(&half, through)?, Take::first_stroke_s);
        }
    }
    for through in ["line", "phone"] {
        let name = format!("cut from running accompaniment, {through}");
        if wanted(&name) {
            let runs = runs(&half, through)?;
            let cuts: Vec<Case> = runs
                .iter()
                .flat_map(|r| cut(r, &r.strokes_s, &r.strokes_s, &CUTS_S))
                .collect();
            row(&name, &cuts);
            let begun: Vec<Case> = runs
                .iter()
                .flat_map(|r| cut(r, &rung_before(&r.strokes_s), &r.strokes_s, &EARLY_CUTS_S))
                .collect();
            row(
                &format!("{name}, begun 0.16 to 0.22 s before a stroke"),
                &begun,
            );
        }
    }
    if wanted("cut from comping") {
        let (whole, chords, notes) = comped(&half)?;
        row("cut from comping", &cut(&whole, &chords, &notes, &CUTS_S));
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
            ALL_DEAD,
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
            let cases = cases.collect::<Vec<_>>();
            row(name, &cases);
            if name == ALL_DEAD {
                dead_row(name, &cases);
            }
        }
    }
    let rng = |which: u64, take: u64| {
        SmallRng::seed_from_u64((seed << 40) + ((100 + which) << 32) + take)
    };
    if wanted("real dead strikes") {
        let cases = (0..takes).map(|take| chk(&strikes, &mut rng(0, take)));
        let cases = cases.collect::<Vec<_>>();
        row("six real dead strikes", &cases);
        dead_row("six real dead strikes", &cases);
    }
    for (which, name, row_of, times) in [
        (1, "struck again while it rings", STRUMMED, 2),
        (3, "power chord struck four times", power, 4),
    ] {
        if wanted(name) {
            let cases = (0..takes).into_par_iter().map(|take| {
                let guitar = &guitars[take as usize % guitars.len()];
                again(&row_of, times, guitar, &mut rng(which, take))
            });
            row(name, &cases.collect::<Vec<_>>());
        }
    }
    if wanted("stopped") {
        let cases = (0..takes)
            .into_par_iter()
            .map(|take| stopped(&guitars[take as usize % guitars.len()], &mut rng(2, take)));
        row(
            "strum, stopped after 0.12 to 0.3 s",
            &cases.collect::<Vec<_>>(),
        );
    }
    if wanted("made up") {
        no_strums(&half, &strikes, takes, &rng)?;
    }
    if wanted("comped chords") {
        judged_rows(&half)?;
    }
    Ok(())
}
