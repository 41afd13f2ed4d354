//! `ringtrue shapes`: lists, draws and names the ways to play a chord.

use std::io::Write;
use std::process::ExitCode;

use anyhow::{Result, bail};

use super::guitar::{GuitarArgs, TuningArgs};
use crate::fretboard::library::{self, HIGHEST_LISTED};
use crate::fretboard::{ChordName, Frets, Quality, STRINGS, Shape, Tuning, Voicing};
use crate::report::json::json_line;
use crate::report::shapes::{
    everyday, heading, json, named, notes_along, on_own_root, overview, pictures, places,
};
use crate::words;
use crate::words::help::shapes as help;

/// Frets up or down that still count as around one: the hand's four fingers cover about as much
/// (common practice).
const REACH: u8 = 2;

/// Arguments of `ringtrue shapes`.
#[derive(Debug, Clone, clap::Args)]
#[command(about = help::ABOUT, long_about = help::LONG_ABOUT, after_help = help::AFTER)]
pub struct Args {
    #[arg(conflicts_with = "frets", help = help::CHORD)]
    chord: Option<ChordName>,
    #[arg(long, help = help::FRETS)]
    frets: Option<Frets>,
    #[arg(long, conflicts_with = "frets", help = help::SHAPE)]
    shape: Option<Shape>,
    #[arg(
        long,
        value_name = "STRING",
        value_parser = clap::value_parser!(u8).range(4..=6),
        conflicts_with = "frets",
        help = help::ROOT_STRING,
    )]
    root_string: Option<u8>,
    #[arg(
        long,
        value_name = "FRET",
        value_parser = clap::value_parser!(u8).range(0..=i64::from(HIGHEST_LISTED)),
        conflicts_with = "frets",
        help = help::AROUND,
    )]
    around: Option<u8>,
    #[arg(long, help = help::NOTES)]
    notes: bool,
    #[arg(long, help = help::LEFT)]
    left: bool,
    #[command(flatten)]
    tuning: TuningArgs,
    #[command(flatten)]
    guitar: GuitarArgs,
    #[arg(long, help = help::JSON)]
    json: bool,
}

/// Runs the command, writing to `out`.
///
/// # Errors
/// Where no voicing fits what was asked, where the capo is out of range, or `out` fails.
pub fn run(args: &Args, out: &mut impl Write) -> Result<ExitCode> {
    let guitar = args.guitar.guitar()?;
    let tuning = args.tuning.tuning(guitar.tuning())?;
    if args.json {
        let voicings = voicings(args, &tuning)?;
        let object = json(
            &voicings,
            args.frets.as_ref(),
            &args.note_strings(),
            &tuning,
        );
        json_line(out, &object)?;
    } else {
        let text = text(args, &tuning)?;
        writeln!(out, "{}", text.trim_end())?;
    }
    Ok(ExitCode::SUCCESS)
}

impl Args {
    /// Whether a voicing passes the options that narrow the list.
    fn wants(&self, voicing: &Voicing) -> bool {
        self.shape.is_none_or(|shape| voicing.shape == Some(shape))
            && self.root_string.is_none_or(|s| voicing.root_string == s)
            && self
                .around
                .is_none_or(|fret| voicing.at.abs_diff(fret) <= REACH)
    }

    fn narrows(&self) -> bool {
        self.shape.is_some() || self.root_string.is_some() || self.around.is_some()
    }

    /// The voicings of a chord that are wanted.
    fn voicings(&self, chord: &ChordName, tuning: &Tuning) -> Result<Vec<Voicing>> {
        let mut all = library::voicings(chord, tuning);
        if all.is_empty() {
            // Gives the reason.
            library::voicing_for(chord, None, None, tuning)?;
        }
        let mut known: Vec<String> = all
            .iter()
            .map(|v| words::shapes::with_root(v.frets, v.describe(), v.root_string))
            .collect();
        known.dedup();
        all.retain(|v| self.wants(v));
        if all.is_empty() {
            bail!(words::shapes::no_voicing(chord, known.join("; ")));
        }
        Ok(all)
    }

    /// The strings whose notes are printed, as indices.
    fn note_strings(&self) -> Vec<usize> {
        match self.root_string {
            Some(string) => vec![STRINGS - usize::from(string)],
            None => vec![0, 1],
        }
    }
}

/// Everything printed for people.
fn text(args: &Args, tuning: &Tuning) -> Result<String> {
    let mut sections = Vec::new();
    if let Some(frets) = &args.frets {
        tuning.reaches(frets)?;
        sections.push(named(frets, args.left, tuning));
    } else if let Some(chord) = &args.chord {
        let voicings = args.voicings(chord, tuning)?;
        sections.push(heading(chord, tuning));
        sections.push(pictures(&voicings, args.left, tuning));
    } else if args.notes {
        // The notes alone, which follow below.
    } else if args.narrows() {
        sections.extend(without_chord(args, tuning)?);
    } else {
        sections.extend(overview(&args.note_strings(), tuning));
    }
    if args.notes {
        sections.push(notes_along(&args.note_strings(), tuning));
    }
    Ok(sections.join("\n\n"))
}

