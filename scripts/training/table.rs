//! Writes what networks are fitted to, as the program itself sees it. `scripts/train` runs it; the table for buzz is made by
//! scripts/buzz.rs.

mod file;
mod first_string;
#[path = "../timing/sessions.rs"]
#[expect(
    dead_code,
    reason = "what else is true of a session is asked for where time is measured"
)]
mod sessions;
mod sweeps;
mod takes;
mod treble;

use std::path::{Path, PathBuf};

use clap::{Parser, Subcommand};
use ringtrue::audio::read_all;
use ringtrue::fretboard::{Frets, Tuning};
use ringtrue::layers::NetworkError;
use ringtrue::progression::first_stroke;
use ringtrue::strings::buzz::treble::Treble;
use ringtrue::strings::{self, CandidateNotes, Moments, Spectra, buzz};
use ringtrue::take::{Take, strums_of, sweep};

/// Writes what networks are fitted to, as the program itself sees it
#[derive(Parser)]
struct Arguments {
    #[command(subcommand)]
    table: Kind,
}

#[derive(Subcommand)]
enum Kind {
    /// Composed strums, and among them some picked passes
    Strums {
        /// The table
        out: PathBuf,
        #[command(flatten)]
        counts: takes::Counts,
    },
    /// Strokes of composed picked passes
    Strokes {
        /// The table
        out: PathBuf,
        #[command(flatten)]
        counts: takes::Counts,
    },
    /// Strums of composed sessions of playing along
    FirstString {
        /// The table
        out: PathBuf,
        #[command(flatten)]
        counts: first_string::Counts,
    },
    /// Scenes that scripts/training/scenes.py composes and sends
    Sweeps {
        /// The table
        out: PathBuf,
        /// Seed that the scenes are composed by: written down, no more
        #[arg(long)]
        seed: u64,
        /// Scenes that are to come
        #[arg(long)]
        scenes: usize,
    },
    /// What each network sees of a bundled recording: golden inputs, a table each
    Inputs {
        /// Folder of the tables
        out: PathBuf,
    },
    /// Reads a network's file as the program does, and says what is wrong with it
    Read {
        /// The network
        file: PathBuf,
    },
}

fn main() -> anyhow::Result<()> {
    let rows = match Arguments::parse().table {
        Kind::Strums { out, counts } => takes::write(&out, takes::AMONG_STRUMS, &counts)?,
        Kind::Strokes { out, counts } => takes::write(&out, takes::PASSES, &counts)?,
        Kind::FirstString { out, counts } => first_string::write(&out, &counts)?,
        Kind::Sweeps { out, scenes, .. } => sweeps::write(&out, scenes, std::io::stdin().lock())?,
        Kind::Inputs { out } => inputs(&out)?,
        Kind::Read { file } => return read(&file),
    };
    eprintln!("{rows} rows written");
    Ok(())
}

/// Reads a network by whichever layout it has.
fn read(file: &Path) -> anyhow::Result<()> {
    let bytes = std::fs::read(file)?;
    let refused = [
        (
            strings::network::LAYOUT,
            strings::Network::read(&bytes).err(),
        ),
        (buzz::LAYOUT, buzz::Network::read(&bytes).err()),
        (
            first_stroke::LAYOUT,
            first_stroke::Network::read(&bytes).err(),
        ),
        (sweep::LAYOUT, sweep::Network::read(&bytes).err()),
    ];
    match refused.iter().find(|(_, why)| why.is_none()) {
        Some((layout, _)) => println!("{}: read as {layout}", file.display()),
        None => anyhow::bail!("{}: {}", file.display(), whys(&refused)),
    }
    Ok(())
}

/// Why each layout refused a file.
fn whys(refused: &[(&str, Option<NetworkError>)]) -> String {
    let whys = refused
        .iter()
        .flat_map(|(layout, why)| Some(format!("as {layout}: {}", why.as_ref()?)));
    whys.collect::<Vec<_>>().join("; ")
}

/// Bundled strums of which golden inputs are made, and the frets meant: one for each network of strings. The second one leaves a
/// string out; the network for buzz is given it too.
const STRUMS: [(&str, &str, &str); 2] = [
    (
        "strums",
        "133211-string-3-dead-string-1-choked.wav",
        "133211",
    ),
    ("strokes", "x13331-all-strings-ring.wav", "x13331"),
];
/// Real playing of which the others are made.
const PLAYING: &str = "fixtures/strums/phone-strums/run-1-line.flac";
/// So much of it in seconds: several sweeps, and longer than the network for sweeps looks back.
const LEVELS_S: f64 = 2.5;
/// No recording is longer, in seconds.
const LONGEST_S: f64 = 60.0;

fn inputs(out: &Path) -> anyhow::Result<usize> {
    std::fs::create_dir_all(out)?;
    let table = |name: &str| out.join(format!("{name}.table"));
    let tuning = Tuning::default();
    let mut rows = 0;
    for (name, file, chord) in STRUMS {
        let frets = chord.parse::<Frets>()?;
        let sound = read_all(&Path::new("fixtures/strums").join(file), LONGEST_S)?;
        let strums = strums_of(&sound.samples, sound.rate_hz, &tuning, &frets);
        let strum = strums.first();
        let strum = strum.ok_or_else(|| anyhow::anyhow!("no strum found in {file}"))?;
        let mut of_strings = takes::create(&table(name))?;
        of_strings.push(&takes::row_of(strum, &tuning, &frets))?;
        rows += of_strings.finish()?;
        let mut of_buzz = treble::create(&table("buzz"))?;
        of_buzz.push(&row_of_treble(strum, &tuning, &frets)?)?;
        rows += of_buzz.finish()?;
    }
    let playing = Path::new(PLAYING);
    rows += first_string::write_heard(playing, 1, &table("first_string"))?;
    rows += sweeps::write_levels(playing, LEVELS_S, &table("sweep"))?;
    Ok(rows)
}

/// The row of a strum for the network of buzz, of which no truth is asked.
fn row_of_treble(strum: &Take, tuning: &Tuning, frets: &Frets) -> anyhow::Result<Vec<f32>> {
    let moments = Moments::of(strum);
    let mut spectra = Spectra::new(strum.rate_hz);
    spectra.fill(&strum.samples, moments);
    let notes = CandidateNotes::fit(&spectra, tuning, frets);
    let seen = Treble::new(strum.rate_hz).see(&strum.samples, moments, &notes);
    let seen = seen.ok_or_else(|| anyhow::anyhow!("nothing is seen of the treble"))?;
    let mut row = vec![0.0; 5];
    row.extend([seen.available_s, seen.spread_s]);
    row.extend([0.0; 6]);
    for string in &seen.strings {
        let fret = string
            .as_ref()
            .map_or(-1.0, |string| f32::from(string.fret));
        row.extend([fret, 0.0, 0.0, 0.0, 0.0]);
    }
    treble::put_seen(&mut row, &seen);
    Ok(row)
}
