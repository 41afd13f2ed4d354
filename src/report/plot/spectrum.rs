//! The spectrum of the ringing part, and under it, string by string, where its partials (overtones) are expected and
//! how far they stand out.

use super::axis::{self, Scale};
use super::drawing::{Anchor, Area, Colour, Drawing, HAIR, text_width};
use super::{PlottedTake, label};
use crate::fretboard::STRINGS;
use crate::spectrum::median;
use crate::strings::view::{FOUND_DB, NoteView, PartialView, View};
use crate::take::Manner;
use crate::verdict::Verdict;
use crate::words;

/// Frequencies shown, in Hz: from under the low E in drop tunings to where the partials looked at end.
const RANGE_HZ: (f32, f32) = (60.0, 5_000.0);
/// Levels shown, in dB under the loudest.
const RANGE_DB: f32 = 80.0;
/// Standing of a partial above its surroundings that reaches the top of its lane, in dB.
const TALLEST_DB: f32 = 40.0;
/// Partials shown of each string: most of the higher ones lack on a good string, too.
const SHOWN: usize = 10;
/// Of these a string lacks one only where it does not ring: a pluck leaves out partials from the fifth on, where it is made
/// at a fifth of the string or nearer to the bridge.
const SURE: usize = 4;
/// A partial should stand out where those around it are so much louder than the surroundings need, in dB: strings of a chord
/// differ by so much. A choice.
const LOUDER_DB: f32 = 12.0;
/// "Around" is within this ratio of frequencies: an octave.
const AROUND: f32 = 2.0;

/// Height in pixels.
pub fn height(em: f32, width: f32, is_chord_known: bool) -> f32 {
    let lanes = match is_chord_known {
        true => 6.0 * lane_height(em, width) + 5.8 * em,
        false => 0.0,
    };
    curve_height(em, width) + lanes + 2.0 * em + axis::height_under(em)
}

fn curve_height(em: f32, width: f32) -> f32 {
    (11.0 * em).max(width * 0.14)
}

fn lane_height(em: f32, width: f32) -> f32 {
    (3.3 * em).max(width * 0.042)
}

/// Draws the spectrum of one take.
pub fn draw(drawing: &mut Drawing, area: &Area, em: f32, shown: &PlottedTake) {
    let Some(view) = &shown.view else { return };
    let mut titles = words::picture::SPECTRUM_TITLES;
    if shown.take.manner == Manner::Picked {
        titles[0] = words::picture::SPECTRUM_PICKED_TITLE;
    }
    let at = (area.x, area.y + 0.8 * em);
    drawing.text_within(at, em, Colour::Ink, &titles, area.width);
    let inner = area.inset(8.2 * em, 2.0 * em, 1.2 * em, axis::height_under(em));
    let curve_area = Area {
        height: curve_height(em, area.width),
        ..inner
    };
    let pitch = Scale::across(&inner, RANGE_HZ.0, RANGE_HZ.1).in_octaves();
    curve(drawing, &curve_area, &pitch, view, em);
    if !shown.is_chord_known() {
        return axis::under(drawing, &curve_area, &pitch, &axis::hertz(), "Hz", em);
    }
    let top = curve_area.bottom() + 0.6 * em;
    drawing.text_within(
        (area.x, top + 0.9 * em),
        em,
        Colour::Ink,
        &words::picture::PARTIALS_TITLES,
        area.width,
    );
    legend(drawing, (area.x, top + 2.3 * em), em, area.width);
    let each = lane_height(em, area.width);
    let first = top + 5.2 * em;
    for index in 0..STRINGS {
        let lane = Area {
            y: first + each * index as f32,
            height: each - 0.9 * em,
            ..inner
        };
        string(drawing, &lane, &pitch, em, shown, view, index);
    }
    let lanes = Area {
        y: first,
        height: each * STRINGS as f32 - 0.9 * em,
        ..inner
    };
    axis::under(drawing, &lanes, &pitch, &axis::hertz(), "Hz", em);
}

fn curve(drawing: &mut Drawing, area: &Area, pitch: &Scale, view: &View, em: f32) {
    let level = Scale::up(area, -RANGE_DB, 0.0);
    drawing.fill(*area, Colour::Ground);
    axis::beside(
        drawing,
        area,
        &level,
        &[0.0, -20.0, -40.0, -60.0, -80.0],
        0.8 * em,
    );
    let columns = area.x.ceil() as i32..area.right() as i32;
    let hz = |x: i32| (pitch.value(x as f32 - 0.5), pitch.value(x as f32 + 0.5));
    let levels: Vec<(i32, f32, f32)> = columns
        .filter(|&x| hz(x).1 < view.top_hz())
        .map(|x| (x, view.level_db(hz(x).0, hz(x).1), view.floor_db(hz(x).0)))
        .collect();
    let loudest = levels.iter().map(|l| l.1).fold(f32::MIN, f32::max);
    let points = |of: fn(&(i32, f32, f32)) -> f32| -> Vec<(f32, f32)> {
        let at = |l: &(i32, f32, f32)| (l.0 as f32, level.at(of(l) - loudest));
        levels.iter().map(at).collect()
    };
    drawing.line(points(|l| l.1), 0.08 * em, Colour::Ink);
    drawing.dashed(&points(|l| l.2), 0.12 * em, 0.5 * em, Colour::Orange);
}

