//! Makes the material that the network for buzz is fitted on, and measures it.
//! buzz table OUT train|measure TAKES_PER_GUITAR SEED [DRAWN_GUITARS TAKES_PER_DRAWN_GUITAR MIXED_TAKES LAID_TAKES]: a table
//! as scripts/training/treble.rs has it, a row a take, and one for the same take without the fret where strings were made to
//! strike one. Laid takes are real strums, the half of them that is developed on, with and without contact laid onto them.
//! buzz measure FOLDER TAKES_PER_GUITAR: prints the tables of fixtures/measured/buzz.md. FOLDER holds networks that never heard
//! some guitars and one maker, as scripts/accuracy has them trained.
//! buzz real FOLDER: its last table alone, of real strums.
//! buzz unlearnt FOLDER TAKES_PER_GUITAR: its row of the maker that no network learns alone.
//! buzz thresholds FOLDER TAKES_PER_GUITAR: what thresholds give with these networks, on other takes.

mod ears;
#[path = "../training/file.rs"]
mod file;
mod judged;
mod measure;
mod real;
mod recorded;
mod table;
mod takes;
mod thresholds;
#[path = "../training/treble.rs"]
mod treble;

use std::path::Path;

use ringtrue::synth::buzz::contact;
use ringtrue::synth::notes;

use measure::{measure, unlearnt};
use real::real_strums;
use recorded::Recorded;
use table::{Counts, table};
use takes::HELD_OUT;
use thresholds::thresholds;

fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let mut guitars = notes::all(Path::new("fixtures"))?;
    notes::leave_contact_out(&mut guitars);
    let contact = contact::load(Path::new("fixtures/contact"))?;
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words[..] {
        ["table", out, conditions, takes, seed, ref more @ ..] if more.len() < 5 => {
            let number = |at: usize| more.get(at).map_or(Ok(0), |a| a.parse::<usize>());
            let counts = Counts {
                takes: takes.parse()?,
                drawn: number(0)?,
                drawn_takes: number(1)?,
                mixed: number(2)?,
                laid: number(3)?,
            };
            table(
                guitars,
                &contact::without(&contact, &HELD_OUT),
                (out, conditions == "train"),
                counts,
                seed.parse()?,
            )
        }
        ["real", folder] => real_strums(Path::new(folder)),
        [
            what @ ("measure" | "thresholds" | "unlearnt"),
            folder,
            takes,
        ] => {
            let recorded = Recorded {
                guitars: &guitars,
                contact: &contact,
                folder: Path::new(folder),
                takes: takes.parse()?,
            };
            match what {
                "measure" => measure(&recorded),
                "unlearnt" => unlearnt(&recorded),
                _ => thresholds(&recorded),
            }
        }
        _ => anyhow::bail!(
            "table, measure, unlearnt or thresholds expected, and what scripts/buzz.rs says"
        ),
    }
}
