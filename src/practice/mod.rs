//! Practice: lessons that a teacher writes, exercises that judged takes drive, and the diary that
//! remembers them.
//!
//! Exercises make and hear no sound and read no clock: they are fed judged takes and the times at
//! which they were played, so that a recording and a microphone lead through a lesson alike.
//!
//! `session` goes through the steps: time limits, turns, the break after half an hour. `run` joins a session, what
//! the listener says, and the diary. A take that the listener withdraws is taken back in all three. Playing along
//! is judged as a whole when it is over; until then its takes are in the diary as the listener hears them, and the
//! judged ones take their place in one transaction. In a recording the first strum says that it has begun. Where
//! the playing turns out to begin later, or a third of it is missing, as much again is listened to, once.
//!
//! One rule tells whether a take is clean: [`verdict::clean`](crate::verdict::clean). A lesson's chord is judged as
//! [`Expected::Among`](crate::verdict::Expected::Among): against the chord asked, and where that leaves faults,
//! against the other chords of the exercise. One of those is taken only when it is surely (0.95) the one played. So
//! `name` hears an answer, and `switch` hears that the old chord was struck again. Changes a minute are those of
//! `switch` alone: along a route the learner takes the time, along with a backing the tempo does.
//!
//! Shares are given with Wilson's interval.

mod along;
mod bundled;
mod chance;
pub mod diary;
pub mod exercise;
mod hearing;
mod lesson;
mod lesson_file;
mod pauses;
pub mod progress;
#[cfg(feature = "diary")]
mod run;
mod session;
pub mod wording;

pub use along::{Along, EARLIEST_S, entries};
pub use bundled::{BUNDLED, Bundled, TEMPLATE};
pub use chance::Share;
pub use hearing::end_s;
pub use lesson::{BuildStage, Drill, Lesson, Order, Step, Target};
pub use lesson_file::{LessonError, Problem};
pub use pauses::{REST_S, practised_s};
#[cfg(feature = "diary")]
pub use run::{Circumstances, Practice};
pub use session::{AlongEvent, Event, Session, StepOutcome, StepResult, TakeEvent};
