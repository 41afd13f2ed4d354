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

/// Writes pictures side by side, each under its chord's name; `left`: as a left-handed player sees the neck.
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
            let mut picture = vec![format!("    {}", voicing.chord)];
            picture.extend(lines(voicing, left, tuning));
            picture
        })
        .collect();
    for (number, row) in drawn.chunks(ABREAST).enumerate() {
        if number > 0 {
            writeln!(out)?;
        }
        let height = row.iter().map(Vec::len).max().unwrap_or(0);
        for line in 0..height {
            let cells = row
                .iter()
                .map(|lines| lines.get(line).map_or("", String::as_str));
            let joined: String = cells
                .map(|cell| format!("{cell:<width$}", width = Diagram::WIDTH))
                .collect();
            writeln!(out, "{}", joined.trim_end())?;
        }
    }
    Ok(())
}
