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
    let modal_takes = if modal > 0 { takes / 6 } else { 0 };
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
                let found = evidence::gather(spectra, &tuning, &frets);
                let mut out = Vec::new();
                for (string, sound) in sounds.iter().enumerate() {
                    if let Some(note) = &found.expected[string] {
                        let label = match *sound {
                            Sound::Rings(f) if f == note.fret => 0.0,
                            Sound::Choked(_) => 1.0,
                            Sound::Rings(_) => 3.0,
                            _ => 2.0,
                        };
                        out.extend([
                            which as f32,
                            take as f32,
                            string as f32,
                            f32::from(note.fret),
                            1.0,
                            label,
                        ]);
                        out.extend(&note.features);
                    }
                    for note in &found.others[string] {
                        let rings = matches!(*sound, Sound::Rings(f) if f == note.fret);
                        out.extend([
                            which as f32,
                            take as f32,
                            string as f32,
                            f32::from(note.fret),
                            0.0,
                            if rings { 0.0 } else { 2.0 },
                        ]);
                        out.extend(&note.features);
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
