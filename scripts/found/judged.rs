//! What is said of real chords cut out of comping, string by string.

use std::path::Path;

use rayon::prelude::*;
use ringtrue::fretboard::{Frets, STRINGS, Tuning};
use ringtrue::listening::Judge;
use ringtrue::verdict::{Expected, ExpectedVoicing, Verdict};

use crate::recorded::{BEFORE_NEXT_S, SILENCE_S, read};
use crate::{Case, Half};

/// Notes this near to the first one of a chord belong to it, in seconds.
const CHORD_S: f64 = 0.06;
/// Fewest strings of a chord.
const FEWEST: usize = 3;
/// The next note follows no sooner, in seconds.
const APART_S: f64 = 0.3;
/// A note that ends less than this before a chord may still be heard in it, in seconds.
const DYING_S: f64 = 0.05;
/// A string is held as long as the chord is judged where it lasts so long at least, in seconds.
const HELD_S: f64 = 0.3;
/// What lasts no longer is a dead string by what dead means (DEVELOPERS.md), whatever the player meant, in seconds.
const DEAD_S: f64 = 0.14;
/// Files begin so long before the chord, in seconds, and end at the next note or have silence instead.
const LEADS_S: [f64; 3] = [0.0, 0.02, 0.1];

struct LabelledNote {
    onset_s: f64,
    end_s: f64,
    string: usize,
    midi: f64,
}

fn notes(path: &Path) -> anyhow::Result<Vec<LabelledNote>> {
    let mut notes = Vec::new();
    for row in csv::Reader::from_path(path)?.records() {
        let row: Result<Vec<f64>, _> = row?.iter().map(str::parse).collect();
        let [onset_s, lasts_s, string, midi] = row?[..] else {
            anyhow::bail!("four columns expected in {}", path.display());
        };
        notes.push(LabelledNote {
            onset_s,
            end_s: onset_s + lasts_s,
            string: STRINGS - string as usize,
            midi,
        });
    }
    notes.sort_by(|a, b| a.onset_s.total_cmp(&b.onset_s));
    Ok(notes)
}

/// A file with one real chord.
struct Chord {
    name: String,
    samples: Vec<f32>,
    rate_hz: u32,
    frets: Frets,
    /// How long the string lasts that is damped first, in seconds.
    shortest_s: f64,
    /// Strings that did not sound, nor ring over from before.
    quiet: Vec<usize>,
}

fn chords(half: &Half) -> anyhow::Result<Vec<Chord>> {
    let file =
        |end: &str| Path::new("fixtures/strums/guitarset").join(format!("{}_{end}", half.comped));
    let (sound, notes) = (read(&file("mic.flac"))?, notes(&file("notes.csv"))?);
    let rate = f64::from(sound.rate_hz);
    let (mut chords, mut from) = (Vec::new(), 0);
    while from < notes.len() {
        let start_s = notes[from].onset_s;
        let count = notes[from..].iter();
        let count = count.take_while(|n| n.onset_s < start_s + CHORD_S).count();
        let (before, rest) = notes.split_at(from);
        let (chord, after) = rest.split_at(count);
        from += count;
        let end_s = after
            .first()
            .map_or(sound.samples.len() as f64 / rate, |n| n.onset_s);
        let mut frets = Frets([None; STRINGS]);
        for note in chord {
            let fret = note.midi.round() - f64::from(Tuning::default().midi(note.string, 0));
            frets.0[note.string] = Some(fret as u8);
        }
        if frets.sounding().count() < FEWEST || end_s - start_s < APART_S {
            continue;
        }
        let rings_over = |s: usize| {
            let mut before = before.iter();
            before.any(|n| n.string == s && n.end_s > start_s - DYING_S)
        };
        let quiet: Vec<usize> = (0..STRINGS)
            .filter(|&s| frets.0[s].is_none() && !rings_over(s))
            .collect();
        for lead_s in LEADS_S {
            for silence_s in [0.0, SILENCE_S] {
                let at = |s: f64| ((s * rate).max(0.0) as usize).min(sound.samples.len());
                let cut = at(start_s - lead_s)..at(end_s - BEFORE_NEXT_S);
                let mut samples = sound.samples[cut].to_vec();
                samples.resize(samples.len() + (silence_s * rate) as usize, 0.0);
                chords.push(Chord {
                    name: format!("{start_s:.2} {frets} lead {lead_s} silence {silence_s}"),
                    samples,
                    rate_hz: sound.rate_hz,
                    frets,
                    shortest_s: (chord.iter())
                        .map(|n| n.end_s - n.onset_s)
                        .fold(f64::MAX, f64::min),
                    quiet: quiet.clone(),
                });
            }
        }
    }
    Ok(chords)
}

