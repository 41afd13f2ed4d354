//! Real strums: which are learnt from and which reported, and what is said of them.

use std::path::Path;

use rayon::prelude::*;
use ringtrue::audio::{at_rate, read_all};
use ringtrue::fretboard::{Frets, STRINGS, Tuning};
use ringtrue::strings::buzz::BuzzFindings;
use ringtrue::strings::{self, Moments, Networks, buzz};
use ringtrue::synth::buzz::laid::RealStrum;
use ringtrue::synth::{labelled, notes};
use ringtrue::take::{Take, strums_of};
use ringtrue::verdict::{Analyser, AnalyserSettings, Verdict};

use crate::ears::{Ears, Eyes};

/// Runs of fixtures/strums/phone-strums that are learnt from, and those that thresholds are chosen by; the others are reported.
pub const LEARNT_RUNS: [&str; 1] = ["1"];
pub const CHOSEN_BY_RUNS: [&str; 1] = ["2"];
pub const REPORTED_RUNS: [&str; 4] = ["0", "4", "6", "8"];
/// The chords of those runs, as their maker names them, in open shapes.
pub const CHORDS: [&str; 4] = ["x32010", "320003", "133211", "x02210"];
/// No such recording lasts longer, in seconds.
pub const LONGEST_S: f64 = 60.0;
/// A strum is one of a chord where at least so many of its strings are as they should be.
pub const CLEAN_STRINGS: usize = 4;
/// Strums that begin this near to each other are one, in seconds.
pub const SAME_S: f64 = 0.1;

/// A running strum of a chord that the program takes it for.
pub struct Running {
    pub strum: Take,
    pub frets: Frets,
    /// The recording that it comes from.
    pub file: String,
}

/// The strums of these runs, by line and by phone, that one of the chords is heard in: of the chords the one with most strings
/// as they should be.
pub fn running(runs: &[&str]) -> anyhow::Result<Vec<Running>> {
    let tuning = Tuning::default();
    let of = |run: &str| {
        ["line", "phone"].map(|by| format!("fixtures/strums/phone-strums/run-{run}-{by}.flac"))
    };
    let mut all = Vec::new();
    for file in runs.iter().flat_map(|run| of(run)) {
        let recording = read_all(Path::new(&file), LONGEST_S)?;
        let rate_hz = recording.rate_hz;
        let by_chord: Vec<Vec<(usize, Running)>> = CHORDS
            .par_iter()
            .map(|chord| {
                let frets: Frets = chord.parse().expect("a voicing");
                let mut analyser = Analyser::new(AnalyserSettings { tuning, rate_hz });
                strums_of(&recording.samples, rate_hz, &tuning, &frets)
                    .into_iter()
                    .filter_map(|strum| {
                        let take = analyser.analyse(&strum, &frets);
                        // A string that is said to buzz is as it should be, but for that.
                        let clean = std::iter::zip(&frets.0, &take.strings)
                            .filter(|(fret, _)| fret.is_some())
                            .filter(|(_, s)| matches!(s.verdict, Verdict::Clean | Verdict::Buzzing))
                            .count();
                        let heard = !take.is_another_chord() && clean >= CLEAN_STRINGS;
                        let file = file.clone();
                        heard.then_some((clean, Running { strum, frets, file }))
                    })
                    .collect()
            })
            .collect();
        let mut best: Vec<(usize, Running)> = Vec::new();
        for (clean, heard) in by_chord.into_iter().flatten() {
            let start_s = heard.strum.start_s();
            let near =
                |(_, other): &(usize, Running)| (other.strum.start_s() - start_s).abs() < SAME_S;
            match best.iter().position(near) {
                Some(at) if best[at].0 < clean => best[at] = (clean, heard),
                Some(_) => {}
                None => best.push((clean, heard)),
            }
        }
        all.extend(best.into_iter().map(|(_, running)| running));
    }
    Ok(all)
}

/// Labelled comping that is learnt from, and that which is reported; seconds that all strings of a chord last.
pub const LEARNT_COMPING: &str = "00_BN1-129-Eb_comp";
pub const REPORTED_COMPING: &str = "03_Jazz2-110-Bb_comp";
pub const COMPED_S: f64 = 0.3;

pub fn comped(name: &str) -> anyhow::Result<Vec<labelled::LabelledStrum>> {
    let file = |end: &str| Path::new("fixtures/strums/guitarset").join(format!("{name}_{end}"));
    let (sound, notes) = (file("mic.flac"), file("notes.csv"));
    let tuning = Tuning::default();
    Ok(labelled::strums(&sound, &notes, COMPED_S, &tuning)?)
}

