use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use safetensors::{Dtype, SafeTensors};
use serde::Deserialize;
use sha2::{Digest, Sha256};

use super::*;
use crate::layers::testing::head_of;

/// The built-in networks.
const ALL: [&[u8]; 5] = [STRUMS, STROKES, BUZZ, FIRST_STROKE, SWEEP];

/// An entry of `networks.toml`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct NetworkEntry {
    file: String,
    layout: String,
    sha256: String,
    bits: usize,
    brought_by: Option<String>,
    table_commit: String,
    seeds: Known<Vec<u64>>,
    takes: String,
    epochs: Known<Vec<usize>>,
    measured: Option<String>,
    figures: Known<Vec<Figure>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Figure {
    row: String,
    is: f64,
    of: u32,
    as_good: f64,
}

/// A value, or the word "unknown".
#[derive(Deserialize)]
#[serde(untagged)]
enum Known<T> {
    Is(T),
    Not(String),
}

impl<T> Known<T> {
    fn is_said(&self, holds: impl Fn(&T) -> bool) -> bool {
        match self {
            Known::Is(value) => holds(value),
            Known::Not(word) => word == "unknown",
        }
    }
}

fn listed() -> BTreeMap<String, NetworkEntry> {
    toml::from_str(include_str!("networks.toml")).expect("networks.toml says what is asked of it")
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn folder() -> PathBuf {
    root().join("src/layers/trained")
}

#[test]
fn every_network_of_the_folder_is_listed_and_built_in_and_every_listed_one_is_there() {
    let files = fs::read_dir(folder()).expect("the folder of the networks");
    let there: BTreeSet<String> = files
        .map(|file| file.expect("a file").file_name().into_string().unwrap())
        .filter(|name| !name.ends_with(".rs") && name != "networks.toml")
        .collect();
    let listed: BTreeSet<String> = listed().into_values().map(|entry| entry.file).collect();
    assert_eq!(there, listed);
    for file in there {
        let bytes = fs::read(folder().join(&file)).unwrap();
        assert!(ALL.contains(&&bytes[..]), "{file} is built in");
    }
    assert_eq!(ALL.len(), listed.len());
}

#[test]
fn what_is_listed_of_a_network_is_true_of_its_file() {
    for (name, entry) in listed() {
        let bytes = fs::read(folder().join(&entry.file)).unwrap();
        let hash = Sha256::digest(&bytes);
        let hash: String = hash.iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(hash, entry.sha256, "{name}");
        assert_eq!(head_of(&bytes)["layout"], entry.layout, "{name}");
        let tensors = SafeTensors::deserialize(&bytes).unwrap();
        let numbers = match entry.bits {
            16 => Dtype::F16,
            _ => Dtype::F32,
        };
        assert!(tensors.iter().all(|(_, t)| t.dtype() == numbers), "{name}");
        let is_commit = |said: &str| {
            let digits = said.trim_end_matches("-dirty");
            digits.len() >= 7 && digits.bytes().all(|b| b.is_ascii_hexdigit()) || said == "unknown"
        };
        assert!(entry.table_commit.split(", ").all(is_commit), "{name}");
        assert!(entry.brought_by.as_deref().is_none_or(is_commit), "{name}");
        assert!(entry.seeds.is_said(|seeds| !seeds.is_empty()), "{name}");
        assert!(
            entry.epochs.is_said(|epochs| !epochs.contains(&0)),
            "{name}"
        );
        assert!(!entry.takes.is_empty(), "{name}");
    }
}

#[test]
fn figures_listed_of_a_network_are_those_that_were_measured() {
    for (name, entry) in listed() {
        assert!(
            entry.figures.is_said(|figures| !figures.is_empty()),
            "{name}"
        );
        let Known::Is(figures) = &entry.figures else {
            continue;
        };
        let file = entry.measured.expect("figures come from a file");
        let measured = fs::read_to_string(root().join("fixtures/measured").join(&file)).unwrap();
        for figure in figures {
            let number = format!("{:.3}", figure.is);
            let said = measured
                .lines()
                .filter_map(|line| line.strip_prefix("| ")?.split_once(" |"))
                .any(|(row, cells)| row.starts_with(&figure.row) && cells.contains(&number));
            assert!(said, "{name}: {} is {number} in {}", figure.row, file);
            // Two standard errors, to the worse side: below a share that is to be high, above one that is to be low.
            let error = 2.0 * (figure.is * (1.0 - figure.is) / f64::from(figure.of)).sqrt();
            let worse = if figure.is < 0.5 { error } else { -error };
            let off = figure.as_good - (figure.is + worse);
            assert!(off.abs() < 0.0011, "{name}: {} {off}", figure.row);
        }
    }
}

#[test]
fn the_mark_changes_with_every_network_and_with_nothing_else() {
    let mark = mark();
    assert_eq!(mark.len(), 8);
    for (name, entry) in listed() {
        let sum = entry.sha256;
        let mut other = sum.clone();
        other.replace_range(..1, if sum.starts_with('0') { "1" } else { "0" });
        assert_ne!(mark_of(&LISTED.replace(&sum, &other)), mark, "{name}");
    }
    assert_eq!(mark_of(&format!("# remark\n{LISTED}")), mark);
}
