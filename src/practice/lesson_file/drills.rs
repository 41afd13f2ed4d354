//! The kinds of step that are of single chords; [`super::songs`] has the others.

use std::ops::{Range, RangeInclusive};

use toml::de::DeValue;

use super::chords::{chords, movable, target};
use super::fields::{Fields, Page, choice, required, text};
use crate::fretboard::library::{self, HIGHEST_LISTED};
use crate::fretboard::{
    ChordName, Frets, NoteName, Quality, Shape, Tuning, shortened, string_number,
};
use crate::practice::lesson::{BuildStage, Drill, Order, Target};
use crate::words;

pub(super) const TRIES: RangeInclusive<u32> = 1..=20;
pub(super) const ROUNDS: RangeInclusive<u32> = 1..=50;

pub(super) fn build(page: &mut Page, fields: &mut Fields, tuning: &Tuning) -> Option<Drill> {
    let target = target(page, fields, tuning);
    let stages = match fields.list(page, "stages", "[\"barre\", \"together\"]") {
        Some(list) => list
            .into_iter()
            .filter_map(|value| choice(page, value, "stages", &BuildStage::ALL, BuildStage::word))
            .collect(),
        None => BuildStage::ALL.to_vec(),
    };
    let (target, span) = target?;
    let voicing = target.voicing.as_ref();
    let Some((voicing, barre)) = voicing.and_then(|v| Some((v, v.barre()?))) else {
        page.wrong(span, words::lesson_file::needs_barre(&target));
        return None;
    };
    let held = |string: u8| (barre.to_string..=barre.from_string).contains(&string);
    let alone = std::array::from_fn(|i| held(string_number(i)).then_some(barre.fret));
    let shape = std::array::from_fn(|i| {
        voicing.fingering.0[i].is_some() && !voicing.held_by_barre_alone(i)
    });
    Some(Drill::Build {
        barre: Frets(alone),
        shape,
        stages,
        target,
    })
}

pub(super) fn place(page: &mut Page, fields: &mut Fields, tuning: &Tuning) -> Option<Drill> {
    let (target, _) = target(page, fields, tuning)?;
    Some(Drill::Place { target })
}

pub(super) fn climb(page: &mut Page, fields: &mut Fields, tuning: &Tuning) -> Option<Drill> {
    let shape = required(page, fields, "shape", "\"E\"");
    let quality = quality(page, fields);
    let frets = fret_range(page, fields);
    let order = match fields.get("order") {
        Some(value) => choice(page, value, "order", &Order::ALL, Order::word),
        None => Some(Order::Up),
    };
    let tries = tries(page, fields);
    let (shape, quality, frets) = (shape?, quality?, frets?);
    let places: Vec<Target> = frets
        .filter_map(|at| movable(shape, quality, at, tuning))
        .map(Target::from)
        .collect();
    if places.is_empty() {
        page.wrong(fields.span.clone(), no_such_shape(shape, quality));
        return None;
    }
    Some(Drill::Climb {
        places,
        order: order?,
        tries,
    })
}

fn no_such_shape(shape: Shape, quality: Quality) -> String {
    words::lesson_file::none_known_there(library::shape_name(shape, quality))
}

pub(super) fn name(page: &mut Page, fields: &mut Fields, tuning: &Tuning) -> Option<Drill> {
    let string = fields.number(page, "string", 5..=6, words::lesson_file::STRING_OF_ROOTS);
    if !fields.has("string") {
        page.wrong(fields.span.clone(), words::lesson_file::WHICH_STRING);
    }
    let quality = quality(page, fields);
    let frets = fret_range(page, fields);
    let tries = tries(page, fields);
    let asked: Option<Vec<(NoteName, Range<usize>)>> =
        fields.list(page, "roots", "[\"G\", \"Bb\"]").map(|list| {
            let mut roots = Vec::new();
            for value in list {
                let Some(text) = text(page, value, "roots") else {
                    continue;
                };
                match text.parse::<ChordName>() {
                    Ok(chord) if chord.quality == Quality::Major && chord.bass.is_none() => {
                        roots.push((chord.root, value.span()));
                    }
                    _ => page.wrong(
                        value.span(),
                        words::lesson_file::root_is_a_note(shortened(&text)),
                    ),
                }
            }
            roots
        });
    let (string, quality, frets) = (string? as u8, quality?, frets?);
    let shape = if string == 6 { Shape::E } else { Shape::A };
    let answers: Vec<Target> = frets
        .filter_map(|at| movable(shape, quality, at, tuning))
        .filter(|voicing| voicing.root_string == string)
        .map(Target::from)
        .collect();
    if answers.is_empty() {
        page.wrong(fields.span.clone(), no_such_shape(shape, quality));
        return None;
    }
    let there = |root: NoteName| {
        answers
            .iter()
            .filter_map(|a| a.chord)
            .any(|c| c.root.pitch_class() == root.pitch_class())
    };
    let roots = match asked {
        Some(asked) => {
            for (root, span) in &asked {
                if !there(*root) {
                    page.wrong(
                        span.clone(),
                        words::lesson_file::root_not_there(root, string),
                    );
                }
            }
            asked.into_iter().map(|(root, _)| root).collect()
        }
        None => {
            let mut roots: Vec<NoteName> = Vec::new();
            for chord in answers.iter().filter_map(|a| a.chord) {
                if roots
                    .iter()
                    .all(|r| r.pitch_class() != chord.root.pitch_class())
                {
                    roots.push(chord.root);
                }
            }
            roots
        }
    };
    Some(Drill::Name {
        string,
        roots,
        answers,
        tries,
    })
}

