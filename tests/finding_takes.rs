//! Takes are found in recordings: composed ones whose every onset is known, and real ones.

#[path = "finding_takes/compose.rs"]
mod compose;
#[path = "finding_takes/measure.rs"]
mod measure;
