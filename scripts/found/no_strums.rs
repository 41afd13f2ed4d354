//! Sounds in which no strum is.

use std::path::Path;

use rand::Rng;
use rand::rngs::SmallRng;
use ringtrue::synth::notes::NOTE_RATE_HZ;
use ringtrue::synth::random::gauss;

use crate::composed::{scene, silent};
use crate::counts::made_up_row;
use crate::recorded::read;
use crate::{Case, Half};

/// Sounds in which no strum is.
pub fn no_strums(
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
