//! What needs neither the program nor an ear: chords and their names, files that are read, lessons, screens, and the rules of
//! this house.

mod audio_files;
mod circles;
#[path = "../common/mod.rs"]
mod common;
mod fretboard;
mod fuzz_corpus;
mod hostile;
mod house;
mod lesson_screen;
mod lessons;
mod licences;
mod live_screen;
mod names;
mod voicings;
