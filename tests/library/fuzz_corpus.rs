//! Inputs that the fuzzer (`scripts/fuzz`) found worth keeping, and those that once broke a rule of
//! `fuzz/inputs.rs`, read anew.

#[path = "../fuzz/inputs.rs"]
pub mod inputs;

use std::fs;
use std::path::{Path, PathBuf};

fn files(folder: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let entries = fs::read_dir(&folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    let mut files: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files
}

/// Reads all that is kept for a target.
fn replay(target: &str, read: fn(&[u8])) {
    let files = files(&format!("fixtures/fuzz/{target}"));
    assert!(!files.is_empty());
    for file in files {
        // Shown where one of them panics.
        println!("{}", file.display());
        read(&fs::read(&file).unwrap());
    }
}

#[test]
fn kept_recordings_give_sound_or_a_sentence() {
    replay("decode", inputs::decode);
}

#[test]
fn kept_texts_are_names_or_errors() {
    replay("parse", inputs::parse);
}

#[test]
fn kept_lessons_can_begin_or_say_what_is_wrong() {
    replay("lesson", inputs::lesson);
}

#[test]
fn kept_profiles_are_guitars_or_errors() {
    replay("profile", inputs::profile);
}

#[test]
fn kept_takes_come_into_the_diary_whole_or_not_at_all() {
    replay("import", inputs::import);
}

#[test]
fn kept_verdicts_are_shown_or_errors() {
    replay("saved", inputs::saved);
}

#[test]
fn every_target_of_the_fuzzer_has_inputs_here() {
    let names = |folder: &str| -> Vec<String> {
        let files = files(folder).into_iter();
        files
            .map(|f| f.file_stem().unwrap().to_str().unwrap().to_owned())
            .collect()
    };
    assert_eq!(names("tests/fuzz/targets"), names("fixtures/fuzz"));
    let manifest = fs::read_to_string("tests/fuzz/Cargo.toml").unwrap();
    for target in names("tests/fuzz/targets") {
        assert!(
            manifest.contains(&format!("path = \"targets/{target}.rs\"")),
            "{target}"
        );
    }
}
