//! Sentences on numbers and texts of files that are out of range.

use std::fmt::Display;

pub fn number_out_of_range(
    what: impl Display,
    low: impl Display,
    high: impl Display,
    found: impl Display,
) -> String {
    format!("{what} is a number from {low} to {high}; {found} is not")
}

pub fn text_too_long(what: impl Display, most: impl Display, found: impl Display) -> String {
    format!("{what} has at most {most} characters; {found} came")
}

pub fn list_too_long(what: impl Display, most: impl Display, found: impl Display) -> String {
    format!("{what} are at most {most}; {found} came")
}

pub fn another_thing(what: impl Display, found: impl Display) -> String {
    format!("{what} expected; {found} came")
}