/// What the signs mean, in as many lines as are needed, two at most.
fn legend(drawing: &mut Drawing, (left, top): (f32, f32), em: f32, width: f32) {
    let small = 0.9 * em;
    let (mut x, mut y) = (left, top);
    let entries = [
        (Sign::Own, words::picture::PARTIAL_OWN),
        (Sign::Shared, words::picture::PARTIAL_SHARED),
        (Sign::Missing, words::picture::PARTIAL_MISSING),
        (Sign::Instead, words::picture::PARTIAL_OF_ANOTHER_FRET),
    ];
    for (sign, text) in entries {
        let needed = 1.4 * em + text_width(text, small) + 1.4 * em;
        if x + needed > left + width && x > left {
            (x, y) = (left, y + 1.3 * em);
        }
        sign.draw(drawing, (x + 0.5 * em, y), em);
        drawing.text((x + 1.3 * em, y), Anchor::Left, small, Colour::Ink, text);
        x += needed;
    }
}

#[derive(Clone, Copy)]
enum Sign {
    Own,
    Shared,
    Missing,
    Instead,
}

impl Sign {
    fn draw(self, drawing: &mut Drawing, at: (f32, f32), em: f32) {
        let reach = 0.32 * em;
        match self {
            Sign::Own => drawing.dot(at, reach, Colour::Blue, true),
            Sign::Shared => drawing.dot(at, reach, Colour::Blue, false),
            Sign::Missing => drawing.cross(at, reach, 0.12 * em, Colour::Orange),
            Sign::Instead => drawing.diamond(at, 1.2 * reach, 0.12 * em, Colour::Orange),
        }
    }
}

/// One string's lane: a stem for each partial, as tall as it stands out.
fn string(
    drawing: &mut Drawing,
    lane: &Area,
    pitch: &Scale,
    em: f32,
    shown: &PlottedTake,
    view: &View,
    index: usize,
) {
    drawing.fill(*lane, Colour::Ground);
    drawing.line(
        vec![(lane.x, lane.bottom()), (lane.right(), lane.bottom())],
        HAIR * em,
        Colour::Grey,
    );
    label(
        drawing,
        (lane.x - 8.2 * em, lane.middle()),
        em,
        shown,
        index,
    );
    let stand = standing(lane, em);
    axis::beside(drawing, lane, &stand, &[0.0, TALLEST_DB], 0.7 * em);
    let seen = &view.strings[index];
    let expected = shown.take.strings[index].expected_fret.is_some();
    let mut names = Names::default();
    let verdict = shown.take.strings[index].verdict;
    // A string that rings lacks a partial now and then: nothing is to be made of it.
    let faulty = expected && verdict.is_fault() && verdict != Verdict::Buzzing;
    let lacks = |partial: &PartialView| faulty && should_stand_out(view, partial);
    if let Some(heard) = &seen.heard {
        stems(drawing, lane, pitch, em, heard, true, &lacks, None);
    }
    if verdict == Verdict::Silent {
        return;
    }
    // A string that must not sound has nothing to miss.
    stems(
        drawing,
        lane,
        pitch,
        em,
        &seen.note,
        !expected,
        &lacks,
        Some(&mut names),
    );
}

/// Labels set so far in a lane.
#[derive(Default)]
struct Names {
    free_from: f32,
}

/// Where the standing of a partial lies in its lane; the numbers stand above.
fn standing(lane: &Area, em: f32) -> Scale {
    Scale::up(&lane.inset(0.0, 1.2 * em, 0.0, 0.0), 0.0, TALLEST_DB)
}

/// Whether a partial that is not found should have been: it is a low one and no other string's, and the partials around it
/// are so loud that it would stand above its surroundings.
fn should_stand_out(view: &View, partial: &PartialView) -> bool {
    let around = partial.hz / AROUND..partial.hz * AROUND;
    let mut levels: Vec<f32> = (view.strings.iter())
        .flat_map(|string| &string.note.partials)
        .filter(|other| other.found() && around.contains(&other.hz))
        .map(|other| other.level_db)
        .collect();
    let Some(usual) = median(&mut levels, f32::total_cmp) else {
        return false;
    };
    let needed_db = view.floor_db(partial.hz) + FOUND_DB;
    partial.own && partial.n <= SURE && !partial.found() && usual - LOUDER_DB > needed_db
}

#[allow(clippy::too_many_arguments)]
fn stems(
    drawing: &mut Drawing,
    lane: &Area,
    pitch: &Scale,
    em: f32,
    note: &NoteView,
    unwanted: bool,
    lacks: &dyn Fn(&PartialView) -> bool,
    mut names: Option<&mut Names>,
) {
    let small = 0.75 * em;
    let stand = standing(lane, em);
    for partial in note
        .partials
        .iter()
        .take(SHOWN)
        .filter(|p| p.hz < RANGE_HZ.1)
    {
        let x = pitch.at(partial.hz);
        let sign = match (partial.found(), unwanted, partial.own) {
            (true, true, true) => Sign::Instead,
            (true, false, true) => Sign::Own,
            (true, false, false) => Sign::Shared,
            (false, false, _) if lacks(partial) => Sign::Missing,
            // Absent ones that nothing can be told of; of a note that nobody expects, shared ones too.
            (false, false, _) | (_, true, _) => continue,
        };
        let y = match partial.found() {
            true => stand.at(partial.standing_db.max(FOUND_DB)),
            false => lane.bottom(),
        };
        let colour = match sign {
            Sign::Instead => Colour::Orange,
            _ => Colour::Blue,
        };
        if partial.found() {
            let width = if partial.own { 0.14 } else { 0.07 } * em;
            drawing.line(vec![(x, lane.bottom()), (x, y)], width, colour);
        }
        sign.draw(drawing, (x, y), em);
        let Some(names) = names.as_deref_mut() else {
            continue;
        };
        let name = partial.n.to_string();
        let half = text_width(&name, small) / 2.0;
        if x - half >= names.free_from && x + half <= lane.right() {
            names.free_from = x + half + 0.4 * em;
            let at = (x, lane.y + 0.45 * em);
            drawing.text(at, Anchor::Middle, small, Colour::Ink, name);
        }
    }
}
