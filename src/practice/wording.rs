//! Every sentence of a practice.

use super::exercise::{self, ChordPart, Remark};
use super::lesson::{Drill, Lesson, Step, Target};
use super::session::{AlongEvent, StepOutcome};
use crate::verdict::JudgedTake;
use crate::words;

/// Said once, after half an hour of playing. Breaks and pain: British Association for Performing Arts
/// Medicine.
pub const BREAK: &str = words::lesson::BREAK_IS_DUE;

/// Said at the end: what is common knowledge among those who treat players (British Association for
/// Performing Arts Medicine).
pub const CARE: &str = words::lesson::CARE;

/// "Step 1 of 3, build, a chord from its parts: F (133211). 2 clean takes in each stage, 8 minutes at most."
pub fn step(lesson: &Lesson, step: usize) -> String {
    let count = lesson.steps.len();
    let this = &lesson.steps[step];
    words::lesson::step(
        step + 1,
        count,
        kind(&this.drill),
        subject(&this.drill),
        wanted(this),
    )
}

/// Gives what kind of exercise a step is, in words.
pub fn kind_in_words(drill: &Drill) -> &'static str {
    match drill {
        Drill::Build { .. } => words::lesson::BUILD,
        Drill::Place { .. } => words::lesson::PLACE,
        Drill::Climb { .. } => words::lesson::CLIMB,
        Drill::Name { .. } => words::lesson::NAME,
        Drill::Switch { .. } => "changes",
        Drill::Hold { .. } => words::lesson::HOLD,
        Drill::Route { .. } => words::lesson::ROUTE,
        Drill::Play { .. } => words::lesson::PLAY,
    }
}

/// "build, a chord from its parts".
pub fn kind(drill: &Drill) -> String {
    format!("{}, {}", drill.kind(), kind_in_words(drill))
}

/// Gives what a step is about, shortly: "F (133211)", "E shape from fret 1 to 7".
pub fn subject(drill: &Drill) -> String {
    match drill {
        Drill::Build { target, .. } | Drill::Place { target } => target.to_string(),
        Drill::Climb { places, .. } => {
            let name = |i: usize| places.get(i).map_or_else(String::new, |p| p.to_string());
            match places.len() {
                1 => name(0),
                n => words::grammar::from_to(name(0), name(n - 1)),
            }
        }
        Drill::Name { string, roots, .. } => match roots.len() {
            1 => words::lesson::one_root(string),
            n => words::lesson::roots(n, string),
        },
        Drill::Switch { chords } | Drill::Hold { chords, .. } => {
            some(chords.iter().map(Target::name))
        }
        Drill::Route { way, .. } => some(way.steps.iter().map(|s| s.chord.to_string())),
        Drill::Play { part, .. } => {
            let once = (part.plan.placed.iter()).filter(|p| p.bar < part.plan.loop_bars);
            some(once.filter_map(|p| p.chord).map(|c| c.to_string()))
        }
    }
}

/// Chords that a heading names; the others of a longer song are only counted.
const NAMED: usize = 12;

fn some(names: impl Iterator<Item = String>) -> String {
    let names: Vec<String> = names.collect();
    let shown = names[..names.len().min(NAMED)].join(", ");
    match names.len().saturating_sub(NAMED) {
        0 => shown,
        more => words::lesson::and_more(&shown, more),
    }
}

fn wanted(step: &Step) -> String {
    let minutes = match step.limit_s / 60.0 {
        1.0 => words::lesson::ONE_MINUTE.to_owned(),
        other => words::lesson::minutes((other * 10.0).round() / 10.0),
    };
    let n = step.clean;
    let takes = words::lesson::clean_takes(n);
    match &step.drill {
        Drill::Build { stages, .. } if stages.len() > 1 => {
            words::lesson::wanted_in_each_stage(takes, &minutes)
        }
        Drill::Build { .. } | Drill::Place { .. } => words::lesson::wanted(takes, &minutes),
        Drill::Climb { .. } => words::lesson::wanted_at_each_fret(takes, &minutes),
        Drill::Name { .. } => words::lesson::wanted_answers(n, &minutes),
        Drill::Switch { .. } => words::lesson::wanted_landings(&minutes, n),
        Drill::Hold { rounds, .. } => {
            let rounds = match rounds {
                1 => words::lesson::ONCE_THROUGH.to_owned(),
                n => words::lesson::times_through_short(n),
            };
            words::lesson::wanted_of_each_chord(takes, &rounds, &minutes)
        }
        Drill::Route { rounds, way, .. } => {
            words::lesson::wanted_along_the_way(n, way.steps.len() as u32 * rounds, &minutes)
        }
        Drill::Play {
            part, within_ms, ..
        } => {
            let tempo = match (part.plan.grid.tempo_bpm(0.0), part.plan.grid.is_steady()) {
                (from, true) => format!("{from:.0}"),
                (from, false) => {
                    let to = part.plan.grid.tempo_bpm(part.plan.grid.length_beats());
                    words::grammar::from_to(from.round(), to.round())
                }
            };
            words::lesson::wanted_with_the_band(&tempo, n, part.beats.len(), within_ms, &minutes)
        }
    }
}

/// Gives what a time through with a backing brought: "6 of 8 strums clean and within 50 ms; 6 are wanted."
pub fn landed(lesson: &Lesson, event: &AlongEvent) -> String {
    let (landed, of, within_ms, wanted) = landings(lesson, event);
    words::lesson::landed(landed, of, within_ms, wanted)
}

