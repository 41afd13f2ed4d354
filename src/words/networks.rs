//! Sentences on files of networks, on tables and on folders that training and measuring read.

#![cfg_attr(not(feature = "measuring"), allow(dead_code))]

use std::fmt::{Debug, Display};

pub fn no_tensors(why: impl Display) -> String {
    format!("it is no file of tensors ({why})")
}

pub fn other_layout(found: impl Display, wanted: impl Display) -> String {
    format!("its weights have the layout {found}, {wanted} is expected")
}

pub fn head_lacks(name: impl Display) -> String {
    format!("its head does not say {name}")
}

pub fn other_constant(name: impl Display, found: impl Display, wanted: impl Display) -> String {
    format!("{name} is {found} in its head, the program has {wanted}")
}

pub fn no_size(name: impl Display, found: impl Display) -> String {
    format!("{name} is {found} in its head, a number from 1 to 65535 is expected")
}

pub fn heads_do_not_fit(width: impl Display, heads: impl Display) -> String {
    format!("a width of {width} cannot be parted among {heads} heads")
}

pub fn tensor_missing(name: impl Display) -> String {
    format!("tensor {name} is missing")
}

pub fn tensor_left_over(name: impl Display) -> String {
    format!("tensor {name} has no place in the program")
}

pub fn other_shape(name: impl Display, found: &[usize], wanted: &[usize]) -> String {
    let (found, wanted) = (shape(found), shape(wanted));
    format!("tensor {name} has the shape {found}, {wanted} is expected")
}

fn shape(shape: &[usize]) -> String {
    shape
        .iter()
        .map(usize::to_string)
        .collect::<Vec<_>>()
        .join(" x ")
}

pub fn other_numbers(name: impl Display, found: impl Debug) -> String {
    format!("tensor {name} has numbers of the type {found:?}, F16 or F32 is expected")
}

pub fn not_without_guitar(file: impl Display, name: impl Display, guitar: impl Display) -> String {
    format!("{file}: no {name} without guitar {guitar}; scripts/accuracy trains it")
}

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