/// The real strums that are learnt from, at the notes' rate.
pub fn learnt_strums() -> anyhow::Result<Vec<RealStrum>> {
    let networks = Networks::built_in();
    let mut ears = Ears::new(&networks);
    let running = running(&LEARNT_RUNS)?;
    let running = running.into_iter().map(|r| (r.strum, r.frets));
    let comped = comped(LEARNT_COMPING)?;
    let all = running.chain(comped.into_iter().map(|c| (c.strum, c.frets)));
    let strums = all.map(|(mut strum, frets)| {
        let ratio = f64::from(notes::NOTE_RATE_HZ) / f64::from(strum.rate_hz);
        strum.samples = at_rate(&strum.samples, strum.rate_hz, notes::NOTE_RATE_HZ);
        for onset in &mut strum.onsets {
            *onset = (*onset as f64 * ratio) as usize;
        }
        strum.rate_hz = notes::NOTE_RATE_HZ;
        let found = Moments::of(&strum);
        let Eyes { spectra, .. } = &mut ears.eyes;
        spectra.fill(&strum.samples, found);
        let heard = strings::hear(
            &networks.strums,
            spectra,
            &Tuning::default(),
            &frets,
            &mut ears.room,
        );
        RealStrum {
            moments: heard.moments(found, f64::from(notes::NOTE_RATE_HZ)),
            samples: strum.samples,
            frets,
        }
    });
    Ok(strums.collect())
}

/// Real strums: chords of comping, and running strums of four chords by line and by phone.
pub fn real_strums(folder: &Path) -> anyhow::Result<()> {
    let networks = all_makers(folder)?;
    println!(
        "\n| real strums | takes called buzzing | takes that may buzz | strings named | takes said to rattle | by line and by phone: heard in both, called in one, called in both, the same string named |"
    );
    println!("|{}", " --- |".repeat(6));
    for name in [LEARNT_COMPING, REPORTED_COMPING] {
        let strums: Vec<Running> = comped(name)?
            .into_iter()
            .map(|c| Running {
                strum: c.strum,
                frets: c.frets,
                file: name.to_owned(),
            })
            .collect();
        called(&format!("comping {}", &name[..2]), &strums, &networks);
    }
    let all = [&LEARNT_RUNS[..], &CHOSEN_BY_RUNS, &REPORTED_RUNS].concat();
    for run in all {
        called(&format!("run {run}"), &running(&[run])?, &networks);
    }
    called(
        "runs that are reported",
        &running(&REPORTED_RUNS)?,
        &networks,
    );
    Ok(())
}

/// The built-in networks, but for the one for buzz where the folder has another that knows all makers.
pub fn all_makers(folder: &Path) -> anyhow::Result<Networks> {
    let mut networks = Networks::built_in();
    let file = folder.join("buzz.safetensors");
    if file.exists() {
        let buzz = buzz::Network::read(&std::fs::read(file)?)?;
        networks.buzz = strings::shared(|| buzz);
    }
    Ok(networks)
}

/// What is said of strums.
pub fn said_of(strums: &[Running], networks: &Networks) -> Vec<buzz::BuzzProbabilities> {
    // They are recorded at one rate.
    let rate_hz = strums
        .first()
        .map_or(notes::NOTE_RATE_HZ, |r| r.strum.rate_hz);
    let ears = || Ears::at(networks, rate_hz);
    strums
        .par_iter()
        .map_init(ears, |ears, r| ears.hear_strum(&r.strum, &r.frets).0)
        .collect()
}

/// A row of takes that are said to buzz.
pub fn called(name: &str, strums: &[Running], networks: &Networks) {
    let said = said_of(strums, networks);
    let found: Vec<BuzzFindings> = said.iter().map(buzz::found).collect();
    let count = |is: &dyn Fn(&BuzzFindings) -> bool| found.iter().filter(|f| is(f)).count();
    println!(
        "| {name} | {} of {} | {} | {} | {} | {} |",
        count(&BuzzFindings::is_any),
        strums.len(),
        count(&|f| f.possible.is_some()),
        found.iter().flat_map(|f| f.strings).flatten().count(),
        count(&|f| f.rattle.is_some()),
        in_both(strums, &found)
    );
}

/// Of strums that two recordings of the same playing have: how many, and how many are said to buzz in one, in both, and on
/// the same string. What only a recording adds is not in both.
pub fn in_both(strums: &[Running], found: &[BuzzFindings]) -> String {
    let all: Vec<(&Running, &BuzzFindings)> = std::iter::zip(strums, found).collect();
    let (mut heard, mut one, mut both, mut same) = (0, 0, 0, 0);
    for (place, (strum, said)) in all.iter().enumerate() {
        let twin = all[place + 1..].iter().find(|(other, _)| {
            let (run, by) = strum.file.rsplit_once('-').unwrap_or_default();
            let (other_run, other_by) = other.file.rsplit_once('-').unwrap_or_default();
            let apart_s = (strum.strum.start_s() - other.strum.start_s()).abs();
            run == other_run && by != other_by && apart_s < SAME_S && strum.frets == other.frets
        });
        let Some((_, other)) = twin else { continue };
        heard += 1;
        one += usize::from(said.is_any() != other.is_any());
        both += usize::from(said.is_any() && other.is_any());
        same += usize::from(
            (0..STRINGS).any(|s| said.strings[s].is_some() && other.strings[s].is_some()),
        );
    }
    format!("{heard}, {one}, {both}, {same}")
}