/// Strums that landed, of how many, within how many ms, and how many are wanted.
fn landings(lesson: &Lesson, event: &AlongEvent) -> (u32, usize, f64, u32) {
    let step = &lesson.steps[event.step];
    let within_ms = match step.drill {
        Drill::Play { within_ms, .. } => within_ms,
        _ => 0.0,
    };
    let landed = exercise::landed(&event.played, within_ms);
    (landed, event.played.outcomes.len(), within_ms, step.clean)
}

/// Tells how a step came out.
pub fn outcome(outcome: StepOutcome) -> &'static str {
    match outcome {
        StepOutcome::Passed => words::lesson::PASSED,
        StepOutcome::Played => words::lesson::PLAYED,
        StepOutcome::TimeUp => words::lesson::TIME_UP,
        StepOutcome::Left => words::lesson::LEFT,
        StepOutcome::Stopped => words::lesson::STOPPED,
    }
}

/// Gives what a take brought beside its verdicts, where that is anything.
pub fn note(note: &Remark) -> Option<String> {
    match note {
        Remark::Verdict => None,
        Remark::Other { heard, asked } => Some(words::lesson::another_chord(heard, asked)),
        Remark::Part {
            chord,
            heard,
            asked,
        } => Some(words::lesson::another_part(
            part(chord, *heard),
            to_do(*heard, *asked),
        )),
        Remark::Placed {
            number,
            right: (right, of),
            best,
        } => {
            let best = match best {
                Some(best) if best == number => words::lesson::THE_BEST_SO_FAR.to_owned(),
                Some(best) => words::lesson::another_is_best(best),
                None => String::new(),
            };
            Some(words::lesson::placement(number, right, of, &best))
        }
        Remark::Right { name, seconds } => Some(words::lesson::right_root(name, seconds)),
        Remark::Wrong { heard, asked } => Some(words::lesson::wrong_root(heard, asked)),
        Remark::Shown { place } => Some(words::lesson::root_shown(place)),
        Remark::Late => Some(words::lesson::TOO_LATE.to_owned()),
    }
}

/// "the whole F", "the barre alone".
fn part(chord: &str, part: ChordPart) -> String {
    match part {
        ChordPart::Whole => words::lesson::whole(chord),
        ChordPart::Barre => words::lesson::BARRE_ALONE.to_owned(),
        ChordPart::Shape => words::lesson::without_the_barre(chord),
    }
}

/// What the hand is to do where one part was played and another asked.
fn to_do(heard: ChordPart, asked: ChordPart) -> &'static str {
    match (heard, asked) {
        (_, ChordPart::Barre) => words::lesson::ONLY_THE_INDEX,
        (ChordPart::Barre, ChordPart::Shape) => words::lesson::OTHER_FINGERS_INSTEAD,
        (_, ChordPart::Shape) => words::lesson::INDEX_FINGER_OFF,
        (ChordPart::Shape, ChordPart::Whole) => words::lesson::INDEX_FINGER_TOO,
        (_, ChordPart::Whole) => words::lesson::OTHER_FINGERS_TOO,
    }
}

/// The same as [`note`] in some 40 letters, for a screen; which chord a take was held against where there
/// is nothing else.
pub fn note_in_short(take: &JudgedTake, note: &Remark) -> String {
    match note {
        Remark::Verdict => heard(take),
        Remark::Other { heard, asked } => words::lesson::another_chord_in_short(heard, asked),
        Remark::Part {
            chord,
            heard,
            asked,
        } => words::lesson::another_part_in_short(part(chord, *heard), to_do(*heard, *asked)),
        Remark::Placed {
            number,
            right,
            best,
        } => {
            let best = match best {
                Some(best) if best == number => words::lesson::BEST_SO_FAR_IN_SHORT.to_owned(),
                Some(best) => words::lesson::another_is_best_in_short(best),
                None => String::new(),
            };
            words::lesson::placement_in_short(number, right.0, right.1, &best)
        }
        Remark::Right { name, seconds } => words::lesson::right_root_in_short(name, seconds),
        Remark::Wrong { heard, asked } => words::lesson::wrong_root_in_short(heard, asked),
        Remark::Shown { place } => words::lesson::root_shown_in_short(place),
        Remark::Late => words::lesson::TOO_LATE_IN_SHORT.to_owned(),
    }
}

/// The same as [`landed`], for a screen.
pub fn landed_in_short(lesson: &Lesson, event: &AlongEvent) -> String {
    let (landed, of, _, wanted) = landings(lesson, event);
    words::lesson::landed_in_short(landed, of, wanted)
}

/// The same as [`outcome`], for a screen.
pub fn outcome_in_short(outcome: StepOutcome) -> &'static str {
    match outcome {
        StepOutcome::Passed => "done",
        StepOutcome::Played => words::lesson::PLAYED_IN_SHORT,
        StepOutcome::TimeUp => words::lesson::TIME_UP_IN_SHORT,
        StepOutcome::Left => words::lesson::LEFT_IN_SHORT,
        StepOutcome::Stopped => "stopped",
    }
}

/// "heard: F (133211)".
fn heard(take: &JudgedTake) -> String {
    match &take.chord {
        Some(chord) => format!("heard: {chord} ({})", take.frets),
        None => format!("heard: {}", take.frets),
    }
}
