//! The chords of a step.

use std::ops::Range;

use toml::de::DeValue;

use super::fields::{Fields, Page, Value, text};
use crate::fretboard::library::{self, voicing_for, voicing_of};
use crate::fretboard::{ChordName, Frets, Quality, Shape, Tuning, Voicing};
use crate::practice::lesson::Target;
use crate::words;

/// The one voicing that a step is about, and where the lesson says so.
pub(super) fn target(
    page: &mut Page,
    fields: &mut Fields,
    tuning: &Tuning,
) -> Option<(Target, Range<usize>)> {
    let frets = fields.text(page, "frets");
    let chord = fields.text(page, "chord");
    let shape: Option<Shape> = fields.read(page, "shape");
    let highest = u32::from(Frets::HIGHEST);
    let at = fields.number(page, "at", 0..=highest, words::lesson_file::FRET_OF_SHAPE);
    let partial = fields.yes(page, "partial_barre");
    let broken = ["frets", "chord", "shape", "at"]
        .into_iter()
        .zip([
            frets.is_none(),
            chord.is_none(),
            shape.is_none(),
            at.is_none(),
        ])
        .any(|(key, missing)| missing && fields.has(key));
    if broken {
        return None;
    }
    let (found, span) = match (frets, chord) {
        (Some((text, span)), None) => (by_frets(&text, tuning), span),
        (None, Some((text, span))) => (by_name(&text, shape, at.map(|at| at as u8), tuning), span),
        (Some((_, span)), Some(_)) => {
            page.wrong(span, words::lesson_file::FRETS_OR_CHORD);
            return None;
        }
        (None, None) => {
            let text = words::lesson_file::needs_chord(&fields.what);
            page.wrong(fields.span.clone(), text);
            return None;
        }
    };
    match found.and_then(|target| {
        if partial {
            partial_barre(target, tuning)
        } else {
            Ok(target)
        }
    }) {
        Ok(target) => Some((target, span)),
        Err(text) => {
            page.wrong(span, text);
            None
        }
    }
}

/// The same frets in the fingering that lets string 1 go quiet.
fn partial_barre(target: Target, tuning: &Tuning) -> Result<Target, String> {
    let known = target.chord.map(|chord| library::voicings(&chord, tuning));
    known
        .into_iter()
        .flatten()
        .find(|v| v.frets == target.frets && v.may_go_quiet.is_some())
        .map(Target::from)
        .ok_or_else(|| words::lesson_file::no_partial_barre(&target))
}

fn by_frets(text: &str, tuning: &Tuning) -> Result<Target, String> {
    let frets: Frets = text.parse().map_err(|e| format!("{e}"))?;
    tuning.reaches(&frets).map_err(|e| e.to_string())?;
    Ok(Target {
        frets,
        chord: library::name_voicing(&frets, tuning).map(|named| named.chord),
        voicing: voicing_of(&frets, tuning),
    })
}

fn by_name(
    text: &str,
    shape: Option<Shape>,
    at: Option<u8>,
    tuning: &Tuning,
) -> Result<Target, String> {
    let chord: ChordName = text.parse().map_err(|e| format!("{e}"))?;
    voicing_for(&chord, shape, at, tuning)
        .map(Target::from)
        .map_err(|e| e.to_string())
}

/// The chords of a switch or a progression: each a name, frets, or a table with a shape.
pub(super) fn chords(page: &mut Page, fields: &mut Fields, tuning: &Tuning) -> Option<Vec<Target>> {
    let example = "[\"F\", \"x13331\", { chord = \"C\", shape = \"A\" }]";
    if !fields.has("chords") {
        let text = words::lesson_file::needs_chords(&fields.what, example);
        page.wrong(fields.span.clone(), text);
    }
    let list = fields.list(page, "chords", example)?;
    let count = list.len();
    let found: Vec<Target> = list
        .into_iter()
        .filter_map(|value| one_chord(page, value, tuning))
        .collect();
    (found.len() == count).then_some(found)
}

fn one_chord(page: &mut Page, value: &Value, tuning: &Tuning) -> Option<Target> {
    if let DeValue::Table(table) = value.get_ref() {
        let mut fields = Fields {
            table,
            span: value.span(),
            what: words::lesson_file::A_CHORD.to_owned(),
            known: Vec::new(),
        };
        let found = target(page, &mut fields, tuning);
        fields.finish(page);
        return found.map(|(target, _)| target);
    }
    let text = text(page, value, "chords")?;
    // Frets begin with x or a digit, names of chords with a letter from A to G.
    let frets = text.starts_with(|c: char| c.is_ascii_digit() || c.eq_ignore_ascii_case(&'x'));
    let found = if frets {
        by_frets(&text, tuning)
    } else {
        by_name(&text, None, None, tuning)
    };
    found.map_err(|text| page.wrong(value.span(), text)).ok()
}

/// The shape at a fret, whatever chord that makes.
pub(super) fn movable(shape: Shape, quality: Quality, at: u8, tuning: &Tuning) -> Option<Voicing> {
    (0..12).find_map(|root| {
        let chord = ChordName::on(root, quality);
        voicing_for(&chord, Some(shape), Some(at), tuning).ok()
    })
}

impl From<&Voicing> for Target {
    fn from(voicing: &Voicing) -> Target {
        Target::from(voicing.clone())
    }
}

impl From<Voicing> for Target {
    fn from(voicing: Voicing) -> Target {
        Target {
            frets: voicing.frets,
            chord: Some(voicing.chord),
            voicing: Some(voicing),
        }
    }
}
