//! Every sentence of a practice.

use super::exercise::{self, Note, Part};
use super::lesson::{Drill, Lesson, Step, Target};
use super::session::{AlongEvent, Outcome};
use crate::verdict::Take;

/// Said once, after half an hour of playing. Breaks and pain: British Association for Performing Arts
/// Medicine.
pub const BREAK: &str = "Half an hour of playing: time to put the guitar down for five minutes. \
     If something hurts, stop for today; see a specialist if the pain stays or comes back.";

/// Said at the end: what is common knowledge among those who treat players (British Association for
/// Performing Arts Medicine).
pub const CARE: &str = "Make practice at most ten minutes longer from day to day. Do not keep repeating \
     what does not come, and never play through pain.";

/// "Step 1 of 3, build, a chord from its parts: F (133211). 2 clean takes in each stage, 8 minutes at most."
pub fn step(lesson: &Lesson, step: usize) -> String {
    let count = lesson.steps.len();
    let this = &lesson.steps[step];
    format!(
        "Step {} of {count}, {}: {}. {}",
        step + 1,
        kind(&this.drill),
        subject(&this.drill),
        wanted(this)
    )
}

/// Gives what kind of exercise a step is, in words.
pub fn kind_in_words(drill: &Drill) -> &'static str {
    match drill {
        Drill::Build { .. } => "a chord from its parts",
        Drill::Place { .. } => "where the finger lies best",
        Drill::Climb { .. } => "one shape along the neck",
        Drill::Name { .. } => "roots by name",
        Drill::Switch { .. } => "changes",
        Drill::Hold { .. } => "chords at your own pace",
        Drill::Route { .. } => "the shortest way over the neck",
        Drill::Play { .. } => "along with the band",
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
                n => format!("{} to {}", name(0), name(n - 1)),
            }
        }
        Drill::Name { string, roots, .. } => match roots.len() {
            1 => format!("1 root on string {string}"),
            n => format!("{n} roots on string {string}"),
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
        more => format!("{shown} and {more} more"),
    }
}

fn wanted(step: &Step) -> String {
    let minutes = match step.limit_s / 60.0 {
        1.0 => "1 minute".to_owned(),
        other => format!("{} minutes", (other * 10.0).round() / 10.0),
    };
    let n = step.clean;
    let takes = if n == 1 { "clean take" } else { "clean takes" };
    match &step.drill {
        Drill::Build { stages, .. } if stages.len() > 1 => {
            format!("{n} {takes} in each stage, {minutes} at most.")
        }
        Drill::Build { .. } | Drill::Place { .. } => format!("{n} {takes}, {minutes} at most."),
        Drill::Climb { .. } => format!("{n} {takes} at each fret, {minutes} at most."),
        Drill::Name { .. } => format!("{n} right answers, {minutes} at most."),
        Drill::Switch { .. } => {
            format!("{minutes} from the first strum; {n} clean landings.")
        }
        Drill::Hold { rounds, .. } => {
            let rounds = match rounds {
                1 => "once through".to_owned(),
                n => format!("{n} times through"),
            };
            format!("{n} {takes} of each chord, {rounds}, {minutes} at most.")
        }
        Drill::Route { rounds, way, .. } => format!(
            "{n} of {} chords landed clean, {minutes} at most.",
            way.steps.len() as u32 * rounds
        ),
        Drill::Play {
            part, within_ms, ..
        } => {
            let tempo = match (part.plan.grid.tempo_bpm(0.0), part.plan.grid.is_steady()) {
                (from, true) => format!("{from:.0}"),
                (from, false) => {
                    let to = part.plan.grid.tempo_bpm(part.plan.grid.length_beats());
                    format!("{from:.0} to {to:.0}")
                }
            };
            format!(
                "{tempo} beats a minute; {n} of {} strums clean and within {within_ms:.0} ms, {minutes} at most.",
                part.beats.len()
            )
        }
    }
}

