//! Ringing of each string over time: six lanes, low to high.

use super::axis::{self, Scale};
use super::drawing::{Anchor, Area, Colour, Drawing, HAIR, wrapped};
use super::{PlottedTake, label};
use crate::decibels;
use crate::fretboard::STRINGS;
use crate::report::picture::symbol;
use crate::strings::view::{Followed, StringView};
use crate::take::Manner;
use crate::verdict::{Verdict, wording};
use crate::words;

/// Space for the verdict beside its lane, in ems.
const VERDICT_EMS: f32 = 12.5;
/// Lowest level shown, in dB against the loudest lane of the take.
pub const LOWEST_DB: f32 = -60.0;
/// A level counts as sound from this far above the mean noise on, in dB: noise alone is that loud for
/// one moment in fifty or so.
const ABOVE_NOISE_DB: f32 = 6.0;
/// Sound that lasts shorter than this, of a string that is quiet or dead, is the attack of others or a touch, in seconds: an
/// attack looks up to 0.2 s wide on either side under the longest window, and a thud lasts as long.
const ATTACK_S: f32 = 0.5;
/// Longest from the first stroke of a strum to another one's own sound, in seconds: a strum takes 0.15 s.
const OWN_S: f32 = 0.2;
/// From diamond to diamond of a line, in ems.
const DIAMONDS_EMS: f32 = 2.2;

/// One string's line as it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Lane {
    /// Moments, in seconds after the first stroke.
    pub times_s: Vec<f32>,
    /// Level at each moment in dB against the loudest of the take; `None` where nothing is drawn.
    pub levels_db: Vec<Option<f32>>,
    /// True at each moment where none of the string's own partials stands out, only such as another string has too: drawn dashed.
    pub shared: Vec<bool>,
    /// True where it is of a note that should not sound: drawn with diamonds.
    pub foreign: bool,
    /// What noise alone would give, in the same dB.
    noise_db: f32,
}

impl Lane {
    /// Whether its line has a stretch before `end_s`: it takes two moments in a row.
    fn is_drawn_until(&self, end_s: f32) -> bool {
        let moments = self.times_s.partition_point(|t| *t <= end_s);
        let levels = &self.levels_db[..moments];
        levels
            .windows(2)
            .any(|pair| pair.iter().all(Option::is_some))
    }
}

/// What is said in a lane without a line, the longest first; nothing of a string that should be quiet and is.
fn why_empty(verdict: Verdict, string: &StringView) -> [&'static str; 2] {
    match verdict {
        Verdict::Silent => ["", ""],
        _ if string.own.is_empty() => [
            words::picture::ONLY_SHARED,
            words::picture::ONLY_SHARED_SHORT,
        ],
        _ => [
            words::picture::NOTHING_STANDS_OUT,
            words::picture::NOTHING_STANDS_OUT_SHORT,
        ],
    }
}

/// The lines of a take, string 6 to string 1; `None` where too little sound follows the strum, or where it is not known
/// which chord it is.
///
/// A string's own partials are drawn whatever was said of it. Those that it shares may be any string's: they are counted for
/// strings that sound, as the verdict has it, and for no others. So a dead string is not drawn with its neighbour's sound.
pub fn lanes(shown: &PlottedTake) -> Option<[Lane; STRINGS]> {
    let view = shown.view.as_ref().filter(|_| shown.is_chord_known())?;
    let partials_db = view.loudest_db();
    let strummed = shown.take.manner == Manner::Strummed;
    let mut lanes: [Lane; STRINGS] = std::array::from_fn(|index| {
        let string = &view.strings[index];
        let verdict = shown.take.strings[index].verdict;
        let sounds = matches!(verdict, Verdict::Clean | Verdict::Buzzing);
        let moments = view.times_s.len();
        let own = standing_out(&string.own, moments, partials_db);
        let shared = match sounds {
            true => standing_out(&string.shared, moments, partials_db),
            false => vec![None; moments],
        };
        let together = own.iter().zip(&shared).map(|levels| match levels {
            (None, None) => None,
            (a, b) => Some(sum_db([*a, *b].into_iter().flatten())),
        });
        let mut levels_db: Vec<Option<f32>> = together.collect();
        match verdict {
            Verdict::Silent => drop_attacks(&view.times_s, &mut levels_db, f32::MIN),
            // Its own thud, or what it sounded before it died, is kept.
            Verdict::Muted | Verdict::Choked if strummed => {
                drop_attacks(&view.times_s, &mut levels_db, OWN_S);
            }
            _ => {}
        }
        Lane {
            times_s: view.times_s.clone(),
            levels_db,
            shared: own.iter().map(Option::is_none).collect(),
            foreign: string.heard.is_some() || verdict == Verdict::Ringing,
            noise_db: sum_db(string.own.iter().map(|f| f.noise_db)) - partials_db,
        }
    });
    // Partials together are louder than the loudest of them: the loudest lane is 0 dB.
    let all = lanes.iter().flat_map(|lane| &lane.levels_db).flatten();
    let loudest_db = all.copied().fold(f32::MIN, f32::max);
    if loudest_db > f32::MIN {
        for lane in &mut lanes {
            lane.noise_db -= loudest_db;
            lane.levels_db
                .iter_mut()
                .flatten()
                .for_each(|db| *db -= loudest_db);
        }
    }
    Some(lanes)
}

