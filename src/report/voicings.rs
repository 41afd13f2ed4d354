//! Chord pictures in rows.

use std::io::{self, Write};

use crate::fretboard::library::voicing_of;
use crate::fretboard::{Diagram, Frets, Tuning, Voicing};

/// Pictures side by side: three fit a terminal of 80 columns.
const ABREAST: usize = 3;

/// The lines of one picture, with fingers and notes.
fn lines(voicing: &Voicing, left: bool, tuning: &Tuning) -> Vec<String> {
    let picture = Diagram::of_voicing(voicing)
        .notes(voicing.notes(tuning))
        .left_handed(left);
    picture.to_string().lines().map(str::to_owned).collect()
}

/// The lines of the picture of frets: as the library fingers them where it knows them.
pub fn picture(frets: &Frets, left: bool, tuning: &Tuning) -> Vec<String> {
    match voicing_of(frets, tuning) {
        Some(voicing) => lines(&voicing, left, tuning),
        None => {
            let picture = Diagram::of(frets).left_handed(left);
            picture.to_string().lines().map(str::to_owned).collect()
        }
    }
}

/// Each voicing once, in the order of their first use.
pub fn each_once<'a>(voicings: impl IntoIterator<Item = &'a Voicing>) -> Vec<&'a Voicing> {
    let mut once: Vec<&Voicing> = Vec::new();
    for voicing in voicings {
        if once.iter().all(|known| known.frets != voicing.frets) {
            once.push(voicing);
        }
    }
    once
}

/// Writes pictures side by side, each under its chord's name, and what their signs mean; `left`: as a left-handed player sees the neck.
///
/// # Errors
/// Where `out` cannot be written.
pub fn abreast(
    out: &mut dyn Write,
    voicings: &[&Voicing],
    left: bool,
    tuning: &Tuning,
) -> io::Result<()> {
    let drawn: Vec<Vec<String>> = (voicings.iter())
        .map(|voicing| {
            let name = format!("    {}", voicing.chord);
            let picture = lines(voicing, left, tuning);
            std::iter::once(name).chain(picture).collect()
        })
        .collect();
    writeln!(out, "{}\n\n{}", rows(&drawn), Diagram::LEGEND)
}

/// Blocks of lines side by side, in rows with an empty line between; lines that are empty in all blocks of a row
/// are left out.
pub fn rows(blocks: &[Vec<String>]) -> String {
    let row = |blocks: &[Vec<String>]| {
        let height = blocks.iter().map(Vec::len).max().unwrap_or(0);
        let lines = (0..height).map(|line| {
            let cells = blocks.iter().map(|block| {
                let cell = block.get(line).map_or("", String::as_str);
                format!("{cell:<width$} ", width = Diagram::WIDTH)
            });
            cells.collect::<String>().trim_end().to_owned()
        });
        let lines: Vec<String> = lines.filter(|line| !line.is_empty()).collect();
        lines.join("\n")
    };
    let rows: Vec<String> = blocks.chunks(ABREAST).map(row).collect();
    rows.join("\n\n")
}
