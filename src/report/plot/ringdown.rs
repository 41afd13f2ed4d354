//! How long each string rings: six lanes, low to high.

use super::axis::{self, Scale};
use super::drawing::{Anchor, Area, Drawing, Tone, wrapped};
use super::{Shown, label};
use crate::fretboard::STRINGS;
use crate::report::picture::symbol;
use crate::strings::view::StringView;
use crate::verdict::wording;

/// Levels shown, in dB under the loudest partial of the take.
const RANGE_DB: f32 = 70.0;
/// A level counts as the string's from this far above what was there before the strum, in dB.
const ABOVE_NOISE_DB: f32 = 6.0;
/// What was there before the strum is read until this long before it, in seconds: half the longest
/// window that a level is read with.
const BEFORE_S: f32 = -0.12;

/// Height in ems.
pub fn height(em: f32, width: f32) -> f32 {
    6.0 * lane_height(em, width) + 3.4 * em + axis::height_under(em)
}

fn lane_height(em: f32, width: f32) -> f32 {
    (3.9 * em).max(width * 0.05)
}

/// Draws the lanes of one take, to `seconds` after the first string.
pub fn draw(drawing: &mut Drawing, area: &Area, em: f32, shown: &Shown, seconds: f32) {
    let Some(view) = &shown.view else { return };
    drawing.text_within(
        (area.x, area.y + 0.8 * em),
        em,
        Tone::Ink,
        &[
            "How long each string rings: level of its own partials, in dB under the loudest of the take",
            "How long each string rings: level of its own partials, in dB",
            "How long each string rings, in dB",
        ],
        area.width,
    );
    drawing.text_within(
        (area.x, area.y + 2.2 * em),
        0.9 * em,
        Tone::Grey,
        &[
            "thick: their middle; thin: each one; dashed: what was there before the strum",
            "thick: their middle; dashed: before the strum",
            "thick: their middle",
        ],
        area.width,
    );
    let lanes = area.inset(8.2 * em, 3.4 * em, 10.5 * em, axis::height_under(em));
    let each = lane_height(em, area.width);
    let from = view.times_s.first().copied().unwrap_or(0.0).max(-0.1);
    let time = Scale::across(&lanes, from, seconds);
    let loudest = view.loudest_db();
    for index in 0..STRINGS {
        let lane = Area {
            y: lanes.y + each * index as f32,
            height: each - 0.7 * em,
            ..lanes
        };
        drawing.fill(lane, Tone::Ground);
        let level = Scale::up(&lane, -RANGE_DB, 0.0);
        axis::beside(drawing, &lane, &level, &[0.0, -30.0, -60.0], 0.8 * em);
        for &onset in view.onsets_s.iter().filter(|&&o| o <= seconds) {
            let x = time.at(onset);
            drawing.line(vec![(x, lane.y), (x, lane.bottom())], 1.0, Tone::Pale);
        }
        let (first, second) = label(shown, index);
        let left = area.x;
        drawing.text(
            (left, lane.middle() - 0.6 * em),
            Anchor::Left,
            em,
            Tone::Ink,
            first,
        );
        drawing.text(
            (left, lane.middle() + 0.6 * em),
            Anchor::Left,
            em,
            Tone::Ink,
            second,
        );
        let scales = Scales {
            time,
            level,
            loudest_db: loudest,
            end_s: seconds,
        };
        let tone = match shown.take.strings[index].verdict.is_fault() {
            true => Tone::Orange,
            false => Tone::Blue,
        };
        curves(
            drawing,
            &view.strings[index],
            &view.times_s,
            &scales,
            tone,
            em,
        );
        verdict(drawing, &lane, em, shown, index, !view.strings[index].alone);
    }
    let lanes = Area {
        height: each * STRINGS as f32 - 0.7 * em,
        ..lanes
    };
    let ticks = axis::steps(from, seconds, lanes.width / (4.5 * em));
    axis::under(
        drawing,
        &lanes,
        &time,
        &ticks,
        "seconds after the first string",
        em,
    );
}

/// Where levels of a lane stand.
struct Scales {
    time: Scale,
    level: Scale,
    loudest_db: f32,
    end_s: f32,
}

fn curves(
    drawing: &mut Drawing,
    string: &StringView,
    times_s: &[f32],
    scales: &Scales,
    tone: Tone,
    em: f32,
) {
    let Scales {
        time,
        level,
        loudest_db: loudest,
        end_s,
    } = *scales;
    let shown = times_s.iter().take_while(|&&t| t <= end_s).count();
    let point = |i: usize, db: f32| (time.at(times_s[i]), level.at(db - loudest));
    for levels in &string.levels_db {
        let points = (0..shown).map(|i| point(i, levels[i])).collect();
        drawing.line(points, 0.07 * em, Tone::Pale);
    }
    let middle = |i: usize| median(string.levels_db.iter().map(|l| l[i]).collect());
    let before = times_s.iter().take_while(|&&t| t <= BEFORE_S).count();
    let noise = median((0..before).map(middle).collect());
    if noise.is_finite() && noise - loudest > -RANGE_DB {
        let y = level.at(noise - loudest);
        let ends = [(time.at(f32::MIN), y), (time.at(f32::MAX), y)];
        drawing.dashed(&ends, 0.07 * em, 0.35 * em, Tone::Grey);
    }
    // Where it is down in the noise, or off the scale, the line stops.
    let ends_at = if noise.is_finite() {
        noise + ABOVE_NOISE_DB
    } else {
        f32::MIN
    };
    let mut piece = Vec::new();
    for i in 0..shown {
        let db = middle(i);
        if db > ends_at.max(loudest - RANGE_DB) {
            piece.push(point(i, db));
        } else if piece.len() > 1 {
            drawing.line(std::mem::take(&mut piece), 0.17 * em, tone);
        } else {
            piece.clear();
        }
    }
    if piece.len() > 1 {
        drawing.line(piece, 0.17 * em, tone);
    }
}

/// The verdict beside its lane.
fn verdict(drawing: &mut Drawing, lane: &Area, em: f32, shown: &Shown, index: usize, shared: bool) {
    let string = &shown.take.strings[index];
    let phrase = wording::string_phrase(string);
    let small = 0.9 * em;
    let mut lines = wrapped(&phrase, small, 8.6 * em);
    if shared {
        lines.extend(wrapped("(no partial of its own)", 0.9 * em, 8.6 * em));
    }
    lines.truncate(3);
    let tone = match string.verdict.is_fault() {
        true => Tone::Orange,
        false => Tone::Ink,
    };
    let step = 1.15 * small;
    let top = lane.middle() - step * (lines.len() as f32 - 1.0) / 2.0;
    let left = lane.right() + 0.7 * em;
    drawing.text((left, top), Anchor::Left, em, tone, symbol(string.verdict));
    for (i, line) in lines.into_iter().enumerate() {
        let at = (left + 1.3 * em, top + step * i as f32);
        drawing.text(at, Anchor::Left, small, tone, line);
    }
}

/// The middle one; of none, not a number.
fn median(mut values: Vec<f32>) -> f32 {
    values.sort_by(f32::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f32::NAN)
}
