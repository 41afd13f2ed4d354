//! Practice: lessons that a teacher writes, exercises that judged takes drive, and the diary that
//! remembers them.
//!
//! Nothing here makes or hears a sound, or reads a clock: an exercise is fed judged takes and the
//! times at which they were played, so that a recording and a microphone lead through a lesson alike.

mod lesson;
mod lesson_file;

pub use lesson::{Drill, Lesson, Order, Stage, Step, Target};
pub use lesson_file::{LessonError, Problem};