pub(super) fn switch(page: &mut Page, fields: &mut Fields, tuning: &Tuning) -> Option<Drill> {
    let span = fields.span.clone();
    let chords = if fields.has("by") {
        by(page, fields, tuning)
    } else {
        chords(page, fields, tuning)
    };
    let chords = chords?;
    let distinct = chords.iter().any(|c| c.frets != chords[0].frets);
    let repeats =
        (0..chords.len()).any(|i| chords[i].frets == chords[(i + 1) % chords.len()].frets);
    if !distinct || repeats {
        page.wrong(span, words::lesson_file::SWITCH_GOES_ROUND);
        return None;
    }
    Some(Drill::Switch { chords })
}

/// How the chords of a switch differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum By {
    Shape,
    Slide,
    Both,
}

impl By {
    fn word(self) -> &'static str {
        match self {
            By::Shape => "shape",
            By::Slide => "slide",
            By::Both => "both",
        }
    }
}

/// The chords of a switch that is given by what changes.
fn by(page: &mut Page, fields: &mut Fields, tuning: &Tuning) -> Option<Vec<Target>> {
    let by = fields
        .get("by")
        .and_then(|v| choice(page, v, "by", &[By::Shape, By::Slide, By::Both], By::word));
    let quality = quality(page, fields);
    let shapes: Option<Vec<Shape>> = match fields.list(page, "shapes", "[\"E\", \"A\"]") {
        Some(list) => list
            .into_iter()
            .map(|v| choice(page, v, "shapes", &Shape::ALL, letter))
            .collect(),
        None => Some(vec![Shape::E, Shape::A]),
    };
    let span = fields.span.clone();
    let frets: Option<Vec<u8>> = fields.list(page, "at", "[3, 5]").and_then(|list| {
        list.into_iter()
            .map(|value| {
                let fret = match value.get_ref() {
                    DeValue::Integer(n) => u8::from_str_radix(n.as_str(), n.radix()).ok(),
                    _ => None,
                };
                let fits = fret.filter(|&f| f <= HIGHEST_LISTED);
                if fits.is_none() {
                    page.wrong(
                        value.span(),
                        words::lesson_file::at_lists_frets(HIGHEST_LISTED),
                    );
                }
                fits
            })
            .collect()
    });
    if !fields.has("at") {
        page.wrong(span.clone(), words::lesson_file::SWITCH_SAYS_FRETS);
    }
    let (by, quality, shapes, frets) = (by?, quality?, shapes?, frets?);
    let places: Vec<(Shape, u8)> = match by {
        By::Shape => shapes.iter().map(|&shape| (shape, frets[0])).collect(),
        By::Slide => frets.iter().map(|&fret| (shapes[0], fret)).collect(),
        By::Both => (0..shapes.len().max(frets.len()))
            .map(|i| (shapes[i % shapes.len()], frets[i % frets.len()]))
            .collect(),
    };
    let found: Vec<Target> = places
        .iter()
        .filter_map(|&(shape, at)| movable(shape, quality, at, tuning))
        .map(Target::from)
        .collect();
    if found.len() < places.len() {
        page.wrong(span, no_such_shape(shapes[0], quality));
        return None;
    }
    Some(found)
}

pub(super) fn letter(shape: Shape) -> &'static str {
    match shape {
        Shape::E => "E",
        Shape::A => "A",
        Shape::D => "D",
        Shape::C => "C",
        Shape::G => "G",
    }
}

pub(super) fn hold(page: &mut Page, fields: &mut Fields, tuning: &Tuning) -> Option<Drill> {
    let chords = chords(page, fields, tuning);
    let rounds = fields
        .number(page, "rounds", ROUNDS, words::lesson_file::TIMES_PLAYED)
        .unwrap_or(1);
    let tries = tries(page, fields);
    Some(Drill::Hold {
        chords: chords?,
        rounds,
        tries,
    })
}

pub(super) fn tries(page: &mut Page, fields: &mut Fields) -> u32 {
    let meaning = words::lesson_file::MOST_TAKES_BEFORE_NEXT;
    fields.number(page, "tries", TRIES, meaning).unwrap_or(3)
}

/// The first fret and the last one.
fn fret_range(page: &mut Page, fields: &mut Fields) -> Option<RangeInclusive<u8>> {
    let highest = u32::from(HIGHEST_LISTED);
    let from = fields.number(page, "from", 0..=highest, words::lesson_file::FIRST_FRET);
    let to = fields.number(page, "to", 0..=highest, words::lesson_file::LAST_FRET);
    if (fields.has("from") && from.is_none()) || (fields.has("to") && to.is_none()) {
        return None;
    }
    let (from, to) = (from.unwrap_or(1) as u8, to.unwrap_or(highest) as u8);
    if from > to {
        page.wrong(
            fields.span.clone(),
            words::lesson_file::first_before_last(from, to),
        );
        return None;
    }
    Some(from..=to)
}

/// What is built on the root; major where nothing is said.
fn quality(page: &mut Page, fields: &mut Fields) -> Option<Quality> {
    let Some((text, span)) = fields.text(page, "quality") else {
        return (!fields.has("quality")).then_some(Quality::Major);
    };
    let symbol = if text == "major" { "" } else { text.as_str() };
    match format!("C{symbol}").parse::<ChordName>() {
        Ok(chord) if chord.root == NoteName::usual(0) && chord.bass.is_none() => {
            Some(chord.quality)
        }
        _ => {
            page.wrong(span, words::lesson_file::quality_is(shortened(&text)));
            None
        }
    }
}
