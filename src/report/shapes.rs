//! Ways to play a chord: pictures, tables of shapes, notes along the strings; and all of it as JSON.

use serde::Serialize;

use super::voicings::rows;
use crate::fretboard::library::{self, HIGHEST_LISTED};
use crate::fretboard::{
    Barre, ChordName, Diagram, Fingering, Frets, Named, NoteName, Quality, STRINGS, Shape, Tuning,
    Voicing, string_number,
};
use crate::words;

/// Kinds of chord listed where no chord is asked for: the first ones of [`Quality::ALL`].
const EVERYDAY: usize = 8;

/// `Bb: Bb D F`, and how it sounds above a capo.
pub fn heading(chord: &ChordName, tuning: &Tuning) -> String {
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
pub fn named(frets: &Frets, left: bool, tuning: &Tuning) -> String {
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
pub fn pictures(voicings: &[Voicing], left: bool, tuning: &Tuning) -> String {
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

/// The voicings on the root that their shape is named for, as low as they go: E chords in the E
/// shape. On strings tuned up or down the name moves with them.
pub fn on_own_root(voicings: &[Voicing], tuning: &Tuning) -> Vec<Voicing> {
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

/// Tells whether a chord is of a kind that is listed where no chord is asked for.
pub fn everyday(voicing: &Voicing) -> bool {
    Quality::ALL[..EVERYDAY].contains(&voicing.chord.quality)
}

/// One line for each shape at each fret, with the chords that it gives there.
pub fn places(voicings: &[Voicing]) -> String {
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

/// The movable shapes, the open chords, and the notes along some strings.
pub fn overview(strings: &[usize], tuning: &Tuning) -> Vec<String> {
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
    sections.push(notes_along(strings, tuning));
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
pub fn notes_along(strings: &[usize], tuning: &Tuning) -> String {
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

/// All that was asked for, for programs.
#[derive(Serialize)]
pub struct JsonShapes {
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

/// Gives voicings, notes along `strings` (as indices) and the name of frets that were given, where they were, for programs.
pub fn json(
    voicings: &[Voicing],
    frets: Option<&Frets>,
    strings: &[usize],
    tuning: &Tuning,
) -> JsonShapes {
    let notes = strings.iter().map(|&index| JsonNotes {
        string: string_number(index),
        frets: along(index, tuning),
    });
    JsonShapes {
        open: tuning.open,
        capo: tuning.capo,
        named: frets.map(|frets| JsonNamed {
            frets: *frets,
            name: library::name_voicing(frets, tuning),
        }),
        voicings: voicings.iter().map(|v| json_voicing(v, tuning)).collect(),
        notes: notes.collect(),
    }
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
