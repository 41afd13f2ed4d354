//! Reading a lesson: a TOML file that a teacher writes by hand. What is wrong with it is said line by
//! line, all of it at once.

mod chords;
mod drills;
mod fields;
mod songs;

use std::fmt;
use std::path::Path;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use self::fields::{Fields, Page, Value};
use super::lesson::{Drill, Lesson, Step};
use crate::disk::{self, DiskError};
use crate::fretboard::Tuning;
use crate::fretboard::shortened;
use crate::words;

/// No lesson is longer, in bytes: some fifty pages.
pub const LONGEST_BYTES: u64 = 256 * 1024;
/// Bounds that keep a slip of the pen from making a lesson that nobody can finish; choices, as all
/// bounds here.
const MOST_STEPS: usize = 100;
/// What is wrong with a lesson is told so many times at most.
const MOST_TOLD: usize = 20;
const CLEAN: std::ops::RangeInclusive<u32> = 1..=100;

/// One thing that is wrong with a lesson.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// Counted from 1.
    pub line: usize,
    /// Fault, and what was expected.
    pub text: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&words::lesson_file::in_line(self.line, &self.text))
    }
}

/// Reason why there is no lesson.
#[derive(Debug, thiserror::Error)]
pub enum LessonError {
    /// The file cannot be read, is no text, or has more than [`LONGEST_BYTES`].
    #[error(transparent)]
    File(#[from] DiskError),
    /// Lines that make no lesson, at least one.
    #[error("{}", self.sentences().join("\n"))]
    Lines {
        /// The lesson's file.
        path: String,
        /// Faults of the lesson, in the order of the lines.
        problems: Vec<Problem>,
    },
}

impl LessonError {
    /// Gives what is wrong, one thing a sentence: so many at most that a screen holds them, then how many more.
    pub fn sentences(&self) -> Vec<String> {
        let LessonError::Lines { path, problems } = self else {
            return vec![self.to_string()];
        };
        let told = problems.iter().take(MOST_TOLD);
        let mut sentences: Vec<String> = told.map(|p| format!("{path}: {p}")).collect();
        if let Some(more) = problems.len().checked_sub(MOST_TOLD).filter(|&n| n > 0) {
            sentences.push(words::lesson_file::more_wrong(path, more));
        }
        sentences
    }
}

impl Lesson {
    /// Reads a lesson file for a guitar in standard tuning, as far as the lesson names no other.
    ///
    /// # Errors
    /// See [`LessonError`].
    pub fn open(path: &Path) -> Result<Lesson, LessonError> {
        Lesson::open_for(path, Tuning::default())
    }

    /// Opens as [`open`](Self::open) does, for a guitar tuned otherwise.
    ///
    /// # Errors
    /// See [`LessonError`].
    pub fn open_for(path: &Path, usual: Tuning) -> Result<Lesson, LessonError> {
        let text = disk::read_text(path, LONGEST_BYTES)?;
        Lesson::read_for(&text, usual).map_err(|problems| LessonError::Lines {
            path: path.display().to_string(),
            problems,
        })
    }

    /// Reads a lesson's text for a guitar in standard tuning, as far as the lesson names no other.
    ///
    /// # Errors
    /// Everything that is wrong with it, at least one problem, in the order of the lines.
    pub fn read(text: &str) -> Result<Lesson, Vec<Problem>> {
        Lesson::read_for(text, Tuning::default())
    }

