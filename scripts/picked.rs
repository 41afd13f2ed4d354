//! Measures picked takes (one string at a time) whose truth is known, and prints the tables of fixtures/measured.
//! picked FOLDER TAKES [SEED]: FOLDER holds networks that never heard some guitar, as scripts/accuracy has them trained. For each
//! guitar TAKES composed passes are found and judged as in use. PICKED_ERRORS=1 lists every error.

use std::path::Path;

use rand::SeedableRng;
use rand::rngs::SmallRng;
use rayon::prelude::*;
use ringtrue::fretboard::{Frets, STRINGS, Tuning, string_number};
use ringtrue::strings::Networks;
use ringtrue::synth::compose::{Composed, Conditions, StringSound, compose};
use ringtrue::synth::{notes, voicings};
use ringtrue::take::{Manner, Take};
use ringtrue::verdict::{Analyser, AnalyserSettings, JudgedTake, StringVerdict, Verdict};

/// One composed pass: what the strings did and what was said, `None` where no take was found.
struct ComposedPass {
    frets: Frets,
    sounds: [StringSound; STRINGS],
    said: Option<JudgedTake>,
    /// Where strokes were found, in seconds.
    strokes: Vec<f64>,
    /// What was said where a chord was expected of which no string stood at the fret that is played.
    expecting_other: Option<JudgedTake>,
}

fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    anyhow::ensure!(
        (2..=3).contains(&arguments.len()),
        "two or three arguments expected: FOLDER TAKES [SEED]"
    );
    let takes: u64 = arguments[1].parse()?;
    let seed: u64 = arguments.get(2).map_or(Ok(1), |seed| seed.parse())?;
    let errors = std::env::var_os("PICKED_ERRORS").is_some();
    let guitars = notes::all(Path::new("fixtures"))?;
    let tuning = Tuning::default();
    let settings = AnalyserSettings {
        tuning,
        rate_hz: notes::NOTE_RATE_HZ,
    };
    let conditions = Conditions {
        manner: Manner::Picked,
        ..Conditions::measuring()
    };
    println!(
        "| guitar left out | passes | found | taken for picked | strings right / told truly | ... of passes found | clean strings with a fault told | faults found | passes all right |"
    );
    println!("|{}", " --- |".repeat(9));
    let mut all = Vec::new();
    for (which, guitar) in guitars.iter().enumerate() {
        let networks = Networks::without(which, Path::new(&arguments[0]))?;
        let passes: Vec<ComposedPass> = (0..takes)
            .into_par_iter()
            .map_init(
                || Analyser::with_networks(settings, networks.clone()),
                |analyser, take| {
                    let mut rng =
                        SmallRng::seed_from_u64((seed << 40) + ((which as u64) << 32) + take);
                    let (frets, barre) = voicings::draw(&mut rng, false);
                    let sounds = voicings::faults(&frets, barre, &mut rng, false);
                    let made = compose(guitar, &tuning, &sounds, &conditions, &mut rng);
                    let strum = made.found_longest(&tuning, &frets);
                    let said = strum.as_ref().map(|s| analyser.analyse(s, &frets));
                    let at = |s: &Take, o: &usize| s.first as f64 + *o as f64;
                    let rate = f64::from(notes::NOTE_RATE_HZ);
                    let strokes = strum
                        .iter()
                        .flat_map(|s| s.onsets.iter().map(|o| at(s, o) / rate));
                    let other = voicings::another(&sounds, &mut rng);
                    let strum_of_other = made.found_longest(&tuning, &other);
                    let pass = ComposedPass {
                        frets,
                        sounds,
                        said,
                        strokes: strokes.collect(),
                        expecting_other: strum_of_other.map(|s| analyser.analyse(&s, &other)),
                    };
                    if errors {
                        list(&guitar.name, take, &made, &pass);
                    }
                    pass
                },
            )
            .collect();
        println!("{}", row(&guitar.name, &passes.iter().collect::<Vec<_>>()));
        all.extend(passes);
    }
    println!("{}", row("all", &all.iter().collect::<Vec<_>>()));
    confusion(&all);
    another_chord_said(&all);
    Ok(())
}

/// What should have been said of a string.
fn truth(fret: Option<u8>, sound: StringSound) -> (Verdict, Option<u8>) {
    match (fret, sound) {
        (Some(fret), StringSound::Rings(f)) if f == fret => (Verdict::Clean, None),
        (Some(_), StringSound::Rings(f)) => (Verdict::WrongFret, Some(f)),
        (Some(_), StringSound::Choked(_)) => (Verdict::Choked, None),
        (Some(_), _) => (Verdict::Muted, None),
        (None, StringSound::Rings(_)) => (Verdict::Ringing, None),
        (None, _) => (Verdict::Silent, None),
    }
}

/// The fret counts where a wrong one sounds; of an unwanted string that it sounds is enough.
fn right(truth: (Verdict, Option<u8>), said: &StringVerdict) -> bool {
    said.verdict == truth.0 && (truth.1.is_none() || said.heard_fret == truth.1)
}

