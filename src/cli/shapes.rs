//! `ringtrue shapes`: lists, draws and names the ways to play a chord.

use std::io::Write;
use std::process::ExitCode;

use anyhow::{Result, bail};
use serde::Serialize;

use super::chord::TuningArgs;
use super::guitar::{GuitarArgs, tuning_of};
use crate::fretboard::library::{self, HIGHEST_LISTED};
use crate::fretboard::{
    Barre, ChordName, Diagram, Fingering, Frets, Named, NoteName, Quality, STRINGS, Shape, Tuning,
    Voicing, string_number,
};
use crate::report::voicings::rows;
use crate::words;
use crate::words::help::shapes as help;

/// Frets up or down that still count as around one: the hand's four fingers cover about as much
/// (common practice).
const REACH: u8 = 2;
/// Kinds of chord listed where no chord is asked for: the first ones of [`Quality::ALL`].
const EVERYDAY: usize = 8;

/// Arguments of `ringtrue shapes`.
#[derive(Debug, Clone, clap::Args)]
#[command(
    about = help::ABOUT,
    long_about = help::LONG_ABOUT,
    after_help = help::AFTER
)]
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
    let profile = args.guitar.profile()?;
    let usual = profile.as_ref().map(tuning_of).unwrap_or_default();
    let tuning = args.tuning.tuning_from(usual)?;
    if args.json {
        serde_json::to_writer(&mut *out, &json(args, &tuning)?)?;
        writeln!(out)?;
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
        sections.extend(overview(args, tuning));
    }
    if args.notes {
        sections.push(notes_along(&args.note_strings(), tuning));
    }
    Ok(sections.join("\n\n"))
}

/// `Bb: Bb D F`, and how it sounds above a capo.
fn heading(chord: &ChordName, tuning: &Tuning) -> String {
    let tones: Vec<String> = chord.tones().iter().map(NoteName::to_string).collect();
    format!("{chord}: {}{}", tones.join(" "), sounding(chord, tuning))
}

/// How a chord sounds above a capo, empty without one.
fn sounding(chord: &ChordName, tuning: &Tuning) -> String {
    match tuning.capo {
        0 => String::new(),
        capo => words::shapes::with_capo(capo, chord.transposed(capo)),
    }
}

/// Frets with their name and picture.
fn named(frets: &Frets, left: bool, tuning: &Tuning) -> String {
    let Some(name) = library::name_voicing(frets, tuning) else {
        let picture = Diagram::of(frets).left_handed(left);
        return words::shapes::no_name(frets, picture);
    };
    let chord = name.chord;
    let place = name
        .describe()
        .map_or(String::new(), |place| format!(", {place}"));
    let known = library::voicing_of(frets, tuning);
    let picture = match &known {
        Some(voicing) => Diagram::of_voicing(voicing),
        None => Diagram::of(frets),
    };
    let picture = picture
        .notes(library::spelled(frets, &chord, tuning))
        .left_handed(left);
    let sounding = sounding(&chord, tuning);
    let called = words::shapes::frets_are(frets, chord, place, sounding);
    format!("{called}\n\n{picture}\n\n{}", Diagram::LEGEND)
}

