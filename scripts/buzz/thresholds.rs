//! What thresholds give, on takes that neither train nor are reported.

use ringtrue::strings::Networks;

use crate::judged::{Judged, Truly, share};
use crate::measure::{CHOSEN_BY_ALONE, LIFTS_DB, possible};
use crate::real::{CHOSEN_BY_RUNS, all_makers, running, said_of};
use crate::recorded::{CHOSEN_BY, LEFT_OUT, Recorded};

/// Shares of clean takes that may be called buzzing.
const CALLED: [f32; 4] = [0.002, 0.005, 0.01, 0.02];

/// Thresholds that are tried.
const FROM: [f32; 8] = [0.2, 0.3, 0.4, 0.5, 0.7, 0.8, 0.9, 0.95];

/// What the constants of src/strings/buzz/mod.rs give, on takes that neither train nor are reported.
pub fn thresholds(recorded: &Recorded<'_>) -> anyhow::Result<()> {
    let chosen = running(&CHOSEN_BY_RUNS)?;
    let all = recorded.all(CHOSEN_BY)?;
    let mut alone = Vec::new();
    for guitar in 0..recorded.guitars.len() {
        let heard = recorded.alone(guitar, CHOSEN_BY_ALONE)?;
        alone.extend(heard.into_iter().map(|(_, said)| said.any));
    }
    println!(
        "| maker left out | share of its clean takes, and of recorded notes alone, over | any from | found at 1-3 / 3-6 / over 6 dB | hard clean | recorded notes alone |"
    );
    println!("|{}", " --- |".repeat(6));
    for (name, judged) in &all {
        let any = |is: &dyn Fn(&Judged) -> bool| -> Vec<f32> {
            judged
                .iter()
                .filter(|j| is(j))
                .map(|j| j.said.any)
                .collect()
        };
        let clean = any(&|j| matches!(j.subject, Truly::Clean | Truly::HardClean));
        let grid = CALLED.map(|share| (share.to_string(), limit(&clean, share)));
        let fixed = FROM.map(|from| ("-".to_owned(), from));
        for (called, from) in grid.into_iter().chain(fixed) {
            let over = |values: &[f32]| {
                let count = values.iter().filter(|v| **v >= from).count();
                format!(
                    "{:.3} of {}",
                    count as f32 / values.len().max(1) as f32,
                    values.len()
                )
            };
            let found = LIFTS_DB.map(|(low, high)| over(&any(&|j| j.is_one(low, high))));
            let hard = over(&any(&|j| j.subject == Truly::HardClean));
            println!(
                "| {name} | {called} ({}) | {from:.3} | {} | {hard} | {} |",
                over(&clean),
                found.join(" / "),
                over(&alone)
            );
        }
    }
    let makers = all
        .iter()
        .take(LEFT_OUT.len())
        .flat_map(|(_, judged)| judged);
    possible(&makers.collect::<Vec<_>>(), &alone);
    println!(
        "\n| real strums (runs that thresholds are chosen by), of {} takes, over | {} |",
        chosen.len(),
        FROM.map(|from| from.to_string()).join(" | ")
    );
    println!("|{}", " --- |".repeat(1 + FROM.len()));
    let mut folds: Vec<(String, Networks)> = Vec::new();
    for (maker, guitars) in LEFT_OUT {
        let networks = Networks::without(guitars[0], recorded.folder)?;
        folds.push((format!("without {maker:?}"), networks));
    }
    folds.push(("all makers".to_owned(), all_makers(recorded.folder)?));
    for (name, networks) in &folds {
        let said = said_of(&chosen, networks);
        let over = FROM.map(|from| said.iter().filter(|s| s.any >= from).count().to_string());
        println!("| {name} | {} |", over.join(" | "));
    }
    println!(
        "\n| maker left out | string named from | named alone | right of those named | right, named or one of two |"
    );
    println!("|{}", " --- |".repeat(5));
    for (name, judged) in &all {
        let told: Vec<&Judged> = judged
            .iter()
            .filter(|j| j.is_one(1.0, f64::INFINITY) && j.found().is_any())
            .collect();
        for from in [0.3, 0.5, 0.6, 0.7, 0.8, 0.9] {
            let sure: Vec<bool> = told
                .iter()
                .filter(|j| j.likeliest().is_some_and(|(_, p)| p >= from))
                .map(|j| j.is_likeliest_right())
                .collect();
            let right = sure.iter().filter(|r| **r).count();
            println!(
                "| {name} | {from} | {} of {} | {right} | {} |",
                sure.len(),
                told.len(),
                share(told.iter().copied(), |_| true, Judged::is_right)
            );
        }
    }
    println!(
        "\n| maker left out | told to rattle from | rattles found | clean so called | buzzing so called |"
    );
    println!("|{}", " --- |".repeat(5));
    for (name, judged) in &all {
        for from in [0.5, 0.7, 0.8, 0.9, 0.95] {
            let rattles = |j: &Judged| !j.found().is_any() && j.said.rattles >= from;
            println!(
                "| {name} | {from} | {} | {} | {} |",
                share(judged, |j| j.subject == Truly::Rattle, rattles),
                share(
                    judged,
                    |j| matches!(j.subject, Truly::Clean | Truly::HardClean),
                    rattles
                ),
                share(judged, |j| matches!(j.subject, Truly::Buzz { .. }), rattles)
            );
        }
    }
    Ok(())
}

/// The least of `values` that no more than `share` of them are over.
fn limit(values: &[f32], share: f32) -> f32 {
    let mut sorted = values.to_vec();
    sorted.sort_by(|a, b| b.total_cmp(a));
    let at = (share * sorted.len() as f32) as usize;
    sorted.get(at).copied().unwrap_or(1.0)
}
