//! Every recording in `fixtures` says where it comes from and under which licence, and the licence's text
//! is there or has its address.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

const SOUND: [&str; 9] = [
    "wav", "flac", "mp3", "m4a", "ogg", "aac", "mp4", "mov", "webm",
];

fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures")
}

fn sources() -> String {
    fs::read_to_string(fixtures().join("SOURCES.md")).unwrap()
}

/// The rows of all tables whose heading begins with this cell: each a list of cells by their headings.
fn rows(sources: &str, first: &str) -> Vec<Vec<(String, String)>> {
    let cells = |line: &str| -> Vec<String> {
        let line = line.trim().trim_matches('|');
        line.split('|').map(|cell| cell.trim().to_owned()).collect()
    };
    let mut rows = Vec::new();
    let mut heading = Vec::new();
    for line in sources.lines() {
        if !line.starts_with('|') {
            heading.clear();
        } else if heading.is_empty() {
            heading = cells(line);
        } else if heading[0] == first && !line.starts_with("| ---") {
            rows.push(heading.iter().cloned().zip(cells(line)).collect());
        }
    }
    rows
}

fn cell<'a>(row: &'a [(String, String)], heading: &str) -> &'a str {
    let cell = row.iter().find(|(h, _)| h == heading);
    &cell.unwrap_or_else(|| panic!("no {heading} in {row:?}")).1
}

fn is_sound(path: &Path) -> bool {
    let ending = path.extension().unwrap_or_default().to_string_lossy();
    SOUND.contains(&ending.as_ref())
}

/// Recordings of a folder, without those of folders in it.
fn recordings(folder: &Path) -> usize {
    let files = fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    files
        .filter(|file| is_sound(&file.as_ref().unwrap().path()))
        .count()
}

/// The folders with recordings, as they stand in the table.
fn folders(below: &Path, found: &mut BTreeSet<String>) {
    if recordings(below) > 0 {
        let name = below.strip_prefix(fixtures()).unwrap();
        found.insert(name.to_str().unwrap().replace('\\', "/"));
    }
    for entry in fs::read_dir(below).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            folders(&path, found);
        }
    }
}

#[test]
fn the_program_prints_the_licences_of_all_that_is_built_into_it() {
    let mut ringtrue = assert_cmd::Command::cargo_bin("ringtrue").unwrap();
    let output = ringtrue.arg("licences").output().unwrap();
    assert!(output.status.success());
    let said = String::from_utf8(output.stdout).unwrap();
    // Its own, the font's, the recordings' that the networks learned from, the crates'.
    for text in [
        "Ringtrue is licensed under either of",
        "Bitstream Vera Fonts Copyright",
        "CC BY 3.0, allan764",
        "Mozilla Public License Version 2.0",
    ] {
        assert!(said.contains(text), "{text}");
    }
    let lock = fs::read_to_string(fixtures().join("../Cargo.lock")).unwrap();
    let decoder = lock
        .lines()
        .filter(|line| line.starts_with("name = \"symphonia"));
    for crate_name in decoder.map(|line| line.split('"').nth(1).unwrap()) {
        // Whoever has the program must be told where the source of these is.
        let line = said
            .lines()
            .find(|l| l.starts_with(&format!("{crate_name} ")));
        let line = line.unwrap_or_else(|| panic!("{crate_name} is missing"));
        assert!(line.contains("MPL-2.0, https://"), "{line}");
    }
}

#[test]
fn every_folder_of_recordings_has_its_row_and_every_row_its_folder() {
    let sources = sources();
    let named: Vec<String> = rows(&sources, "folder")
        .iter()
        .flat_map(|row| cell(row, "folder").split(", "))
        .map(str::to_owned)
        .collect();
    let mut found = BTreeSet::new();
    folders(&fixtures(), &mut found);
    assert!(!found.is_empty());
    assert_eq!(named.iter().cloned().collect::<BTreeSet<_>>(), found);
    assert_eq!(named.len(), found.len(), "a folder has one row");
}

#[test]
fn the_table_says_how_many_recordings_there_are() {
    for row in rows(&sources(), "folder") {
        let said = cell(&row, "files");
        let said = said.split(' ').next().unwrap().parse::<usize>();
        let folders = cell(&row, "folder").split(", ");
        let counted: usize = folders.map(|f| recordings(&fixtures().join(f))).sum();
        assert_eq!(said, Ok(counted), "{row:?}");
    }
}

#[test]
fn every_licence_has_its_text_or_its_address() {
    let sources = sources();
    let texts = rows(&sources, "licence");
    let rows = rows(&sources, "folder");
    for row in &rows {
        let licences: Vec<&str> = cell(row, "licence").split("; ").collect();
        let known = |text: &&str| {
            let mut texts = texts.iter().map(|row| cell(row, "licence"));
            texts.any(|licence| text.starts_with(licence))
        };
        // The first is the files' own; what follows a semicolon may be a remark on it.
        assert!(known(&licences[0]), "{row:?}");
    }
    for text in &texts {
        let (licence, place) = (cell(text, "licence"), cell(text, "its text"));
        let used = rows
            .iter()
            .any(|row| cell(row, "licence").contains(licence));
        assert!(used, "no recording is under {licence}");
        if let Some(file) = place.strip_prefix('`').and_then(|p| p.strip_suffix('`')) {
            let path = fixtures().join(file);
            let whole = fs::read_to_string(&path).unwrap_or_else(|e| panic!("{file}: {e}"));
            let holder = licence
                .split_once("(c) ")
                .map_or("Copyright", |(_, who)| who);
            assert!(whole.contains(holder), "{file} names no {holder}");
            assert!(whole.contains("Permission is hereby granted"), "{file}");
        } else {
            let publishers = [
                "https://creativecommons.org/",
                "https://www.apache.org/licenses/",
            ];
            assert!(publishers.iter().any(|p| place.starts_with(p)), "{place}");
        }
    }
}
