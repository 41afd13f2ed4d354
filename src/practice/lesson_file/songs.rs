//! The kinds of step whose voicings the program finds: a route over the neck, and playing along.

use toml::de::DeValue;

use super::drills::{ROUNDS, TRIES, letter, tries};
use super::fields::{Fields, Page, Value, choice, decimal, shown, text};
use crate::fretboard::library::HIGHEST_LISTED;
use crate::fretboard::{Shape, Tuning, shortened};
use crate::practice::lesson::Drill;
use crate::progression::backing::{BARS_EACH, COUNT_IN_BARS, SWINGS};
use crate::progression::grid::{BEATS, TEMPOS_BPM};
use crate::progression::performance::Part;
use crate::progression::timing::{IN_TIME_MS, StrumPlaces, beats};
use crate::progression::{
    Feel, HandWeights, Limits, Plan, Progression, RouteError, Style, Timing, route,
};
use crate::words;

/// The tempo where none is given, as the backing has it, in beats a minute.
const USUAL_BPM: f64 = 72.0;
/// A bound that a slip of the pen would pass, nearer than that of a backing alone: a step comes to an end.
/// A choice.
const LOOPS: std::ops::RangeInclusive<u32> = 1..=50;
/// What may be called in time, in ms: below, hardly a player is; above, nobody would call it so.
const WITHIN_MS: std::ops::RangeInclusive<f64> = 20.0..=300.0;
/// Chords that one round of a route may have: some pages of a song. A choice.
const MOST_CHORDS: usize = 100;

pub(super) fn route_step(page: &mut Page, fields: &mut Fields, tuning: &Tuning) -> Option<Drill> {
    let song = progression(page, fields);
    let hand = hand(page, fields);
    let rounds = fields
        .number(page, "rounds", ROUNDS, words::lesson_file::TIMES_GONE)
        .unwrap_or(1);
    let closed = fields.yes(page, "loop") || rounds > 1;
    let tries = tries(page, fields);
    let (song, (limits, weights)) = (song?, hand?);
    let chords = song.chords();
    if chords.len() > MOST_CHORDS {
        let text = words::lesson_file::chords_of_a_route(MOST_CHORDS, chords.len());
        page.wrong(fields.span.clone(), text);
        return None;
    }
    match route(&chords, &limits, &weights, closed, tuning) {
        Ok(way) => Some(Drill::Route { way, rounds, tries }),
        Err(error) => {
            page.wrong(fields.span.clone(), by_keys(&error));
            None
        }
    }
}

/// Why there is no route, with the keys of a lesson where the command has options.
fn by_keys(error: &RouteError) -> String {
    let options = [
        "--shapes",
        "--root-strings",
        "--highest-fret",
        "--open",
        "--power",
    ];
    options.iter().fold(error.to_string(), |text, option| {
        text.replace(option, &option[2..].replace('-', "_"))
    })
}

/// Clean landings wanted of a route where none are named: all of one round.
pub(super) fn usual_landings(drill: Option<&Drill>) -> u32 {
    match drill {
        Some(Drill::Route { way, .. }) => way.steps.len() as u32,
        _ => 1,
    }
}

/// Strums wanted of a time through where none are named: three of four.
pub(super) fn usual_strums(drill: Option<&Drill>) -> u32 {
    match drill {
        Some(Drill::Play { part, .. }) => (3 * part.beats.len()).div_ceil(4) as u32,
        _ => 1,
    }
}

/// So many that more could never be reached; `None` where there is no such bound.
pub(super) fn most_clean(drill: &Drill) -> Option<u32> {
    match drill {
        Drill::Route { way, rounds, .. } => Some(way.steps.len() as u32 * rounds),
        Drill::Play { part, .. } => Some(part.beats.len() as u32),
        _ => None,
    }
}

pub(super) fn play(page: &mut Page, fields: &mut Fields, tuning: &Tuning) -> Option<Drill> {
    let song = progression(page, fields);
    let hand = hand(page, fields);
    let timing = timing(page, fields);
    let style = style(page, fields);
    let strums = match fields.get("strum") {
        Some(value) => choice(page, value, "strum", &StrumPlaces::ALL, StrumPlaces::word),
        None => Some(StrumPlaces::Chord),
    };
    let closed = fields.yes(page, "loop");
    let meaning = words::lesson_file::WITHIN_MS;
    let within_ms = (fields.decimal(page, "within", WITHIN_MS, meaning)).unwrap_or(IN_TIME_MS);
    let meaning = words::lesson_file::MOST_TIMES_THROUGH;
    let tries = fields.number(page, "tries", TRIES, meaning).unwrap_or(3);
    let (song, (limits, weights), style, strums) = (song?, hand?, style?, strums?);
    let part = Plan::new(&song, &timing)
        .map_err(|error| error.to_string())
        .and_then(|plan| {
            let beats = beats(&plan, &style, strums);
            Part::new(plan, beats, &limits, &weights, closed, *tuning)
                .map_err(|error| by_keys(&error))
        });
    match part {
        Ok(part) => Some(Drill::Play {
            part,
            style,
            within_ms,
            tries,
        }),
        Err(text) => {
            page.wrong(fields.span.clone(), text);
            None
        }
    }
}

