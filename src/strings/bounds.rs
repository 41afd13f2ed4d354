//! Bounds of numbers and texts that come from files: a profile, saved takes, a diary. A file may say
//! anything; what no guitar, clock or program of ours has brought about is refused where it is read.

use std::ops::RangeInclusive;

use crate::words;

/// Cents: open strings are looked for within 250 (`strings::profile`) and a whole guitar within 60
/// ([`super::REACH_TUNING_CENTS`]), each string within 25 of that (`strings::fit`).
pub const CENTS: RangeInclusive<f64> = -300.0..=300.0;
/// Levels in dBFS: silence reads -120 here (1e-12 in power), and samples as floating-point numbers may pass
/// full scale: by four bits at most, a choice.
pub const LEVEL_DBFS: RangeInclusive<f64> = -125.0..=24.0;
/// Probabilities and shares.
pub const PROBABILITY: RangeInclusive<f64> = 0.0..=1.0;
/// They are written with three places, and a sum of some may pass 1 in the seventh.
const PROBABILITY_STEPS: f64 = 1000.0;

/// Longest name of a guitar, a chord or a kind, in characters. A choice, as all lengths here.
pub const LONGEST_NAME: usize = 60;
/// Longest sentence or title, in characters.
pub const LONGEST_TEXT: usize = 400;

/// Faults of a text that should hold what was said of takes.
#[derive(Debug, thiserror::Error)]
pub enum TextError {
    /// Text of another form.
    #[error(transparent)]
    Form(#[from] serde_json::Error),
    /// Text that holds what no program has heard.
    #[error(transparent)]
    Bounds(#[from] OutOfBounds),
}

/// Value that was expected, and the one that came.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum OutOfBounds {
    /// A number out of its range, or none.
    #[error("{}", words::bounds::number_out_of_range(what, low, high, found))]
    Number {
        /// Meaning of the number.
        what: &'static str,
        /// The least that it may be.
        low: f64,
        /// The most that it may be.
        high: f64,
        /// Number that came.
        found: f64,
    },
    /// A text that is too long.
    #[error("{}", words::bounds::text_too_long(what, most, found))]
    Text {
        /// Name of what was to be read.
        what: &'static str,
        /// The most that there may be.
        most: usize,
        /// Number of those that came.
        found: usize,
    },
    /// A list that is too long.
    #[error("{}", words::bounds::list_too_long(what, most, found))]
    List {
        /// Name of what was to be read.
        what: &'static str,
        /// The most that there may be.
        most: usize,
        /// Number of those that came.
        found: usize,
    },
    /// Anything else.
    #[error("{}", words::bounds::another_thing(what, found))]
    Other {
        /// Form that was expected.
        what: &'static str,
        /// Text that came.
        found: String,
    },
}

/// # Errors
/// A number outside of the range, NaN among them.
pub fn number(
    what: &'static str,
    number: impl Into<f64>,
    range: &RangeInclusive<f64>,
) -> Result<(), OutOfBounds> {
    let found = number.into();
    match range.contains(&found) {
        true => Ok(()),
        false => Err(OutOfBounds::Number {
            what,
            low: *range.start(),
            high: *range.end(),
            found,
        }),
    }
}

/// # Errors
/// As [`number`], where there is one.
pub fn maybe(
    what: &'static str,
    found: Option<impl Into<f64>>,
    range: &RangeInclusive<f64>,
) -> Result<(), OutOfBounds> {
    found.map_or(Ok(()), |found| number(what, found, range))
}

/// # Errors
/// A number that is no probability.
pub fn probability(what: &'static str, found: f32) -> Result<(), OutOfBounds> {
    let rounded = (f64::from(found) * PROBABILITY_STEPS).round() / PROBABILITY_STEPS;
    number(what, rounded, &PROBABILITY)
}

/// # Errors
/// A text of more than `most` characters.
pub fn text(what: &'static str, text: &str, most: usize) -> Result<(), OutOfBounds> {
    match text.chars().count() {
        found if found > most => Err(OutOfBounds::Text { what, most, found }),
        _ => Ok(()),
    }
}

/// # Errors
/// More than `most` things.
pub fn list<T>(what: &'static str, list: &[T], most: usize) -> Result<(), OutOfBounds> {
    match list.len() {
        found if found > most => Err(OutOfBounds::List { what, most, found }),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_number_is_out_of_every_range() {
        for found in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 300.1, 1e300] {
            let error = number("cents", found, &CENTS).unwrap_err().to_string();
            let expected = format!("cents is a number from -300 to 300; {found} is not");
            assert_eq!(error, expected);
        }
        assert!(number("cents", -300.0, &CENTS).is_ok());
        assert!(maybe("cents", None::<f64>, &CENTS).is_ok());
    }

    #[test]
    fn a_probability_may_pass_1_by_rounding_alone() {
        assert!(probability("rings", 1.000_000_1).is_ok());
        for found in [1.01, -0.01, f32::NAN] {
            assert!(probability("rings", found).is_err());
        }
    }

    #[test]
    fn texts_are_counted_in_characters() {
        assert!(text("a name", "ééé", 3).is_ok());
        let error = text("a name", "éééé", 3).unwrap_err().to_string();
        assert_eq!(error, "a name has at most 3 characters; 4 came");
        assert!(list("takes", &[1, 2], 1).is_err());
    }
}