/// Takes out stretches that begin after a moment and are over before [`ATTACK_S`].
fn drop_attacks(times_s: &[f32], levels_db: &mut [Option<f32>], after_s: f32) {
    let mut from = 0;
    while from < levels_db.len() {
        let is_drawn = levels_db[from].is_some();
        let alike = levels_db[from..]
            .iter()
            .take_while(|db| db.is_some() == is_drawn);
        let end = from + alike.count();
        if is_drawn && times_s[from] > after_s && times_s[end - 1] - times_s[from] < ATTACK_S {
            levels_db[from..end].fill(None);
        }
        from = end;
    }
}

/// Level of partials together at each moment, in dB against the loudest, where it stands out of the noise.
fn standing_out(partials: &[Followed], moments: usize, loudest_db: f32) -> Vec<Option<f32>> {
    let noise = sum_db(partials.iter().map(|f| f.noise_db));
    let least = (loudest_db + LOWEST_DB).max(noise + ABOVE_NOISE_DB);
    let level = |i: usize| sum_db(partials.iter().map(|f| f.levels_db[i]));
    (0..moments)
        .map(|i| {
            Some(level(i))
                .filter(|&db| db > least)
                .map(|db| db - loudest_db)
        })
        .collect()
}

/// Height in pixels.
pub fn height(em: f32, width: f32, is_chord_known: bool) -> f32 {
    match is_chord_known {
        true => 6.0 * lane_height(em, width) + 3.4 * em + axis::height_under(em),
        false => 2.2 * em,
    }
}

fn lane_height(em: f32, width: f32) -> f32 {
    (3.9 * em).max(width * 0.05)
}

/// Draws the lanes of one take, to `seconds` after the first stroke.
pub fn draw(drawing: &mut Drawing, area: &Area, em: f32, shown: &PlottedTake, seconds: f32) {
    let Some(view) = &shown.view else { return };
    let at = (area.x, area.y + 0.8 * em);
    let Some(lanes_drawn) = lanes(shown) else {
        let said = words::picture::CHORD_NOT_KNOWN;
        return drawing.text(at, Anchor::Left, em, Colour::Ink, said);
    };
    drawing.text_within(
        at,
        em,
        Colour::Ink,
        &words::picture::RINGDOWN_TITLES,
        area.width,
    );
    drawing.text_within(
        (area.x, area.y + 2.2 * em),
        0.9 * em,
        Colour::Grey,
        &words::picture::RINGDOWN_LEGENDS,
        area.width,
    );
    let lanes = area.inset(8.2 * em, 3.4 * em, VERDICT_EMS * em, axis::height_under(em));
    let each = lane_height(em, area.width);
    let from = view.times_s.first().copied().unwrap_or(0.0).max(-0.1);
    let time = Scale::across(&lanes, from, seconds);
    for (index, drawn) in lanes_drawn.iter().enumerate() {
        let lane = Area {
            y: lanes.y + each * index as f32,
            height: each - 0.7 * em,
            ..lanes
        };
        drawing.fill(lane, Colour::Ground);
        let level = Scale::up(&lane, LOWEST_DB, 0.0);
        axis::beside(
            drawing,
            &lane,
            &level,
            &[0.0, -20.0, -40.0, -60.0],
            0.65 * em,
        );
        for &onset in view.onsets_s.iter().filter(|&&o| o <= seconds) {
            let x = time.at(onset);
            drawing.line(
                vec![(x, lane.y), (x, lane.bottom())],
                HAIR * em,
                Colour::Pale,
            );
        }
        label(drawing, (area.x, lane.middle()), em, shown, index);
        let colour = match shown.take.strings[index].verdict {
            _ if !shown.take.judged() => Colour::Grey,
            Verdict::Silent => Colour::Grey,
            fault if fault.is_fault() => Colour::Orange,
            _ => Colour::Blue,
        };
        line(drawing, drawn, (&time, &level), seconds, colour, em);
        if !drawn.is_drawn_until(seconds) {
            let why = why_empty(shown.take.strings[index].verdict, &view.strings[index]);
            let at = (lane.x + 0.7 * em, lane.middle());
            drawing.text_within(at, 0.9 * em, Colour::Grey, &why, lane.width - 1.4 * em);
        }
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
        words::picture::SECONDS_AFTER_FIRST,
        em,
    );
}

