//! Results of listening, chord by chord, told when it is over.

use std::io::{self, Write};

use super::picture::paragraph;
use crate::fretboard::{Frets, STRINGS, string_number};
use crate::verdict::{ALL_STRINGS, JudgedTake, clean};
use crate::words;

/// Counts over the takes of one chord.
#[derive(Debug, Clone, PartialEq)]
pub struct ChordTally {
    chord: Option<String>,
    frets: Frets,
    takes: u32,
    clean: u32,
    /// Takes of which it could not be told.
    open: u32,
    faults: [u32; STRINGS],
}

impl ChordTally {
    /// Counts a take to its chord.
    pub fn count(tallies: &mut Vec<ChordTally>, take: &JudgedTake) {
        let same = |t: &ChordTally| t.frets == take.frets && t.chord == take.chord;
        let at = tallies.iter().position(same).unwrap_or_else(|| {
            tallies.push(ChordTally {
                chord: take.chord.clone(),
                frets: take.frets,
                takes: 0,
                clean: 0,
                open: 0,
                faults: [0; STRINGS],
            });
            tallies.len() - 1
        });
        let tally = &mut tallies[at];
        tally.takes += 1;
        match clean(take, &ALL_STRINGS) {
            Some(clean) => tally.clean += u32::from(clean),
            None => tally.open += 1,
        }
        for (count, string) in tally.faults.iter_mut().zip(&take.strings) {
            *count += u32::from(string.verdict.is_fault());
        }
    }

    fn name(&self) -> String {
        let no_frets = self.frets.sounding().next().is_none();
        match &self.chord {
            Some(chord) if no_frets => chord.clone(),
            Some(chord) => format!("{chord} ({})", self.frets),
            None if no_frets => words::summary::UNNAMED_CHORDS.to_owned(),
            None => self.frets.to_string(),
        }
    }

    /// "7 takes of F (133211), 4 clean; string 2 had a fault in 3, string 1 in 1."
    fn sentence(&self) -> String {
        let takes = words::grammar::takes(self.takes as usize);
        let open = match self.open {
            0 => String::new(),
            n => words::summary::not_judged(n),
        };
        let mut faults: Vec<(u32, u8)> = (self.faults.iter().enumerate())
            .filter(|(_, count)| **count > 0)
            .map(|(i, count)| (*count, string_number(i)))
            .collect();
        faults.sort_by_key(|(count, _)| std::cmp::Reverse(*count));
        let faults: Vec<String> = (faults.iter().enumerate())
            .map(|(i, (count, string))| match i {
                0 => words::summary::fault_in(string, count),
                _ => words::summary::string_in(string, count),
            })
            .collect();
        words::summary::takes_of(&takes, self.name(), self.clean, &open, faults.concat())
    }
}

/// Writes what came of the chords, and what to type next.
///
/// # Errors
/// Where `out` cannot be written.
pub fn summary(out: &mut dyn Write, tallies: &[ChordTally]) -> io::Result<()> {
    if tallies.is_empty() {
        return Ok(());
    }
    writeln!(out)?;
    for tally in tallies {
        paragraph(out, &tally.sentence())?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verdict::Verdict;
    use crate::verdict::Warning;
    use crate::verdict::examples::{bb, not_judged, with};

    #[test]
    fn takes_are_counted_to_their_chords_and_the_worst_string_comes_first() {
        let mut tallies = Vec::new();
        ChordTally::count(&mut tallies, &bb());
        for strings in [&[3][..], &[3, 2]] {
            let take = (strings.iter()).fold(bb(), |t, &s| with(t, s, Verdict::Muted, 0.9));
            ChordTally::count(&mut tallies, &take);
        }
        ChordTally::count(
            &mut tallies,
            &not_judged(Warning::TooQuiet { peak_dbfs: -60.0 }),
        );
        let mut out = Vec::new();
        summary(&mut out, &tallies).unwrap();
        let text = String::from_utf8(out).unwrap();
        insta::assert_snapshot!(text.trim(), @r"
        4 takes of Bb (x13331), 1 clean, 1 not judged; string 3 had
        a fault in 2, string 2 in 1.
        ");
    }
}