/// Gives what a time through with a backing brought: "6 of 8 strums clean and within 50 ms; 6 are wanted."
pub fn landed(lesson: &Lesson, event: &AlongEvent) -> String {
    let (landed, of, within_ms, wanted) = landings(lesson, event);
    format!("{landed} of {of} strums clean and within {within_ms:.0} ms; {wanted} are wanted.")
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
pub fn outcome(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Passed => "done: all that was asked for",
        Outcome::Played => "played to the end, not all of it clean",
        Outcome::TimeUp => "the time is up; on to something else",
        Outcome::Left => "skipped; it stays for next time",
        Outcome::Stopped => "stopped early",
    }
}

/// Gives what a take brought beside its verdicts, where that is anything.
pub fn note(note: &Note) -> Option<String> {
    match note {
        Note::Verdict => None,
        Note::Other { heard, asked } => Some(format!(
            "That was {heard}; {asked} was asked. It does not count."
        )),
        Note::Part {
            chord,
            heard,
            asked,
        } => Some(format!(
            "That was {}: {}. It does not count.",
            part(chord, *heard),
            to_do(*heard, *asked)
        )),
        Note::Placed {
            number,
            right: (right, of),
            best,
        } => {
            let best = match best {
                Some(best) if best == number => "; the best so far".to_owned(),
                Some(best) => format!("; placement {best} is the best so far"),
                None => String::new(),
            };
            Some(format!(
                "Placement {number}: {right} of {of} strings as they should be{best}."
            ))
        }
        Note::Right { name, seconds } => Some(format!("{name} it is, after {seconds:.1} s.")),
        Note::Wrong { heard, asked } => Some(format!("That was {heard}; {asked} is asked.")),
        Note::Shown { place } => Some(format!("It is {place}; it will be asked again.")),
        Note::Late => Some("Played after the time; kept, but not counted.".to_owned()),
    }
}

/// "the whole F", "the barre alone".
fn part(chord: &str, part: Part) -> String {
    match part {
        Part::Whole => format!("the whole {chord}"),
        Part::Barre => "the barre alone".to_owned(),
        Part::Shape => format!("{chord} without the barre"),
    }
}

/// What the hand is to do where one part was played and another asked.
fn to_do(heard: Part, asked: Part) -> &'static str {
    match (heard, asked) {
        (_, Part::Barre) => "lay only the index finger",
        (Part::Barre, Part::Shape) => "take it off, set the other fingers down",
        (_, Part::Shape) => "take the index finger off",
        (Part::Shape, Part::Whole) => "lay the index finger down too",
        (_, Part::Whole) => "set the other fingers down too",
    }
}

/// The same as [`note`] in some 40 letters, for a screen; which chord a take was held against where there
/// is nothing else.
pub fn note_in_short(take: &Take, note: &Note) -> String {
    match note {
        Note::Verdict => heard(take),
        Note::Other { heard, asked } => format!("that was {heard}, not {asked}"),
        Note::Part {
            chord,
            heard,
            asked,
        } => format!(
            "that was {}: {}",
            part(chord, *heard),
            to_do(*heard, *asked)
        ),
        Note::Placed {
            number,
            right,
            best,
        } => {
            let best = match best {
                Some(best) if best == number => ", the best so far".to_owned(),
                Some(best) => format!(", best so far: {best}"),
                None => String::new(),
            };
            format!("placement {number}: {} of {}{best}", right.0, right.1)
        }
        Note::Right { name, seconds } => format!("{name} it is, after {seconds:.1} s"),
        Note::Wrong { heard, asked } => format!("that was {heard}; {asked} is asked"),
        Note::Shown { place } => format!("it is {place}; again soon"),
        Note::Late => "too late to count; it is kept".to_owned(),
    }
}

/// The same as [`landed`], for a screen.
pub fn landed_in_short(lesson: &Lesson, event: &AlongEvent) -> String {
    let (landed, of, _, wanted) = landings(lesson, event);
    format!("{landed} of {of} clean and in time, {wanted} wanted")
}

/// The same as [`outcome`], for a screen.
pub fn outcome_in_short(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Passed => "done",
        Outcome::Played => "played, not all clean",
        Outcome::TimeUp => "the time was up",
        Outcome::Left => "skipped for today",
        Outcome::Stopped => "stopped",
    }
}

/// "heard: F (133211)".
fn heard(take: &Take) -> String {
    match &take.chord {
        Some(chord) => format!("heard: {chord} ({})", take.frets),
        None => format!("heard: {}", take.frets),
    }
}