/// Draws one string's line, to `end_s`.
fn line(
    drawing: &mut Drawing,
    lane: &Lane,
    (time, level): (&Scale, &Scale),
    end_s: f32,
    colour: Colour,
    em: f32,
) {
    if lane.noise_db > LOWEST_DB {
        let y = level.at(lane.noise_db);
        let ends = vec![(time.at(f32::MIN), y), (time.at(f32::MAX), y)];
        drawing.line(ends, HAIR * em, Colour::Grey);
    }
    let moments = lane.times_s.iter().zip(&lane.levels_db).zip(&lane.shared);
    let points: Vec<Option<((f32, f32), bool)>> = moments
        .take_while(|((t, _), _)| **t <= end_s)
        .map(|((t, db), &shared)| db.map(|db| ((time.at(*t), level.at(db)), shared)))
        .collect();
    let width = 0.17 * em;
    for piece in points.split(Option::is_none) {
        let piece: Vec<((f32, f32), bool)> = piece.iter().copied().flatten().collect();
        let mut from = 0;
        while from + 1 < piece.len() {
            let shared = piece[from + 1].1;
            let same = piece[from + 1..]
                .iter()
                .take_while(|p| p.1 == shared)
                .count();
            let stretch: Vec<(f32, f32)> = piece[from..=from + same].iter().map(|p| p.0).collect();
            match shared {
                true => drawing.dashed(&stretch, width, 0.6 * em, colour),
                false => drawing.line(stretch, width, colour),
            }
            from += same;
        }
        if lane.foreign {
            let mut next = f32::MIN;
            for &((x, y), _) in &piece {
                if x >= next {
                    drawing.diamond((x, y), 0.35 * em, 0.12 * em, colour);
                    next = x + DIAMONDS_EMS * em;
                }
            }
        }
    }
}

/// Powers in dB added up.
fn sum_db(levels: impl Iterator<Item = f32>) -> f32 {
    decibels::of_power(levels.map(decibels::to_power).sum::<f32>())
}

/// The verdict beside its lane.
fn verdict(
    drawing: &mut Drawing,
    lane: &Area,
    em: f32,
    shown: &PlottedTake,
    index: usize,
    seen: &StringView,
) {
    let string = &shown.take.strings[index];
    let phrase = wording::string_phrase(string);
    let small = 0.9 * em;
    let mut lines = wrapped(&phrase, small, (VERDICT_EMS - 2.0) * em);
    // What the lane shows where it is not the expected note's own sound.
    let shows = (seen.heard.as_ref()).map(|heard| words::picture::drawn_fret(heard.fret));
    lines.extend(shows);
    lines.truncate(3);
    let colour = match string.verdict.is_fault() {
        true => Colour::Orange,
        false => Colour::Ink,
    };
    let step = 1.15 * small;
    let top = lane.middle() - step * (lines.len() as f32 - 1.0) / 2.0;
    let left = lane.right() + 0.7 * em;
    drawing.text(
        (left, top),
        Anchor::Left,
        em,
        colour,
        symbol(string.verdict),
    );
    for (i, line) in lines.into_iter().enumerate() {
        let at = (left + 1.3 * em, top + step * i as f32);
        drawing.text(at, Anchor::Left, small, colour, line);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn attacks_of_others_are_taken_out_and_lasting_sound_and_the_string_s_own_are_kept() {
        // A level every 0.1 s: 0 to 0.2 s, 0.5 to 0.7 s, and 1 s on.
        let times_s: Vec<f32> = (0..20).map(|i| i as f32 / 10.0).collect();
        let sounds = |t: &f32| *t < 0.25 || (0.45..0.75).contains(t) || *t > 0.95;
        let levels_db: Vec<Option<f32>> =
            times_s.iter().map(|t| sounds(t).then_some(-9.0)).collect();
        let kept = |after_s: f32| -> Vec<f32> {
            let mut left = levels_db.clone();
            drop_attacks(&times_s, &mut left, after_s);
            let begins =
                (0..left.len()).filter(|&i| left[i].is_some() && (i == 0 || left[i - 1].is_none()));
            begins.map(|i| times_s[i]).collect()
        };
        assert_eq!(kept(f32::MIN), [1.0]);
        assert_eq!(kept(OWN_S), [0.0, 1.0]);
        assert_eq!(kept(f32::MAX), [0.0, 0.5, 1.0]);
    }
}
