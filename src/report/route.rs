//! A way over the neck: as text with its chord pictures, and as JSON.

use std::io::{self, Write};

use serde::Serialize;

use super::json::json_line;
use super::picture::wrapped;
use super::voicings::{abreast, each_once};
use crate::fretboard::{ChordName, Fingering, Frets, Shape, Tuning, Voicing};
use crate::progression::{Move, Route, RouteChord, frets};
use crate::words;

/// Writes a route for people: each step with the way to it, and its chord pictures; `left`: as a left-handed player sees the neck.
///
/// # Errors
/// Where `out` cannot be written.
pub fn text(route: &Route, left: bool, tuning: &Tuning, out: &mut dyn Write) -> io::Result<()> {
    wrapped(out, "", &headline(route))?;
    writeln!(out)?;
    let width = |least: usize, of: fn(&Voicing) -> String| {
        let widths = route.steps.iter().map(|s| of(&s.voicing).chars().count());
        widths.max().unwrap_or(0).max(least)
    };
    let frets_width = width(5, |v| v.frets.to_string());
    let shape_width = width(5, Voicing::describe);
    writeln!(out, "{}", words::route::head(frets_width, shape_width))?;
    let moves = route.moves();
    let mut before: Option<(&Voicing, &Move)> = None;
    let mut times = 1;
    for (index, step) in route.steps.iter().enumerate() {
        // The same chord again is told once.
        let same = (route.steps.get(index + 1)).is_some_and(|next| {
            next.chord == step.chord && next.voicing.frets == step.voicing.frets
        });
        if same {
            times += 1;
            continue;
        }
        let first = index + 1 - times;
        if first > 0 {
            before = Some((&route.steps[first - 1].voicing, &moves[first - 1]));
        }
        let way = before.map_or(String::new(), |(from, step_to)| {
            step_to.describe(from, &step.voicing)
        });
        let name = match times {
            1 => step.chord.to_string(),
            n => format!("{} x{n}", step.chord),
        };
        let line = format!(
            "{name:<6}  {:<frets_width$}  {:<shape_width$}  ",
            step.voicing.frets.to_string(),
            step.voicing.describe()
        );
        wrapped(out, &line, &way)?;
        times = 1;
    }
    if let (true, Some(back), [first, .., last]) = (route.closed, moves.last(), &route.steps[..]) {
        let way = back.describe(&last.voicing, &first.voicing);
        let line = format!(
            "{:<6}  {:<frets_width$}  {:<shape_width$}  ",
            words::route::BACK,
            "",
            ""
        );
        wrapped(out, &line, &way)?;
    }
    writeln!(out)?;
    let voicings = each_once(route.steps.iter().map(|step| &step.voicing));
    abreast(out, &voicings, left, tuning)?;
    if route.steps.len() > 1 {
        writeln!(out)?;
        wrapped(out, "", &why(route))?;
    }
    Ok(())
}

/// How far the hand travels, against staying with one shape.
fn headline(route: &Route) -> String {
    let travel = route.travel_frets();
    let way_back = if route.closed {
        words::route::WAY_BACK
    } else {
        ""
    };
    let travelled = match travel {
        0 => words::route::stays(way_back),
        n => words::route::travels(frets(n), way_back),
    };
    match route.one_shape {
        Some(one) if one.travel_frets > travel => words::route::saved(
            &travelled,
            one.shape,
            frets(one.travel_frets),
            one.travel_frets - travel,
        ),
        Some(one) if one.travel_frets == travel => words::route::no_further(&travelled, one.shape),
        Some(one) => words::route::further(&travelled, one.shape, frets(one.travel_frets)),
        None => words::route::no_one_shape(&travelled),
    }
}

/// What the route keeps small.
fn why(route: &Route) -> String {
    let moves = route.moves();
    let changes = moves.iter().filter(|m| m.shape_changes).count();
    let lifted: usize = moves.iter().map(|m| m.lifted.len()).sum();
    let stays = moves.iter().filter(|m| m.staying.contains(&1)).count();
    let mut text = words::route::why_this_way(changes, lifted);
    if stays > 0 {
        text.push_str(&words::route::index_stays(stays));
    }
    text.push('.');
    text
}

/// A route for programs.
#[derive(Serialize)]
struct JsonRoute {
    travel_frets: u32,
    one_shape_travel_frets: Option<u32>,
    one_shape: Option<Shape>,
    #[serde(rename = "loop")]
    closed: bool,
    steps: Vec<JsonStep>,
    /// From the last step back to the first, in a loop.
    #[serde(skip_serializing_if = "Option::is_none")]
    back: Option<Move>,
    why: String,
}

#[derive(Serialize)]
struct JsonStep {
    chord: ChordName,
    frets: Frets,
    shape: Option<Shape>,
    at: u8,
    root_string: u8,
    fingers: Fingering,
    /// From the step before; null for the first.
    from_before: Option<Move>,
    why: Option<String>,
}

/// Writes a route for programs, as one line.
///
/// # Errors
/// Where `out` cannot be written.
pub fn json(route: &Route, out: &mut dyn Write) -> io::Result<()> {
    let moves = route.moves();
    let back = (route.closed).then(|| moves.get(route.steps.len() - 1).cloned());
    let step = |(index, step): (usize, &RouteChord)| {
        let before = index
            .checked_sub(1)
            .map(|i| (&route.steps[i].voicing, &moves[i]));
        JsonStep {
            chord: step.chord,
            frets: step.voicing.frets,
            shape: step.voicing.shape,
            at: step.voicing.at,
            root_string: step.voicing.root_string,
            fingers: step.voicing.fingering,
            from_before: before.map(|(_, step_to)| step_to.clone()),
            why: before.map(|(from, step_to)| step_to.describe(from, &step.voicing)),
        }
    };
    let object = JsonRoute {
        travel_frets: route.travel_frets(),
        one_shape_travel_frets: route.one_shape.map(|one| one.travel_frets),
        one_shape: route.one_shape.map(|one| one.shape),
        closed: route.closed,
        steps: route.steps.iter().enumerate().map(step).collect(),
        back: back.flatten(),
        why: why(route),
    };
    json_line(out, &object)
}
