//! What tests have in common.
#![allow(dead_code, reason = "each crate of tests uses its own part")]

pub mod audio;
pub mod chance;
pub mod command;
pub mod guitars;
pub mod placed;
pub mod playing;
pub mod song;
pub mod takes;
pub mod tape;
pub mod trial;
