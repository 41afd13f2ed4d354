//! Results of a trial: how right the verdicts were on one guitar, as text and as JSON.

use std::io::{self, Write};

use serde_json::json;

use super::json::json_line;
use super::page::accuracy;
use super::picture::lines;
use super::score::{self, ScoreObject};
use crate::practice::Share;
use crate::trial::learning::Learning;
use crate::trial::{Deed, Score, TrialPlan, sum, wording};
use crate::words;

/// Columns of a paragraph.
const WIDTH: usize = 78;

/// Outcome of a trial.
#[derive(Debug, Clone)]
pub struct TrialOutcome {
    /// Folder of the set, in words.
    pub set: String,
    /// Verdicts against what was done.
    pub score: Score,
    /// Ranges in which the true shares of takes and of strings lie, 0 to 1.
    pub ranges: [(f64, f64); 2],
    /// Lesson learnt of the guitar; `None` of too few strums.
    pub lesson: Option<Learning>,
    /// True where the player was asked back about strums that were not told as asked.
    pub asked_back: bool,
    /// Strums that are kept.
    pub kept: usize,
    /// Strums of the plan.
    pub of: usize,
}

/// Deeds that are measured on composed strums too: damped, stopped early, at another fret.
const MEASURED_TOO: [Deed; 5] = [
    Deed::Touched,
    Deed::Lifted,
    Deed::Missed,
    Deed::High,
    Deed::Rings,
];

/// Writes what is to be known before a trial.
///
/// # Errors
/// Where `out` cannot be written.
pub fn opening(out: &mut dyn Write) -> io::Result<()> {
    let said = [
        words::trial::WHAT_HAPPENS,
        words::trial::STRIKE_TWICE,
        words::trial::CAUTION_IN_LINES,
    ];
    said.into_iter().try_for_each(|said| paragraph(out, said))
}

/// Writes a plan, a line each strum.
///
/// # Errors
/// Where `out` cannot be written.
pub fn plan(out: &mut dyn Write, plan: &TrialPlan) -> io::Result<()> {
    let of = plan.steps.len();
    for (step, number) in plan.steps.iter().zip(1..) {
        let asked = wording::asked(step);
        let chord = wording::chord(step);
        let line = words::trial::asked(number, of, chord, asked.large, asked.in_full);
        writeln!(out, "{line}")?;
    }
    Ok(())
}

/// Writes the result for people: in words first, then by kind and by string.
///
/// # Errors
/// Where `out` cannot be written.
pub fn text(out: &mut dyn Write, result: &TrialOutcome) -> io::Result<()> {
    writeln!(out)?;
    for said in sentences(result) {
        paragraph(out, &said)?;
    }
    writeln!(out)?;
    score::by_deed_and_string(out, &result.score)?;
    paragraph(out, words::labelled::RANGES)?;
    paragraph(out, &words::trial::kept_in(&result.set))?;
    if result.kept < result.of {
        paragraph(out, &words::trial::broken_off(result.kept, result.of))?;
    }
    Ok(())
}

/// Gives the result in sentences.
pub fn sentences(result: &TrialOutcome) -> Vec<String> {
    let score = &result.score;
    let percent = |share: f64| format!("{:.0}", 100.0 * share);
    type Say = fn(u32, u32, String, String, String) -> String;
    let told = |share: Share, (low, high): (f64, f64), say: Say| {
        let value = share.share().unwrap_or(0.0);
        say(
            share.part,
            share.of,
            percent(value),
            percent(low),
            percent(high),
        )
    };
    let (found, alarms) = (sum(&score.found()), sum(&score.false_alarms()));
    let mut said = vec![
        told(score.takes, result.ranges[0], |a, b, c, d, e| {
            words::trial::right(a, b, c, d, e)
        }),
        told(score.strings, result.ranges[1], |a, b, c, d, e| {
            words::trial::strings_right(a, b, c, d, e)
        }),
    ];
    if found.of > 0 {
        said.push(words::trial::found(found.part, found.of));
    }
    said.push(words::trial::false_alarms(alarms.part, alarms.of));
    if score.refused + score.not_found > 0 {
        said.push(words::trial::refused(score.refused, score.not_found));
    }
    if !result.asked_back {
        said.push(words::trial::NOT_ASKED_BACK.to_owned());
    }
    said.push(published());
    said.push(beside_published(score, alarms).to_owned());
    if score.takes.of < FEW {
        said.push(words::trial::FEW.to_owned());
    }
    said.extend(result.lesson.as_ref().map(learnt));
    said
}

/// Says what was learnt, and how that was seen to help.
fn learnt(lesson: &Learning) -> String {
    match lesson.learnt.is_nothing() {
        true => words::trial::NOTHING_LEARNT.to_owned(),
        false => words::trial::learnt(lesson.built_in, lesson.left_out, lesson.of),
    }
}

/// Fewer strums than this leave much open: of so many, all right, the share may be 0.9. A choice.
const FEW: u32 = 35;

/// Gives the figures of README on composed strums, in a sentence.
fn published() -> String {
    let faulty = accuracy::faulty_in_words;
    words::trial::published(
        faulty(accuracy::CLEAN),
        faulty(accuracy::MUTED),
        faulty(accuracy::CHOKED),
        faulty(accuracy::WRONG_FRET),
    )
}

/// Says whether what was measured here lies beside the published figures by more than chance: whether these lie
/// outside the range of 95 %.
fn beside_published(score: &Score, alarms: Share) -> &'static str {
    let share = |m: accuracy::Measured| f64::from(m.faulty) / f64::from(m.strings);
    if alarms.of > 0 && alarms.interval().0 > share(accuracy::CLEAN) {
        return words::trial::BELOW_PUBLISHED;
    }
    let mut found = Share::default();
    for deed in MEASURED_TOO {
        if let Some(counts) = score.deeds.get(&deed) {
            found.add_all(counts.together().1);
        }
    }
    // The least of the published shares: whatever a touched string does, dies early or at once.
    if found.of > 0 && found.interval().1 < share(accuracy::MUTED) {
        return words::trial::MISSES_MORE;
    }
    words::trial::AS_PUBLISHED
}

/// Writes the result as one JSON object.
///
/// # Errors
/// Where `out` cannot be written.
pub fn json(out: &mut dyn Write, result: &TrialOutcome) -> io::Result<()> {
    let object = json!({
        "set": result.set,
        "kept": result.kept,
        "of": result.of,
        "ranges": { "takes": result.ranges[0], "strings": result.ranges[1] },
        "score": ScoreObject::from(&result.score),
        "learnt": result.lesson.map(|lesson| json!({
            "offsets": lesson.learnt,
            "strings_right": lesson.built_in,
            "strings_right_left_out": lesson.left_out,
            "strings": lesson.of,
        })),
        "in_words": sentences(result),
    });
    json_line(out, &object)
}

fn paragraph(out: &mut dyn Write, text: &str) -> io::Result<()> {
    for line in lines(text.split_whitespace(), WIDTH) {
        writeln!(out, "{line}")?;
    }
    Ok(())
}