/// The chords: one text as typed to `ringtrue route`, or a list of names.
fn progression(page: &mut Page, fields: &mut Fields) -> Option<Progression> {
    let example = words::lesson_file::SONG_EXAMPLES;
    let Some(value) = fields.get("chords") else {
        let text = words::lesson_file::needs_chords(&fields.what, example);
        page.wrong(fields.span.clone(), text);
        return None;
    };
    let words = match value.get_ref() {
        DeValue::Array(list) => {
            let words: Option<Vec<String>> = list.iter().map(|v| text(page, v, "chords")).collect();
            words?.join(" ")
        }
        _ => text(page, value, "chords")?,
    };
    match Progression::read(&words) {
        Ok(song) if song.chords().is_empty() => {
            let text = words::lesson_file::no_chord(example);
            page.wrong(value.span(), text);
            None
        }
        Ok(song) => Some(song),
        Err(error) => {
            page.wrong(value.span(), error.said_of(&words));
            None
        }
    }
}

/// What the hand may do, and what counts how much.
fn hand(page: &mut Page, fields: &mut Fields) -> Option<(Limits, HandWeights)> {
    let shapes: Option<Vec<Shape>> = (fields.list(page, "shapes", "[\"E\", \"A\"]"))
        .map(|list| {
            list.into_iter()
                .map(|v| choice(page, v, "shapes", &Shape::ALL, letter))
                .collect()
        })
        .unwrap_or(Some(Vec::new()));
    let root_strings: Option<Vec<u8>> = (fields.list(page, "root_strings", "[6, 5]"))
        .map(|list| list.into_iter().map(|v| root_string(page, v)).collect())
        .unwrap_or(Some(Vec::new()));
    let highest = u32::from(HIGHEST_LISTED);
    let meaning = words::lesson_file::HIGHEST_FRET_OF_BARRE;
    let highest_fret = fields.number(page, "highest_fret", 0..=highest, meaning);
    let open_chords = fields.yes(page, "open");
    let power_only = fields.yes(page, "power");
    let ring_barre = fields.yes(page, "ring_barre");
    let weights = weights(page, fields);
    let some = |list: Vec<Shape>| (!list.is_empty()).then_some(list);
    Some((
        Limits {
            shapes: some(shapes?),
            root_strings: Some(root_strings?).filter(|list| !list.is_empty()),
            highest_fret: highest_fret.unwrap_or(highest) as u8,
            open_chords,
            power_only,
            ring_barre,
        },
        weights?,
    ))
}

fn root_string(page: &mut Page, value: &Value) -> Option<u8> {
    let number = decimal(value).filter(|n| [4.0, 5.0, 6.0].contains(n));
    if number.is_none() {
        let text = words::lesson_file::ROOT_STRINGS;
        page.wrong(value.span(), text);
    }
    number.map(|n| n as u8)
}

/// The weights of a route, as documented there, but for those that the lesson sets.
fn weights(page: &mut Page, fields: &mut Fields) -> Option<HandWeights> {
    let mut weights = HandWeights::default();
    let Some(value) = fields.get("weights") else {
        return Some(weights);
    };
    let example = "weights = { travel = 2, shape-change = 0.2 }";
    let DeValue::Table(table) = value.get_ref() else {
        page.wrong(
            value.span(),
            words::lesson_file::weights_table(example, shown(value.get_ref())),
        );
        return None;
    };
    let mut sound = true;
    for (key, value) in table {
        let name: &str = key.get_ref();
        let set = match decimal(value) {
            Some(number) => weights.set(&shortened(name), number),
            None => Err(words::lesson_file::weight_is_a_number(
                example,
                shown(value.get_ref()),
            )),
        };
        if let Err(text) = set {
            page.wrong(key.span(), text);
            sound = false;
        }
    }
    sound.then_some(weights)
}

fn timing(page: &mut Page, fields: &mut Fields) -> Timing {
    let meaning = words::lesson_file::TEMPO;
    let tempo = fields.decimal(page, "tempo", TEMPOS_BPM, meaning);
    let meaning = words::lesson_file::TEMPO_AT_END;
    let to_tempo = fields.decimal(page, "to_tempo", TEMPOS_BPM, meaning);
    let mut whole = |key, range, meaning, usual| {
        let number = fields.number(page, key, range, meaning);
        number.unwrap_or(usual)
    };
    let beats = whole("beats", BEATS, words::lesson_file::BEATS_OF_A_BAR, 4);
    let bars_each = whole("bars_each", BARS_EACH, words::lesson_file::BARS_EACH, 1);
    let loops = whole("loops", LOOPS, words::lesson_file::TIMES_PLAYED, 1);
    let count_in = whole(
        "count_in",
        COUNT_IN_BARS,
        words::lesson_file::BARS_COUNTED_IN,
        2,
    );
    let from_bpm = tempo.unwrap_or(USUAL_BPM);
    Timing {
        from_bpm,
        to_bpm: to_tempo.unwrap_or(from_bpm),
        beats,
        bars_each,
        loops: loops as usize,
        count_in_bars: count_in,
    }
}

fn style(page: &mut Page, fields: &mut Fields) -> Option<Style> {
    let feel = match fields.get("feel") {
        Some(value) => choice(page, value, "feel", &Feel::ALL, Feel::word),
        None => Some(Feel::Quarters),
    };
    let meaning = words::lesson_file::SWING;
    let swing = fields.decimal(page, "swing", SWINGS, meaning);
    let feel = feel?;
    Some(Style {
        feel,
        swing: swing.unwrap_or(feel.usual_swing()),
    })
}