/// Prints how many strings of real chords are judged rightly: what was played clean, what was quiet silent. All strings of a
/// chord of which no take or several are found, or that is not judged, count as wrong.
pub fn judged_rows(half: &Half) -> anyhow::Result<()> {
    let chords = chords(half)?;
    let told: Vec<_> = (chords.par_iter())
        .map(|chord| {
            let tuning = Tuning::default();
            let expected = Expected::Named(ExpectedVoicing::usual(chord.frets, None, &tuning));
            log::trace!("chord {}", chord.name);
            let mut takes = Judge::new(tuning).samples(&chord.samples, chord.rate_hz, &expected);
            let found = takes.len();
            takes.pop().filter(|_| found == 1).map(|judged| judged.take)
        })
        .collect();
    let errors = std::env::var_os("FOUND_ERRORS").is_some();
    println!(
        "| | files | not found | not judged | played clean | quiet silent |\n|{}",
        " --- |".repeat(6)
    );
    let rows = [
        ("all strings last", HELD_S..f64::MAX),
        ("some strings damped sooner", 0.0..HELD_S),
        ("damped sooner, none within 0.14 s", DEAD_S..HELD_S),
        ("a string damped within 0.14 s", 0.0..DEAD_S),
    ];
    for (name, lasts_s) in rows {
        let (mut files, mut lost, mut refused) = (0, 0, 0);
        let (mut clean, mut silent) = ((0, 0), (0, 0));
        let of_row = |(chord, _): &(&Chord, _)| lasts_s.contains(&chord.shortest_s);
        for (chord, take) in chords.iter().zip(&told).filter(of_row) {
            files += 1;
            lost += usize::from(take.is_none());
            refused += usize::from(take.as_ref().is_some_and(|t| !t.judged()));
            let is = |s: usize, verdict| {
                (take.as_ref()).is_some_and(|t| t.strings[s].verdict == verdict)
            };
            let played: Vec<usize> = chord.frets.sounding().map(|(s, _)| s).collect();
            let right = (
                played.iter().filter(|s| is(**s, Verdict::Clean)).count(),
                chord
                    .quiet
                    .iter()
                    .filter(|s| is(**s, Verdict::Silent))
                    .count(),
            );
            clean = (clean.0 + right.0, clean.1 + played.len());
            silent = (silent.0 + right.1, silent.1 + chord.quiet.len());
            if errors && right != (played.len(), chord.quiet.len()) {
                let said = take
                    .as_ref()
                    .map(|t| (t.strings.map(|s| s.verdict), &t.warnings));
                println!("    {} {said:?}", chord.name);
            }
        }
        let share = |(right, of): (usize, usize)| {
            format!("{:.3} ({right} of {of})", right as f64 / of.max(1) as f64)
        };
        println!(
            "| comped chords, {name} | {files} | {lost} | {refused} | {} | {} |",
            share(clean),
            share(silent)
        );
    }
    Ok(())
}

/// Prints of how many takes in which all strings are dead it is told that almost nothing rings.
pub fn dead_row(name: &str, cases: &[Case]) {
    let told = cases.par_iter().filter(|case| {
        let tuning = Tuning::default();
        let frets = case.meant.expect("a chord is meant");
        let expected = Expected::Named(ExpectedVoicing::usual(frets, None, &tuning));
        let takes = Judge::new(tuning).samples(&case.samples, case.rate_hz, &expected);
        let right = takes.len() == 1 && takes[0].take.almost_nothing_rings();
        if !right && std::env::var_os("FOUND_ERRORS").is_some() {
            let said: Vec<_> = takes
                .iter()
                .map(|t| {
                    (
                        t.take.strings.map(|s| s.verdict),
                        &t.take.warnings,
                        t.sound.judged_end() - t.sound.onsets[0],
                    )
                })
                .collect();
            println!("    {} {said:?}", case.name);
        }
        right
    });
    println!(
        "| {name}: told as such | {} | {:.3} | |",
        cases.len(),
        told.count() as f64 / cases.len() as f64
    );
}
