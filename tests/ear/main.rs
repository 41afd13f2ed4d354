//! What is heard in sound whose truth is known.

mod buzz;
mod causes;
#[path = "../common/mod.rs"]
mod common;
mod composed;
mod finding_takes;
mod first_strokes;
mod judging;
mod listening;
mod one_string;
mod one_way;
mod playing_along;
mod plucked_strings;
mod reference;
