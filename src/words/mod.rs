//! Everything that users read, in English, one file a subject: a translation would follow here and touch nothing else.
//!
//! Constants and functions hold one sentence each, or a part of one, with its numbers and names put in. Which of them
//! is said is decided in the folder of the subject, which alone knows its types; this folder uses no other.
//!
//! [`help`] is what `--help` says. `site.mjs`, beside the Rust files, holds the texts of the page for browsers.

#![cfg_attr(not(feature = "cli"), allow(dead_code))]

pub mod advice;
pub mod bounds;
pub mod cause;
pub mod commands;
pub mod dates;
pub mod demo;
pub mod devices;
pub mod diary;
pub mod files;
pub mod foreign;
pub mod fretboard;
pub mod grammar;
pub mod guitar;
#[cfg(feature = "cli")]
pub mod help;
pub mod labelled;
pub mod lesson;
pub mod lesson_file;
pub mod networks;
pub mod page;
pub mod picture;
pub mod playing;
pub mod progress;
pub mod progression;
pub mod recording;
pub mod route;
pub mod screen;
pub mod shapes;
#[cfg(all(feature = "page", target_arch = "wasm32"))]
pub mod site;
pub mod soundcheck;
pub mod start;
pub mod summary;
pub mod take;
pub mod trial;
