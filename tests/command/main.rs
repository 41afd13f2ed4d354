//! What users type, and what the program answers.

mod at_the_guitar;
mod backings;
mod bad_input;
mod check_command;
#[path = "../common/mod.rs"]
mod common;
mod demo;
mod diary;
mod foreign;
mod keeping;
mod kills;
mod labelled_sets;
mod listen_command;
mod odd_files;
mod outputs;
mod pictures;
mod practice;
mod readme;
mod reports;
mod routes;
mod trial;
