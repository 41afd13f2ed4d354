//! What is counted of the takes found.

use std::collections::BTreeMap;

use rayon::prelude::*;
use ringtrue::fretboard::Tuning;
use ringtrue::strings::{SHORTEST_S, SHORTEST_STOPPED_S};
use ringtrue::take::{Manner, Take, strums, strums_of};

use crate::Case;

/// A stroke this far from both neighbours is one that has to be found, in seconds.
pub const APART_S: f64 = 0.35;
/// A take begins at a stroke where it lies this near to it (the usual tolerance of onsets), in seconds.
pub const NEAR_S: f64 = 0.05;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Outcome {
    Right,
    Nothing,
    Split,
    TooShort,
    Elsewhere,
    OtherManner,
}

pub fn takes(case: &Case, known: bool) -> Vec<Take> {
    log::trace!(
        "case {} {} {known} {:?}",
        case.rate_hz,
        case.pass,
        case.strokes_s
    );
    match case.meant.filter(|_| known) {
        Some(frets) => strums_of(&case.samples, case.rate_hz, &Tuning::default(), &frets),
        None => strums(&case.samples, case.rate_hz),
    }
}

pub fn onsets_s(take: &Take) -> Vec<f64> {
    let at = |o: &usize| (take.first + *o as u64) as f64 / f64::from(take.rate_hz);
    take.onsets.iter().map(at).collect()
}

/// What became of the one take of a case.
pub fn outcome(case: &Case, known: bool) -> Outcome {
    let found = takes(case, known);
    let Some(take) = found.first() else {
        return Outcome::Nothing;
    };
    if found.len()
        > case
            .strokes_s
            .len()
            .min(if case.pass { 1 } else { usize::MAX })
    {
        return Outcome::Split;
    }
    if case.pass {
        let onsets = onsets_s(take);
        let near = |a: &f64, all: &[f64]| all.iter().any(|b| (a - b).abs() < NEAR_S);
        let hit = case.strokes_s.iter().filter(|s| near(s, &onsets)).count();
        let made_up = onsets.iter().any(|o| !near(o, &case.strokes_s));
        return if take.manner != Manner::Picked {
            Outcome::OtherManner
        } else if made_up || hit < case.strokes_s.len().saturating_sub(1).max(2) {
            Outcome::Elsewhere
        } else {
            Outcome::Right
        };
    }
    if found.len() < case.strokes_s.len() {
        return Outcome::Nothing;
    }
    for (take, stroke) in found.iter().zip(&case.strokes_s) {
        let last = take.onsets[take.onsets.len() - 1];
        let (end, shortest) = match take.stopped() {
            Some(stop) => (stop, SHORTEST_STOPPED_S),
            None => (take.judged_end(), SHORTEST_S),
        };
        let seconds = (end - last) as f32 / take.rate_hz as f32;
        if take.manner != Manner::Strummed {
            return Outcome::OtherManner;
        } else if (take.start_s() - stroke).abs() > 2.0 * NEAR_S {
            return Outcome::Elsewhere;
        } else if seconds < shortest {
            return Outcome::TooShort;
        }
    }
    Outcome::Right
}

/// Prints how many cases are right, with the chord known and not, and what the others are.
pub fn row(name: &str, cases: &[Case]) {
    let errors = std::env::var_os("FOUND_ERRORS").is_some();
    let told: Vec<[Outcome; 2]> = (cases.par_iter())
        .map(|case| [true, false].map(|known| outcome(case, known)))
        .collect();
    let column = |known: usize| {
        let mut counts = BTreeMap::new();
        told.iter()
            .for_each(|t| *counts.entry(t[known]).or_insert(0) += 1);
        let right = counts.remove(&Outcome::Right).unwrap_or(0);
        let rest: Vec<String> = counts.iter().map(|(o, n)| format!("{n} {o:?}")).collect();
        format!(
            "{:.3} ({})",
            f64::from(right) / cases.len() as f64,
            rest.join(", ")
        )
    };
    println!(
        "| {name} | {} | {} | {} |",
        cases.len(),
        column(0),
        column(1)
    );
    for (case, told) in cases.iter().zip(&told).filter(|_| errors) {
        if *told != [Outcome::Right; 2] {
            let found = takes(case, told[0] != Outcome::Right);
            let starts: Vec<_> = found.iter().map(|f| (f.manner, onsets_s(f))).collect();
            println!(
                "    {} {told:?}: {:.3?} found {starts:.3?}",
                case.name, case.strokes_s
            );
        }
    }
}

/// Prints how many takes are found where there are none.
pub fn made_up_row(name: &str, cases: &[Case]) {
    let count = |known| {
        cases
            .par_iter()
            .map(|case| takes(case, known).len())
            .sum::<usize>()
    };
    let seconds: f64 = cases
        .iter()
        .map(|c| c.samples.len() as f64 / f64::from(c.rate_hz))
        .sum();
    println!(
        "| {name} | {} sounds, {seconds:.0} s | {} made up | {} made up |",
        cases.len(),
        count(true),
        count(false)
    );
}

/// Prints how many strokes of running accompaniment are found, and how many are made up, where a take lies at `at`.
pub fn strokes_row(name: &str, cases: &[Case], at: fn(&Take) -> f64) {
    let mut columns = Vec::new();
    let mut apart = 0;
    for known in [true, false] {
        let (mut hits, mut all, mut made_up) = (0, 0, 0);
        apart = 0;
        for case in cases {
            let found = takes(case, known);
            let strums = || {
                found
                    .iter()
                    .filter(|f| f.manner == Manner::Strummed)
                    .map(at)
            };
            let (mut missed, mut extra) = (Vec::new(), Vec::new());
            for (i, stroke) in case.strokes_s.iter().enumerate() {
                let before = i.checked_sub(1).map_or(f64::MIN, |i| case.strokes_s[i]);
                let after = case.strokes_s.get(i + 1).copied().unwrap_or(f64::MAX);
                if stroke - before >= APART_S && after - stroke >= APART_S {
                    apart += 1;
                    if strums().any(|s| (s - stroke).abs() < NEAR_S) {
                        hits += 1;
                    } else {
                        missed.push(*stroke);
                    }
                }
            }
            all += case.strokes_s.len();
            for take in &found {
                if !case.strokes_s.iter().any(|s| (at(take) - s).abs() < NEAR_S) {
                    made_up += 1;
                    extra.push((at(take), take.manner));
                }
            }
            if std::env::var_os("FOUND_ERRORS").is_some() {
                println!(
                    "    {} known {known} missed {missed:.3?} made up {extra:.3?}",
                    case.name
                );
            }
        }
        let share = |n: usize, of: usize| n as f64 / of as f64;
        columns.push(format!(
            "{:.3}, made up {:.3}",
            share(hits, apart),
            share(made_up, all)
        ));
    }
    println!("| {name} | {apart} | {} | {} |", columns[0], columns[1]);
}
