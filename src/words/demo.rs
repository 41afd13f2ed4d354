//! Sentences of `demo` on faults that it is asked for.

use std::fmt::{Debug, Display};

pub const ALL_MISSED: &str =
    "every string is missed: there is nothing to hear; leave out one --fault";

pub fn fret_expected(highest: impl Display, fret: impl Debug) -> String {
    format!("a fret from 0 to {highest} was expected after fret-, as in fret-3; {fret:?} is none")
}

pub fn no_such_fault(other: impl Debug) -> String {
    format!(
        "{other:?} is no fault known here; choose from muted, choked, buzzing, rattling, fret-N, \
             ringing, missed"
    )
}

pub const WHICH_CHORD: &str =
    "which chord? Name it, as in --chord Bb --shape A, or its frets, as in --frets x13331";

pub fn second_fault(text: impl Display, string: impl Display) -> String {
    format!("--fault {text}: string {string} already has a fault; give one a string")
}

pub const FORM_OF_A_FAULT: &str = "STRING=FAULT was expected, as in 3=muted";

pub fn string_expected(string: impl Debug) -> String {
    format!("a string from 6 (low) to 1 was expected before the =; {string:?} is none")
}

pub fn no_fault_there(string: impl Display, fret: impl Display) -> String {
    format!("string {string} belongs at fret {fret}: that is no fault")
}

pub fn should_ring(string: impl Display) -> String {
    format!("string {string} should ring in this chord: that is no fault")
}

pub fn not_played(string: impl Display) -> String {
    format!("string {string} is not played in this chord: it can only ring (ringing, or fret-N)")
}

pub fn step_expected(low: impl Display, high: impl Display, text: impl Debug) -> String {
    format!(
        "--step: milliseconds from {low} to {high} were expected, as in --step 20; {text:?} is none"
    )
}

pub const ALL_CLEAN: &str = ", all clean";

pub fn with_faults(faults: impl Display) -> String {
    format!(" with {faults}")
}
