//! How long each string rings: six lanes, low to high.

use super::axis::{self, Scale};
use super::drawing::{Anchor, Area, Drawing, HAIR, Tone, wrapped};
use super::{Shown, label};
use crate::fretboard::STRINGS;
use crate::report::picture::symbol;
use crate::strings::view::{Followed, StringView};
use crate::verdict::wording;

/// Room for the verdict beside its lane, in ems.
const VERDICT_EMS: f32 = 12.5;
/// Levels shown, in dB under the loudest partial of the take.
const RANGE_DB: f32 = 70.0;
/// A level counts as sound from this far above the mean noise on, in dB: noise alone is that loud for
/// one moment in fifty or so.
const ABOVE_NOISE_DB: f32 = 6.0;

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
            "thick: together; thin: each; thin dashes: noise; thick dashes: only partials shared with another string",
            "thick: together; thin dashes: noise; thick dashes: shared partials",
            "dashes: noise, shared partials",
        ],
        area.width,
    );
    let lanes = area.inset(8.2 * em, 3.4 * em, VERDICT_EMS * em, axis::height_under(em));
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
            drawing.line(vec![(x, lane.y), (x, lane.bottom())], HAIR * em, Tone::Pale);
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
        verdict(drawing, &lane, em, shown, index, &view.strings[index]);
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
    for followed in &string.own {
        let points = (0..shown).map(|i| point(i, followed.levels_db[i]));
        drawing.line(points.collect(), 0.07 * em, Tone::Pale);
    }
    let noise = sum_db(string.own.iter().map(|f| f.noise_db));
    if noise - loudest > -RANGE_DB {
        let y = level.at(noise - loudest);
        let ends = [(time.at(f32::MIN), y), (time.at(f32::MAX), y)];
        drawing.dashed(&ends, 0.07 * em, 0.35 * em, Tone::Grey);
    }
    for piece in pieces(&string.own, shown, loudest - RANGE_DB) {
        let points = piece.into_iter().map(|(i, db)| point(i, db)).collect();
        drawing.line(points, 0.17 * em, tone);
    }
    for piece in pieces(&string.shared, shown, loudest - RANGE_DB) {
        let points: Vec<_> = piece.into_iter().map(|(i, db)| point(i, db)).collect();
        drawing.dashed(&points, 0.17 * em, 0.6 * em, Tone::Grey);
    }
}

/// The stretches over which some partials together stand out of the noise and above a level in dB: of
/// each moment its number and the level.
fn pieces(partials: &[Followed], moments: usize, least_db: f32) -> Vec<Vec<(usize, f32)>> {
    let noise = sum_db(partials.iter().map(|f| f.noise_db));
    let least = least_db.max(noise + ABOVE_NOISE_DB);
    let mut pieces = vec![Vec::new()];
    for i in 0..moments {
        let together = sum_db(partials.iter().map(|f| f.levels_db[i]));
        if together > least {
            pieces.last_mut().expect("one at least").push((i, together));
        } else {
            pieces.push(Vec::new());
        }
    }
    pieces.retain(|piece| piece.len() > 1);
    pieces
}

/// Powers in dB added up.
fn sum_db(levels: impl Iterator<Item = f32>) -> f32 {
    10.0 * levels.map(|db| 10f32.powf(db / 10.0)).sum::<f32>().log10()
}

/// The verdict beside its lane.
fn verdict(
    drawing: &mut Drawing,
    lane: &Area,
    em: f32,
    shown: &Shown,
    index: usize,
    seen: &StringView,
) {
    let string = &shown.take.strings[index];
    let phrase = wording::string_phrase(string);
    let small = 0.9 * em;
    let mut lines = wrapped(&phrase, small, (VERDICT_EMS - 2.0) * em);
    // What the lane shows where it is not the expected note's own sound.
    let shows = match &seen.heard {
        Some(heard) => Some(format!("(drawn: fret {})", heard.fret)),
        None if !seen.shared.is_empty() => Some("(shared partials)".to_owned()),
        None => None,
    };
    lines.extend(shows);
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