impl ComposedPass {
    fn strings(&self) -> impl Iterator<Item = ((Verdict, Option<u8>), Option<StringVerdict>)> + '_ {
        (0..STRINGS).map(|s| {
            (
                truth(self.frets.0[s], self.sounds[s]),
                self.said.as_ref().map(|take| take.strings[s]),
            )
        })
    }
}

fn row(name: &str, passes: &[&ComposedPass]) -> String {
    let count = |part: usize, of: usize| format!("{:.4}", part as f32 / of.max(1) as f32);
    let found = passes.iter().filter(|p| p.said.is_some()).count();
    let picked = |p: &&&ComposedPass| {
        p.said
            .as_ref()
            .is_some_and(|take| take.manner == Manner::Picked)
    };
    let strings: Vec<_> = passes.iter().flat_map(|p| p.strings()).collect();
    let is_right = |(truth, said): &((Verdict, Option<u8>), Option<StringVerdict>)| {
        said.as_ref().is_some_and(|said| right(*truth, said))
    };
    let well = strings.iter().filter(|s| is_right(s)).count();
    let truly = strings
        .iter()
        .filter(|s| {
            is_right(s)
                || s.1
                    .is_some_and(|said| said.dead_or_dying() && said.is_true_of(s.0.0))
        })
        .count();
    let fine: Vec<_> = strings.iter().filter(|(t, _)| !t.0.is_fault()).collect();
    let alarms = fine
        .iter()
        .filter(|(_, said)| said.is_some_and(|said| said.verdict.is_fault()))
        .count();
    let faults: Vec<_> = strings.iter().filter(|(t, _)| t.0.is_fault()).collect();
    let caught = faults
        .iter()
        .filter(|(_, said)| said.is_some_and(|said| said.verdict.is_fault()))
        .count();
    let whole = passes
        .iter()
        .filter(|p| p.strings().all(|s| is_right(&s)))
        .count();
    format!(
        "| {name} | {} | {} | {} | {} / {} | {} | {} | {} | {} |",
        passes.len(),
        count(found, passes.len()),
        count(passes.iter().filter(picked).count(), passes.len()),
        count(well, strings.len()),
        count(truly, strings.len()),
        count(well, found * STRINGS),
        count(alarms, fine.len()),
        count(caught, faults.len()),
        count(whole, passes.len()),
    )
}

fn confusion(passes: &[ComposedPass]) {
    println!(
        "\n| was \\ said | {} | not found |",
        Verdict::ALL.map(|v| v.word()).join(" | ")
    );
    println!("|{}", " --- |".repeat(Verdict::ALL.len() + 2));
    for was in Verdict::ALL {
        let said: Vec<_> = passes
            .iter()
            .flat_map(ComposedPass::strings)
            .filter(|(truth, _)| truth.0 == was)
            .map(|(_, said)| said.map(|s| s.verdict))
            .collect();
        if said.is_empty() {
            continue;
        }
        let count = |what| said.iter().filter(|&&s| s == what).count().to_string();
        println!(
            "| {} | {} | {} |",
            was.word(),
            Verdict::ALL.map(|v| count(Some(v))).join(" | "),
            count(None)
        );
    }
}

fn another_chord_said(passes: &[ComposedPass]) {
    let said = |take: Option<&JudgedTake>| take.is_some_and(|take| take.is_another_chord());
    let wrongly = passes.iter().filter(|p| said(p.said.as_ref())).count();
    let rightly = (passes.iter())
        .filter(|p| said(p.expecting_other.as_ref()))
        .count();
    println!(
        "\nAnother chord is said to sound in {wrongly} of {count} passes over the expected one, in {rightly} of {count} over one with no \
         string at the expected fret.",
        count = passes.len()
    );
}

fn list(guitar: &str, number: u64, made: &Composed, pass: &ComposedPass) {
    let wrong: Vec<String> = pass
        .strings()
        .enumerate()
        .filter(|(_, (truth, said))| !said.as_ref().is_some_and(|said| right(*truth, said)))
        .map(|(s, (truth, said))| {
            let said = said.map_or("not found".to_owned(), |said| {
                format!(
                    "{:?} {:?} {:.2} {:.2}",
                    said.verdict, said.heard_fret, said.rings, said.confidence
                )
            });
            format!(
                "  string {} {:?} dies in {:.3?} s {truth:?} said {said}",
                string_number(s),
                pass.sounds[s],
                made.dies_s[s]
            )
        })
        .collect();
    if !wrong.is_empty() {
        let rate = f64::from(notes::NOTE_RATE_HZ);
        let at = made
            .onsets
            .map(|o| o.map_or("-".into(), |o| format!("{:.2}", o as f64 / rate)));
        eprintln!(
            "{guitar} {number} {} struck at {} heard at {:.2?} manner {:?} warnings {:?}\n{}",
            pass.frets,
            at.join(" "),
            pass.strokes,
            pass.said.as_ref().map(|t| t.manner),
            pass.said.as_ref().map(|t| &t.warnings),
            wrong.join("\n")
        );
    }
}
