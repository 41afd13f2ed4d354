//! Measures what a reader sees in the picture of how long each string rings: pictures TAKES [SEED].
//! Takes are composed and judged by the built-in networks. A small rule stands in for the reader: it sees the lanes as they
//! are drawn, and no word, sign or colour beside them.

use std::path::Path;

use anyhow::Context;
use rand::SeedableRng;
use rand::rngs::SmallRng;
use rayon::prelude::*;
use ringtrue::fretboard::{STRINGS, Tuning};
use ringtrue::report::plot::{LOWEST_DB, Lane, PlottedTake, lanes};
use ringtrue::strings::view::Viewer;
use ringtrue::synth::compose::{Conditions, StringSound, compose};
use ringtrue::synth::notes;
use ringtrue::synth::voicings;
use ringtrue::verdict::{Analyser, AnalyserSettings};

/// Lanes are compared from the one to the other, in seconds after the first stroke: from the end of the attack on.
const COMPARED_S: (f32, f32) = (0.3, 1.0);
/// A dead or dying string's lane should lie so far below a clean one's of the same take, in dB.
const WANTED_DB: f32 = 10.0;
/// The reader calls a string faulty whose lane lies this far below the take's second highest, in dB: chosen on seed 1.
const BELOW_DB: f32 = 25.0;

/// What one string of a take did, and how it looks.
#[derive(Clone, Copy)]
struct StringPicture {
    faulty: bool,
    clean: bool,
    /// Dead or dying early, though it should sound.
    dies: bool,
    said_faulty: bool,
    expected: bool,
    level_db: f32,
    foreign: bool,
}

fn main() -> anyhow::Result<()> {
    let mut arguments = std::env::args().skip(1);
    let takes: usize = arguments
        .next()
        .context("expected: TAKES [SEED]")?
        .parse()?;
    let seed: u64 = arguments.next().map_or(Ok(7), |seed| seed.parse())?;
    let guitars = notes::all(Path::new("fixtures"))?;
    let tuning = Tuning::default();
    let settings = AnalyserSettings {
        tuning,
        rate_hz: notes::NOTE_RATE_HZ,
    };
    let planned = || {
        (
            Analyser::new(settings),
            Viewer::new(settings.rate_hz, tuning),
        )
    };
    let seen: Vec<Option<[StringPicture; STRINGS]>> = (0..takes)
        .into_par_iter()
        .map_init(planned, |(analyser, viewer), take| {
            let guitar = &guitars[take % guitars.len()];
            let mut rng = SmallRng::seed_from_u64((seed << 32) + take as u64);
            let (frets, barre) = voicings::draw(&mut rng, false);
            let sounds = voicings::faults(&frets, barre, &mut rng, false);
            let made = compose(guitar, &tuning, &sounds, &Conditions::measuring(), &mut rng);
            let strum = made.found(&tuning, &frets)?;
            let said = analyser.analyse(&strum, &frets);
            let verdicts = said.strings;
            let shown = PlottedTake::new(viewer, strum, said, tuning, String::new());
            let lanes = lanes(&shown)?;
            Some(std::array::from_fn(|i| {
                let clean =
                    sounds[i] == frets.0[i].map_or(StringSound::Nothing, StringSound::Rings);
                let expected = frets.0[i].is_some();
                let rings = matches!(sounds[i], StringSound::Rings(_));
                StringPicture {
                    // A thud on a string that should be quiet is no fault.
                    faulty: if expected { !clean } else { rings },
                    clean: expected && clean,
                    dies: expected && !rings,
                    said_faulty: verdicts[i].verdict.is_fault(),
                    expected,
                    level_db: mean_db(&lanes[i]),
                    foreign: lanes[i].foreign,
                }
            }))
        })
        .collect();
    let found: Vec<&[StringPicture; STRINGS]> = seen.iter().flatten().collect();
    print(takes, &found);
    Ok(())
}