/// The shapes that are wanted where no chord is asked for: those around a fret, or each shape on
/// its own root.
fn without_chord(args: &Args, tuning: &Tuning) -> Result<Vec<String>> {
    let mut wanted = library::all(tuning);
    wanted.retain(|v| args.wants(v) && v.shape.is_some() && everyday(v));
    if wanted.is_empty() {
        bail!(words::shapes::NOTHING_FITS);
    }
    let Some(fret) = args.around else {
        let own = on_own_root(&wanted, tuning);
        return Ok(vec![pictures(&own, args.left, tuning)]);
    };
    // Around a fret there are many: all are listed, the plain ones at the fret itself are drawn.
    let mut sections = vec![places(&wanted)];
    wanted.retain(|v| v.at == fret && matches!(v.chord.quality, Quality::Major | Quality::Minor));
    if !wanted.is_empty() {
        sections.push(pictures(&wanted, args.left, tuning));
    }
    Ok(sections)
}

/// The voicings that `--json` prints.
fn voicings(args: &Args, tuning: &Tuning) -> Result<Vec<Voicing>> {
    Ok(match (&args.frets, &args.chord) {
        (Some(frets), _) => {
            tuning.reaches(frets)?;
            library::voicing_of(frets, tuning).into_iter().collect()
        }
        (None, Some(chord)) => args.voicings(chord, tuning)?,
        (None, None) => {
            let mut all = library::all(tuning);
            all.retain(|v| args.wants(v));
            all
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::Parser;

    #[derive(Parser)]
    struct Command {
        #[command(flatten)]
        args: Args,
    }

    fn shapes(words: &[&str]) -> Result<String> {
        let command = Command::try_parse_from([&["shapes"], words].concat())?;
        let mut out = Vec::new();
        run(&command.args, &mut out)?;
        Ok(String::from_utf8(out)?)
    }

    #[test]
    fn every_line_fits_a_terminal_of_eighty_columns() {
        for words in [
            &[][..],
            &["F#"],
            &["Bbmaj7", "--left"],
            &["--around", "9"],
            &["--shape", "G"],
        ] {
            let text = shapes(words).unwrap();
            for line in text.lines() {
                assert!(line.chars().count() <= 80, "{words:?}: {line}");
                assert_eq!(line.trim_end(), line);
            }
        }
    }

    #[test]
    fn options_narrow_the_list() {
        let count = |words: &[&str]| {
            let json: serde_json::Value =
                serde_json::from_str(&shapes(&[words, &["--json"]].concat()).unwrap()).unwrap();
            json["voicings"].as_array().unwrap().len()
        };
        let all = count(&["C"]);
        assert_eq!(count(&["C", "--shape", "A"]), 2, "two fingerings");
        assert_eq!(count(&["C", "--shape", "E", "--root-string", "6"]), 1);
        assert_eq!(count(&["C", "--around", "4"]), 3, "A twice at 3, G at 5");
        let by_string = ["6", "5", "4"].map(|string| count(&["C", "--root-string", string]));
        assert_eq!(by_string.iter().sum::<usize>(), all);
    }

    #[test]
    fn a_capo_is_said_in_the_sounding_name() {
        let text = shapes(&["G", "--capo", "3"]).unwrap();
        assert!(
            text.starts_with("G: G B D, with the capo at 3 it sounds as Bb\n"),
            "{text}"
        );
        let named = shapes(&["--frets", "x13331"]).unwrap();
        assert!(
            named.starts_with("x13331 is Bb, A shape at fret 1\n"),
            "{named}"
        );
        let none = shapes(&["--frets", "012345"]).unwrap();
        assert!(
            none.starts_with("012345 spells no chord that has a name"),
            "{none}"
        );
    }

    #[test]
    fn notes_are_printed_along_the_roots_of_barre_chords() {
        let notes = shapes(&["--notes"]).unwrap();
        assert!(notes.contains("\n   3  G         C\n"), "{notes}");
        assert!(!notes.contains('╤'), "the notes alone");
        assert!(
            shapes(&["F", "--notes"])
                .unwrap()
                .contains("   1  F         A# / Bb")
        );
    }

    #[test]
    fn what_does_not_exist_is_said() {
        let error = |words: &[&str]| shapes(words).unwrap_err().to_string();
        assert!(error(&["H#"]).contains("the German H is B"));
        assert!(error(&["Bb", "--frets", "x13331"]).contains("cannot be used with"));
        assert!(error(&["B7#9", "--shape", "G"]).contains("choose from: "));
        assert!(error(&["--root-string", "6", "--shape", "A"]).contains("no shape fits"));
        assert!(error(&["--capo", "13"]).contains("a fret from 0 to 12 was expected"));
        assert!(
            error(&["--frets", "x13331", "--capo", "13"])
                .contains("a fret from 0 to 12 was expected")
        );
        assert!(error(&["--frets", "x 20 22 22 22 20", "--capo", "7"]).contains("past the end"));
        assert!(error(&["E7#9", "--tuning", "openg"]).contains("in this tuning"));
    }
}
