//! Composes takes and writes the evidence on every note of every take as a table of f32.
//! gather OUT train|measure TAKES_PER_GUITAR SEED [MODAL_GUITARS]
//! gather OUT join TABLE FOREST_0 FOREST_1 FOREST_2: adds what the other notes of the take score, the
//! note forest of fold f scoring only guitars with number % 3 = f, which it was not fitted on.

use std::io::Write;
use std::path::Path;

use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use rayon::prelude::*;
use ringtrue::fretboard::Tuning;
use ringtrue::strings::joint::{Scored, Scores};
use ringtrue::strings::model::Forest;
use ringtrue::strings::{Fit, partials::{Framed, Partial, WIDTH}};
use ringtrue::strings::{Model, Moments, Spectra, evidence};
use ringtrue::synth::compose::{Conditions, Sound, compose, gauss};
use ringtrue::synth::{self, notes, voicings};

fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if arguments[1] == "join" {
        return join(&arguments[0], &arguments[2], &arguments[3..]);
    }
    let wide = arguments[1] == "train";
    let takes: usize = arguments[2].parse()?;
    let seed: u64 = arguments[3].parse()?;
    let guitars = notes::load(Path::new("fixtures/notes"))?;
    // Guitars nobody built come after the recorded ones.
    let modal: usize = arguments.get(4).map_or(Ok(0), |a| a.parse())?;
    let mut guitars = guitars;
    guitars.extend(
        (0..modal as u64)
            .into_par_iter()
            .map(|n| synth::modal::guitar(1000 + n))
            .collect::<Vec<_>>(),
    );
    let recorded = guitars.len() - modal;
    let modal_takes: usize = std::env::var("MODAL_TAKES").ok().map_or(takes / 6, |v| v.parse().unwrap());
    let tuning = Tuning::default();
    let conditions = if wide {
        Conditions::training()
    } else {
        Conditions::measuring()
    };
    let rows: Vec<Vec<f32>> = (0..recorded * takes + modal * modal_takes)
        .into_par_iter()
        .map_init(
            || Spectra::new(notes::NOTE_RATE_HZ),
            |spectra, index| {
                let (which, take) = if index < recorded * takes {
                    (index / takes, index % takes)
                } else {
                    let index = index - recorded * takes;
                    (recorded + index / modal_takes, index % modal_takes)
                };
                let mut rng = SmallRng::seed_from_u64(
                    seed ^ (index as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15),
                );
                let (frets, barre) = voicings::draw(&mut rng, wide);
                let sounds = voicings::faults(&frets, barre, &mut rng, wide);
                let made = compose(&guitars[which], &tuning, &sounds, &conditions, &mut rng);
                let rate = f64::from(notes::NOTE_RATE_HZ);
                let mut jitter = |s: f64| (gauss(&mut rng) * s * rate) as isize;
                let struck: Vec<usize> = made.onsets.iter().flatten().copied().collect();
                let Some(&first) = struck.iter().min() else {
                    return Vec::new();
                };
                let last = *struck.iter().max().expect("some");
                let first_heard = first.saturating_add_signed(jitter(0.003));
                let last_heard = last.saturating_add_signed(jitter(0.006));
                let last_heard = if rng.random_bool(0.6) {
                    last_heard
                } else {
                    first_heard + (0.03 * rate) as usize
                };
                let moments = Moments {
                    first: first_heard,
                    last: last_heard.max(first_heard),
                    end: made.end,
                };
                spectra.fill(&made.samples, moments);
                let (expected, others) = evidence::fitted_notes(spectra, &tuning, &frets);
                let framed = Framed::new(spectra);
                let mut out = vec![which as f32, take as f32, spectra.available_s, spectra.spread_s];
                let mut tokens: Vec<Vec<(Fit, Partial)>> = Vec::new();
                for (string, sound) in sounds.iter().enumerate() {
                    let label = match (expected[string], *sound) {
                        (None, _) => -1.0,
                        (Some((f, _)), Sound::Rings(g)) if f == g => 0.0,
                        (_, Sound::Choked(_)) => 1.0,
                        (_, Sound::Rings(_)) => 3.0,
                        _ => 2.0,
                    };
                    out.extend([expected[string].map_or(0.0, |(f, _)| f32::from(f)), label]);
                    tokens.push(expected[string].map_or(Vec::new(), |(_, fit)| framed.partials(&fit, 16).into_iter().map(|p| (fit, p)).collect()));
                    for k in 0..4 {
                        match others[string].get(k) {
                            Some(&(fret, fit)) => {
                                let rings = matches!(*sound, Sound::Rings(f) if f == fret);
                                out.extend([f32::from(fret), f32::from(u8::from(rings))]);
                                tokens.push(framed.partials(&fit, 8).into_iter().map(|p| (fit, p)).collect());
                            }
                            None => {
                                out.extend([0.0, -1.0]);
                                tokens.push(Vec::new());
                            }
                        }
                    }
                }
                let loudest = (0..6).flat_map(|s| &tokens[5 * s]).map(|(_, p)| p.highest()).fold(1e-6, f32::max);
                for (i, of) in tokens.iter().enumerate() {
                    for k in 0..if i % 5 == 0 { 16 } else { 8 } {
                        match of.get(k) {
                            Some((fit, partial)) => {
                                out.push(partial.hz);
                                partial.describe(spectra, fit, loudest, &mut out);
                            }
                            None => out.resize(out.len() + 1 + WIDTH, 0.0),
                        }
                    }
                }
                out
            },
        )
        .collect();
    let names = evidence::feature_names();
    std::fs::write(format!("{}.names", arguments[0]), names.join("\n"))?;
    let mut file = std::io::BufWriter::new(std::fs::File::create(&arguments[0])?);
    for row in rows {
        for value in row {
            file.write_all(&value.to_le_bytes())?;
        }
    }
    Ok(())
}