    /// Reads as [`read`](Self::read) does, for a guitar tuned otherwise.
    ///
    /// # Errors
    /// As [`read`](Self::read).
    pub fn read_for(text: &str, usual: Tuning) -> Result<Lesson, Vec<Problem>> {
        let mut page = Page::new(text);
        let (table, errors) = DeTable::parse_recoverable(text);
        for error in errors {
            page.wrong(
                error.span().unwrap_or(0..0),
                words::lesson_file::no_toml(error.message().replace('\n', ", ")),
            );
        }
        let lesson = if page.problems.is_empty() {
            lesson(&mut page, &table, usual)
        } else {
            None
        };
        page.problems.sort_by_key(|problem| problem.line);
        match lesson {
            Some(lesson) if page.problems.is_empty() => Ok(lesson),
            _ => Err(page.problems),
        }
    }
}

fn lesson(page: &mut Page, table: &Spanned<DeTable>, usual: Tuning) -> Option<Lesson> {
    let mut fields = Fields {
        table: table.get_ref(),
        span: 0..0,
        what: words::lesson_file::A_LESSON.to_owned(),
        known: Vec::new(),
    };
    let title = fields.text(page, "title");
    if !fields.has("title") {
        page.wrong(0..0, words::lesson_file::BEGINS_WITH_TITLE);
    }
    let about = fields.text(page, "about").map(|(text, _)| text);
    let named: Option<Tuning> = fields.read(page, "tuning");
    let tuning = Tuning {
        open: named.unwrap_or(usual).open,
        ..usual
    };
    let highest_capo = u32::from(Tuning::HIGHEST_CAPO);
    let capo = fields.number(
        page,
        "capo",
        0..=highest_capo,
        words::lesson_file::WHERE_CAPO,
    );
    let tuning = tuning
        .with_capo(capo.map_or(usual.capo, |capo| capo as u8))
        .ok()?;
    let alternate = fields.yes(page, "alternate");
    let steps = match fields.get("step") {
        None => {
            page.wrong(0..0, words::lesson_file::NEEDS_A_STEP);
            Vec::new()
        }
        Some(value) => match value.get_ref() {
            DeValue::Array(steps) => {
                if steps.len() > MOST_STEPS || steps.is_empty() {
                    page.wrong(
                        value.span(),
                        words::lesson_file::number_of_steps(MOST_STEPS, steps.len()),
                    );
                }
                steps
                    .iter()
                    .take(MOST_STEPS)
                    .filter_map(|v| step(page, v, &tuning))
                    .collect()
            }
            _ => {
                page.wrong(value.span(), words::lesson_file::STEP_IN_BRACKETS);
                Vec::new()
            }
        },
    };
    fields.finish(page);
    Some(Lesson {
        title: title?.0,
        about,
        tuning,
        alternate,
        steps,
    })
}

fn step(page: &mut Page, value: &Value, tuning: &Tuning) -> Option<Step> {
    let DeValue::Table(table) = value.get_ref() else {
        page.wrong(value.span(), words::lesson_file::STEP_IN_BRACKETS);
        return None;
    };
    let mut fields = Fields {
        table,
        span: value.span(),
        what: words::lesson_file::A_STEP.to_owned(),
        known: Vec::new(),
    };
    let kinds = Drill::KINDS.join(", ");
    if !fields.has("kind") {
        page.wrong(value.span(), words::lesson_file::says_its_kind(&kinds));
    }
    let (kind, span) = fields.text(page, "kind")?;
    fields.what = words::lesson_file::a_step_of_kind(&kind);
    let say = fields.text(page, "say").map(|(text, _)| text);
    // Usual minutes and clean takes of each kind: choices.
    let (drill, minutes, clean) = match kind.as_str() {
        "build" => (drills::build(page, &mut fields, tuning), 6.0, 3),
        "place" => (drills::place(page, &mut fields, tuning), 4.0, 4),
        "climb" => (drills::climb(page, &mut fields, tuning), 6.0, 1),
        "name" => (drills::name(page, &mut fields, tuning), 4.0, 8),
        "switch" => (drills::switch(page, &mut fields, tuning), 2.0, 10),
        "hold" => (drills::hold(page, &mut fields, tuning), 6.0, 1),
        "route" => {
            let drill = songs::route_step(page, &mut fields, tuning);
            let landings = songs::usual_landings(drill.as_ref());
            (drill, 6.0, landings)
        }
        "play" => {
            let drill = songs::play(page, &mut fields, tuning);
            let strums = songs::usual_strums(drill.as_ref());
            (drill, 10.0, strums)
        }
        _ => {
            page.wrong(
                span,
                words::lesson_file::no_such_kind(shortened(&kind), &kinds),
            );
            return None;
        }
    };
    let most = drill.as_ref().and_then(songs::most_clean);
    let most = most.map_or(*CLEAN.end(), |most| most.clamp(1, *CLEAN.end()));
    let range = *CLEAN.start()..=most;
    let clean = fields
        .number(
            page,
            "clean",
            range,
            words::lesson_file::CLEAN_TAKES_TO_PASS,
        )
        .unwrap_or(clean.min(most));
    let limit_s = fields.minutes(page, minutes);
    if let Some(Drill::Play { part, .. }) = &drill
        && part.plan.grid.end_s() > limit_s
    {
        page.wrong(
            value.span(),
            words::lesson_file::too_short(part.plan.grid.end_s() / 60.0, limit_s / 60.0),
        );
    }
    fields.finish(page);
    Some(Step {
        drill: drill?,
        clean,
        limit_s,
        say,
    })
}
