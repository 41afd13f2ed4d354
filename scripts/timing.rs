//! Measures how well time is kept track of, on composed playing whose truth is known.

#[path = "../tests/common/playing.rs"]
mod playing;

use std::path::Path;

use playing::{Manner, Strike, play, trimmed};
use rand::rngs::SmallRng;
use rand::{Rng, SeedableRng};
use ringtrue::progression::onset::first_string;
use ringtrue::synth::{notes, voicings};
use ringtrue::take::{Finder, Strum};

fn main() -> anyhow::Result<()> {
    let guitars = trimmed(notes::load(Path::new("fixtures/notes"))?);
    let verbose = std::env::args().nth(1).is_some();
    for guitar in &guitars {
        let mut rng = SmallRng::seed_from_u64(77);
        let (mut own, mut refined, mut missing) = (Vec::new(), Vec::new(), 0);
        for _ in 0..4 {
            let strikes: Vec<Strike> = (0..24)
                .map(|i| {
                    let (frets, barre) = voicings::draw(&mut rng, false);
                    Strike {
                        at_s: 1.0 + f64::from(i) * 0.9 + rng.random_range(-0.06..0.06),
                        sounds: voicings::faults(&frets, barre, &mut rng, false),
                    }
                })
                .collect();
            let (samples, _) = play(guitar, &strikes, &Manner::usual(), 24.0, &mut rng);
            let strums = find(&samples);
            for strike in &strikes {
                let near = |s: &&Strum| (s.start_s() - strike.at_s).abs() < 0.15;
                match strums.iter().find(near) {
                    Some(strum) => {
                        own.push((strum.start_s() - strike.at_s) * 1e3);
                        refined.push((first_string(strum) - strike.at_s) * 1e3);
                        let e = (first_string(strum) - strike.at_s) * 1e3;
                        if e.abs() > 5.0 && verbose {
                            println!(
                                "  {:.4} finder {:.1} refined {:.1} {:?}",
                                strike.at_s,
                                (strum.start_s() - strike.at_s) * 1e3,
                                e,
                                strike.sounds
                            );
                        }
                    }
                    None => missing += 1,
                }
            }
        }
        println!(
            "{:<20} missing {missing} finder {} refined {}",
            guitar.name,
            spread(&own),
            spread(&refined)
        );
    }
    Ok(())
}

fn spread(errors: &[f64]) -> String {
    let mut sorted = errors.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = |q: f64| sorted[((sorted.len() - 1) as f64 * q) as usize];
    let within =
        |ms: f64| errors.iter().filter(|e| e.abs() <= ms).count() as f64 / errors.len() as f64;
    let mean = errors.iter().sum::<f64>() / errors.len() as f64;
    format!(
        "n {} mean {mean:.2} 5% {:.1} 50% {:.1} 95% {:.1} within 5 ms {:.3} 10 ms {:.3}",
        errors.len(),
        at(0.05),
        at(0.5),
        at(0.95),
        within(5.0),
        within(10.0)
    )
}

fn find(samples: &[f32]) -> Vec<Strum> {
    let mut finder = Finder::new(notes::NOTE_RATE_HZ);
    let mut found = Vec::new();
    finder.push(samples, &mut found);
    finder.finish(&mut found);
    found
}
