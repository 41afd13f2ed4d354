//! Sentences on files of networks, on tables and on folders that training and measuring read.

#![cfg_attr(not(feature = "measuring"), allow(dead_code))]

use std::fmt::Display;

pub const ENDS_TOO_EARLY: &str = "it ends too early";
pub const BYTES_LEFT_OVER: &str = "bytes are left over";
pub const WRONG_WEIGHTS: &str = "a layer has no or too many weights";
pub const TOO_SHORT: &str = "it is too short";
pub const NO_RTF1: &str = "it does not begin with RTF1";
pub const NO_RTB2: &str = "it does not begin with RTB2";
pub const NO_RTW1: &str = "it does not begin with RTW1";
pub const CUT_OFF: &str = "its last number is cut off";
pub const OTHER_NUMBERS: &str = "it takes in other numbers";

pub fn not_without_guitar(file: impl Display, name: impl Display, guitar: impl Display) -> String {
    format!("{file}: no {name} without guitar {guitar}; scripts/accuracy trains it")
}

pub const NO_RTN2: &str = "it does not begin with RTN2";

pub fn cell_missing(file: impl Display, column: &str) -> String {
    format!("index.csv: {file} has no {column}")
}

pub fn rate_expected(file: impl Display, rate_hz: u32) -> String {
    format!("{file}: {rate_hz} Hz expected")
}

pub fn file_is_damaged(what: impl Display) -> String {
    format!(
        "the network's file is damaged or of another version: {what}; build it again with scripts/train"
    )
}
