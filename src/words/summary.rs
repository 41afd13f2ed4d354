//! Sentences on several takes or recordings together.

use std::fmt::Display;

pub const UNNAMED_CHORDS: &str = "chords that were not named";

pub fn fault_in(string: impl Display, count: impl Display) -> String {
    format!("; string {string} had a fault in {count}")
}

pub const HOW_OFTEN_STRING: &str = "how often, string";

pub fn recordings(
    all: impl Display,
    fine: impl Display,
    faults: impl Display,
    not_judged: impl Display,
) -> String {
    format!(
        "{all} recordings. As they should be: {fine}. With strings to look at: {faults}. Not judged: \
             {not_judged}."
    )
}

pub fn takes(
    all: impl Display,
    fine: impl Display,
    faults: impl Display,
    not_judged: impl Display,
) -> String {
    format!(
        "{all} takes. Without a fault: {fine}. With strings to look at: {faults}. Not judged: {not_judged}."
    )
}

pub fn not_judged(n: impl Display) -> String {
    format!(", {n} not judged")
}

pub fn string_in(string: impl Display, count: impl Display) -> String {
    format!(", string {string} in {count}")
}

pub fn takes_of(
    takes: impl Display,
    chord: impl Display,
    clean: impl Display,
    open: impl Display,
    faults: impl Display,
) -> String {
    format!("{takes} of {chord}, {clean} clean{open}{faults}.")
}

pub fn take_of(number: impl Display, of: impl Display) -> String {
    format!("Take {number} of {of}")
}

/// A piece of advice, and in how many takes it was given.
pub fn in_takes(count: usize, what: impl Display) -> String {
    format!("In {}: {what}", super::grammar::takes(count))
}
