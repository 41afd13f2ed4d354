//! The house keeps its rules: each folder of `src` uses only those that stand above it.

use std::fs;
use std::path::{Path, PathBuf};

/// Folders that use none of the others.
const BY_THEMSELVES: [&str; 5] = ["fourier", "fretboard", "audio", "spectrum", "layers"];
/// What all below them may use: what users read, the computer's files, and decibels, which are a file beside the folders.
const FOR_ALL: [&str; 3] = ["words", "disk", "decibels"];

pub fn sources() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

/// The folders in the order in which sound travels, as the crate's front page lists them.
fn order() -> Vec<String> {
    let front = fs::read_to_string(sources().join("lib.rs")).expect("the crate has a front page");
    (front.lines())
        .filter_map(|line| {
            line.strip_prefix("//! | ")?
                .trim_start_matches('[')
                .strip_prefix('`')
        })
        .filter_map(|row| row.split_once('`'))
        .map(|(folder, _)| folder.to_owned())
        .collect()
}

/// What a source of `folder` uses and must not, as "crate::NAME".
fn breaches(order: &[String], folder: &str, source: &str) -> Vec<String> {
    let place = |name: &str| order.iter().position(|known| known == name);
    let code = source
        .lines()
        .filter(|line| !line.trim_start().starts_with("//"));
    let named = code.flat_map(|line| line.split("crate::").skip(1));
    // A list in braces has no name here and is a breach: it would hide what it uses.
    let names = named.map(|after| {
        after
            .split(|c: char| !c.is_alphanumeric() && c != '_')
            .next()
    });
    names
        .map(Option::unwrap_or_default)
        .filter(|&name| name != folder)
        .filter(|name| !FOR_ALL.contains(name) || place(name) > place(folder))
        .filter(|name| {
            BY_THEMSELVES.contains(&folder) || place(name) >= place(folder) || place(name).is_none()
        })
        .map(|name| format!("crate::{name}"))
        .collect()
}

pub fn files_below(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).into_iter().flatten();
    let paths = entries.map(|entry| entry.expect("an entry").path());
    let mut files = Vec::new();
    for path in paths {
        if path.is_dir() {
            files.extend(files_below(&path));
        } else if path.extension().is_some_and(|end| end == "rs") {
            files.push(path);
        }
    }
    files
}

#[test]
fn a_folder_uses_only_those_above_it() {
    let order = order();
    let mut wrong = Vec::new();
    for folder in &order {
        for file in files_below(&sources().join(folder)) {
            let source = fs::read_to_string(&file).expect("a source");
            for breach in breaches(&order, folder, &source) {
                wrong.push(format!("{}: {breach}", file.display()));
            }
        }
    }
    assert!(
        wrong.is_empty(),
        "these look down the list:\n{}",
        wrong.join("\n")
    );
}

/// Folders for the program and for the page, which tell a user of any error: the others' errors have types.
const OF_ANY_ERROR: [&str; 2] = ["cli", "page"];

#[test]
fn the_library_says_in_types_of_its_own_what_can_go_wrong() {
    let folders = order().into_iter();
    let library = folders.filter(|folder| !OF_ANY_ERROR.contains(&&**folder));
    for folder in library {
        for file in files_below(&sources().join(folder)) {
            let source = fs::read_to_string(&file).expect("a source");
            assert!(!source.contains("anyhow"), "{}", file.display());
        }
    }
}

#[test]
fn the_front_page_lists_every_folder() {
    let listed = order();
    let entries = fs::read_dir(sources())
        .expect("src")
        .map(|entry| entry.expect("an entry"));
    let folders = entries.filter(|entry| entry.path().is_dir());
    let mut count = 0;
    for folder in folders {
        let name = folder.file_name().into_string().expect("a plain name");
        assert!(listed.contains(&name), "src/lib.rs lists {name}");
        count += 1;
    }
    assert!(count > 10);
}

#[test]
fn the_manual_lists_the_folders_in_the_same_order() {
    let manual = include_str!("../../DEVELOPERS.md");
    let listed: Vec<&str> = (manual.lines())
        .filter_map(|line| line.strip_prefix("| `src/")?.split_once('`'))
        .map(|(folder, _)| folder)
        .collect();
    assert_eq!(listed, order());
}

#[test]
fn a_look_down_the_list_is_seen() {
    let order = ["words", "disk", "fretboard", "take", "cli"].map(str::to_owned);
    let wrong = |folder, source| breaches(&order, folder, source);
    assert_eq!(wrong("take", "use crate::cli::Console;\n"), ["crate::cli"]);
    assert_eq!(
        wrong("take", "    pub(in crate::cli) fn a() {}\n"),
        ["crate::cli"]
    );
    assert_eq!(
        wrong("fretboard", "let a = crate::take::b();\n"),
        ["crate::take"]
    );
    assert_eq!(wrong("take", "use crate::{cli, disk};\n"), ["crate::"]);
    assert_eq!(wrong("take", "use crate::Frets;\n"), ["crate::Frets"]);
    assert_eq!(wrong("words", "use crate::disk::write;\n"), ["crate::disk"]);
    assert!(wrong("fretboard", "use crate::words;\n").is_empty());
    let fine = "use crate::take::Strum;\nuse crate::fretboard::Frets;\nuse crate::disk::write;\n// crate::cli\n";
    assert!(wrong("take", fine).is_empty());
}
