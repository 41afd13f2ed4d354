//! Practice: lessons that a teacher writes, exercises that judged takes drive, and the diary that
//! remembers them.
//!
//! Exercises make and hear no sound and read no clock: they are fed judged takes and the times at
//! which they were played, so that a recording and a microphone lead through a lesson alike.

mod along;
mod bundled;
mod chance;
pub mod diary;
pub mod exercise;
mod hearing;
mod lesson;
mod lesson_file;
pub mod progress;
mod run;
mod session;
pub mod wording;

pub use along::{Along, EARLIEST_S, entries};
pub use bundled::{BUNDLED, Bundled, TEMPLATE};
pub use chance::Share;
pub use lesson::{Drill, Lesson, Order, Stage, Step, Target};
pub use lesson_file::{LessonError, Problem};
pub use run::{Circumstances, Practice};
pub use session::{AlongEvent, Event, Outcome, Session, StepResult, TakeEvent};
