//! A lesson on the board: what the teacher says, what is to be played, how far the learner has come.

use super::board::{Board, STRUM};
use crate::practice::exercise::{Ask, Remark};
use crate::practice::{Event, Practice, wording};
use crate::report::practice::status;
use crate::words;

/// What stands where the advice will be, before the lesson is begun.
const OPENING: &str = words::screen::STRUM_TO_BEGIN;

/// Writes a lesson on a board.
#[derive(Debug, Default)]
pub struct Guide {
    /// Whether the note is on a time through with a backing.
    played: bool,
}

impl Guide {
    /// Shows what the teacher says first and which steps are to come; to be left with
    /// [`begin`](Self::begin).
    pub fn open(&mut self, board: &mut Board, practice: &Practice) {
        let lesson = practice.lesson();
        board.goal = lesson.title.clone();
        board.status = String::new();
        board.picture = None;
        let steps = lesson.steps.iter().enumerate().map(|(i, step)| {
            let subject = wording::subject(&step.drill);
            let kind = wording::kind_in_words(&step.drill);
            format!("{}. {kind}: {subject}", i + 1)
        });
        let about = lesson.about.clone().into_iter();
        board.say = about.chain(steps).collect::<Vec<_>>().join("\n");
        board.prompt = OPENING.to_owned();
        board.begun = false;
    }

    /// Leaves the opening: shows the step that is on.
    pub fn begin(&mut self, board: &mut Board, practice: &Practice) {
        board.prompt = STRUM.to_owned();
        board.begun = true;
        let step = practice.session().step().unwrap_or(0);
        self.step(board, practice, step);
        if let Some(ask) = practice.session().ask() {
            self.ask(board, ask);
        }
    }

    /// Shows what has happened.
    pub fn event(&mut self, board: &mut Board, practice: &Practice, event: &Event) {
        match event {
            Event::Step { step } => self.step(board, practice, *step),
            Event::Asked(ask) => self.ask(board, ask),
            // The strings are of the take heard last, whatever is asked by now.
            Event::Take(event) => {
                // Of a take that was not asked for it is not the strings that are to be mended.
                let other = matches!(event.reply.note, Remark::Other { .. } | Remark::Part { .. });
                board.instead = wording::note(&event.reply.note).filter(|_| other);
                let note = wording::note_in_short(&event.take, &event.reply.note);
                board.note = match event.reply.gap_s {
                    Some(gap_s) => words::screen::note_with_gap(&note, gap_s),
                    None => note,
                };
            }
            Event::Along(event) => {
                board.note = wording::landed_in_short(practice.lesson(), event);
                self.played = true;
            }
            Event::Over { step, outcome } => {
                // How the playing went is worth more than that it is over.
                if !std::mem::take(&mut self.played) {
                    let outcome = wording::outcome_in_short(*outcome);
                    board.note = words::lesson::step_came_out(step + 1, outcome);
                }
            }
            Event::Withdrawn { .. } | Event::Break | Event::End => {}
        }
    }

    /// Time goes on.
    pub fn clock(&mut self, board: &mut Board, practice: &Practice, now_s: f64) {
        board.status = status(practice.lesson(), practice.session(), now_s);
    }

    /// What was heard in the step before is no longer to be mended: it is taken down.
    fn step(&mut self, board: &mut Board, practice: &Practice, step: usize) {
        board.clear();
        board.say = practice.lesson().steps[step]
            .say
            .clone()
            .unwrap_or_default();
    }

    fn ask(&mut self, board: &mut Board, ask: &Ask) {
        board.goal = ask.text.clone();
        match ask.hides_place {
            false => board.draw_picture(&ask.target.frets, ask.fingering()),
            true => board.take_picture_down(),
        }
    }
}
