//! Practice: lessons that a teacher writes, exercises that judged takes drive, and the diary that
//! remembers them.
//!
//! Exercises make and hear no sound and read no clock: they are fed judged takes and the times at
//! which they were played, so that a recording and a microphone lead through a lesson alike.

mod along;
mod chance;
pub mod diary;
pub mod exercise;
mod hearing;
mod lesson;
mod lesson_file;
pub mod progress;
#[cfg(feature = "diary")]
mod run;
mod session;
pub mod wording;

pub use along::{Along, EARLIEST_S, entries};
pub use chance::Share;
pub use hearing::end_s;
pub use lesson::{Drill, Lesson, Order, Stage, Step, Target};
pub use lesson_file::{LessonError, Problem};
#[cfg(feature = "diary")]
pub use run::{Circumstances, Practice};
pub use session::{AlongEvent, Event, Outcome, Session, TakeEvent};