/// Mean level of a lane while the string should ring; where nothing is drawn, the lowest level that can be.
fn mean_db(lane: &Lane) -> f32 {
    let compared = |t: &f32| (COMPARED_S.0..=COMPARED_S.1).contains(t);
    let moments = lane.times_s.iter().zip(&lane.levels_db);
    let levels: Vec<f32> = moments
        .filter(|(t, _)| compared(t))
        .map(|(_, level)| level.unwrap_or(LOWEST_DB).max(LOWEST_DB))
        .collect();
    levels.iter().sum::<f32>() / levels.len().max(1) as f32
}

/// The strings that the reader calls faulty: those with a note that should not sound, and those whose lane lies far below.
fn read(take: &[StringPicture; STRINGS]) -> [bool; STRINGS] {
    let mut levels: Vec<f32> = (take.iter().filter(|s| s.expected))
        .map(|s| s.level_db)
        .collect();
    levels.sort_unstable_by(|a, b| b.total_cmp(a));
    let usual = levels
        .get(1)
        .or(levels.first())
        .copied()
        .unwrap_or(LOWEST_DB);
    take.map(|s| s.foreign || s.expected && s.level_db < usual - BELOW_DB)
}

fn print(takes: usize, found: &[&[StringPicture; STRINGS]]) {
    let pairs = |take: &[StringPicture; STRINGS]| -> Vec<f32> {
        let clean = take.iter().filter(|s| s.clean);
        clean
            .flat_map(|c| {
                take.iter()
                    .filter(|s| s.dies)
                    .map(move |d| c.level_db - d.level_db)
            })
            .collect()
    };
    let apart: Vec<f32> = found.iter().flat_map(|take| pairs(take)).collect();
    let with_pairs: Vec<Vec<f32>> = found
        .iter()
        .map(|t| pairs(t))
        .filter(|p| !p.is_empty())
        .collect();
    let far = |pairs: &[f32]| pairs.iter().filter(|&&db| db >= WANTED_DB).count();
    let all_far = with_pairs.iter().filter(|p| far(p) == p.len()).count();
    let truth = |take: &[StringPicture; STRINGS]| take.map(|s| s.faulty);
    let only_dying = |take: &&&[StringPicture; STRINGS]| take.iter().all(|s| !s.faulty || s.dies);
    let right = |takes: &[&[StringPicture; STRINGS]],
                 named: &dyn Fn(&[StringPicture; STRINGS]) -> [bool; STRINGS]| {
        takes.iter().filter(|t| named(t) == truth(t)).count()
    };
    let dying: Vec<&[StringPicture; STRINGS]> = found.iter().filter(only_dying).copied().collect();
    let said = |take: &[StringPicture; STRINGS]| take.map(|s| s.said_faulty);
    println!("| what | measured |\n| --- | --- |");
    println!("| takes found | {} of {takes} |", found.len());
    println!(
        "| pairs of a clean and a dead or dying lane, {WANTED_DB:.0} dB apart | {} of {} |",
        far(&apart),
        apart.len()
    );
    println!(
        "| takes with all such pairs that far apart | {all_far} of {} |",
        with_pairs.len()
    );
    println!(
        "| takes in which the reader names just the faulty strings | {} of {} |",
        right(found, &read),
        found.len()
    );
    println!(
        "| takes in which the verdicts do | {} of {} |",
        right(found, &said),
        found.len()
    );
    println!(
        "| the reader, takes without another fret or an unwanted string | {} of {} |",
        right(&dying, &read),
        dying.len()
    );
    println!(
        "| the verdicts, the same takes | {} of {} |",
        right(&dying, &said),
        dying.len()
    );
    if std::env::var_os("PICTURES_LEVELS").is_some() {
        for take in found {
            let levels = take.map(|s| {
                format!(
                    "{}{}{:.0}",
                    if s.said_faulty { "s" } else { "" },
                    if s.dies {
                        "!"
                    } else if s.clean {
                        ""
                    } else {
                        "x"
                    },
                    s.level_db
                )
            });
            println!("{}", levels.join(" "));
        }
    }
}