/// Pictures with their captions, several abreast.
fn pictures(voicings: &[Voicing], left: bool, tuning: &Tuning) -> String {
    let blocks: Vec<Vec<String>> = voicings
        .iter()
        .map(|voicing| {
            let quiet = match voicing.may_go_quiet {
                Some(string) => words::shapes::may_go_quiet(string),
                None => String::new(),
            };
            let picture = Diagram::of_voicing(voicing)
                .notes(voicing.notes(tuning))
                .left_handed(left)
                .to_string();
            let captions = [
                format!("{}  {}", voicing.chord, voicing.frets),
                voicing.describe(),
                words::shapes::root_on(voicing.root_string),
                quiet,
            ];
            let picture = picture.lines().map(str::to_owned);
            captions.into_iter().chain(picture).collect()
        })
        .collect();
    format!("{}\n\n{}", rows(&blocks), Diagram::LEGEND)
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

/// The voicings on the root that their shape is named for, as low as they go: E chords in the E
/// shape. On strings tuned up or down the name moves with them.
fn on_own_root(voicings: &[Voicing], tuning: &Tuning) -> Vec<Voicing> {
    let mut own = voicings.to_vec();
    own.retain(|v| {
        let Some(shape) = v.shape else {
            return false;
        };
        let index = STRINGS - usize::from(v.root_string);
        let named_for = i16::from(shape.root().pitch_class()) + tuning.above_standard(index);
        v.at < HIGHEST_LISTED && i16::from(v.chord.root.pitch_class()) == named_for.rem_euclid(12)
    });
    own
}

fn everyday(voicing: &Voicing) -> bool {
    Quality::ALL[..EVERYDAY].contains(&voicing.chord.quality)
}

/// One line for each shape at each fret, with the chords that it gives there.
fn places(voicings: &[Voicing]) -> String {
    let mut places: Vec<(u8, Shape)> = voicings
        .iter()
        .filter_map(|v| Some((v.at, v.shape?)))
        .collect();
    places.sort();
    places.dedup();
    let mut lines = vec![words::shapes::BY_FRET_HEAD.to_owned()];
    for (at, shape) in places {
        let here = voicings
            .iter()
            .filter(|v| (v.at, v.shape) == (at, Some(shape)));
        let mut chords: Vec<String> = Vec::new();
        for chord in here.map(|v| v.chord.to_string()) {
            if !chords.contains(&chord) {
                chords.push(chord);
            }
        }
        lines.push(format!("{at:>4}  {shape:<5}  {}", chords.join(" ")));
    }
    lines.join("\n")
}

/// The movable shapes, the open chords, and the notes along strings 6 and 5.
fn overview(args: &Args, tuning: &Tuning) -> Vec<String> {
    let all = library::all(tuning);
    let own = on_own_root(&all, tuning);
    let qualities = &Quality::ALL[..EVERYDAY];
    let label = |quality: &Quality| match quality.symbol() {
        "" => words::shapes::MAJOR,
        "m" => words::shapes::MINOR,
        "5" => words::shapes::POWER,
        symbol => symbol,
    };
    let mut table = words::shapes::SHAPE_AND_ROOT.to_owned();
    for quality in qualities {
        table.push_str(&format!("  {:<6}", label(quality)));
    }
    for shape in Shape::ALL {
        let held = |quality: &Quality| {
            own.iter()
                .find(|v| v.shape == Some(shape) && v.chord.quality == *quality)
        };
        let Some(root) = qualities.iter().find_map(held) else {
            continue;
        };
        table.push_str(&format!("\n{shape:<5}  {:<4}", root.root_string));
        for quality in qualities {
            let frets = held(quality).map_or("-".to_owned(), |v| v.frets.to_string());
            table.push_str(&format!("  {frets:<6}"));
        }
    }
    let open: Vec<String> = all
        .iter()
        .filter(|v| v.shape.is_none())
        .map(|v| format!("{:<6} {}", v.chord, v.frets))
        .collect();
    let table: Vec<&str> = table.lines().map(str::trim_end).collect();
    let mut sections = vec![match own.is_empty() {
        true => words::shapes::NO_SHAPE_HOLDS.to_owned(),
        false => words::shapes::movable_shapes(table.join("\n")),
    }];
    if !open.is_empty() {
        let rows: Vec<String> = open.chunks(4).map(|row| columns(row, 18)).collect();
        sections.push(words::shapes::other_open(rows.join("\n")));
    }
    sections.push(notes_along(&args.note_strings(), tuning));
    if !own.is_empty() {
        sections.push(words::shapes::TO_SEE_ONE.to_owned());
    }
    sections
}

fn columns(cells: &[String], width: usize) -> String {
    let row: String = cells.iter().map(|cell| format!("{cell:<width$}")).collect();
    row.trim_end().to_owned()
}

/// The notes of each fret from 0 to 12, as the fingers play them above the capo: the neck upright,
/// as in the pictures.
fn notes_along(strings: &[usize], tuning: &Tuning) -> String {
    let mut lines = vec![words::picture::FRET.to_owned()];
    lines.extend((0..=HIGHEST_LISTED).map(|fret| format!("{fret:>4}")));
    for &index in strings {
        lines[0].push_str(&format!(
            "  {}",
            words::grammar::string(string_number(index))
        ));
        for (line, names) in lines[1..].iter_mut().zip(along(index, tuning)) {
            line.push_str(&format!("  {:<8}", names.join(" / ")));
        }
    }
    let lines: Vec<&str> = lines.iter().map(|line| line.trim_end()).collect();
    let counted = match tuning.capo {
        0 => String::new(),
        capo => words::shapes::named_by_capo(capo),
    };
    words::shapes::notes_along(&counted, lines.join("\n"))
}

/// The names of the note at each fret of a string: one, or two with a sharp and a flat.
fn along(index: usize, tuning: &Tuning) -> Vec<Vec<String>> {
    (0..=HIGHEST_LISTED)
        .map(|fret| {
            let (sharp, flat) = NoteName::both((tuning.open[index] + fret) % 12);
            let mut names = vec![sharp.to_string(), flat.to_string()];
            names.dedup();
            names
        })
        .collect()
}

/// What `--json` prints.
#[derive(Serialize)]
struct JsonShapes {
    /// MIDI notes of the open strings 6 to 1, without capo.
    open: [u8; STRINGS],
    capo: u8,
    #[serde(skip_serializing_if = "Option::is_none")]
    named: Option<JsonNamed>,
    voicings: Vec<JsonVoicing>,
    /// Notes along the strings, fret 0 first.
    notes: Vec<JsonNotes>,
}

/// `--frets` given back with its name; `name` is null where it has none.
#[derive(Serialize)]
struct JsonNamed {
    frets: Frets,
    name: Option<Named>,
}

#[derive(Serialize)]
struct JsonNotes {
    string: u8,
    frets: Vec<Vec<String>>,
}

#[derive(Serialize)]
struct JsonVoicing {
    chord: ChordName,
    sounds_as: ChordName,
    shape: Option<Shape>,
    at: u8,
    root_string: u8,
    frets: Frets,
    fingers: Fingering,
    barres: Vec<Barre>,
    may_go_quiet: Option<u8>,
    notes: [Option<String>; STRINGS],
    /// MIDI notes that sound, the capo included.
    midi: [Option<u8>; STRINGS],
}

fn json(args: &Args, tuning: &Tuning) -> Result<JsonShapes> {
    let mut named = None;
    let voicings = match (&args.frets, &args.chord) {
        (Some(frets), _) => {
            tuning.reaches(frets)?;
            let name = library::name_voicing(frets, tuning);
            named = Some(JsonNamed {
                frets: *frets,
                name,
            });
            library::voicing_of(frets, tuning).into_iter().collect()
        }
        (None, Some(chord)) => args.voicings(chord, tuning)?,
        (None, None) => {
            let mut all = library::all(tuning);
            all.retain(|v| args.wants(v));
            all
        }
    };
    let notes = args.note_strings().into_iter().map(|index| JsonNotes {
        string: string_number(index),
        frets: along(index, tuning),
    });
    Ok(JsonShapes {
        open: tuning.open,
        capo: tuning.capo,
        named,
        voicings: voicings.iter().map(|v| json_voicing(v, tuning)).collect(),
        notes: notes.collect(),
    })
}

fn json_voicing(voicing: &Voicing, tuning: &Tuning) -> JsonVoicing {
    let mut midi = [None; STRINGS];
    for (index, fret) in voicing.frets.sounding() {
        midi[index] = Some(tuning.midi(index, fret));
    }
    JsonVoicing {
        chord: voicing.chord,
        sounds_as: voicing.chord.transposed(tuning.capo),
        shape: voicing.shape,
        at: voicing.at,
        root_string: voicing.root_string,
        frets: voicing.frets,
        fingers: voicing.fingering,
        barres: voicing.barres(),
        may_go_quiet: voicing.may_go_quiet,
        notes: voicing.notes(tuning).map(|n| n.map(|n| n.to_string())),
        midi,
    }
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