/// Columns before the features: guitar, take, string, fret, expected, label.
const HEAD: usize = 6;

fn join(out: &str, table: &str, forests: &[String]) -> anyhow::Result<()> {
    let width = HEAD + evidence::feature_names().len();
    let bytes = std::fs::read(table)?;
    let values: Vec<f32> = bytes
        .chunks_exact(4)
        .map(|b| f32::from_le_bytes(b.try_into().expect("four")))
        .collect();
    let rows: Vec<&[f32]> = values.chunks_exact(width).collect();
    let forests: Vec<Forest> = forests
        .iter()
        .map(|f| Ok(Model::read_forest(&std::fs::read(f)?)?))
        .collect::<anyhow::Result<_>>()?;
    let takes: Vec<&[&[f32]]> = rows.chunk_by(|a, b| a[..2] == b[..2]).collect();
    let joined: Vec<Vec<f32>> = takes
        .into_par_iter()
        .map(|rows| {
            let forest = &forests[rows[0][0] as usize % forests.len()];
            let mut scores = Scores::default();
            for row in rows {
                let string = row[2] as usize;
                let scored = Scored {
                    fret: row[3] as u8,
                    midi: row[HEAD] as u8,
                    log_odds: forest.scores::<1>(&row[HEAD..])[0],
                };
                if row[4] == 1.0 {
                    scores.expected[string] = Some(scored);
                } else {
                    scores.others[string].push(scored);
                }
            }
            let mut out = Vec::new();
            for row in rows.iter().filter(|r| r[4] == 1.0) {
                out.extend_from_slice(row);
                scores.append(row[2] as usize, &mut out);
            }
            out
        })
        .collect();
    let mut file = std::io::BufWriter::new(std::fs::File::create(out)?);
    for value in joined.into_iter().flatten() {
        file.write_all(&value.to_le_bytes())?;
    }
    Ok(())
}
