//! dump
use std::io::Write;
use std::path::Path;

use rand::SeedableRng;
use rand::rngs::SmallRng;
use rayon::prelude::*;
use ringtrue::fretboard::Tuning;
use ringtrue::strings::view::Viewer;
use ringtrue::synth::compose::{Conditions, compose};
use ringtrue::synth::notes;
use ringtrue::synth::voicings;
use ringtrue::verdict::{Analyser, Settings, Verdict};

fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let takes: usize = arguments[0].parse()?;
    let seed: u64 = arguments[1].parse()?;
    let folder = Path::new(&arguments[2]);
    let guitars = notes::all(Path::new("fixtures"))?;
    let tuning = Tuning::default();
    let settings = Settings {
        tuning,
        rate_hz: notes::NOTE_RATE_HZ,
    };
    let lines: Vec<Option<String>> = (0..takes).into_par_iter().map_init(
        || (Analyser::new(settings), Viewer::new(settings.rate_hz, tuning)),
        |(analyser, viewer), take| {
            let guitar = &guitars[take % guitars.len()];
            let mut rng = SmallRng::seed_from_u64(seed + take as u64);
            let (frets, barre) = voicings::draw(&mut rng, false);
            let sounds = voicings::faults(&frets, barre, &mut rng, false);
            let made = compose(guitar, &tuning, &sounds, &Conditions::measuring(), &mut rng);
            let strum = made.found(&tuning, &frets)?;
            let said = analyser.analyse(&strum, &frets);
            let mut heard = [None; 6];
            for (string, heard) in said.strings.iter().zip(&mut heard) {
                let s = matches!(string.verdict, Verdict::WrongFret | Verdict::Ringing);
                *heard = string.heard_fret.filter(|_| s);
            }
            let view = viewer.look(&strum, &frets, &heard)?;
            let mut file = std::fs::File::create(folder.join(format!("{take}.f32"))).unwrap();
            let bytes: Vec<u8> = strum.samples.iter().flat_map(|s| s.to_le_bytes()).collect();
            file.write_all(&bytes).unwrap();
            let strings: Vec<serde_json::Value> = (0..6).map(|i| {
                let v = &view.strings[i];
                let hz = |n: &ringtrue::strings::view::NoteView| n.partials.iter().map(|p| p.hz).collect::<Vec<_>>();
                serde_json::json!({
                    "fret": frets.0[i], "sound": format!("{:?}", sounds[i]),
                    "verdict": format!("{:?}", said.strings[i].verdict),
                    "rings": said.strings[i].rings,
                    "level": said.strings[i].level_db,
                    "hz": hz(&v.note), "heard_fret": heard[i], "heard": v.heard.as_ref().map(hz),
                    "standing": v.note.partials.iter().map(|p| p.standing_db).collect::<Vec<_>>(),
                    "own": v.own.iter().map(|f| (f.n, &f.levels_db, f.noise_db)).collect::<Vec<_>>(),
                    "shared": v.shared.iter().map(|f| (f.n, &f.levels_db, f.noise_db)).collect::<Vec<_>>(),
                    "dies": made.dies_s[i], "onset": made.onsets[i].map(|o| o as i64 - strum.first as i64),
                })
            }).collect();
            Some(serde_json::json!({"take": take, "guitar": guitar.name, "frets": frets.to_string(), "rate": settings.rate_hz,
                "onsets": strum.onsets, "times": view.times_s, "judged": said.judged(), "strings": strings}).to_string())
        }).collect();
    let mut out = std::fs::File::create(folder.join("takes.json"))?;
    for line in lines.into_iter().flatten() {
        writeln!(out, "{line}")?;
    }
    Ok(())
}
